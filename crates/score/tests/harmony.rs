//! Chords and scales that fit, and the line under its chords.
#![expect(clippy::unwrap_used, reason = "a failed helper is a failed test")]

mod common;

use common::{Seeded, name, riff, set};
use riffkin_score::analysis::explain::{degree_over, explain};
use riffkin_score::analysis::harmony::{
    Member, Most, Role, chord_slots, chords_that_fit, implied, is_tone, key_modes, open_steps, read_chords,
    relative_major, scales_that_fit, standing, usual,
};
use riffkin_score::analysis::shape::shape;
use riffkin_score::analysis::two_names::two_names;
use riffkin_score::chord::{Chord, ChordKind};
use riffkin_score::degree::Degree;
use riffkin_score::key::{Key, Mode};
use riffkin_score::pitch::{Midi, Pitch, PitchName};
use riffkin_score::random::{Recipe, riff_of};
use riffkin_score::riff::Riff;

fn chord(text: &str) -> Chord {
    text.parse().unwrap()
}

/// The chords of a key and their scales, as handbooks of chord and scale list them (common practice, no source).
#[test]
fn diatonic_sevenths_take_the_modes() {
    let major =
        "Imaj7 major, ii7 Dorian, iii7 Phrygian, IVmaj7 Lydian, V7 Mixolydian, vi7 minor, vii7b5 Locrian";
    let minor = "i7 minor, ii7b5 Locrian, bIIImaj7 major, iv7 Dorian, v7 Phrygian, bVImaj7 Lydian, bVII7 Mixolydian, \
                 V7 Phrygian dominant";
    for tonic in (-6..=6).filter_map(PitchName::from_line_of_fifths) {
        for (mode, table) in [(Mode::Major, major), (Mode::Minor, minor)] {
            for pair in table.split(", ") {
                let (numeral, scale) = pair.trim().split_once(' ').unwrap();
                let chord = Chord::from_numeral(numeral, tonic).unwrap();
                let found = implied(chord, tonic, mode).unwrap();
                assert_eq!(found.named.unwrap().name(), scale, "{tonic} {mode}: {numeral}");
                assert_eq!(found.altered.is_empty(), numeral != "V7" || mode == Mode::Major);
            }
        }
    }
}

/// A chord from outside the key: its tones replace the key's, and the parent is named. D7 in C is the V of V;
/// bVII7 in major takes the fourth mode of melodic minor, a dominant with a raised fourth; the diminished seventh
/// on the leading note takes harmonic minor (common practice, no source).
#[test]
fn chords_from_outside_the_key() {
    let words = |symbol: &str, key: &str| {
        let key: Key = key.parse().unwrap();
        let chord = chord(symbol);
        implied(chord, key.tonic, key.mode.unwrap()).unwrap().words(chord.root)
    };
    assert_eq!(words("D7", "C major"), "D Mixolydian");
    assert_eq!(
        words("Bb7", "C major"),
        "the key's notes with B♭ for B and A♭ for A (those of F melodic minor)"
    );
    assert_eq!(words("G#dim7", "A minor"), "the key's notes with G♯ for G (those of A harmonic minor)");
    assert_eq!(words("E7", "A minor"), "E Phrygian dominant");
    assert_eq!(words("Fm", "C major"), "the key's notes with A♭ for A");
}

/// Whatever the chord and key: the implied scale holds the chord, and all its other notes are the key's.
#[test]
fn an_implied_scale_holds_its_chord_and_else_the_key() {
    let mut seen = 0;
    for mode in Mode::ALL {
        for root in (-8..=8).filter_map(PitchName::from_line_of_fifths) {
            for kind in ChordKind::ALL {
                let chord = Chord { root, kind, bass: None };
                let c = name("C");
                let Some(scale) = implied(chord, c, mode) else { continue };
                seen += 1;
                assert!(kind.set().is_within(scale.set()), "{chord} in C {mode}");
                let from_c = (root.pitch_class() + 12 - c.pitch_class()) % 12;
                let own = scale.set().without(kind.set()).seen_from((12 - from_c) % 12);
                let key = scale.key_modes[0].set();
                assert!(own.is_within(key), "{chord} in C {mode}: {own} in {key}");
            }
        }
    }
    assert!(seen > 3000, "{seen}");
}

