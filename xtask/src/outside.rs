//! The outside checks: what we wrote, read back by programs and libraries that are not ours.
//!
//! The scripts are in `tests/outside/`; each ends with a line in the form of cargo's own `test result:`, which
//! is counted.

use crate::counts::{Tally, sum};
use crate::files::target_dir;
use crate::needs::{self, BROWSER, OUTSIDE};
use crate::python::{self, empty};
use crate::run::{Show, must, run};
use std::path::Path;
use std::process::Command;
use std::time::Duration;

/// Fewest checks that each script must have made; one that makes fewer has lost its input.
const SCRIPTS: &[Script] = &[
    Script { file: "selfcheck.py", least: 38 },
    Script { file: "scores.py", least: 6000 },
    Script { file: "harmony.py", least: 6500 },
    Script { file: "keys.py", least: 217 },
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
    let python = python::ready(root, "venv", "tests/outside/requirements.txt")?;
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
    println!("-- writing what we say about harmony");
    let harmony = out.join("harmony.json");
    let say = ["run", "--quiet", "-p", "riffkin-score", "--example", "outside_harmony", "--"];
    must(cargo().args(say).arg(&harmony), Duration::from_secs(20 * MINUTES))?;
    println!("-- writing every scale");
    let keys = out.join("keys.json");
    let export = ["run", "--quiet", "--release", "-p", "riffkin-score", "--example", "outside_keys", "--"];
    must(cargo().args(export).arg(&keys), Duration::from_secs(10 * MINUTES))?;
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
            "keys.py" => command.arg(&keys),
            "harmony.py" => command.arg(&harmony),
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
