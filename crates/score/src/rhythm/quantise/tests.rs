use super::*;
use crate::pitch::Pitch;
use crate::random::{Recipe, riff_of};
use crate::rhythm::notate;
use crate::riff::Header;

/// splitmix64 (Steele, Lea, Flood, OOPSLA 2014), summed to something close to normal.
struct Noise(u64);

impl Noise {
    fn even(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        (z ^ (z >> 31)) as f64 / u64::MAX as f64
    }

    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.even()).sum::<f64>() - 6.0
    }
}

fn q(num: i64, den: i64) -> Quarters {
    Quarters::new(num, den).unwrap()
}

type Line = Vec<(Quarters, Quarters)>;

/// Lengths in parts of a quarter, rests below zero.
fn line(per_quarter: i64, lengths: &[i64]) -> Line {
    let mut at = Quarters::ZERO;
    let mut line = Vec::new();
    for &n in lengths {
        let length = q(n.abs(), per_quarter);
        if n > 0 {
            line.push((at, length));
        }
        at += length;
    }
    line
}

/// Played with a feel: every onset off by a normal error, every note held for 85 to 100 percent of its value.
fn play(line: &Line, feel: Feel, bar: f64, sd: f64, noise: &mut Noise) -> Vec<Played> {
    let clock = |at: Quarters| {
        let at = at.to_f64();
        let start = (at / bar).floor() * bar;
        start + crate::rhythm::swing::played_in_bar(feel, at - start, bar)
    };
    line.iter()
        .map(|&(onset, length)| {
            let from = clock(onset) + sd * noise.normal();
            let held = (clock(onset + length) - clock(onset)) * (0.85 + 0.15 * noise.even());
            Played { onset: from, length: held + sd * noise.normal(), midi: 40 }
        })
        .collect()
}

fn exact(quantised: &Quantised) -> Line {
    quantised.notes.iter().map(|n| (n.onset, n.length)).collect()
}

#[test]
fn exact_playing_comes_back_exactly() {
    for (meter, line) in [
        ("4/4", line(4, &[4, 2, 2, 3, 1, 4, 1, 1, 1, 1, -2, 2, 6, 2])),
        ("4/4", line(3, &[1, 1, 1, 2, 1, 3, 3])),
        ("6/8", line(4, &[2, 2, 2, 4, 2, 3, 1, 2, 6])),
        ("7/8", line(4, &[4, 4, 6, 2, 2, 4, 6])),
    ] {
        let played: Vec<_> = line
            .iter()
            .map(|&(onset, length)| Played { onset: onset.to_f64(), length: length.to_f64(), midi: 40 })
            .collect();
        let quantised = quantise(&played, &Options::new(meter.parse().unwrap())).unwrap();
        assert_eq!(exact(&quantised), line, "{meter}");
        assert!(quantised.worst.unwrap().1 < 1e-9 && quantised.warnings.is_empty());
        assert_eq!(quantised.feel, Feel::Straight);
    }
}

/// Part of the onsets, and of the onsets with their lengths, that come back right, over kinds of line and seeds.
fn accuracy(sd: f64) -> (f64, f64) {
    let lines: Vec<(&str, Line)> = vec![
        ("4/4", line(2, &[1; 64])),
        ("4/4", line(4, &[4, 2, 2, 3, 1, 2, -2, 2, 2, 4, -2, 2, 4])),
        ("4/4", line(4, &[3, 3, 2, 3, 3, 2, 4, 4, 2, 2, 4].repeat(3))),
        ("4/4", line(4, &[1, 1, 2, 2, 2, 1, 2, 1, 4, -4, 3, 1, 2, 2].repeat(2))),
        ("4/4", line(3, &[1, 1, 1, 3, 2, 1, 3, 3, 3, 1, 1, 1, 3].repeat(2))),
        ("6/8", line(4, &[2, 2, 2, 4, 2, 6, 6, 2, 2, 2, 6].repeat(2))),
        ("3/4", line(2, &[2, 1, 1, 2, 3, 1, 2, 4, -2].repeat(3))),
    ];
    let (mut all, mut onsets, mut values) = (0, 0, 0);
    for seed in 0..12 {
        let mut noise = Noise(seed * 977 + 5);
        let made_up: Line =
            riff_of(seed, Recipe::plain(8)).line().iter().map(|n| (n.onset, n.length)).collect();
        for (meter, line) in lines.iter().chain([&("4/4", made_up)]) {
            let meter: Meter = meter.parse().unwrap();
            let played = play(line, Feel::Straight, meter.bar_length().to_f64(), sd, &mut noise);
            let quantised = quantise(&played, &Options::new(meter)).unwrap();
            let pickup = quantised.layout.pickup;
            for note in &quantised.notes {
                let wanted = line[note.played];
                onsets += usize::from(note.onset - pickup == wanted.0);
                values += usize::from((note.onset - pickup, note.length) == wanted);
            }
            all += line.len();
        }
    }
    (onsets as f64 / all as f64, values as f64 / all as f64)
}

