//! Hearing checked against sounds whose notes are known: strings from a formula, and our own renderer.

use riffkin_audio::listen::{HeardNote, hear_solo};
use riffkin_audio::render::{Instrument, NoteEvent, Player, soundfont};
use riffkin_audio::{Clip, SampleRate, Seconds};
use std::f64::consts::TAU;

/// One plucked string: partials at `n f0 √(1 + B n²)` (Fletcher 1964, stiff string), each dying the faster the higher.
/// The B of a fret grows as `2^(fret/6)`; 3e-4 for an open low string follows from the partials that Kemp (2020, SN
/// Applied Sciences 2:636) measured on a low B.
fn pluck(into: &mut [f32], rate: f64, at_s: f64, length_s: f64, midi: u8, stiffness: f64, fundamental: f64) {
    let f0 = 440.0 * ((f64::from(midi) - 69.0) / 12.0).exp2();
    let start = (at_s * rate) as usize;
    for (k, out) in into.iter_mut().enumerate().skip(start) {
        let t = (k - start) as f64 / rate;
        let damped = if t > length_s { (-(t - length_s) * 60.0).exp() } else { 1.0 };
        if damped < 1e-4 {
            break;
        }
        let mut sum = 0.0;
        for n in 1..=24 {
            let n = f64::from(n);
            let hz = n * f0 * (1.0 + stiffness * n * n).sqrt();
            if hz > 0.45 * rate {
                break;
            }
            // Plucked at a fifth of the string: every fifth partial is missing.
            let weight = (TAU * n / 10.0).sin() / n * if n == 1.0 { fundamental } else { 1.0 };
            sum += weight * (-(0.8 + 0.5 * n) * t).exp() * (TAU * hz * t).sin();
        }
        *out += (0.4 * damped * sum) as f32;
    }
}

fn line(notes: &[(f64, f64, u8)], stiffness: f64, fundamental: f64) -> Clip {
    let rate = SampleRate::CD;
    let end = notes.iter().map(|n| n.0 + n.1).fold(0.0, f64::max) + 0.3;
    let mut samples = vec![0f32; (end * rate.hz_f64()) as usize];
    for (at, length, midi) in notes {
        pluck(&mut samples, rate.hz_f64(), *at, *length, *midi, stiffness, fundamental);
    }
    Clip::mono(rate, samples)
}

/// Uniform noise between ±`level` from a linear congruential generator (Knuth's MMIX constants).
fn noise(frames: usize, level: f32, seed: u64) -> Vec<f32> {
    let mut state = seed;
    (0..frames)
        .map(|_| {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            level * ((state >> 40) as f32 / (1u64 << 23) as f32 - 1.0)
        })
        .collect()
}

fn named(notes: &[HeardNote]) -> Vec<u8> {
    notes.iter().map(|n| n.midi).collect()
}

/// Every semitone from the open low B of a five-string bass to fret 24 of the G string.
fn every_pitch() -> Vec<(f64, f64, u8)> {
    (23..=67u8).map(|midi| (0.2 + 0.35 * f64::from(midi - 23), 0.3, midi)).collect()
}

#[test]
fn every_pitch_of_a_string_bass_is_named_however_stiff() {
    for stiffness in [0.0, 5e-4] {
        let notes = every_pitch();
        let heard = hear_solo(&line(&notes, stiffness, 1.0));
        assert_eq!(named(&heard), (23..=67).collect::<Vec<u8>>(), "B = {stiffness}");
        for (got, want) in heard.iter().zip(&notes) {
            assert!((got.onset_s - want.0).abs() < 0.010, "{got:?}, wanted {want:?}");
            assert!((got.offset_s - want.0 - want.1).abs() < 0.050, "{got:?}, wanted {want:?}");
            assert!(got.cents.abs() < 25.0, "{got:?}");
        }
    }
}

/// A small loudspeaker or a pickup near the bridge leaves little of the fundamental: the pitch stays.
#[test]
fn a_weak_fundamental_does_not_move_the_pitch() {
    let heard = hear_solo(&line(&every_pitch(), 1e-4, 0.05));
    let wrong = named(&heard).iter().zip(23..=67u8).filter(|(got, want)| **got != *want).count();
    assert!(heard.len() == 45 && wrong <= 1, "{wrong} wrong of {}: {:?}", heard.len(), named(&heard));
}

#[test]
fn a_tuning_off_by_twenty_cents_is_told() {
    // 20 cents up, by a sample rate that lies 20 cents below the true one.
    let clip = line(&[(0.2, 0.5, 33), (0.8, 0.5, 40)], 0.0, 1.0);
    let rate = SampleRate::new((44_100.0 * (20.0f64 / 1200.0).exp2()).round() as u32).expect("in range");
    let sharp = Clip::mono(rate, clip.mixed_down());
    for note in hear_solo(&sharp) {
        assert!((note.cents - 20.0).abs() < 3.0, "{note:?}");
    }
}

