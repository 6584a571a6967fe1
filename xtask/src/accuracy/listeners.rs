//! The listeners that are scored: our program, and librosa's pYIN beside it.

use super::child;
use super::figures::Figures;
use super::notes::{self, Sounded};
use super::sets::{Set, Variant};
use super::wave;
use crate::files::target_dir;
use crate::run::{Show, must, run};
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Duration;

const MINUTES: u64 = 60;
/// A program may take this long for one file.
const PER_FILE: Duration = Duration::from_secs(5 * MINUTES);

/// Our own program as people run it.
pub(super) struct Ours {
    program: PathBuf,
    /// Whether it can be told that other instruments play too.
    pub(super) knows_mix: bool,
}

/// What a file of a set was heard to hold.
pub(super) type Heard<'a> = (&'a str, Vec<Sounded>);

impl Ours {
    /// The given program, or the release build of the workspace's own, built now.
    ///
    /// # Errors
    /// When it cannot be built or started.
    pub(super) fn ready(root: &Path, given: Option<&Path>) -> Result<Self, String> {
        let program = match given {
            Some(program) => program.to_owned(),
            None => {
                let mut cargo = Command::new(std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into()));
                cargo.current_dir(root).args(["build", "--release", "--quiet", "-p", "riffkin"]);
                must(&mut cargo, Duration::from_secs(25 * MINUTES))?;
                target_dir(root).join("release").join(format!("riffkin{}", std::env::consts::EXE_SUFFIX))
            }
        };
        let help = run(Command::new(&program).args(["hear", "--help"]), Show::No, Duration::from_secs(60))?;
        if !help.ok {
            return Err(format!("{} hear --help failed: {}", program.display(), help.text));
        }
        Ok(Self { program, knows_mix: help.text.contains("--mix") })
    }

    fn command(&self, recording: &Path, variant: Variant) -> Command {
        let mut command = Command::new(&self.program);
        command.arg("hear").arg(recording).arg("--csv");
        if variant == Variant::Mix {
            command.arg("--mix");
        }
        command
    }

    /// Hears every file of a variant, one at a time, into `out`.
    ///
    /// # Errors
    /// When the program cannot be started or writes what is no list of notes. A file that it refuses counts as one
    /// in which nothing is heard, and is told.
    pub(super) fn hear<'a>(
        &self,
        set: &'a Set,
        variant: Variant,
        out: &Path,
        figures: &mut Figures,
    ) -> Result<Vec<Heard<'a>>, String> {
        let mut all = Vec::new();
        for piece in &set.pieces {
            let recording = set.recording(variant, &piece.name);
            let csv = out.join(format!("{}.csv", piece.name));
            let used = child::run(&mut self.command(&recording, variant), &csv, PER_FILE)?;
            if !used.ok {
                println!("{}: refused: {}", recording.display(), used.said.trim());
                fs::write(&csv, "").map_err(|why| format!("{}: {why}", csv.display()))?;
            }
            figures.add_cost(used.cpu_s, wave::seconds(&recording)?, used.peak_bytes);
            all.push((piece.name.as_str(), heard(&csv)?));
        }
        Ok(all)
    }

    /// CPU seconds per second and peak bytes for the set's first recordings joined to 30 s in one file.
    ///
    /// # Errors
    /// When there is too little sound, or the program fails.
    pub(super) fn cost_of_30_s(
        &self,
        set: &Set,
        variant: Variant,
        folder: &Path,
    ) -> Result<(Option<f64>, Option<u64>), String> {
        const SECONDS: f64 = 30.0;
        let paths: Vec<PathBuf> =
            set.pieces.iter().map(|piece| set.recording(variant, &piece.name)).collect();
        let recording = folder.join(format!("30s-{}.wav", variant.folder()));
        wave::joined(&paths, SECONDS, &recording)?;
        let used =
            child::run(&mut self.command(&recording, variant), &recording.with_extension("csv"), PER_FILE)?;
        if !used.ok {
            return Err(format!("{}: {}", recording.display(), used.said.trim()));
        }
        Ok((used.cpu_s.map(|cpu| cpu / SECONDS), used.peak_bytes))
    }
}

