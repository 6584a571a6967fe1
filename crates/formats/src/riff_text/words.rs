//! The small words of the notation, one table each for reader and printer.

use riffkin_score::degree::Degree;
use riffkin_score::key::Key;
use riffkin_score::note::{Approach, Mark};
use riffkin_score::pitch::{Midi, Pitch, PitchName};
use riffkin_score::tempo::{Feel, Swing, Tempo};
use riffkin_score::value::{NoteValue, Shape, Tuplet};

/// The word of a note value's shape.
pub(super) fn shape_word(shape: Shape) -> &'static str {
    match shape {
        Shape::Breve => "breve",
        Shape::Whole => "w",
        Shape::Half => "h",
        Shape::Quarter => "q",
        Shape::Eighth => "e",
        Shape::Sixteenth => "s",
        Shape::ThirtySecond => "t",
        Shape::SixtyFourth => "z",
        Shape::HundredTwentyEighth => "y",
    }
}

/// A length word as written: `q.`, `e3`, `s5:4`.
pub(super) fn length_word(value: NoteValue) -> String {
    let dots = ".".repeat(usize::from(value.dots()));
    let tuplet = match value.tuplet() {
        None => String::new(),
        Some(Tuplet::TRIPLET) => "3".to_owned(),
        Some(t) => format!("{}:{}", t.actual(), t.normal()),
    };
    format!("{}{dots}{tuplet}", shape_word(value.shape()))
}

/// Reads a length word; `None` when the word does not begin like one.
pub(super) fn read_length(word: &str) -> Option<Result<NoteValue, String>> {
    let shape = Shape::ALL.into_iter().find(|&s| word.starts_with(shape_word(s)))?;
    let rest = word.strip_prefix(shape_word(shape))?;
    let tuplet = rest.trim_start_matches('.');
    let dots = rest.len() - tuplet.len();
    if !tuplet.is_empty() && !tuplet.starts_with(|c: char| c.is_ascii_digit()) {
        return None;
    }
    if !tuplet.chars().all(|c| c.is_ascii_digit() || c == ':') {
        return Some(Err(
            "write a letter, dots and a tuplet (e3, s5:4), with blanks between words".to_owned()
        ));
    }
    Some(read_dots_and_tuplet(shape, dots, tuplet))
}

fn read_dots_and_tuplet(shape: Shape, dots: usize, tuplet: &str) -> Result<NoteValue, String> {
    let dots = u8::try_from(dots).ok().filter(|&d| d <= 3).ok_or("a length has at most three dots")?;
    let tuplet = match tuplet.split_once(':') {
        None if tuplet.is_empty() => None,
        None if tuplet == "3" => Some(Tuplet::TRIPLET),
        None => {
            return Err(
                "only 3 stands alone (three in the time of two); write 5:4 for five in the time of four"
                    .to_owned(),
            );
        }
        Some((actual, normal)) => Some(
            actual
                .parse()
                .ok()
                .zip(normal.parse().ok())
                .and_then(|(a, n)| Tuplet::new(a, n))
                .ok_or("a tuplet is 2 to 15 notes in the time of 1 to 16 others, such as 5:4")?,
        ),
    };
    NoteValue::new(shape, dots, tuplet)
        .ok_or_else(|| "this length cannot be held exactly; use another tuplet".to_owned())
}

/// The word of an approach; none for a plain pluck.
pub(super) fn approach_word(approach: Approach) -> Option<&'static str> {
    match approach {
        Approach::Plucked => None,
        Approach::Hammer => Some("hammer"),
        Approach::Pull => Some("pull"),
        Approach::Slide => Some("slide"),
        Approach::SlidePlucked => Some("slide-plucked"),
    }
}

/// Reads an approach.
pub(super) fn read_approach(word: &str) -> Option<Approach> {
    [Approach::Hammer, Approach::Pull, Approach::Slide, Approach::SlidePlucked]
        .into_iter()
        .find(|&a| approach_word(a) == Some(word))
}

