//! Chord symbols.

use riffkin_score::chord::{Chord, ChordKind};
use riffkin_score::pitch::{PitchName, Step};

use super::super::tree::Element;
use super::notices::short;
use super::pitch::Transposition;
use super::values::Decimal;

/// A chord symbol, and what had to be changed to hold it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Symbol {
    /// As the file has it.
    Exact(Chord),
    /// The nearest that a riff can hold.
    Near(Chord, String),
    /// None at all, and why.
    LeftOut(String),
}

/// Reads a `harmony` element.
pub(super) fn harmony(element: Element<'_>, by: Transposition) -> Symbol {
    let kind = element.child("kind");
    let value = kind.map_or("", Element::text);
    if value == "none" {
        return Symbol::LeftOut("'no chord' is left out".to_owned());
    }
    let Some(root) = element.child("root").and_then(|r| name(r, "root-step", "root-alter")) else {
        return Symbol::LeftOut(
            "chord symbols without a root note (numerals, functions) are left out".to_owned(),
        );
    };
    let root = by.name(root);
    let bass = match element.child("bass") {
        None => None,
        Some(bass) => match name(bass, "bass-step", "bass-alter") {
            Some(bass) => Some(by.name(bass)),
            None => return Symbol::LeftOut("a chord symbol whose bass is no note is left out".to_owned()),
        },
    };
    let text = kind.and_then(|k| k.attribute("text"));
    let degrees: Vec<Degree> = element.all("degree").filter_map(degree).collect();
    let chord = |kind| Chord { root, kind, bass };
    match exact(value, text, &degrees) {
        Some(kind) => Symbol::Exact(chord(kind)),
        None => match nearest(value) {
            Some(kind) => {
                let shown = text.map_or_else(|| with_degrees(value, &degrees), str::to_owned);
                let read = if kind == ChordKind::Major { "plain major" } else { kind.suffix() };
                Symbol::Near(chord(kind), format!("the chord kind '{}' is read as {read}", short(&shown)))
            }
            None => Symbol::LeftOut(format!("the chord kind '{}' is left out", short(value))),
        },
    }
}

fn name(element: Element<'_>, step: &str, alter: &str) -> Option<PitchName> {
    let mut letters = element.text_of(step)?.chars();
    let step = Step::from_letter(letters.next()?).filter(|_| letters.next().is_none())?;
    let alter = match element.text_of(alter) {
        None => 0,
        Some(text) => Decimal::parse(text)?.rounded().0,
    };
    PitchName::new(step, i8::try_from(alter).ok()?)
}

/// Added, altered or taken out of the kind.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Degree {
    number: u8,
    alter: i64,
    change: Change,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Change {
    Add,
    Alter,
    Subtract,
}

fn degree(element: Element<'_>) -> Option<Degree> {
    Some(Degree {
        number: element.text_of("degree-value")?.parse().ok()?,
        alter: element.text_of("degree-alter").and_then(Decimal::parse).map_or(0, |d| d.rounded().0),
        change: match element.text_of("degree-type")? {
            "add" => Change::Add,
            "alter" => Change::Alter,
            "subtract" => Change::Subtract,
            _ => return None,
        },
    })
}

fn with_degrees(kind: &str, degrees: &[Degree]) -> String {
    let mut text = kind.to_owned();
    for d in degrees {
        let word = match d.change {
            Change::Add => "add",
            Change::Alter => "alter",
            Change::Subtract => "without",
        };
        let sign = if d.alter < 0 { "b" } else { "#" };
        let signs = sign.repeat(usize::try_from(d.alter.abs().min(2)).unwrap_or(0));
        text.push_str(&format!(" {word} {signs}{}", d.number));
    }
    text
}

