//! Sounds made on the fly, and WAV files of them, for the tests of hearing.

#![allow(dead_code, reason = "each test file uses what it needs")]

use std::f64::consts::{PI, TAU};

/// A sequence without pattern that is the same every time (the generator of Park and Miller 1988).
pub(crate) struct Dice(u64);

impl Dice {
    pub(crate) fn new(seed: u64) -> Self {
        Self(seed % 2_147_483_646 + 1)
    }

    /// From −1 up to 1.
    pub(crate) fn roll(&mut self) -> f64 {
        self.0 = self.0 * 16_807 % 2_147_483_647;
        2.0 * self.0 as f64 / 2_147_483_647.0 - 1.0
    }
}

/// Noise of a peak level.
pub(crate) fn noise(rate: u32, seconds: f64, level: f64, seed: u64) -> Vec<f64> {
    let mut dice = Dice::new(seed);
    (0..(seconds * f64::from(rate)) as usize).map(|_| level * dice.roll()).collect()
}

/// A plucked string: partials of a stiff string plucked at a fifth of its length, each dying faster the higher it is
/// (Fletcher and Rossing 1998, *The Physics of Musical Instruments*, 2.18 and 9.2: stiffness, plucking point; the decay
/// times are from memory), damped at the end.
pub(crate) fn pluck(into: &mut [f64], rate: u32, onset_s: f64, length_s: f64, midi: u8, level: f64) {
    let hz = 440.0 * ((f64::from(midi) - 69.0) / 12.0).exp2();
    let fs = f64::from(rate);
    let first = (onset_s * fs) as usize;
    let count = ((length_s + 0.05) * fs) as usize;
    let partials: Vec<(f64, f64, f64)> = (1..=24)
        .map(f64::from)
        .map(|n| (n * hz * (1.0 + 0.000_1 * n * n).sqrt(), (PI * n / 5.0).sin() / n, 0.8 + 0.25 * n))
        .filter(|p| p.0 < 0.45 * fs)
        .collect();
    for (i, sample) in into.iter_mut().skip(first).take(count).enumerate() {
        let t = i as f64 / fs;
        let rise = (t / 0.004).min(1.0);
        let damped = if t > length_s { (-(t - length_s) / 0.012).exp() } else { 1.0 };
        let sum: f64 = partials.iter().map(|(f, a, d)| a * (-d * t).exp() * (TAU * f * t).sin()).sum();
        *sample += level * rise * damped * sum;
    }
}

/// A line that goes up and comes back on a four-string bass, half a second a note: (onset, MIDI number).
pub(crate) const LINE: [(f64, u8); 8] =
    [(0.5, 28), (1.0, 31), (1.5, 33), (2.0, 35), (2.5, 38), (3.0, 40), (3.5, 38), (4.0, 33)];

/// [`LINE`] as plucked strings, five seconds.
pub(crate) fn line(rate: u32) -> Vec<f64> {
    let mut sound = vec![0.0; (5.0 * f64::from(rate)) as usize];
    for (onset, midi) in LINE {
        pluck(&mut sound, rate, onset, 0.45, midi, 0.4);
    }
    sound
}