/// What is usual over a chord alone holds the chord, but for the blues over a dominant and the pentatonic frames.
#[test]
fn usual_scales_hold_their_chords() {
    for kind in ChordKind::ALL {
        for &mode in usual(kind).iter().filter(|m| m.degrees().len() == 7) {
            assert!(kind.set().without(set("6 2 4")).is_within(mode.set()), "{kind:?} {mode}");
        }
    }
    assert_eq!(usual(ChordKind::Seventh)[0], Mode::Mixolydian);
    // A minor seventh leaves the sixth open: both come first.
    assert_eq!(usual(ChordKind::MinorSeventh)[..2], [Mode::Dorian, Mode::Minor]);
}

fn scale_words(riff: &Riff) -> Vec<String> {
    let found = explain(riff, None);
    scales_that_fit(&found, &standing(riff))
        .into_iter()
        .map(|s| format!("{}: {}", s.mode, s.words()))
        .collect()
}

#[test]
fn scales_hold_lack_and_add() {
    let alone = riff(None, &["G1 Bb1 C2 D2 F2 D2 G1:2"]);
    let words = scale_words(&alone);
    assert_eq!(words[0], "minor pentatonic: holds every degree; adds nothing");
    assert_eq!(words[1], "minor blues: holds every degree; adds ♭5");
    let of = |mode: &str, words: &[String]| {
        let place = words.iter().position(|w| w.starts_with(&format!("{mode}:"))).unwrap();
        (place, words[place].clone())
    };
    let (dorian, said) = of("Dorian", &words);
    assert_eq!(said, "Dorian: holds every degree; adds 2 and 6; the notes of F major");
    let (major, said) = of("major", &words);
    assert!(major > dorian && said.contains("lacks ♭3 and ♭7"), "{said}");
    // With a chord that has the sixth, Dorian comes before natural minor; with the flat sixth after.
    for (chord, first, second, lacks) in [
        ("C7", "Dorian", "minor", "lacks 6 that the chords have"),
        ("Eb", "minor", "Dorian", "lacks ♭6 that the chords have"),
    ] {
        let words = scale_words(&riff(None, &["Gm7@0 G1 Bb1 C2 D2 F2 D2 G1:2", &format!("{chord}@0 G1:8")]));
        let (a, b) = (of(first, &words), of(second, &words));
        assert!(a.0 < b.0 && b.1.contains(lacks), "{words:?}");
    }
    // A given key speaks too.
    let words = scale_words(&riff(Some("G minor"), &["G1 Bb1 C2 D2 F2 D2 G1:2"]));
    assert!(of("Dorian", &words).1.contains("its 6 goes against the key"), "{words:?}");
    assert!(of("minor", &words).0 < of("Dorian", &words).0);
}

/// Common practice: a fill over a minor seventh vamp takes the sixth of its chords.
#[test]
fn the_sixth_of_a_fill_agrees_with_the_chords() {
    let line = "G1 Bb1 C2 D2 F2 D2 G1:2";
    let sixth = |chords: &[&str]| {
        let bars: Vec<String> = chords.iter().map(|c| format!("{c}@0 {line}")).collect();
        let bars: Vec<&str> = bars.iter().map(String::as_str).collect();
        let riff = riff(None, &bars);
        let steps = open_steps(&explain(&riff, None), &standing(&riff));
        let step = steps.into_iter().find(|s| s.number == 6).unwrap();
        (step.decided().map(|d| d.to_string()), step.words())
    };
    let (decided, words) = sixth(&["Gm7", "C7"]);
    assert_eq!((decided.as_deref(), words.as_str()), (Some("6"), "a fill's 6th is 6: C7 has it"));
    let (decided, words) = sixth(&["Gm7", "Eb", "Cm"]);
    assert_eq!((decided.as_deref(), words.as_str()), (Some("b6"), "a fill's 6th is ♭6: E♭ and Cm have it"));
    let (decided, words) = sixth(&["Gm7"]);
    assert!(decided.is_none() && words.starts_with("nothing decides the 6th (6 or ♭6)"), "{words}");
    let (decided, words) = sixth(&["C7", "Eb"]);
    assert!(decided.is_none() && words.contains("6 over C7 and ♭6 over E♭"), "{words}");
}

#[test]
fn relative_majors() {
    for (tonic, mode, major) in [
        ("G", Mode::Dorian, "F"),
        ("E", Mode::Minor, "G"),
        ("B", Mode::Locrian, "C"),
        ("F", Mode::Lydian, "C"),
    ] {
        assert_eq!(relative_major(name(tonic), mode).unwrap().tonic, name(major));
    }
    assert!(
        relative_major(name("G"), Mode::Major).is_none()
            && relative_major(name("G"), Mode::MinorBlues).is_none()
    );
}

