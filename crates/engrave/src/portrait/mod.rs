//! A recording with the notes that were heard in it, to be checked by eye.
//!
//! The sound lies behind in greys, pitch upwards and time to the right; the notes lie over it as outlined bars with their
//! names, each at its pitch and as long as it sounds. Where a bar has no dark streak inside, there is no such note; where
//! a streak has no bar, one is missing or it is an overtone (an octave above a note, an octave and a fifth, two octaves).
//! What is doubtful differs by form and by word, never by colour alone. A long recording runs on in further systems, as
//! music does.

mod notes;
mod system;

use crate::font::{Face, TextStyle};
use crate::greys::Greys;
use crate::path::Path;
use crate::scene::{Anchor, Ink, Item, Scene};
use crate::units::{Point, Rect};
use system::System;

/// How loud it is at each pitch and instant.
#[derive(Clone, Debug, PartialEq)]
pub struct Sound<'a> {
    /// Where the first column begins, in seconds of the recording.
    pub start_s: f64,
    /// Seconds from column to column.
    pub column_s: f64,
    /// How many columns.
    pub columns: usize,
    /// MIDI number of the lowest semitone.
    pub lowest_midi: u8,
    /// Rows for each semitone, an odd number; the middle one is the pitch itself.
    pub rows_per_semitone: usize,
    /// How many rows.
    pub rows: usize,
    /// Column by column, each from the lowest row up; 0 is paper, 255 the darkest.
    pub levels: &'a [u8],
}

/// How a note began.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Form {
    /// With an attack: a bar.
    #[default]
    Struck,
    /// Out of the note before it, without an attack: a bar with a link.
    Joined,
    /// A dead note: a cross.
    Dead,
}

/// A note as it was heard.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct HeardBar {
    /// When it starts, in seconds of the recording.
    pub from_s: f64,
    /// When it stops.
    pub to_s: f64,
    /// Sounding MIDI number; of a dead note only the place to draw it.
    pub midi: u8,
    /// Its name as printed (`B♭1`).
    pub name: String,
    /// How it began.
    pub form: Form,
    /// Whether it should be checked first.
    pub doubtful: bool,
}

/// A bar line, or the beat inside a bar.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BarLine {
    /// When, in seconds of the recording.
    pub at_s: f64,
    /// The number of the bar that begins here; `None` for a beat inside a bar.
    pub bar: Option<u32>,
}

/// What is to be drawn.
#[derive(Clone, Debug, PartialEq)]
pub struct Portrait<'a> {
    /// The heading, such as the file's name.
    pub title: String,
    /// A line under it: what was found, how it was tuned.
    pub caption: String,
    /// The sound.
    pub sound: Sound<'a>,
    /// The notes in the order of time.
    pub notes: &'a [HeardBar],
    /// Bar lines and beats in the order of time; empty when none are known.
    pub bars: &'a [BarLine],
}

/// Seconds in one system, about: a recording is divided evenly.
const SYSTEM_S: f64 = 10.0;
/// Width of the sound in a whole system, in millimetres.
const WIDE: f64 = 254.0;
/// Most millimetres for a second: a short clip is not blown up further.
const MOST_PER_S: f64 = 60.0;
/// Width of the lane of pitch names.
const LANE: f64 = 18.0;
/// White around everything.
const MARGIN: f64 = 6.0;
/// Height of the heading with its lines.
const HEAD: f64 = 19.0;
/// Above the sound: bar numbers.
const ABOVE: f64 = 5.5;
/// Below it: seconds.
const BELOW: f64 = 8.5;
/// Height that a system's sound should have.
const HIGH: f64 = 86.0;
/// Bounds of a semitone's height.
const SEMITONE: (f64, f64) = (1.5, 2.4);
/// Shown when nothing was heard: the open low B of a five-string bass to fret 24 of the G string.
const NOTHING_HEARD: (u8, u8) = (23, 67);
/// Semitones shown below the lowest and above the highest note: above it lie its first two overtones.
const ROOM: (u8, u8) = (3, 20);
/// Levels are drawn paler by this power, so that noise and room do not hide the strings.
const PALER: f64 = 1.7;
/// Most notes that the description names one by one.
const MOST_TOLD: usize = 250;

