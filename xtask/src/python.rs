//! A Python of our own under the target folder, with pinned packages.

use crate::files::target_dir;
use crate::needs::{self, PYTHON};
use crate::run::{Show, must, run};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Duration;

const MINUTES: u64 = 60;

/// The Python in `target/NAME` with the packages that `pins` (a requirements file, from the root) names; made anew
/// when the pins change.
///
/// # Errors
/// When there is no Python new enough, or the packages cannot be installed.
pub(crate) fn ready(root: &Path, name: &str, pins: &str) -> Result<PathBuf, String> {
    let venv = target_dir(root).join(name);
    let python = venv.join(if cfg!(windows) { "Scripts/python.exe" } else { "bin/python" });
    let pins_path = root.join(pins);
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

/// Makes a folder, without what was in it.
///
/// # Errors
/// When it cannot be removed or made.
pub(crate) fn empty(folder: &Path) -> Result<(), String> {
    let told = |why: std::io::Error| format!("{}: {why}", folder.display());
    if folder.exists() {
        std::fs::remove_dir_all(folder).map_err(told)?;
    }
    std::fs::create_dir_all(folder).map_err(told)
}

/// The machine's own Python, if it is new enough and can make an environment.
fn base_python() -> Option<PathBuf> {
    let python = needs::find(&PYTHON)?;
    let question = "import sys, venv, ensurepip; sys.exit(sys.version_info < (3, 11))";
    let answer = run(Command::new(&python).args(["-c", question]), Show::No, Duration::from_secs(60)).ok()?;
    answer.ok.then_some(python)
}
