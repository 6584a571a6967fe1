//! Numbers and lengths out of elements, with errors that name their line.

use riffkin_score::time::Quarters;
use riffkin_score::value::{NoteValue, Tuplet};

use super::super::MusicXmlError;
use super::super::marks::shape_of;
use super::super::tree::Element;

/// Longest duration believed, in quarter notes.
const LONGEST: i64 = 100_000;

/// Where an error is: the part and measure being read.
#[derive(Clone, Copy, Debug)]
pub(super) struct Where<'a> {
    /// The part's id.
    pub(super) part: &'a str,
    /// The measure's number as the file has it.
    pub(super) measure: &'a str,
}

impl Where<'_> {
    fn text(self) -> String {
        format!("part {}, measure {}", self.part, self.measure)
    }

    /// An element that holds nonsense.
    pub(super) fn bad(self, element: Element<'_>, wanted: &'static str) -> MusicXmlError {
        MusicXmlError::Value {
            line: element.line(),
            place: self.text(),
            element: element.name().to_owned(),
            found: element.text().chars().take(40).collect(),
            wanted,
        }
    }

    /// An attribute that holds nonsense.
    pub(super) fn bad_attribute(
        self,
        element: Element<'_>,
        found: &str,
        wanted: &'static str,
    ) -> MusicXmlError {
        MusicXmlError::Value {
            line: element.line(),
            place: self.text(),
            element: element.name().to_owned(),
            found: found.chars().take(40).collect(),
            wanted,
        }
    }

    /// An element that lacks another.
    pub(super) fn missing(self, element: Element<'_>, missing: &'static str) -> MusicXmlError {
        MusicXmlError::Missing {
            line: element.line(),
            place: self.text(),
            element: element.name().to_owned(),
            missing,
        }
    }
}

/// A decimal number as an exact fraction; at most nine digits on either side of the point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Decimal {
    /// Numerator.
    pub(super) num: i64,
    /// A power of ten.
    pub(super) den: i64,
}

impl Decimal {
    /// Reads `12`, `-1`, `0.5`, `4.`.
    pub(super) fn parse(text: &str) -> Option<Self> {
        let unsigned = text.strip_prefix(['-', '+']).unwrap_or(text);
        let (whole, part) = unsigned.split_once('.').unwrap_or((unsigned, ""));
        let part = part.trim_end_matches('0');
        let digits = |t: &str| t.len() <= 9 && t.bytes().all(|b| b.is_ascii_digit());
        let whole = if whole.len() > 1 { whole.trim_start_matches('0') } else { whole };
        if unsigned.trim_matches(['.', '0']).is_empty() && !unsigned.contains('0') {
            return None;
        }
        if !digits(whole) || !digits(part) {
            return None;
        }
        let den = 10i64.pow(part.len() as u32);
        let whole: i64 = if whole.is_empty() { 0 } else { whole.parse().ok()? };
        let part: i64 = if part.is_empty() { 0 } else { part.parse().ok()? };
        let num = whole * den + part;
        Some(Self { num: if text.starts_with('-') { -num } else { num }, den })
    }

    /// The nearest whole number, and whether it had to be rounded.
    pub(super) fn rounded(self) -> (i64, bool) {
        let floor = self.num.div_euclid(self.den);
        let rest = self.num.rem_euclid(self.den);
        (floor + i64::from(rest * 2 >= self.den), rest != 0)
    }
}

/// A length in divisions as quarters, and whether it had to be rounded.
pub(super) fn quarters(length: Decimal, divisions: Decimal) -> Option<(Quarters, bool)> {
    let num = i128::from(length.num) * i128::from(divisions.den);
    let den = i128::from(length.den) * i128::from(divisions.num);
    if den <= 0 || (num / den).abs() > i128::from(LONGEST) {
        return None;
    }
    let shared = gcd(num.unsigned_abs(), den.unsigned_abs()).max(1) as i128;
    match (i64::try_from(num / shared), i64::try_from(den / shared)) {
        (Ok(num), Ok(den)) => Some(Quarters::nearest(num, den)),
        _ => Some((Quarters::from_f64_lossy(num as f64 / den as f64), true)),
    }
}

fn gcd(mut a: u128, mut b: u128) -> u128 {
    while b != 0 {
        (a, b) = (b, a % b);
    }
    a
}

/// The value that `type`, `dot` and `time-modification` say; `None` when there is no type or a riff cannot
/// hold it.
pub(super) fn note_value(note: Element<'_>) -> Option<NoteValue> {
    let shape = shape_of(note.text_of("type")?)?;
    let dots = u8::try_from(note.all("dot").count()).ok()?;
    let tuplet = match note.child("time-modification") {
        None => None,
        Some(m) => {
            let actual: u8 = m.text_of("actual-notes")?.parse().ok()?;
            let normal: u8 = m.text_of("normal-notes")?.parse().ok()?;
            if actual == normal { None } else { Some(Tuplet::new(actual, normal)?) }
        }
    };
    NoteValue::new(shape, dots, tuplet)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn decimals_are_exact_and_nonsense_is_none() {
        let value = |t| Decimal::parse(t).map(|d| (d.num, d.den));
        assert_eq!(value("12"), Some((12, 1)));
        assert_eq!(value("-0.50"), Some((-5, 10)));
        assert_eq!(value("4."), Some((4, 1)));
        assert_eq!(value("007"), Some((7, 1)));
        assert_eq!(value("0"), Some((0, 1)));
        assert_eq!(value(".5"), Some((5, 10)));
        for bad in ["", ".", "-", "x", "1e3", "1,5", "--1", "99999999999", "½", "NaN"] {
            assert_eq!(value(bad), None, "{bad}");
        }
    }

    #[test]
    fn divisions_make_thirds_exact() {
        let d = |t| Decimal::parse(t).unwrap();
        assert_eq!(quarters(d("160"), d("480")).unwrap(), (Quarters::new(1, 3).unwrap(), false));
        assert!(quarters(d("1"), d("17")).unwrap().1);
        assert!(quarters(d("1"), d("0")).is_none());
        assert!(quarters(d("999999999"), d("0.001")).is_none());
    }
}
