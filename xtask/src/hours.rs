//! `cargo xtask hours`: a recording of hours is heard right, in bounded memory, and Ctrl-C leaves nothing behind.
//!
//! The recording is made here: 8 kHz, plucked tones far apart in silence, so that the file has holes where a file system
//! knows them and takes little room. What is measured is printed; what must hold fails.

use crate::accuracy::child;
use crate::files;
use std::f64::consts::TAU;
use std::fs::{self, File};
use std::io::{BufWriter, Seek, SeekFrom, Write};
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// Samples a second.
const RATE: u32 = 8_000;
/// Seconds from tone to tone, and the first.
const EVERY_S: f64 = 4.0;
/// How long a tone sounds, in seconds.
const SOUNDS_S: f64 = 0.6;
/// Most memory that hearing may take, in megabytes, whatever the length.
const MOST_MB: f64 = 300.0;
/// An onset is right within this, in seconds.
const NEAR_S: f64 = 0.05;
/// The pitches that are played in turn, open E to G on the D string.
const PITCHES: [u8; 8] = [28, 31, 33, 35, 38, 40, 41, 43];
/// Longest recording that is made, in hours.
const MOST_HOURS: f64 = 20.0;

pub(crate) fn command(root: &Path, words: &[String]) -> Result<(), String> {
    let hours = match words {
        [] => 2.0,
        [hours] => {
            hours.parse().ok().filter(|h| *h > 0.0 && *h <= MOST_HOURS).ok_or("how many hours, up to 20?")?
        }
        _ => return Err("usage: cargo xtask hours [HOURS]".to_owned()),
    };
    let target = files::target_dir(root);
    let program = target.join("release").join(format!("riffkin{}", std::env::consts::EXE_SUFFIX));
    let built = Command::new("cargo")
        .current_dir(root)
        .args(["build", "--release", "--quiet", "-p", "riffkin"])
        .status()
        .map_err(|why| format!("cannot start cargo: {why}"))?;
    if !built.success() {
        return Err("the program does not build".to_owned());
    }
    let folder = target.join("hours");
    fs::create_dir_all(&folder).map_err(|why| format!("{}: {why}", folder.display()))?;
    let recording = folder.join("long.wav");
    let tones =
        record(&recording, hours * 3_600.0).map_err(|why| format!("{}: {why}", recording.display()))?;
    println!("{hours} hours, {} tones", tones.len());
    let outcome = heard(&program, &folder, &recording, &tones, hours)
        .and_then(|()| interrupted(&program, &folder, &recording));
    fs::remove_dir_all(&folder).map_err(|why| format!("{}: {why}", folder.display()))?;
    outcome
}

/// Writes the recording; gives the onsets and pitches.
fn record(path: &Path, seconds: f64) -> std::io::Result<Vec<(f64, u8)>> {
    let frames = (seconds * f64::from(RATE)) as u32;
    let mut file = BufWriter::new(File::create(path)?);
    let mut head = b"RIFF".to_vec();
    head.extend((36 + 2 * frames).to_le_bytes());
    head.extend(b"WAVEfmt \x10\0\0\0\x01\0\x01\0");
    head.extend(RATE.to_le_bytes());
    head.extend((2 * RATE).to_le_bytes());
    head.extend(b"\x02\0\x10\0data");
    head.extend((2 * frames).to_le_bytes());
    file.write_all(&head)?;
    let mut tones = Vec::new();
    let mut onset = 1.0;
    while onset + SOUNDS_S + 1.0 < seconds {
        let midi = PITCHES[tones.len() % PITCHES.len()];
        tones.push((onset, midi));
        file.seek(SeekFrom::Start(44 + 2 * (onset * f64::from(RATE)) as u64))?;
        file.write_all(&tone(midi))?;
        onset += EVERY_S;
    }
    file.flush()?;
    file.into_inner().map_err(std::io::IntoInnerError::into_error)?.set_len(44 + 2 * u64::from(frames))?;
    Ok(tones)
}

