//! Whether a listener knows when it is wrong.

/// Bins of the calibration error.
const BINS: usize = 10;

/// What a listener said of a note, and whether the note was right.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Claim {
    /// How sure it was, 0 to 1.
    pub(super) confidence: f64,
    /// Whether a true note stands for it (onset and pitch).
    pub(super) right: bool,
}

/// How good the confidences are.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Calibration {
    /// Expected calibration error over ten equal bins (Naeini, Cooper & Hauskrecht, AAAI 2015): the mean over the
    /// notes of |share right - mean confidence| of their bin.
    pub(super) error: f64,
    /// Share of all wrong notes that lie among the least sure tenth of the notes.
    pub(super) in_least_sure: f64,
    /// How many notes were wrong.
    pub(super) wrong: usize,
}

/// Judges the claims; `None` when there are none. Where notes at the border of the least sure tenth are equally
/// sure, the wrong ones among them count in proportion.
pub(super) fn judge(claims: &[Claim]) -> Option<Calibration> {
    if claims.is_empty() {
        return None;
    }
    let mut bins = [(0usize, 0usize, 0f64); BINS];
    for claim in claims {
        let index = ((claim.confidence * BINS as f64).max(0.0) as usize).min(BINS - 1);
        let (count, right, sum) = &mut bins[index];
        *count += 1;
        *right += usize::from(claim.right);
        *sum += claim.confidence;
    }
    let gaps = bins.iter().map(|(_, right, sum)| (*right as f64 - sum).abs());
    let wrong = claims.iter().filter(|claim| !claim.right).count();
    Some(Calibration {
        error: gaps.sum::<f64>() / claims.len() as f64,
        in_least_sure: if wrong == 0 { 1.0 } else { wrong_in_least_sure(claims) / wrong as f64 },
        wrong,
    })
}

fn wrong_in_least_sure(claims: &[Claim]) -> f64 {
    let mut sorted = claims.to_vec();
    sorted.sort_by(|a, b| a.confidence.total_cmp(&b.confidence));
    let mut room = claims.len() as f64 / 10.0;
    let mut wrong = 0.0;
    for group in sorted.chunk_by(|a, b| a.confidence == b.confidence) {
        let taken = room.min(group.len() as f64);
        let bad = group.iter().filter(|claim| !claim.right).count();
        wrong += bad as f64 * taken / group.len() as f64;
        room -= taken;
        if room <= 0.0 {
            break;
        }
    }
    wrong
}

#[cfg(test)]
mod tests {
    use super::*;

    fn claims(list: &[(f64, bool)]) -> Vec<Claim> {
        list.iter().map(|&(confidence, right)| Claim { confidence, right }).collect()
    }

    #[test]
    fn nine_right_of_ten_at_nine_tenths_is_well_calibrated() {
        let mut list = vec![(0.9, true); 9];
        list.push((0.9, false));
        let found = judge(&claims(&list)).unwrap();
        assert!(found.error < 1e-9, "{found:?}");
        assert!((found.in_least_sure - 0.1).abs() < 1e-9, "all alike: no more than by chance");
    }

    #[test]
    fn the_error_is_the_mean_gap_between_claim_and_truth() {
        // Half the notes claim .95 and are right three times in four, half claim .35 and never are.
        let list = [(0.95, true), (0.95, true), (0.95, true), (0.95, false)];
        let low = [(0.35, false); 4];
        let found = judge(&claims(&[list, low].concat())).unwrap();
        assert!((found.error - (0.20 + 0.35) / 2.0).abs() < 1e-9, "{found:?}");
    }

    #[test]
    fn the_least_sure_tenth_holds_the_errors_of_a_listener_that_knows() {
        let mut list = vec![(0.99, true); 18];
        list.extend([(0.2, false), (0.3, false)]);
        assert_eq!(judge(&claims(&list)).unwrap().in_least_sure, 1.0);
        let mut list = vec![(0.3, true); 18];
        list.extend([(0.8, false), (0.9, false)]);
        assert_eq!(judge(&claims(&list)).unwrap().in_least_sure, 0.0);
        assert!(judge(&[]).is_none());
    }
}
