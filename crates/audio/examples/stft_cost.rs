//! Nothing but short-time Fourier transforms, to know what a listener's own cost is made of.
//!
//! `cargo run --release -p riffkin-audio --example stft_cost -- SECONDS WINDOW/HOP@RATE...` takes the spectra of so many
//! seconds of made-up sound, for each window length and hop (in samples) at a sample rate, and prints how many frames
//! that were and the sum of their energies, so that the work cannot be left out. Whoever starts it measures the time.

#![allow(
    clippy::disallowed_methods,
    reason = "an example stands in for the program, which alone reads its arguments"
)]

use realfft::RealFftPlanner;
use std::error::Error;

/// Samples worked on at a time.
const BLOCK: usize = 1 << 16;

fn main() -> Result<(), Box<dyn Error>> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let [seconds, transforms @ ..] = words.as_slice() else {
        return Err("give seconds, and WINDOW/HOP@RATE for each transform".into());
    };
    let seconds: f64 = seconds.parse()?;
    let (mut frames, mut sum) = (0usize, 0f64);
    for pair in transforms {
        let (pair, rate) = pair.split_once('@').ok_or("a transform is WINDOW/HOP@RATE")?;
        let (window, hop) = pair.split_once('/').ok_or("a transform is WINDOW/HOP@RATE")?;
        let total = (seconds * rate.parse::<f64>()?) as usize;
        let (window, hop): (usize, usize) = (window.parse()?, hop.parse()?);
        if window == 0 || hop == 0 || window > BLOCK {
            return Err("window and hop must be at least one sample, the window at most 65536".into());
        }
        let transform = RealFftPlanner::<f32>::new().plan_fft_forward(window);
        let (mut input, mut output) = (transform.make_input_vec(), transform.make_output_vec());
        let mut scratch = transform.make_scratch_vec();
        let shape: Vec<f32> = (0..window)
            .map(|k| (std::f32::consts::PI * (k as f32 + 0.5) / window as f32).sin().powi(2))
            .collect();
        let sound: Vec<f32> = (0..BLOCK + window).map(|k| (k as f32 * 0.0157).sin()).collect();
        for start in (0..total).step_by(hop) {
            let at = start % BLOCK;
            for ((slot, sample), weight) in input.iter_mut().zip(&sound[at..]).zip(&shape) {
                *slot = sample * weight;
            }
            transform.process_with_scratch(&mut input, &mut output, &mut scratch)?;
            sum += f64::from(output.iter().map(|c| c.norm_sqr()).sum::<f32>());
            frames += 1;
        }
    }
    println!("{frames} frames, energy {sum:.3e}");
    Ok(())
}