/// Reads a playing mark.
pub(super) fn read_mark(word: &str) -> Option<Mark> {
    Mark::ALL.into_iter().find(|m| m.name() == word)
}

/// A bend as written, in semitones: `1/2`, `1`, `3/2`.
pub(super) fn bend_word(quarter_tones: u8) -> String {
    if quarter_tones.is_multiple_of(2) {
        format!("bend:{}", quarter_tones / 2)
    } else {
        format!("bend:{quarter_tones}/2")
    }
}

/// Reads what stands after `bend:`; quarter tones 1 to 8.
pub(super) fn read_bend(text: &str) -> Option<u8> {
    let quarter_tones = match text.strip_suffix("/2") {
        Some(halves) => halves.parse::<u8>().ok()?,
        None => text.parse::<u8>().ok()?.checked_mul(2)?,
    };
    (1..=8).contains(&quarter_tones).then_some(quarter_tones)
}

/// A tempo as written: `96`, `dotted quarter = 60`.
pub(super) fn tempo_words(tempo: Tempo) -> String {
    let thousandths = (tempo.per_minute() * 1000.0).round() as u32;
    let (whole, part) = (thousandths / 1000, thousandths % 1000);
    let number = if part == 0 {
        whole.to_string()
    } else {
        format!("{whole}.{part:03}").trim_end_matches('0').to_owned()
    };
    if tempo.unit() == NoteValue::plain(Shape::Quarter) {
        number
    } else {
        format!("{} = {number}", tempo.unit().words())
    }
}

/// Reads a tempo.
pub(super) fn read_tempo(text: &str) -> Option<Tempo> {
    let (unit, number) = match text.split_once('=') {
        Some((unit, number)) => (read_value_words(unit)?, number.trim()),
        None => (NoteValue::plain(Shape::Quarter), text.trim()),
    };
    let digits = !number.is_empty() && number.len() <= 16;
    if !digits || !number.chars().all(|c| c.is_ascii_digit() || c == '.') {
        return None;
    }
    Tempo::new(number.parse().ok()?, unit)
}

/// Reads a note value in words, as [`NoteValue::words`] writes it.
fn read_value_words(text: &str) -> Option<NoteValue> {
    let wanted = text.split_whitespace().collect::<Vec<_>>().join(" ");
    (0..=3u8)
        .flat_map(|dots| Shape::ALL.into_iter().filter_map(move |shape| NoteValue::new(shape, dots, None)))
        .find(|v| v.words() == wanted)
}

/// A feel as written.
pub(super) fn feel_words(feel: Feel) -> String {
    match feel {
        Feel::Straight => "straight".to_owned(),
        Feel::Swing(swing) => format!(
            "swing {}:{} {}",
            swing.long(),
            swing.short(),
            if swing.sixteenths() { "sixteenths" } else { "eighths" }
        ),
    }
}

/// Reads a feel as the header writes it: `straight`, `swing 2:1 eighths`, `swing 3:2 sixteenths`; `None` for other words.
#[must_use]
pub fn read_feel(text: &str) -> Option<Feel> {
    let mut words = text.split_whitespace();
    let feel = match words.next()? {
        "straight" => Feel::Straight,
        "swing" => {
            let (long, short) = words.next()?.split_once(':')?;
            let sixteenths = match words.next() {
                None | Some("eighths") => false,
                Some("sixteenths") => true,
                Some(_) => return None,
            };
            Feel::Swing(Swing::new(long.parse().ok()?, short.parse().ok()?, sixteenths)?)
        }
        _ => return None,
    };
    words.next().is_none().then_some(feel)
}

/// An ending as written: `1st`, `2nd,3rd`.
pub(super) fn ending_word(passes: &[u8]) -> String {
    let ordinal = |&n: &u8| {
        let suffix = match (n % 10, n % 100) {
            (_, 11..=13) => "th",
            (1, _) => "st",
            (2, _) => "nd",
            (3, _) => "rd",
            _ => "th",
        };
        format!("{n}{suffix}")
    };
    passes.iter().map(ordinal).collect::<Vec<_>>().join(",")
}