/// The sound with its notes as a picture about 280 millimetres wide.
#[must_use]
pub fn draw(portrait: &Portrait<'_>) -> Scene {
    let sound = &portrait.sound;
    let length = sound.columns as f64 * sound.column_s;
    let (low, high) = range(portrait);
    let semitones = f64::from(high - low) + 1.0;
    let semitone = (HIGH / semitones).clamp(SEMITONE.0, SEMITONE.1);
    let systems = (length / SYSTEM_S).round().max(1.0) as usize;
    let span = length / systems as f64;
    let per_s = (WIDE / span.max(1.0)).min(MOST_PER_S);
    let height = ABOVE + semitones * semitone + BELOW;
    let mut scene = Scene::new(2.0 * MARGIN + LANE + WIDE, 2.0 * MARGIN + HEAD + systems as f64 * height);
    scene.title = format!("Sound and heard notes: {}", portrait.title);
    scene.description = description(portrait, length);
    scene.items.push(Item::Fill {
        path: Path::rectangle(Rect::new(0.0, 0.0, scene.width, scene.height)),
        ink: Ink::Paper,
    });
    scene.items.extend(head(portrait));
    for k in 0..systems {
        let from_s = sound.start_s + k as f64 * span;
        let to_s = from_s + span;
        let top = MARGIN + HEAD + k as f64 * height + ABOVE;
        let left = MARGIN + LANE;
        let area = Rect::new(left, top, left + (to_s - from_s) * per_s, top + semitones * semitone);
        let system = System { area, from_s, to_s, low, high, semitone, per_s };
        scene.items.extend(system.ground(portrait));
        scene.items.extend(notes::notes(&system, portrait.notes));
    }
    scene
}

/// Lowest and highest semitone shown.
fn range(portrait: &Portrait<'_>) -> (u8, u8) {
    let sound = &portrait.sound;
    let semitones = sound.rows / sound.rows_per_semitone.max(1);
    let bottom = sound.lowest_midi;
    let top = bottom.saturating_add(u8::try_from(semitones.saturating_sub(1)).unwrap_or(0));
    let heard = |midi: u8| midi.clamp(bottom, top);
    let low = portrait.notes.iter().map(|n| heard(n.midi)).min();
    let high = portrait.notes.iter().map(|n| heard(n.midi)).max();
    let (low, high) = match (low, high) {
        (Some(low), Some(high)) => (low.saturating_sub(ROOM.0), high.saturating_add(ROOM.1)),
        _ => NOTHING_HEARD,
    };
    (low.max(bottom), high.min(top).max(low.max(bottom)))
}

/// Heading, caption and what the forms mean.
fn head(portrait: &Portrait<'_>) -> Vec<Item> {
    let line = |y: f64, size: f64, face: Face, words: &str| {
        Item::text(words, Point::new(MARGIN, MARGIN + y), TextStyle::new(face, size), Anchor::Start)
    };
    let mut items =
        vec![line(4.4, 5.2, Face::Bold, &portrait.title), line(9.6, 3.5, Face::Roman, &portrait.caption)];
    items.extend(notes::key(Point::new(MARGIN, MARGIN + 14.6)));
    items
}

/// An instant in words.
fn clock(second: f64) -> String {
    // Hundredths first, so that 59.999 does not become 60.00 s.
    let hundredths = (second * 100.0).round();
    let minutes = (hundredths / 6_000.0).floor();
    if minutes >= 1.0 {
        format!("{minutes:.0}:{:05.2}", (hundredths - 6_000.0 * minutes) / 100.0)
    } else {
        format!("{:.2} s", hundredths / 100.0)
    }
}

/// The picture in words.
fn description(portrait: &Portrait<'_>, length: f64) -> String {
    let sound = &portrait.sound;
    let (from, to) = (clock(sound.start_s), clock(sound.start_s + length));
    let mut words = format!("The sound from {from} to {to}. {}.", portrait.caption.trim_end_matches('.'));
    let mut bars = portrait.bars.iter().filter_map(|b| Some((b.at_s, b.bar?))).peekable();
    let told = portrait.notes.iter().filter(|n| n.from_s.is_finite() && n.to_s.is_finite());
    for note in told.take(MOST_TOLD) {
        while let Some((_, bar)) = bars.next_if(|(at, _)| *at <= note.from_s + 0.02) {
            if bars.peek().is_none_or(|(at, _)| *at > note.from_s + 0.02) {
                words.push_str(&format!(" Bar {bar}."));
            }
        }
        let name = if note.form == Form::Dead { "dead note" } else { &note.name };
        let manner = if note.form == Form::Joined { ", joined" } else { "" };
        let doubt = if note.doubtful { ", doubtful" } else { "" };
        words.push_str(&format!(
            " {name} at {} for {:.2} s{manner}{doubt}.",
            clock(note.from_s),
            (note.to_s - note.from_s).max(0.0)
        ));
    }
    let more = portrait.notes.len().saturating_sub(MOST_TOLD);
    if more > 0 {
        words.push_str(&format!(" And {more} more notes."));
    }
    words
}