fn heard(csv: &Path) -> Result<Vec<Sounded>, String> {
    let text = fs::read_to_string(csv).map_err(|why| format!("{}: {why}", csv.display()))?;
    notes::read(&text).map_err(|why| format!("{}: {why}", csv.display()))
}

/// Hears every file of a variant with pYIN, into `out`; the script counts its own CPU time, without what starting
/// Python and compiling take.
///
/// # Errors
/// When the script fails.
pub(super) fn pyin<'a>(
    root: &Path,
    python: &Path,
    set: &'a Set,
    variant: Variant,
    out: &Path,
    figures: &mut Figures,
) -> Result<Vec<Heard<'a>>, String> {
    let log = out.join("cost.txt");
    let mut command = Command::new(python);
    command.env("PYTHONDONTWRITEBYTECODE", "1").arg(root.join("tests/hearing/pyin.py")).arg(out);
    for single in ["OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "NUMBA_NUM_THREADS"] {
        command.env(single, "1");
    }
    if variant == Variant::Mix {
        command.arg("--mix");
    }
    command.args(set.pieces.iter().map(|piece| set.recording(variant, &piece.name)));
    let used = child::run(&mut command, &log, Duration::from_secs(60 * MINUTES))?;
    if !used.ok {
        return Err(format!("pyin.py failed:\n{}", used.said));
    }
    let costs = fs::read_to_string(&log).map_err(|why| format!("{}: {why}", log.display()))?;
    for line in costs.lines() {
        let numbers: Vec<f64> =
            line.split_whitespace().skip(1).filter_map(|word| word.parse().ok()).collect();
        if let [seconds, cpu_s] = numbers[..] {
            figures.add_cost(Some(cpu_s), seconds, used.peak_bytes);
        }
    }
    let files = set.pieces.iter();
    files.map(|piece| Ok((piece.name.as_str(), heard(&out.join(format!("{}.csv", piece.name)))?))).collect()
}

/// A short-time Fourier transform: sample rate, and window and hop in samples.
type Stft = (u32, usize, usize);

/// Those that a front end takes. Kept in step with `crates/audio/src/listen` by hand.
pub(super) struct Stfts(&'static [Stft]);

/// Those of the front end for a bass alone: the attack's two windows of 23 and 46 ms, and those of the other one, whose
/// strikes it hears too.
pub(super) const SOLO_STFTS: Stfts = Stfts(&[
    (22_050, 506, 128),
    (22_050, 1014, 128),
    (11_025, 2048, 128),
    (11_025, 1024, 128),
    (11_025, 512, 128),
    (11_025, 256, 128),
]);

/// Those of the front end for a bass in a mix: windows of 186, 93, 46 and 23 ms.
pub(super) const MIX_STFTS: Stfts =
    Stfts(&[(11_025, 2048, 128), (11_025, 1024, 128), (11_025, 512, 128), (11_025, 256, 128)]);

impl Stfts {
    /// In words.
    pub(super) fn words(&self) -> String {
        let each: Vec<String> = self
            .0
            .iter()
            .map(|(rate, window, hop)| format!("{window} samples every {hop} at {rate} Hz"))
            .collect();
        each.join(", ")
    }

    /// CPU seconds per second of sound that they alone take on this machine now.
    ///
    /// # Errors
    /// When the bench cannot be built or run.
    pub(super) fn cost(&self, root: &Path, folder: &Path) -> Result<Option<f64>, String> {
        const SECONDS: f64 = 600.0;
        let mut cargo = Command::new(std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into()));
        let build = ["build", "--release", "--quiet", "-p", "riffkin-audio", "--example", "stft_cost"];
        must(cargo.current_dir(root).args(build), Duration::from_secs(25 * MINUTES))?;
        let name = format!("stft_cost{}", std::env::consts::EXE_SUFFIX);
        let mut bench = Command::new(target_dir(root).join("release/examples").join(name));
        bench.arg(SECONDS.to_string());
        bench.args(self.0.iter().map(|(rate, window, hop)| format!("{window}/{hop}@{rate}")));
        let used = child::run(&mut bench, &folder.join("stft.txt"), PER_FILE)?;
        if used.ok { Ok(used.cpu_s.map(|cpu| cpu / SECONDS)) } else { Err(used.said) }
    }
}
