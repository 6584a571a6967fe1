//! Hearing a stream: windows that meet without a seam, a tuning of its own, notes that are joined or dead.

use riffkin_audio::listen::{Listener, Listening, Manner, hear_clip};
use riffkin_audio::{Clip, SampleRate};
use std::f64::consts::TAU;

/// Low enough for a test to be quick, high enough for a bass.
const RATE_HZ: u32 = 11_025;

/// Adds a string of twelve partials that is struck at `at_s`, glides to other pitches (second, MIDI) without being struck
/// again, and is damped at the end.
fn string(into: &mut [f32], at_s: f64, end_s: f64, pitches: &[(f64, f64)], a4_hz: f64) {
    let rate = f64::from(RATE_HZ);
    let mut phase = 0.0f64;
    for (k, out) in into.iter_mut().enumerate().skip((at_s * rate) as usize) {
        let second = k as f64 / rate;
        let damped = if second > end_s { (-(second - end_s) * 60.0).exp() } else { 1.0 };
        if damped < 1e-4 {
            break;
        }
        let midi = pitches.iter().rev().find(|p| p.0 <= second).map_or(pitches[0].1, |p| p.1);
        phase += TAU * a4_hz * ((midi - 69.0) / 12.0).exp2() / rate;
        let t = second - at_s;
        let sum: f64 = (1..=12)
            .map(|n| {
                let n = f64::from(n);
                (TAU * n / 10.0).sin() / n * (-(0.8 + 0.5 * n) * t).exp() * (n * phase).sin()
            })
            .sum();
        *out += (0.4 * damped * sum) as f32;
    }
}

#[allow(clippy::expect_used, reason = "a constant of this test")]
fn rate() -> SampleRate {
    SampleRate::new(RATE_HZ).expect("in range")
}

/// Two and a half minutes in blocks of odd lengths: every note once, none lost where the windows meet.
#[test]
fn windows_meet_without_a_seam() {
    let truth: Vec<(f64, u8)> =
        (0..150u16).map(|k| (0.5 + f64::from(k) * 0.97, 28 + (k * 5 % 17) as u8)).collect();
    let mut sound = vec![0f32; (148.0 * f64::from(RATE_HZ)) as usize];
    for (at, midi) in &truth {
        string(&mut sound, *at, at + 0.8, &[(0.0, f64::from(*midi))], 440.0);
    }
    let mut listener = Listener::new(rate(), 1, Listening::default());
    for block in sound.chunks(7_919) {
        listener.push(&[block.to_vec()]);
    }
    let heard = listener.finish().notes;
    assert_eq!(heard.len(), truth.len());
    for (got, want) in heard.iter().zip(&truth) {
        assert!(got.midi == want.1 && (got.onset_s - want.0).abs() < 0.02, "{got:?} {want:?}");
    }
}

#[test]
fn a_recording_off_pitch_is_heard_in_its_own_tuning() {
    for cents in [-45.0, 33.0] {
        let a4 = 440.0 * f64::exp2(cents / 1200.0);
        let mut sound = vec![0f32; 8 * RATE_HZ as usize];
        let truth: Vec<u8> = vec![28, 31, 33, 35, 36, 38, 40, 43, 45, 40, 33, 28];
        for (k, midi) in truth.iter().enumerate() {
            let at = 0.3 + 0.6 * k as f64;
            string(&mut sound, at, at + 0.5, &[(0.0, f64::from(*midi))], a4);
        }
        let heard = hear_clip(&Clip::mono(rate(), sound.clone()), Listening::default());
        assert!((heard.reference_hz / a4).log2().abs() * 1200.0 < 4.0, "{} {a4}", heard.reference_hz);
        assert_eq!(heard.notes.iter().map(|n| n.midi).collect::<Vec<_>>(), truth);
        for (k, note) in heard.notes.iter().enumerate() {
            assert!((note.onset_s - 0.3 - 0.6 * k as f64).abs() < 0.02, "{note:?}");
        }
        // Told the tuning, it does not ask; told another one, it believes that.
        let told = Listening { reference_hz: Some(a4), ..Listening::default() };
        assert_eq!(hear_clip(&Clip::mono(rate(), sound), told).reference_hz, a4);
    }
}

#[test]
fn a_pitch_that_changes_without_an_attack_is_joined() {
    let mut sound = vec![0f32; 3 * RATE_HZ as usize];
    string(&mut sound, 0.3, 2.5, &[(0.0, 33.0), (1.0, 35.0), (1.6, 36.0)], 440.0);
    let heard = hear_clip(&Clip::mono(rate(), sound), Listening::default()).notes;
    let found: Vec<(u8, Manner)> = heard.iter().map(|n| (n.midi, n.manner)).collect();
    assert_eq!(found, [(33, Manner::Struck), (35, Manner::Joined), (36, Manner::Joined)]);
    assert!((heard[1].onset_s - 1.0).abs() < 0.04 && (heard[2].onset_s - 1.6).abs() < 0.04, "{heard:?}");
}

/// A thump: noise of 40 ms that dies away at once, as a damped string that is plucked.
#[test]
fn a_thump_between_notes_is_a_dead_note() {
    let mut sound = vec![0f32; 4 * RATE_HZ as usize];
    let mut state = 11u64;
    for k in 0..4 {
        let at = 0.3 + 0.8 * f64::from(k);
        string(&mut sound, at, at + 0.35, &[(0.0, 33.0 + f64::from(k))], 440.0);
        let start = ((at + 0.45) * f64::from(RATE_HZ)) as usize;
        let mut low = 0f32;
        for (j, out) in sound[start..start + 700].iter_mut().enumerate() {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            let noise = (state >> 40) as f32 / (1u64 << 23) as f32 - 1.0;
            low += 0.25 * (noise - low);
            *out += 0.12 * low * (-(j as f32) / 150.0).exp();
        }
    }
    let heard = hear_clip(&Clip::mono(rate(), sound), Listening::default()).notes;
    let pitched: Vec<u8> = heard.iter().filter(|n| n.manner != Manner::Dead).map(|n| n.midi).collect();
    assert_eq!(pitched, [33, 34, 35, 36], "{heard:?}");
}

/// Whatever the length, to the sample: frames are counted in several ways within.
#[test]
fn every_length_is_heard() {
    let mut sound = vec![0f32; 12_000];
    string(&mut sound, 0.1, 0.9, &[(0.0, 33.0)], 440.0);
    let rate = SampleRate::new(22_050).expect("in range");
    for length in (0..8).chain(11_700..11_960) {
        for mix in [false, true] {
            let listening = Listening { mix, ..Listening::default() };
            let heard = hear_clip(&Clip::mono(rate, sound[..length].to_vec()), listening).notes;
            assert_eq!(heard.is_empty(), length < 8, "{length} samples, mix {mix}: {heard:?}");
        }
    }
}
