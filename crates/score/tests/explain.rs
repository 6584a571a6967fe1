//! Whole riffs explained.

mod common;

use common::{name, riff, set};
use riffkin_score::analysis::explain::{Explanation, How, explain};
use riffkin_score::analysis::verdict::Verdict;
use riffkin_score::degree::DegreeSet;
use riffkin_score::key::Mode;
use riffkin_score::random::{Recipe, riff_of};

fn degrees(found: &Explanation) -> String {
    found
        .notes
        .iter()
        .map(|n| n.degree.map_or("-".to_owned(), |d| d.to_string()))
        .collect::<Vec<_>>()
        .join(" ")
}

fn tonic(found: &Explanation) -> String {
    found.tonic.map_or("none".to_owned(), |t| t.0.to_string())
}

/// The scores add up, are sorted, and are probabilities.
fn sound(found: &Explanation) {
    let check = |scores: Vec<f64>| {
        assert!(scores.is_sorted_by(|a, b| a >= b), "{scores:?}");
        assert!(scores.iter().all(|s| (0.0..=1.0 + 1e-9).contains(s)), "{scores:?}");
        let sum: f64 = scores.iter().sum();
        assert!(scores.is_empty() || (sum - 1.0).abs() < 1e-9, "{sum}");
    };
    check(found.tonics.iter().map(|t| t.score).collect());
    check(found.mode.iter().flat_map(|m| m.ranked.iter().map(|f| f.score)).collect());
    if let Some((tonic, _)) = found.tonic {
        assert_eq!(found.tonics[0].tonic, tonic, "the tonic taken stands first");
    }
}

/// Public-domain ground basses by their roots, four bars' worth each (16th and 17th century; the root
/// progressions as any history of the period gives them).
#[test]
fn ground_basses() {
    let folia = ["D2:4 A1:4", "D2:4 C2:4", "F2:4 C2:4", "D2:4 A1:4", "D2:8"];
    let passamezzo_antico = ["G1:8", "F1:8", "G1:8", "D2:8", "Bb1:8", "F1:8", "G1:4 D2:4", "G1:8"];
    let romanesca = ["Bb1:8", "F1:8", "G1:8", "D2:8", "Bb1:8", "F1:8", "G1:4 D2:4", "G1:8"];
    for (bars, one, heard) in [
        (&folia[..], "D", "1 b3 4 5 b7"),
        (&passamezzo_antico[..], "G", "1 b3 5 b7"),
        (&romanesca[..], "G", "1 b3 5 b7"),
    ] {
        let found = explain(&riff(None, bars), None);
        sound(&found);
        assert_eq!(tonic(&found), one, "{:?}", found.words());
        assert!(found.set().is_within(set(heard)) && found.set().contains(3), "{}", found.set());
        // Roots alone never tell natural minor from Dorian.
        assert!(matches!(found.verdict(), Verdict::Undecided { .. }));
    }
    // The romanesca begins on its b3, which stands next.
    let found = explain(&riff(None, &romanesca), None);
    assert_eq!(found.tonics[1].tonic, name("Bb"), "{:?}", found.words());
}

#[test]
fn riffs_without_a_key() {
    for (bars, one, verdict) in [
        (vec!["G1:2 Bb1 C2 D2:2 F2 D2", "G1:2 Bb1 C2 Bb1:2 G1 F1"], "G", "undecided"),
        (vec!["D2:2 F2 G2 A2 B2 C3 A2", "D2:2 F2 G2 A2:2 C3 A2"], "D", "Dorian"),
        (vec!["E1:2 G1 B1 C2:2 B1:2", "E1:2 F#1 G1 D2:2 C2:2"], "E", "minor"),
        (vec!["A1:2 C#2 E2 G2 E2 C#2 B1", "A1:2 C#2 E2 F#2 G2 E2:2"], "A", "Mixolydian"),
        (vec!["C2:2 E2:2 G2:2 A2:2", "F2:2 A2:2 G2:2 B1:2"], "C", "major"),
        (vec!["G1:2 Bb1 C2 Db2 D2 C2 Bb1", "G1:2 F1 G1:4"], "G", "minor blues"),
        (vec!["E1 E2 E1 E2 E1 E2 D2 B1", "E1 E2 E1 E2 E1 E2 D2 B1"], "E", "undecided"),
    ] {
        let found = explain(&riff(None, &bars), None);
        sound(&found);
        assert_eq!((tonic(&found).as_str(), found.verdict().label()), (one, verdict), "{:?}", found.words());
        assert_eq!(found.tonic.unwrap().1, How::Ranked);
        assert!(!found.tonics[0].reasons.is_empty() && !found.words().is_empty());
    }
}

