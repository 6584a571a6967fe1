//! Instants of a recording as people write them, and a part of a recording.

/// A part of a recording.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Region {
    /// Where it begins, in seconds.
    pub from_s: f64,
    /// Where it ends, in seconds; `None` for the end of the recording.
    pub to_s: Option<f64>,
}

/// Longest time that is understood, in seconds: a hundred hours.
const MOST_S: f64 = 360_000.0;

/// Reads `12.5`, `1:02.5` or `1:02:03` as seconds; `None` when it is none of these.
#[must_use]
pub fn instant(text: &str) -> Option<f64> {
    let text = text.trim();
    let parts: Vec<&str> = text.strip_suffix(" s").unwrap_or(text).split(':').collect();
    let plain = |t: &str| !t.is_empty() && t.chars().all(|c| c.is_ascii_digit() || c == '.');
    if parts.len() > 3 || !parts.iter().all(|p| plain(p)) {
        return None;
    }
    let mut sum = 0.0;
    for (i, part) in parts.iter().enumerate() {
        let last = i + 1 == parts.len();
        let number: f64 = part.parse().ok()?;
        if (!last && part.contains('.')) || (i > 0 && number >= 60.0) {
            return None;
        }
        sum = sum * 60.0 + number;
    }
    (sum <= MOST_S).then_some(sum)
}

/// Seconds as people write them: `12.50 s`, `1:02.50`.
#[must_use]
pub fn clock(second: f64) -> String {
    // Hundredths first, so that 59.999 does not become 60.00 s.
    let hundredths = (second.max(0.0) * 100.0).round();
    let minutes = (hundredths / 6_000.0).floor();
    let rest = (hundredths - 6_000.0 * minutes) / 100.0;
    if minutes >= 1.0 { format!("{minutes:.0}:{rest:05.2}") } else { format!("{rest:.2} s") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn instants_are_read_as_written() {
        assert_eq!((instant("12.5"), instant("12.5 s")), (Some(12.5), Some(12.5)));
        assert_eq!(instant("1:02.5"), Some(62.5));
        assert_eq!(instant("1:02:03"), Some(3_723.0));
        for wrong in
            ["", ":", "1:", "1:60", "1.5:00", "-3", "+3", "1e3", "nan", "1:2:3:4", "9999999", "1.2.3"]
        {
            assert_eq!(instant(wrong), None, "{wrong}");
        }
    }

    #[test]
    fn instants_are_written_as_read() {
        assert_eq!(
            (clock(3.456), clock(59.999), clock(62.5)),
            ("3.46 s".into(), "1:00.00".into(), "1:02.50".into())
        );
        assert_eq!(instant(&clock(3_725.25)), Some(3_725.25));
    }
}