/// A line that spells a chord from its root gets that chord, whatever the root and kind; over the whole and bar
/// by bar. Kinds with the same notes (6 and m7, the augmented and diminished sevenths) are told apart by the bass.
#[test]
fn a_spelled_chord_is_found() {
    for kind in [
        ChordKind::Major,
        ChordKind::Minor,
        ChordKind::Diminished,
        ChordKind::Augmented,
        ChordKind::SuspendedSecond,
        ChordKind::SuspendedFourth,
        ChordKind::Sixth,
        ChordKind::MinorSixth,
        ChordKind::Seventh,
        ChordKind::MajorSeventh,
        ChordKind::MinorSeventh,
        ChordKind::HalfDiminished,
        ChordKind::DiminishedSeventh,
        ChordKind::MinorMajorSeventh,
        ChordKind::SeventhSuspendedFourth,
    ] {
        for root in (-5..=6).filter_map(PitchName::from_line_of_fifths) {
            let low = Pitch::new(root, 1).unwrap();
            let line: Vec<String> = kind
                .degrees()
                .into_iter()
                .map(|d| low.plus(d.interval()).unwrap())
                .map(|p| format!("{p}:{}", if kind.degrees().len() == 4 { "2" } else { "1" }))
                .collect();
            let bar = match line.len() {
                4 => line.join(" "),
                _ => format!("{0} {0} {low}:2", line.join(" ")),
            };
            let riff = riff(None, &[&bar, &bar]);
            let found = chords_that_fit(&riff, &explain(&riff, None), Most::default());
            let wanted = (root.pitch_class(), kind);
            let first = &found.vamp[0];
            assert_eq!(
                (first.chord.root.pitch_class(), first.chord.kind),
                wanted,
                "{bar}: {}",
                first.words()
            );
            assert_eq!(found.bars.len(), 2);
            for bar in &found.bars {
                assert_eq!(bar.fits.len(), 3);
                assert_eq!((bar.fits[0].chord.root.pitch_class(), bar.fits[0].chord.kind), wanted);
            }
        }
    }
}

/// Public-domain ground bass (sixteenth century): root, root, fifth … of minor chords over which the passamezzo
/// antico stands; a bar of one note takes the triad that the key has on it.
#[test]
fn a_bar_on_one_note_takes_the_triad_of_the_key() {
    let riff = riff(Some("G minor"), &["G1:8", "F1:8", "G1:8", "D2:8", "Bb1:8", "F1:8", "G1:4 D2:4", "G1:8"]);
    let found = chords_that_fit(&riff, &explain(&riff, None), Most::default());
    let firsts: Vec<String> = found.bars.iter().map(|b| b.fits[0].chord.to_string()).collect();
    assert_eq!(firsts, ["Gm", "F", "Gm", "Dm", "Bb", "F", "Gm", "Gm"]);
}

#[test]
fn evidence_is_plain() {
    let line = riff(None, &["Gm7@0 G1:2 Bb1 C2 D2:2 F2 D2", "G1:2 Bb1 C2 D2:2 F2 D2"]);
    let found = chords_that_fit(&line, &explain(&line, None), Most::default());
    let first = &found.vamp[0];
    assert_eq!((first.chord, first.numeral.as_deref(), first.written), (chord("Gm7"), Some("i7"), true));
    let words = first.words();
    assert!(
        words.contains("root, third, fifth and seventh") && words.contains("its root opens every bar"),
        "{words}"
    );
    assert!(words.contains("not in the chord: C"), "{words}");
    // What is written in a bar is listed there, also where the notes alone say otherwise: V of minor is major, and
    // the line has its root only.
    let line = riff(Some("D minor"), &["Dm@0 D2:8", "A@0 A1:8", "Dm@0 D2:4 F2:4"]);
    let found = chords_that_fit(&line, &explain(&line, None), Most::default());
    let second = &found.bars[1].fits;
    assert!(second.iter().any(|f| f.chord == chord("A") && f.written), "{second:?}");
    let silent = riff(None, &["-:8"]);
    assert!(chords_that_fit(&silent, &explain(&silent, None), Most::default()).vamp.is_empty());
    let rest = riff(None, &["G1:8", "-:8"]);
    assert!(chords_that_fit(&rest, &explain(&rest, None), Most::default()).bars[1].fits.is_empty());
}

