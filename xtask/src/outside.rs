//! The outside checks: what we wrote, read back by programs and libraries that are not ours.
//!
//! The scripts are in `tests/outside/`; each ends with a line in the form of cargo's own `test result:`, which
//! is counted.

use crate::counts::{Tally, sum};
use crate::files::target_dir;
use crate::needs::{self, BROWSER, OUTSIDE, PYTHON};
use crate::run::{Show, must, run};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Duration;

/// Fewest checks that each script must have made; one that makes fewer has lost its input.
const SCRIPTS: &[Script] = &[
    Script { file: "selfcheck.py", least: 38 },
    Script { file: "scores.py", least: 6000 },
    Script { file: "sheet.py", least: 30 },
    Script { file: "page.py", least: 18 },
];

struct Script {
    file: &'static str,
    least: usize,
}

const MINUTES: u64 = 60;

/// Runs all of them.
pub(crate) fn check(root: &Path, total: &mut Tally) -> Result<(), String> {
    let out = target_dir(root).join("outside");
    let python = python_ready(root)?;
    needs::provide(OUTSIDE, &[])?;
    let browser = needs::find(&BROWSER).unwrap_or_default();
    let pictures = out.join("pictures");
    let scores = out.join("scores");
    let demo = out.join("demo");
    for folder in [&scores, &demo] {
        empty(folder)?;
    }
    let cargo = || {
        let mut command = Command::new(std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into()));
        command.current_dir(root);
        command
    };
    println!("-- writing the demo's riffs and 500 generated ones");
    let export = ["run", "--quiet", "-p", "riffkin-formats", "--example", "outside_export", "--"];
    must(cargo().args(export).arg(&scores), Duration::from_secs(20 * MINUTES))?;
    println!("-- making the demo");
    must(
        cargo().args(["run", "--release", "--", "demo", "-o"]).arg(&demo),
        Duration::from_secs(25 * MINUTES),
    )?;

    let mut broken = Vec::new();
    for script in SCRIPTS {
        println!("-- {}", script.file);
        let mut command = Command::new(&python);
        command.env("PYTHONDONTWRITEBYTECODE", "1").env("PYTHONUTF8", "1").current_dir(root);
        command.arg(root.join("tests/outside").join(script.file));
        match script.file {
            "selfcheck.py" => command.arg(&browser),
            "scores.py" => command.arg(&scores),
            "sheet.py" => command.arg(&demo).arg(&pictures),
            _ => command.arg(&demo).arg(&pictures).arg(&browser),
        };
        let outcome = run(&mut command, Show::Yes, Duration::from_secs(10 * MINUTES))?;
        let tally = sum(&outcome.text);
        *total += tally;
        if !outcome.ok || tally.failed > 0 {
            broken.push(format!("{} failed", script.file));
        } else if tally.passed < script.least {
            broken.push(format!("{} made {} checks, fewer than {}", script.file, tally.passed, script.least));
        }
    }
    if broken.is_empty() { Ok(()) } else { Err(broken.join("; ")) }
}

fn empty(folder: &Path) -> Result<(), String> {
    let told = |why: std::io::Error| format!("{}: {why}", folder.display());
    if folder.exists() {
        std::fs::remove_dir_all(folder).map_err(told)?;
    }
    std::fs::create_dir_all(folder).map_err(told)
}

/// A Python of our own under the target folder with the pinned packages; made anew when the pins change.
fn python_ready(root: &Path) -> Result<PathBuf, String> {
    let venv = target_dir(root).join("venv");
    let python = venv.join(if cfg!(windows) { "Scripts/python.exe" } else { "bin/python" });
    let pins_path = root.join("tests/outside/requirements.txt");
    let pins =
        std::fs::read_to_string(&pins_path).map_err(|why| format!("{}: {why}", pins_path.display()))?;
    let stamp = venv.join("pins.txt");
    if python.exists() && std::fs::read_to_string(&stamp).is_ok_and(|made_with| made_with == pins) {
        return Ok(python);
    }
    needs::provide(&[&PYTHON], if base_python().is_some() { &[] } else { &[&PYTHON] })?;
    let base = base_python()
        .ok_or_else(|| needs::missing_message(&[&PYTHON]) + "\nPython 3.11 or newer is needed")?;
    println!("-- making a Python environment in {}", venv.display());
    empty(&venv)?;
    let limit = Duration::from_secs(10 * MINUTES);
    must(Command::new(base).args(["-m", "venv"]).arg(&venv), limit)?;
    let pip = ["-m", "pip", "install", "--quiet", "--disable-pip-version-check", "--no-deps", "-r"];
    must(Command::new(&python).args(pip).arg(&pins_path), limit)?;
    std::fs::write(&stamp, pins).map_err(|why| format!("{}: {why}", stamp.display()))?;
    Ok(python)
}

/// The machine's own Python, if it is new enough and can make an environment.
fn base_python() -> Option<PathBuf> {
    let python = needs::find(&PYTHON)?;
    let question = "import sys, venv, ensurepip; sys.exit(sys.version_info < (3, 11))";
    let answer = run(Command::new(&python).args(["-c", question]), Show::No, Duration::from_secs(60)).ok()?;
    answer.ok.then_some(python)
}