/// Reads an ending; `None` when the word does not look like one.
pub(super) fn read_ending(word: &str) -> Option<Vec<u8>> {
    word.split(',')
        .map(|one| {
            let number = ["st", "nd", "rd", "th"].iter().find_map(|s| one.strip_suffix(s))?;
            number.parse().ok()
        })
        .collect()
}

/// The lowest sounding tonic of these names at or above E1 (MIDI 28), the lowest string of a four-string bass
/// in standard tuning: the 1 that is written without an octave sign.
pub(super) fn home(tonic: PitchName) -> Option<Pitch> {
    (28..40).filter_map(Midi::new).find_map(|midi| Pitch::from_midi(midi, tonic))
}

/// The pitch of a degree, `octaves` above the one that starts on the home tonic.
pub(super) fn pitch_of_degree(home: Pitch, degree: Degree, octaves: i8) -> Option<Pitch> {
    home.plus(degree.interval())?.octaves(octaves)
}

/// A pitch as degree and octaves, when its spelling fits one.
pub(super) fn degree_of_pitch(key: Key, pitch: Pitch) -> Option<(Degree, i8)> {
    let home = home(key.tonic)?;
    let degree = Degree::between(key.tonic, pitch.name())?;
    let steps = pitch.diatonic() - home.diatonic() - (i32::from(degree.number()) - 1);
    let octaves = i8::try_from(steps.div_euclid(7)).ok()?;
    (pitch_of_degree(home, degree, octaves) == Some(pitch)).then_some((degree, octaves))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The fourth string of the standard tuning is E1, the third A1, the second D2 (common practice).
    #[test]
    fn home_lies_on_the_lowest_octave_of_a_four_string() {
        for (tonic, pitch) in
            [("E", "E1"), ("F", "F1"), ("A", "A1"), ("D", "D2"), ("Eb", "Eb2"), ("Fb", "Fb1")]
        {
            assert_eq!(home(tonic.parse().unwrap()).unwrap().to_string(), pitch);
        }
    }

    #[test]
    fn every_length_reads_back() {
        for shape in Shape::ALL {
            for dots in 0..=3 {
                for tuplet in
                    [None, Tuplet::new(3, 2), Tuplet::new(5, 4), Tuplet::new(2, 3), Tuplet::new(15, 16)]
                {
                    let Some(value) = NoteValue::new(shape, dots, tuplet) else { continue };
                    assert_eq!(read_length(&length_word(value)), Some(Ok(value)));
                }
            }
        }
        assert_eq!(read_length("b3"), None);
        assert_eq!(read_length("x3"), None);
        assert!(read_length("e5").unwrap().is_err());
        assert!(read_length("q....").unwrap().is_err());
    }

    #[test]
    fn tempi_bends_and_endings_read_back() {
        for text in ["96", "dotted quarter = 60", "half = 71.5", "triple-dotted hundred-twenty-eighth = 5"] {
            assert_eq!(tempo_words(read_tempo(text).unwrap()), text);
        }
        for bad in ["", "fast", "=", "1e3", "inf", "4", "quarter =", "triplet quarter = 90"] {
            assert_eq!(read_tempo(bad), None, "{bad}");
        }
        for quarter_tones in 1..=8 {
            let word = bend_word(quarter_tones);
            assert_eq!(read_bend(word.strip_prefix("bend:").unwrap()), Some(quarter_tones));
        }
        assert_eq!(
            ending_word(&[1, 2, 3, 4, 11, 12, 13, 21, 22]),
            "1st,2nd,3rd,4th,11th,12th,13th,21st,22nd"
        );
        assert_eq!(read_ending("1st,22nd"), Some(vec![1, 22]));
    }
}