/// Handbook examples of what a note does over its chord (common practice, no source), in a line over two chords.
#[test]
fn roles_of_notes() {
    let roles = |bars: &[&str]| {
        let riff = riff(Some("C major"), bars);
        let reading = read_chords(&riff, &explain(&riff, None));
        let notes = reading.chords.iter().flat_map(|c| &c.notes);
        notes.map(|n| n.role.name()).collect::<Vec<_>>().join(", ")
    };
    let tone = "chord tone";
    assert_eq!(roles(&["C@0 C2 D2 E2 F2 G2:4"]), format!("{tone}, passing, {tone}, passing, {tone}"));
    assert_eq!(roles(&["C@0 E2 F2 E2 G2 C2:4"]), format!("{tone}, neighbour, {tone}, {tone}, {tone}"));
    // Two passing notes in a row, the second chromatic.
    assert_eq!(roles(&["C@0 G2 A2 Bb2 B2 C3:4"]), format!("{tone}, passing, passing, passing, {tone}"));
    // A leap, then a semitone into the next chord's root.
    assert_eq!(roles(&["C@0 F@4 C2:2 G2 E1 F1:4"]), format!("{tone}, {tone}, {tone}, {tone}"));
    assert_eq!(roles(&["C@0 F@4 C2:3 F#1 F1:4"]), format!("{tone}, approach, {tone}"));
    assert_eq!(roles(&["C@0 F@4 C2:3 F1 F1:4"]), format!("{tone}, anticipation, {tone}"));
    assert_eq!(roles(&["G7@0 C@4 G1:2 C2:6"]), format!("{tone}, anticipation"));
    assert_eq!(roles(&["F@0 C@4 F1:4 F1:2 E1:2"]), format!("{tone}, suspension, {tone}"));
    assert_eq!(roles(&["C@0 C2:4 A1:4"]), format!("{tone}, free"));
    // The note after the stroke belongs to the chord; a long rest parts notes that would be a passing line.
    assert_eq!(roles(&["C/D@0 D2:8"]), tone);
    assert_eq!(roles(&["C@0 C2 D2 -:4 E2:2"]), format!("{tone}, free, {tone}"));
}

#[test]
fn each_chord_has_its_span_and_its_notes() {
    let line = riff(Some("C minor"), &["C2:2 Cm@2 C2:2 D2:2 Ab@6 Eb2:2", "Eb2:2 G7@2 B1:2 F2:4"]);
    let reading = read_chords(&line, &explain(&line, None));
    assert_eq!(reading.before, 1);
    let said: Vec<String> = reading
        .chords
        .iter()
        .map(|c| {
            let notes: Vec<String> =
                c.notes.iter().map(|n| format!("{} {}", n.degree, n.words(c.chord))).collect();
            let scale: Vec<String> = c.scales.iter().map(|s| s.words(c.chord.root)).collect();
            format!(
                "{} {} {} {}: {} [{}]",
                c.chord,
                c.numeral.as_deref().unwrap(),
                c.from,
                c.length,
                notes.join("; "),
                scale.join("; ")
            )
        })
        .collect();
    assert_eq!(
        said,
        [
            "Cm i bar 1, beat 2 2: 1 root of Cm; 2 passing [C minor]",
            "Ab bVI bar 1, beat 4 2: 5 fifth of A♭; 5 fifth of A♭ [A♭ Lydian]",
            "G7 V7 bar 2, beat 2 3: 3 third of G7; b7 seventh of G7 [G Phrygian dominant]",
        ]
    );
}

#[test]
fn a_note_held_into_a_chord_is_told() {
    let line = riff(Some("C major"), &["C@0 F@4 C2:6 F1:2"]);
    let reading = read_chords(&line, &explain(&line, None));
    let held = reading.chords[1].held.unwrap();
    assert_eq!((held.line, held.degree.to_string().as_str(), held.member), (0, "5", Member::Tone(5)));
    assert!(reading.chords[0].held.is_none());
}

/// An undecided mode leaves each chord as many scales as there are modes; chords narrow it down.
#[test]
fn scales_of_chords_while_the_mode_is_open() {
    let vamp = riff(None, &["Gm7@0 G1 Bb1 C2 D2 F2 D2 G1:2"]);
    let found = explain(&vamp, None);
    let modes = key_modes(&found, &standing(&vamp));
    assert_eq!(modes, [Mode::Dorian, Mode::Minor, Mode::Phrygian]);
    assert_eq!(read_chords(&vamp, &found).chords[0].scales.len(), 3);
    let two = riff(None, &["Gm7@0 G1 Bb1 C2 D2 F2 D2 G1:2", "C7@0 G1:8"]);
    let reading = read_chords(&two, &explain(&two, None));
    let last = &reading.chords[1].scales;
    assert_eq!(last[0].words(name("C")), "C Mixolydian");
    let blues = riff(Some("A minor blues"), &["Am7@0 A1 C2 D2 Eb2 E2 G2 A2:2"]);
    assert!(read_chords(&blues, &explain(&blues, None)).chords[0].scales.iter().all(|s| s.named.is_some()));
}