/// Jittered scores with seeded noise; SD in parts of a quarter. The figures asked for lie below those measured.
#[test]
fn jittered_scores_are_read() {
    for (sd, onsets_wanted, values_wanted) in [(0.02, 0.99, 0.9), (0.04, 0.97, 0.85), (0.06, 0.88, 0.8)] {
        let (onsets, values) = accuracy(sd);
        println!("SD {sd}: onsets {:.1} %, values {:.1} %", onsets * 100.0, values * 100.0);
        assert!(onsets >= onsets_wanted && values >= values_wanted, "SD {sd}: {onsets} {values}");
    }
}

#[test]
fn swing_is_found_where_it_is_played_and_nowhere_else() {
    let walking = line(2, &[2, 1, 1, 2, 1, 1, 1, 1, 2, 1, 1, 2].repeat(3));
    for (long, short) in [(3, 2), (2, 1)] {
        for seed in 0..8 {
            let feel = Feel::Swing(Swing::new(long, short, false).unwrap());
            let played = play(&walking, feel, 4.0, 0.02, &mut Noise(seed));
            let quantised = quantise(&played, &Options::new(Meter::FOUR_FOUR)).unwrap();
            let Feel::Swing(found) = quantised.feel else { panic!("{long}:{short}, seed {seed}: straight") };
            let off = f64::from(found.long()) / f64::from(found.long() + found.short());
            let wanted = f64::from(long) / f64::from(long + short);
            assert!((off - wanted).abs() < 0.04 && !found.sixteenths(), "{long}:{short}: {found:?}");
            let onsets =
                |line: Line| line.into_iter().map(|n| n.0 - quantised.layout.pickup).collect::<Vec<_>>();
            assert_eq!(onsets(exact(&quantised)), onsets(walking.clone()), "seed {seed}");
        }
    }
    let funk = line(4, &[1, 1, 2, 1, 1, 1, 1, 4, 2, 1, 1].repeat(3));
    let feel = Feel::Swing(Swing::new(3, 2, true).unwrap());
    let quantised =
        quantise(&play(&funk, feel, 4.0, 0.01, &mut Noise(3)), &Options::new(Meter::FOUR_FOUR)).unwrap();
    assert!(matches!(quantised.feel, Feel::Swing(s) if s.sixteenths()), "{:?}", quantised.feel);
    // Straight eighths, dotted rhythms, full triplets, and a slow blues in 12/8 do not swing.
    for (meter, line) in [
        ("4/4", walking.clone()),
        ("4/4", line(4, &[3, 1, 3, 1, 4, 3, 1].repeat(6))),
        ("4/4", line(3, &[1, 1, 1, 2, 1].repeat(8))),
        ("12/8", line(2, &[2, 1, 2, 1, 3, 2, 1].repeat(4))),
    ] {
        for seed in 0..8 {
            let meter: Meter = meter.parse().unwrap();
            let bar = meter.bar_length().to_f64();
            let played = play(&line, Feel::Straight, bar, 0.03, &mut Noise(seed));
            let quantised = quantise(&played, &Options::new(meter)).unwrap();
            assert_eq!(quantised.feel, Feel::Straight, "{meter}, seed {seed}");
        }
    }
}