/// A plucked tone: partials that fall off by their number and die the faster the higher they are.
fn tone(midi: u8) -> Vec<u8> {
    let hz = 440.0 * ((f64::from(midi) - 69.0) / 12.0).exp2();
    let count = (SOUNDS_S * f64::from(RATE)) as u32;
    (0..count)
        .flat_map(|i| {
            let t = f64::from(i) / f64::from(RATE);
            let damp = ((SOUNDS_S - t) / 0.02).min(1.0) * (t / 0.003).min(1.0);
            let sum: f64 = (1..=12)
                .map(f64::from)
                .map(|n| (-t * (1.0 + 0.4 * n)).exp() / n * (TAU * hz * n * t).sin())
                .sum();
            ((9_000.0 * damp * sum).clamp(-32_767.0, 32_767.0) as i16).to_le_bytes()
        })
        .collect()
}

/// Hears it whole: every tone and nothing else, in bounded memory.
fn heard(
    program: &Path,
    folder: &Path,
    recording: &Path,
    tones: &[(f64, u8)],
    hours: f64,
) -> Result<(), String> {
    let out = folder.join("long.csv");
    let begun = Instant::now();
    let mut command = Command::new(program);
    command.arg("hear").arg(recording).arg("--csv");
    let used = child::run(&mut command, &out, Duration::from_secs(3_600))?;
    let took = begun.elapsed().as_secs_f64();
    if !used.ok {
        return Err(format!("hear failed: {}", used.said));
    }
    let csv = fs::read_to_string(&out).map_err(|why| format!("{}: {why}", out.display()))?;
    let found: Vec<(f64, u8)> = csv
        .lines()
        .skip(1)
        .filter_map(|line| {
            let mut fields = line.split(',');
            let onset = fields.next()?.parse().ok()?;
            Some((onset, fields.nth(1)?.parse().ok()?))
        })
        .collect();
    let right = tones
        .iter()
        .filter(|(at, midi)| found.iter().any(|(t, m)| m == midi && (t - at).abs() < NEAR_S))
        .count();
    let peak_mb = used.peak_bytes.map_or(f64::NAN, |b| b as f64 / 1e6);
    let cpu_s = used.cpu_s.unwrap_or(f64::NAN);
    println!(
        "heard in {took:.1} s ({cpu_s:.1} s of CPU, {:.4} for each second), peak memory {peak_mb:.0} MB",
        cpu_s / (hours * 3_600.0)
    );
    println!("{right} of {} tones are right, {} notes were heard", tones.len(), found.len());
    if used.said.contains('\r') {
        return Err("progress was written although standard error is no terminal".to_owned());
    }
    if right < tones.len() || found.len() != tones.len() {
        return Err("not every tone was heard once".to_owned());
    }
    if peak_mb > MOST_MB {
        return Err(format!("{peak_mb:.0} MB are more than {MOST_MB:.0}"));
    }
    Ok(())
}

/// Ctrl-C in the middle: status 130, and no file, whole or half.
fn interrupted(program: &Path, folder: &Path, recording: &Path) -> Result<(), String> {
    let out = folder.join("interrupted.json");
    let mut child = Command::new(program)
        .args(["hear".as_ref(), recording.as_os_str(), "-o".as_ref(), out.as_os_str()])
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .map_err(|why| format!("cannot start the program: {why}"))?;
    std::thread::sleep(Duration::from_millis(700));
    let told = Command::new("kill").args(["-INT", &child.id().to_string()]).status();
    let ended = child.wait().map_err(|why| format!("lost the program: {why}"))?;
    if !told.is_ok_and(|status| status.success()) {
        println!("interrupting was left out: it ended before, or there is no `kill` here");
        return Ok(());
    }
    let left: Vec<String> = fs::read_dir(folder)
        .map_err(|why| format!("{}: {why}", folder.display()))?
        .filter_map(|e| Some(e.ok()?.file_name().to_string_lossy().into_owned()))
        .filter(|name| name.contains("interrupted"))
        .collect();
    println!("interrupted: status {:?}, left behind: {left:?}", ended.code());
    if ended.code() != Some(130) || !left.is_empty() {
        return Err("an interrupt must end with 130 and leave nothing behind".to_owned());
    }
    Ok(())
}