/// Roles against their own definitions, by another way round: every combination of three eighths over C.
#[test]
fn roles_against_their_definitions() {
    let pitch = |midi: u8| Pitch::simplest(Midi::new(midi).unwrap());
    let c = chord("C");
    for first in [36u8, 40, 43] {
        for middle in 31..=48u8 {
            for last in [36u8, 40, 43, 48] {
                let bar = format!("C@0 {} {} {} -:4 -", pitch(first), pitch(middle), pitch(last));
                let line = riff(Some("C major"), &[&bar]);
                let reading = read_chords(&line, &explain(&line, None));
                let role = reading.chords[0].notes[1].role;
                let (a, b) = (i32::from(middle) - i32::from(first), i32::from(last) - i32::from(middle));
                let steps = |from: u8, to: u8| pitch(from).interval_to(pitch(to)).steps().abs();
                let step = |n: i32| n != 0 && n.abs() <= 2;
                // A passing line may also have the augmented second of harmonic minor, by its letters.
                let near = |n: i32, letters: i32| step(n) || (n.abs() == 3 && letters == 1);
                let (into, out) = (near(a, steps(first, middle)), near(b, steps(middle, last)));
                let wanted = if is_tone(pitch(middle), c) {
                    Role::ChordTone
                } else if into && out && (a > 0) == (b > 0) {
                    Role::Passing
                } else if step(a) && a == -b {
                    Role::Neighbour
                } else if step(b) {
                    Role::Approach
                } else {
                    Role::Free
                };
                assert_eq!(role, wanted, "{bar}");
            }
        }
    }
}

/// Slots of a chord over a tonic, against the spelled degrees of its tones.
#[test]
fn slots_above_a_tonic() {
    let mut dice = Seeded(11);
    for _ in 0..500 {
        let place = |dice: &mut Seeded| PitchName::from_line_of_fifths(dice.below(15) as i32 - 7).unwrap();
        let (root, tonic) = (place(&mut dice), place(&mut dice));
        let kind = ChordKind::ALL[dice.below(ChordKind::ALL.len())];
        let slots = chord_slots(Chord { root, kind, bass: None }, tonic);
        let mut wanted: Vec<u8> = kind
            .degrees()
            .into_iter()
            .map(|d| (root.pitch_class() + d.slot() + 12 - tonic.pitch_class()) % 12)
            .collect();
        wanted.sort_unstable();
        assert_eq!(slots.slots().collect::<Vec<_>>(), wanted);
    }
    let over = |note: &str, symbol: &str| degree_over(name(note), chord(symbol));
    let degree = |text: &str| text.parse::<Degree>().unwrap();
    assert_eq!(
        (over("F#", "D"), over("Eb", "Cm7"), over("Gb", "C7")),
        (degree("3"), degree("b3"), degree("b5"))
    );
}

/// Any riff at all: nothing breaks, every sounding note under a chord is read once, shares stay shares.
#[test]
fn any_riff_can_be_read() {
    let mut read = 0;
    for seed in 0..150 {
        let line = riff_of(seed, Recipe::wild(5));
        let found = explain(&line, None);
        let sounding = line.line().iter().filter(|n| !n.is_dead()).count();
        let reading = read_chords(&line, &found);
        let over: usize = reading.chords.iter().map(|c| c.notes.len()).sum();
        if reading.chords.is_empty() {
            assert_eq!(over, 0);
        } else {
            assert_eq!(over + reading.before, sounding, "seed {seed}");
            read += over;
        }
        for scale in scales_that_fit(&found, &standing(&line)) {
            assert!((-1e-9..=1.0 + 1e-9).contains(&scale.share), "seed {seed}");
            assert_eq!(scale.holds.len() + scale.lacks.len(), found.set().len(), "seed {seed}");
            assert!(!scale.words().is_empty());
        }
        let chords = chords_that_fit(&line, &found, Most { vamps: 200, per_bar: 2 });
        assert!(chords.vamp.is_sorted_by(|a, b| a.score >= b.score));
        assert!(chords.vamp.is_empty() || chords.vamp.len() == 12 * 16);
        for fit in &chords.vamp {
            assert!((-1e-9..=1.0 + 1e-9).contains(&fit.share) && fit.on_beats.0 <= fit.on_beats.1);
            assert!(!fit.words().is_empty());
        }
        let _ = (open_steps(&found, &standing(&line)), shape(&line).words(), two_names(&found));
    }
    assert!(read > 100, "{read}");
}