/// The part of the sound that a system shows, as a raster.
fn greys(sound: &Sound<'_>, from_s: f64, to_s: f64, low: u8, high: u8) -> Greys {
    let column =
        |s: f64| (((s - sound.start_s) / sound.column_s).round().max(0.0) as usize).min(sound.columns);
    let (first, last) = (column(from_s), column(to_s));
    let row = |midi: u8| usize::from(midi.saturating_sub(sound.lowest_midi)) * sound.rows_per_semitone;
    let (bottom, top) = (row(low), (row(high) + sound.rows_per_semitone).min(sound.rows));
    let pale: Vec<u8> =
        (0..=255).map(|l| (255.0 * (f64::from(l) / 255.0).powf(PALER)).round() as u8).collect();
    let mut darkness = Vec::with_capacity((last.saturating_sub(first)) * top.saturating_sub(bottom));
    for r in (bottom..top).rev() {
        let level = |c: usize| sound.levels.get(c * sound.rows + r).copied().unwrap_or(0);
        darkness.extend((first..last).map(|c| pale.get(usize::from(level(c))).copied().unwrap_or(0)));
    }
    Greys::new(last.saturating_sub(first), &darkness)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pdf::{self, About};
    use crate::scene::Role;
    use crate::svg;

    fn note(from_s: f64, to_s: f64, midi: u8, name: &str) -> HeardBar {
        HeardBar { from_s, to_s, midi, name: name.into(), ..HeardBar::default() }
    }

    fn sound(seconds: f64, levels: &[u8]) -> Sound<'_> {
        Sound {
            start_s: 0.0,
            column_s: 0.01,
            columns: (seconds * 100.0) as usize,
            lowest_midi: 21,
            rows_per_semitone: 3,
            rows: 210,
            levels,
        }
    }

    fn portrait<'a>(sound: Sound<'a>, notes: &'a [HeardBar], bars: &'a [BarLine]) -> Portrait<'a> {
        Portrait { title: "take.wav".into(), caption: "3 notes".into(), sound, notes, bars }
    }

    fn texts(scene: &Scene) -> Vec<String> {
        let mut found = Vec::new();
        scene.visit(&mut |i| {
            if let Item::Text(t) = i {
                found.push(t.content.clone());
            }
        });
        found
    }

    #[test]
    fn a_minute_has_no_sixtieth_second() {
        let written = [0.0, 3.456, 59.994, 59.999, 62.5, 119.994, 119.999].map(clock);
        assert_eq!(written, ["0.00 s", "3.46 s", "59.99 s", "1:00.00", "1:02.50", "1:59.99", "2:00.00"]);
    }

    #[test]
    fn a_bar_lies_at_its_pitch_and_time() {
        let notes = [note(1.0, 2.0, 28, "E1"), note(2.0, 3.0, 40, "E2")];
        let levels = vec![0; 400 * 210];
        let portrait = portrait(sound(4.0, &levels), &notes, &[]);
        let scene = draw(&portrait);
        let mut bars: Vec<Rect> = Vec::new();
        scene.visit(&mut |i| {
            if let Item::Stroke { path, ink: Ink::Accent, .. } = i {
                bars.push(path.bounds());
            }
        });
        // The samples of the key come first.
        let [_, _, low, high] = bars[..] else { panic!("{bars:?}") };
        assert!((low.width() - 60.0).abs() < 1e-6, "a second is {} mm", low.width());
        assert!((high.left - low.right).abs() < 1e-6);
        // 12 semitones, and the range is 25 to 60.
        assert!((low.top - high.top - 12.0 * HIGH / 36.0).abs() < 1e-6);
    }

    #[test]
    fn what_is_doubtful_differs_in_form_and_word() {
        let sure = [note(1.0, 2.0, 28, "E1")];
        let doubtful = [HeardBar { doubtful: true, ..sure[0].clone() }];
        let levels = vec![0; 400 * 210];
        let said = |notes: &[HeardBar]| {
            let scene = draw(&portrait(sound(4.0, &levels), notes, &[]));
            let words = texts(&scene).iter().filter(|t| t.contains("doubtful")).count();
            let mut dashes = 0;
            scene.visit(&mut |i| {
                dashes += usize::from(matches!(i, Item::Line { dash: Some(_), ink: Ink::Accent, .. }))
            });
            (words, dashes, scene.description.contains("doubtful"))
        };
        // Once in the key; a second time, with four dashed edges more, at the note.
        assert_eq!(said(&sure), (1, 4, false));
        assert_eq!(said(&doubtful), (2, 8, true));
    }

    #[test]
    fn every_note_has_its_name_unless_it_is_struck_again_in_a_crowd() {
        let levels = vec![0; 400 * 210];
        let names = ["E1", "G1", "A1", "B1", "D2", "E2", "D2", "B1"];
        let midi = [28, 31, 33, 35, 38, 40, 38, 35];
        let notes: Vec<HeardBar> = (0..8)
            .map(|i| {
                note(f64::from(i) * 0.12, f64::from(i) * 0.12 + 0.1, midi[i as usize], names[i as usize])
            })
            .collect();
        let found = texts(&draw(&portrait(sound(4.0, &levels), &notes, &[])));
        for name in names {
            let wanted = names.iter().filter(|n| **n == name).count();
            // One more in the lane.
            assert!(found.iter().filter(|t| *t == name).count() > wanted, "{name} in {found:?}");
        }
    }

    #[test]
    fn a_long_recording_runs_on_in_systems_and_bars_are_numbered() {
        let levels = vec![40; 2_500 * 210];
        let bars: Vec<BarLine> =
            (0..12).map(|b| BarLine { at_s: 0.5 + 2.0 * f64::from(b), bar: Some(b as u32 + 1) }).collect();
        let notes = [note(8.0, 9.0, 33, "A1")];
        let scene = draw(&portrait(sound(25.0, &levels), &notes, &bars));
        let mut rasters = 0;
        scene.visit(&mut |i| rasters += usize::from(matches!(i, Item::Greys { .. })));
        assert_eq!(rasters, 3, "25 s make three systems of 8.3 s");
        let found = texts(&scene);
        assert!(found.contains(&"bar 12".into()) && found.contains(&"24 s".into()), "{found:?}");
        assert!(found.contains(&"(A1)".into()), "a note goes on in the next system: {found:?}");
        assert!(scene.description.contains("Bar 4. A1 at 8.00 s for 1.00 s."), "{}", scene.description);
    }

    /// A PDF as a figure with its words; the greys are drawn as outlines there.
    #[test]
    fn the_same_picture_goes_on_paper() {
        let levels: Vec<u8> = (0..400 * 210).map(|i| (i % 256) as u8).collect();
        let notes = [note(1.0, 2.0, 28, "E1")];
        let scene = draw(&portrait(sound(4.0, &levels), &notes, &[]));
        let pdf = |scene: Scene| {
            let figure = Role::Figure { alt: scene.description.clone() };
            let mut page = Scene::new(scene.width, scene.height);
            page.items.push(scene.placed(Point::default(), figure));
            pdf::write(&[page], &About::titled("take.wav")).unwrap().len()
        };
        let without = draw(&portrait(sound(4.0, &[]), &notes, &[]));
        assert!(pdf(scene) > pdf(without) + 10_000);
    }

    #[test]
    fn odd_numbers_draw_something_and_never_panic() {
        let odd =
            [note(-5.0, -4.0, 0, "C-1"), note(3.0, 1.0, 127, ""), note(f64::NAN, f64::INFINITY, 40, "x")];
        for columns in [0, 1, 7] {
            let empty = Sound { columns, rows: 0, rows_per_semitone: 0, ..sound(1.0, &[]) };
            let text = svg::document(&draw(&portrait(empty, &odd, &[])));
            assert!(text.starts_with("<svg") && !text.contains("NaN") && !text.contains("inf"));
        }
        let scene = draw(&portrait(sound(1.0, &[]), &[], &[]));
        assert!(scene.description.contains("from 0.00 s to 1.00 s"));
    }
}