/// The same notes read from C and from A minor, neither of them stressed: both are shown.
#[test]
fn two_keys_that_fit_equally_are_both_shown() {
    let found = explain(&riff(None, &["C2:2 E2:2 A1:2 G1:2", "A1:2 E2:2 C2:2 B1:2"]), None);
    let shown: Vec<String> =
        std::iter::once(&found.tonics[0]).chain(found.rivals()).map(|t| t.tonic.to_string()).collect();
    assert!(shown.contains(&"C".to_owned()) && shown.contains(&"A".to_owned()), "{:?}", found.words());
    assert!(found.words()[1].starts_with("it may also be "));
    assert!(explain(&riff(Some("C major"), &["C2:8"]), None).rivals().is_empty());
}

#[test]
fn the_riffs_own_key_wins_and_is_shown_as_given() {
    // By its notes E minor; its header says G Mixolydian, against which F sharp speaks.
    let bars = ["E1:2 G1:2 B1:2 E2:2", "D2:2 F#1:2 E1:4"];
    let found = explain(&riff(Some("G Mixolydian"), &bars), None);
    sound(&found);
    assert_eq!(found.tonic, Some((name("G"), How::Written)));
    assert_eq!(found.verdict(), &Verdict::Given(Mode::Mixolydian));
    assert_eq!(degrees(&found), "6 1 3 6 5 7 6");
    let reading = found.mode.as_ref().unwrap();
    assert_eq!(reading.ranked[0].mode, Mode::Mixolydian);
    assert_eq!(reading.against.iter().map(|d| d.to_string()).collect::<Vec<_>>(), ["7"]);
    assert!(found.words().iter().any(|w| w.contains("the riff says so")));
    assert_eq!(found.tonics[1].tonic, name("E"), "what the notes would say stands next");
    // A tonic without a mode: the mode is ranked and proved from the notes.
    let found = explain(&riff(Some("G"), &bars), None);
    assert_eq!(found.tonic, Some((name("G"), How::Written)));
    assert!(matches!(found.verdict(), Verdict::Undecided { .. }));
}

#[test]
fn the_teachers_word_wins_over_everything() {
    let bars = ["E1:2 G1:2 B1:2 E2:2", "D2:2 F#1:2 E1:4"];
    let written = riff(Some("G major"), &bars);
    let found = explain(&written, Some(name("E")));
    sound(&found);
    assert_eq!(found.tonic, Some((name("E"), How::Asked)));
    // The written mode belongs to the written tonic.
    assert!(!matches!(found.verdict(), Verdict::Given(_)));
    let found = explain(&written, Some(name("G")));
    assert_eq!((found.tonic, found.verdict()), (Some((name("G"), How::Asked)), &Verdict::Given(Mode::Major)));
    // Even a tonic that is not heard.
    let found = explain(&written, Some(name("C")));
    sound(&found);
    assert_eq!(degrees(&found), "3 5 7 3 2 #4 3");
    assert_eq!(found.verdict().label(), "Lydian");
}

#[test]
fn what_every_note_is() {
    let found = explain(&riff(Some("G major"), &["G@0 D@4 G1:2 B1:2 D2 F#2 xD2 A2", "C@0 C2:8"]), None);
    assert_eq!(degrees(&found), "1 3 5 7 - 2 4");
    let places: Vec<String> = found.notes.iter().map(|n| n.place.to_string()).collect();
    assert_eq!(places[0], "bar 1, beat 1");
    assert_eq!(places[3], "bar 1, beat 3 1/2");
    assert_eq!(places[6], "bar 2, beat 1");
    let from_previous: Vec<String> =
        found.notes.iter().map(|n| n.from_previous.map_or("-".to_owned(), |i| i.to_string())).collect();
    // The dead note is stepped over: A comes from F sharp.
    assert_eq!(from_previous, ["-", "M3", "m3", "M3", "-", "m3", "-M6"]);
    let above: Vec<String> =
        found.notes.iter().map(|n| n.above_root.map_or("-".to_owned(), |i| i.to_string())).collect();
    assert_eq!(above, ["P1", "M3", "P5", "M7", "-", "M2", "P4"]);
    let over: Vec<String> =
        found.notes.iter().map(|n| n.over.map_or("-".to_owned(), |(c, d)| format!("{d}/{c}"))).collect();
    assert_eq!(over, ["1/G", "3/G", "1/D", "3/D", "-", "5/D", "1/C"]);
    assert_eq!(found.degrees.iter().map(|d| d.to_string()).collect::<Vec<_>>().join(" "), "1 2 3 4 5 7");
    assert_eq!(found.set().to_string(), "1 2 3 4 5 7");
    let five = found.material.slot(7);
    assert_eq!((five.notes, five.downbeats, five.duration.to_string().as_str()), (1, 0, "1/2"));
    assert_eq!((found.material.slot(5).downbeats, found.material.notes()), (1, 6));
}