/// The kind that says precisely this.
fn exact(value: &str, text: Option<&str>, degrees: &[Degree]) -> Option<ChordKind> {
    let plain = ChordKind::ALL.into_iter().find(|k| k.musicxml() == value);
    // What is printed may tell kinds apart that MusicXML does not.
    let printed = text.and_then(|t| format!("C{t}").parse::<Chord>().ok()).map(|c| c.kind);
    match degrees {
        [] if matches!(value, "" | "other") => printed,
        [] => printed.filter(|k| k.musicxml() == value).or(plain),
        // Degrees make the kinds that have no name of their own: 7sus4, and the ways around it.
        [Degree { number, alter, change }] => match (value, number, alter, change) {
            // The standard counts an added seventh from the minor one, some programs from the major.
            ("suspended-fourth", 7, 0 | -1, Change::Add) => Some(ChordKind::SeventhSuspendedFourth),
            ("dominant", 4, 0, Change::Add) if text.is_some_and(|t| t.contains("sus")) => {
                Some(ChordKind::SeventhSuspendedFourth)
            }
            ("minor-seventh", 5, -1, Change::Alter) => Some(ChordKind::HalfDiminished),
            ("major", 5, 1, Change::Alter) => Some(ChordKind::Augmented),
            ("minor", 5, -1, Change::Alter) => Some(ChordKind::Diminished),
            ("major", 3, 0, Change::Subtract) => Some(ChordKind::Fifth),
            _ => None,
        },
        [a, b] => {
            let has = |number, change| [a, b].iter().any(|d| d.number == number && d.change == change);
            let sus = has(3, Change::Subtract) && has(4, Change::Add);
            match value {
                "dominant" if sus => Some(ChordKind::SeventhSuspendedFourth),
                "major" if sus => Some(ChordKind::SuspendedFourth),
                "major" if has(3, Change::Subtract) && has(2, Change::Add) => {
                    Some(ChordKind::SuspendedSecond)
                }
                _ => None,
            }
        }
        _ => None,
    }
}

/// The kind on which a fuller chord stands.
fn nearest(value: &str) -> Option<ChordKind> {
    ChordKind::ALL.into_iter().find(|k| k.musicxml() == value).or(match value {
        "augmented-seventh" => Some(ChordKind::Augmented),
        "dominant-11th" | "dominant-13th" => Some(ChordKind::Ninth),
        "major-11th" | "major-13th" => Some(ChordKind::MajorNinth),
        "minor-11th" | "minor-13th" => Some(ChordKind::MinorNinth),
        "Neapolitan" => Some(ChordKind::Major),
        "Italian" | "French" | "German" => Some(ChordKind::Seventh),
        _ => None,
    })
}

#[cfg(test)]
mod tests {
    use super::super::super::tree::Tree;
    use super::*;

    fn read(inner: &str) -> Symbol {
        let tree = Tree::parse(&format!("<harmony>{inner}</harmony>")).unwrap();
        harmony(tree.root(), Transposition::NONE)
    }

    const D: &str = "<root><root-step>D</root-step></root>";

    #[test]
    fn kinds_degrees_and_basses() {
        let exact = |inner: &str, symbol: &str| {
            assert_eq!(read(&format!("{D}{inner}")), Symbol::Exact(symbol.parse().unwrap()), "{inner}");
        };
        exact("<kind>minor-seventh</kind>", "Dm7");
        exact("<kind>major</kind><bass><bass-step>F</bass-step><bass-alter>1</bass-alter></bass>", "D/F#");
        let degree = |v, a, t| {
            format!(
                "<degree><degree-value>{v}</degree-value><degree-alter>{a}</degree-alter><degree-type>{t}</degree-type></degree>"
            )
        };
        // MusicXML 4.0, `degree-alter`: an added seventh without alteration is the minor one.
        exact(&format!("<kind>suspended-fourth</kind>{}", degree(7, 0, "add")), "D7sus4");
        exact(&format!("<kind>minor-seventh</kind>{}", degree(5, -1, "alter")), "Dm7b5");
    }

    #[test]
    fn what_cannot_be_held_is_said() {
        assert_eq!(
            read(&format!("{D}<kind text='7sus4'>suspended-fourth</kind>")),
            Symbol::Exact("D7sus4".parse().unwrap())
        );
        let Symbol::Near(chord, why) = read(&format!("{D}<kind text='13'>dominant-13th</kind>")) else {
            panic!()
        };
        assert_eq!((chord.to_string().as_str(), why.contains("'13'")), ("D9", true));
        assert!(matches!(read("<kind>none</kind>"), Symbol::LeftOut(_)));
        assert!(matches!(read("<numeral/><kind>major</kind>"), Symbol::LeftOut(_)));
        assert!(matches!(read(&format!("{D}<kind>other</kind>")), Symbol::LeftOut(_)));
    }
}