#[test]
fn the_same_note_struck_again_is_two_notes() {
    let notes: Vec<(f64, f64, u8)> = (0..8).map(|k| (0.2 + 0.15 * f64::from(k), 0.149, 28)).collect();
    let heard = hear_solo(&line(&notes, 1e-4, 1.0));
    assert_eq!(named(&heard), [28; 8], "{heard:?}");
    for (got, want) in heard.iter().zip(&notes) {
        // At an equal level the pulse of one period looks like the next attack, so a start is known to a period.
        assert!((got.onset_s - want.0).abs() < 1.0 / 41.2, "{got:?}, wanted {want:?}");
    }
}

#[test]
fn one_long_note_is_one_note() {
    for midi in [23, 28, 40, 55] {
        let heard = hear_solo(&line(&[(0.3, 4.0, midi)], 1e-4, 1.0));
        assert_eq!(named(&heard), [midi], "{heard:?}");
        assert!(heard[0].offset_s > 3.0, "{heard:?}");
    }
}

#[test]
fn silence_and_noise_are_no_notes() {
    let rate = SampleRate::CD;
    assert_eq!(hear_solo(&Clip::mono(rate, vec![])), []);
    assert_eq!(hear_solo(&Clip::mono(rate, vec![0.0; 5])), []);
    assert_eq!(hear_solo(&Clip::mono(rate, vec![0.0; 88_200])), []);
    assert_eq!(hear_solo(&Clip::mono(rate, vec![0.5; 88_200])), [], "a constant is no sound");
    for (level, seed) in [(0.5, 1), (0.01, 2), (1e-4, 3)] {
        assert_eq!(hear_solo(&Clip::mono(rate, noise(4 * 44_100, level, seed))), [], "noise of {level}");
    }
    // Rumble: the same noise through a low-pass at 200 Hz.
    let keep = (-TAU * 200.0 / 44_100.0).exp() as f32;
    let mut low = 0f32;
    let rumble: Vec<f32> = noise(4 * 44_100, 0.9, 4)
        .into_iter()
        .map(|s| {
            low = keep * low + (1.0 - keep) * s;
            low
        })
        .collect();
    let heard = hear_solo(&Clip::mono(rate, rumble));
    assert!(heard.iter().all(|n| n.confidence < 0.5), "{heard:?}");
}

#[test]
fn notes_are_heard_through_noise_twenty_decibels_below() {
    let notes: Vec<(f64, f64, u8)> = [31, 34, 36, 37, 36, 34, 31, 29]
        .iter()
        .zip(0..)
        .map(|(m, k)| (0.3 + 0.25 * f64::from(k), 0.2, *m))
        .collect();
    let clean = line(&notes, 1e-4, 1.0).mixed_down();
    let power = |row: &[f32]| row.iter().map(|s| f64::from(s * s)).sum::<f64>() / row.len() as f64;
    let hiss = noise(clean.len(), 1.0, 7);
    let gain = (power(&clean) / power(&hiss) / 100.0).sqrt() as f32;
    let noisy = clean.iter().zip(&hiss).map(|(s, n)| s + gain * n).collect();
    let heard = hear_solo(&Clip::mono(SampleRate::CD, noisy));
    assert_eq!(named(&heard), [31, 34, 36, 37, 36, 34, 31, 29]);
}

/// What the renderer plays is heard back, at every rate a recording comes in. Renderer and listener share no code.
#[test]
fn a_rendered_riff_is_heard_back() {
    let midi = [28u8, 31, 33, 33, 34, 33, 31, 28, 40, 28];
    let events: Vec<NoteEvent> = midi
        .iter()
        .enumerate()
        .map(|(k, m)| NoteEvent {
            onset_s: 0.4 + 0.3 * k as f64,
            length_s: 0.25,
            midi: *m,
            velocity: 96,
            instrument: Instrument::Bass,
        })
        .collect();
    let player = Player::new(soundfont()).expect("our own font");
    for hz in [22_050, 44_100, 48_000] {
        let rate = SampleRate::new(hz).expect("in range");
        let clip = player.play(&events, rate, Seconds::saturating(0.5)).expect("plays");
        let heard = hear_solo(&clip);
        assert_eq!(named(&heard), midi, "{hz} Hz");
        for (got, want) in heard.iter().zip(&events) {
            // The sampled finger touches the string up to 45 ms before the string sounds.
            assert!((-0.01..0.05).contains(&(got.onset_s - want.onset_s)), "{got:?} {want:?}");
        }
    }
}