/// The flat fifth by its spelling: the riff's own names are kept.
#[test]
fn spelled_degrees_are_kept() {
    let found = explain(&riff(Some("G minor blues"), &["G1:2 C2 C#2 D2:2 Db2 C2"]), None);
    assert_eq!(degrees(&found), "1 4 #4 5 b5 4");
    assert_eq!(found.degrees.iter().map(|d| d.to_string()).collect::<Vec<_>>().join(" "), "1 4 #4 b5 5");
    assert_eq!(found.set(), set("1 4 b5 5"));
    // Names too remote to be read are taken by their sound.
    let found = explain(&riff(Some("Gb major"), &["F#1:2 A#1:2 C#2:2 F2:2"]), None);
    assert_eq!(degrees(&found), "1 3 5 7");
}

/// Chord symbols: a vamp names the tonic, and its chords may decide what the riff leaves open (i7 IV7 is
/// Dorian, i7 bVI is natural minor: common practice, no source).
#[test]
fn chords_speak_for_tonic_and_mode() {
    let vamp = |chords: [&str; 2]| {
        let bars = [
            format!("{}@0 A1:2 C2 D2 E2:2 G2:2", chords[0]),
            format!("{}@0 A1:2 G1 E1 G1:2 D2:2", chords[1]),
        ];
        explain(&riff(None, &[&bars[0], &bars[1]]), None)
    };
    let dorian = vamp(["Am7", "D7"]);
    assert_eq!((tonic(&dorian).as_str(), dorian.verdict().label()), ("A", "undecided"));
    assert_eq!(dorian.mode.unwrap().with_chords, Some(Verdict::Decided(Mode::Dorian)));
    let minor = vamp(["Am7", "Fmaj7"]).mode.unwrap().with_chords.unwrap();
    assert!(
        matches!(&minor, Verdict::Undecided { between, .. } if between == &[Mode::Minor, Mode::Phrygian])
    );
    let alone = explain(&riff(None, &["G7@0 D2:2 F2:2 G2:2 A2:2", "D2:2 F2:2 C3:2 A2:2"]), None);
    assert_eq!(tonic(&alone), "G", "{:?}", alone.words());
    assert!(alone.tonics[0].words(2).contains("the chord G7 stands under all of it"));
}

#[test]
fn rests_only_dead_notes_only_one_note() {
    for bars in [["-:8"], ["xE1:2 xA1:2 -:4"]] {
        let found = explain(&riff(None, &bars), None);
        assert_eq!((found.tonic, found.mode.is_none(), found.tonics.len()), (None, true, 0));
        assert_eq!((found.set(), found.verdict()), (DegreeSet::EMPTY, &Verdict::Nothing));
        assert_eq!(found.words(), ["no note sounds, so there is nothing to say about a key"]);
        assert!(found.key().is_none() && found.likeliest_mode().is_none());
        assert!(found.notes.iter().all(|n| n.dead && n.degree.is_none() && n.from_previous.is_none()));
        // With a key given there is a tonic, and still nothing to prove.
        let found = explain(&riff(Some("G minor"), &bars), None);
        sound(&found);
        assert_eq!((tonic(&found).as_str(), found.verdict()), ("G", &Verdict::Given(Mode::Minor)));
        assert_eq!(explain(&riff(None, &bars), Some(name("A"))).verdict(), &Verdict::Nothing);
    }
    let one = explain(&riff(None, &["E1:8"]), None);
    sound(&one);
    assert_eq!((tonic(&one).as_str(), degrees(&one).as_str()), ("E", "1"));
    assert!(matches!(one.verdict(), Verdict::Undecided { between, .. } if between.len() == 7));
}

#[test]
fn nothing_a_riff_may_hold_upsets_it() {
    for seed in 0..150 {
        let recipe = if seed % 2 == 0 { Recipe::wild(1 + seed as usize % 8) } else { Recipe::full(6) };
        let made = riff_of(seed, recipe);
        for asked in [None, Some(name("Cbb")), Some(name("F#"))] {
            let found = explain(&made, asked);
            if found.tonic.is_some() {
                sound(&found);
            }
            assert_eq!(found.notes.len(), made.line().len());
            let heard: DegreeSet = found.notes.iter().filter_map(|n| n.degree).collect();
            assert_eq!(heard, found.set(), "seed {seed}");
            assert!(!found.words().is_empty());
        }
    }
    let long = riff_of(1, Recipe::plain(600));
    sound(&explain(&long, None));
}
