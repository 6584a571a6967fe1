//! From periods to pitches: which of the periods that fit is the note's.

use super::period::Periods;
use crate::listen::evidence::PITCHES;

/// Aperiodicity that counts as none: what inharmonicity, noise and decay leave of a clear note.
const BLUR: f32 = 0.1;
/// Aperiodicity at which a pitch is as likely as none.
const EVEN: f32 = 0.35;
/// How much clearer (natural logarithm) a period must be than its half, third and so on to be believed.
const CLEARER: f32 = 1.05;
/// Semitones from a pitch up to those of half, a third … an eighth of its period, as near as equal temperament has them
/// (the seventh is 31 cents off, still within the half semitone in which a period is sought).
const DIVISIONS: [usize; 7] = [12, 19, 24, 28, 31, 34, 36];

/// Log likelihood ratio of each pitch against none. A sound that repeats after τ also repeats after 2τ, 3τ and so on, so a
/// pitch is marked down where a division of its period fits nearly as well.
pub(super) fn salience(periods: &Periods) -> [f32; PITCHES] {
    let fit = periods.aperiodicity.map(|a| -(a + BLUR).ln());
    let mut salience = [0f32; PITCHES];
    for (p, out) in salience.iter_mut().enumerate() {
        let rival = DIVISIONS.iter().filter_map(|d| fit.get(p + d)).fold(f32::MIN, |best, f| best.max(*f));
        let doubt = (CLEARER - (fit[p] - rival)).max(0.0);
        *out = fit[p] + (EVEN + BLUR).ln() - doubt;
    }
    salience
}

#[cfg(test)]
mod tests {
    use super::*;

    fn with(clear: &[(usize, f32)]) -> [f32; PITCHES] {
        let mut aperiodicity = [0.9; PITCHES];
        for (p, a) in clear {
            aperiodicity[*p] = *a;
        }
        salience(&Periods { aperiodicity, cents: [0; PITCHES] })
    }

    fn best(salience: &[f32]) -> Option<usize> {
        (0..salience.len()).max_by(|a, b| salience[*a].total_cmp(&salience[*b]))
    }

    #[test]
    fn of_a_period_and_its_double_the_shorter_is_the_note() {
        let s = with(&[(20, 0.02), (8, 0.015), (1, 0.03)]);
        assert_eq!(best(&s), Some(20));
        assert!(s[20] > 0.0);
    }

    #[test]
    fn a_half_period_that_fits_worse_is_a_strong_second_partial() {
        assert_eq!(best(&with(&[(8, 0.01), (20, 0.3)])), Some(8));
    }

    #[test]
    fn nothing_clear_is_no_note() {
        assert!(with(&[]).iter().all(|s| *s < 0.0));
    }
}