/// Speech made of noise and buzz (synthetic: no recording of a person): syllables of a voice whose pitch glides between
/// 90 and 170 Hz through three resonances (formants of vowels after Peterson and Barney 1952, rounded), with hissed
/// consonants and pauses between.
pub(crate) fn speech(rate: u32, seconds: f64, seed: u64) -> Vec<f64> {
    let mut dice = Dice::new(seed);
    let fs = f64::from(rate);
    let vowels =
        [[730.0, 1090.0, 2440.0], [270.0, 2290.0, 3010.0], [300.0, 870.0, 2240.0], [530.0, 1840.0, 2480.0]];
    let mut out = Vec::new();
    while (out.len() as f64) < seconds * fs {
        let hiss = 0.05 + 0.04 * (dice.roll() + 1.0);
        out.extend((0..(hiss * fs) as usize).map(|_| 0.05 * dice.roll()));
        let (length, from, to) =
            (0.12 + 0.06 * (dice.roll() + 1.0), 130.0 + 40.0 * dice.roll(), 130.0 + 40.0 * dice.roll());
        let vowel = vowels[((dice.roll() + 1.0) * 1.999) as usize % 4];
        let count = (length * fs) as usize;
        let (mut phase, mut state) = (0.0, [[0.0f64; 2]; 3]);
        for i in 0..count {
            let part = i as f64 / count as f64;
            phase += (from + (to - from) * part) * (1.0 + 0.01 * dice.roll()) / fs;
            let pulse = if phase >= 1.0 { 1.0 } else { 0.02 * dice.roll() };
            phase = phase.fract();
            let mut sum = 0.0;
            for (formant, s) in vowel.iter().zip(&mut state) {
                let r = (-PI * 90.0 / fs).exp();
                let y = pulse + 2.0 * r * (TAU * formant / fs).cos() * s[0] - r * r * s[1];
                *s = [y, s[0]];
                sum += y;
            }
            out.push(0.03 * sum * (PI * part).sin());
        }
        if dice.roll() > 0.4 {
            out.extend(vec![0.0; (0.15 * fs) as usize]);
        }
    }
    out.truncate((seconds * fs) as usize);
    out
}

/// Drums alone: a kick that falls from 130 to 50 Hz on every other half second, a snare of noise between, ticks of noise on
/// every quarter (made up; the sweep of a kick is common practice in synthesis, no source).
pub(crate) fn drums(rate: u32, seconds: f64, seed: u64) -> Vec<f64> {
    let mut dice = Dice::new(seed);
    let fs = f64::from(rate);
    let mut out = vec![0.0; (seconds * fs) as usize];
    let strokes = ((seconds - 1.0) * 4.0) as usize;
    for stroke in 0..strokes {
        let first = ((0.5 + 0.25 * stroke as f64) * fs) as usize;
        let (kick, snare) = (stroke.is_multiple_of(4), stroke % 4 == 2);
        for (i, sample) in out.iter_mut().skip(first).take((0.25 * fs) as usize).enumerate() {
            let t = i as f64 / fs;
            let noise = dice.roll();
            *sample += 0.08 * noise * (-t * 60.0).exp();
            if kick {
                let turns = 50.0 * t + 80.0 * (1.0 - (-t * 30.0).exp()) / 30.0;
                *sample += 0.8 * (TAU * turns).sin() * (-t * 14.0).exp();
            } else if snare {
                *sample += 0.4 * noise * (-t * 18.0).exp();
            }
        }
    }
    out
}

/// The band of a telephone: 300 to 3400 Hz, four first-order sections on either side.
pub(crate) fn telephone(sound: &[f64], rate: u32) -> Vec<f64> {
    let keep = |hz: f64| (-TAU * hz / f64::from(rate)).exp();
    let mut x = sound.to_vec();
    for _ in 0..4 {
        let (mut low, mut base) = (0.0, 0.0);
        for sample in &mut x {
            base = keep(300.0) * base + (1.0 - keep(300.0)) * *sample;
            low = keep(3_400.0) * low + (1.0 - keep(3_400.0)) * (*sample - base);
            *sample = low;
        }
    }
    x
}

/// A WAV file of 16 bits (RIFF/WAVE, Microsoft 1991: `fmt ` of 16 bytes, then `data`).
pub(crate) fn wav(rate: u32, channels: &[Vec<f64>]) -> Vec<u8> {
    let frames = channels.first().map_or(0, Vec::len);
    let width = channels.len() as u16;
    let bytes = (frames * channels.len() * 2) as u32;
    let mut out = b"RIFF".to_vec();
    out.extend((36 + bytes).to_le_bytes());
    out.extend(b"WAVEfmt \x10\0\0\0\x01\0");
    out.extend(width.to_le_bytes());
    out.extend(rate.to_le_bytes());
    out.extend((rate * u32::from(width) * 2).to_le_bytes());
    out.extend((width * 2).to_le_bytes());
    out.extend(16u16.to_le_bytes());
    out.extend(b"data");
    out.extend(bytes.to_le_bytes());
    for i in 0..frames {
        for row in channels {
            out.extend(((row[i] * 32_767.0).clamp(-32_768.0, 32_767.0) as i16).to_le_bytes());
        }
    }
    out
}