/// "Short gaps below a quarter of the value are closed": a touch, not a rest.
#[test]
fn short_silences_are_touch_and_long_ones_are_rests() {
    // One note among held ones.
    let length = |gate: f64| -> Quarters {
        let played: Vec<_> = (0..16)
            .map(|i| Played { onset: f64::from(i), length: if i == 5 { gate } else { 0.95 }, midi: 40 })
            .collect();
        quantise(&played, &Options::new(Meter::FOUR_FOUR)).unwrap().notes[5].length
    };
    assert_eq!(length(0.8), q(1, 1));
    assert_eq!(length(0.5), q(1, 2));
    assert_eq!(length(0.26), q(1, 4));
    // A note that runs into the next ends there.
    assert_eq!(length(1.4), q(1, 1));
}

#[test]
fn a_downbeat_given_makes_a_pickup() {
    let played: Vec<_> = [10.02, 10.49, 11.0, 12.01, 13.0, 14.0, 15.0]
        .iter()
        .map(|&onset| Played { onset, length: 0.45, midi: 40 })
        .collect();
    let options = Options { downbeat: 11.0, ..Options::new(Meter::FOUR_FOUR) };
    let quantised = quantise(&played, &options).unwrap();
    assert_eq!(quantised.layout.pickup, q(1, 1));
    assert_eq!(quantised.notes[0].onset, Quarters::ZERO);
    assert_eq!(quantised.notes[2].onset, q(1, 1));
    assert!((quantised.starts - 10.0).abs() < 1e-12);
    let note = Note::plain("E1".parse::<Pitch>().unwrap());
    let bars = notate(&quantised.timed(|_| note), &quantised.layout).unwrap();
    let riff = Riff::new(Header::default(), bars).unwrap();
    assert!(riff.has_pickup());
    assert_eq!(riff.bar_number(1), 1);
}

#[test]
fn what_falls_together_is_said_and_what_is_no_time_refused() {
    let at = |onset| Played { onset, length: 0.5, midi: 40 };
    let quantised =
        quantise(&[at(0.0), at(1.0), at(1.005), at(2.0)], &Options::new(Meter::FOUR_FOUR)).unwrap();
    assert_eq!(quantised.notes.len(), 3);
    assert_eq!(quantised.warnings.len(), 1);
    assert_eq!(quantised.warnings[0].place, "bar 1, beat 2");
    let error = quantise(&[at(0.0), at(f64::NAN)], &Options::new(Meter::FOUR_FOUR)).unwrap_err();
    assert!(matches!(error, QuantiseError::NoTime { number: 2, .. }));
    let error = quantise(&[at(1e9)], &Options::new(Meter::FOUR_FOUR)).unwrap_err();
    assert!(matches!(error, QuantiseError::TooLong { .. }));
    assert!(quantise(&[], &Options::new(Meter::FOUR_FOUR)).unwrap().notes.is_empty());
}

/// A line cut short all through is staccato; one short note among held ones is a shorter value and a rest.
#[test]
fn short_notes_are_read_as_the_line_is_played() {
    let played = |step: f64, gates: &[f64]| -> Vec<Played> {
        (0..32)
            .map(|i| {
                let gate = gates[i % gates.len()];
                Played { onset: i as f64 * step, length: gate * step, midi: 40 }
            })
            .collect()
    };
    let cut = [0.4, 0.5, 0.45, 0.55, 0.36];
    for step in [0.25, 0.5, 1.0] {
        let staccato = quantise(&played(step, &cut), &Options::new(Meter::FOUR_FOUR)).unwrap();
        let whole = |n: &QuantisedNote| n.length.to_f64() == step && n.short;
        assert!(staccato.notes[..31].iter().all(whole), "{step}");
    }
    let held = [0.9, 0.95, 0.85, 0.92, 0.48, 0.9, 0.88];
    let held = quantise(&played(1.0, &held), &Options::new(Meter::FOUR_FOUR)).unwrap();
    let lengths: Vec<Quarters> = held.notes[..7].iter().map(|n| n.length).collect();
    assert_eq!(lengths, [q(1, 1), q(1, 1), q(1, 1), q(1, 1), q(1, 2), q(1, 1), q(1, 1)]);
}
