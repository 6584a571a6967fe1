//! `cargo xtask shelf-kills`: the test of the same name, with more kills.

use std::path::Path;
use std::process::Command;

/// Most kills.
const MOST: u32 = 100_000;

pub(crate) fn command(root: &Path, words: &[String]) -> Result<(), String> {
    let usage = || format!("usage: cargo xtask shelf-kills [COUNT, up to {MOST}] [SEED]");
    let (kills, seed) = match words {
        [] => ("100", "1"),
        [kills] => (kills.as_str(), "1"),
        [kills, seed] => (kills.as_str(), seed.as_str()),
        _ => return Err(usage()),
    };
    let wrong = kills.parse::<u32>().map_or(true, |k| k == 0 || k > MOST) || seed.parse::<u32>().is_err();
    if wrong {
        return Err(usage());
    }
    let cargo = std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into());
    let status = Command::new(cargo)
        .current_dir(root)
        .args(["test", "-p", "riffkin", "--test", "shelf_kills", "--", "--nocapture"])
        .env("RIFFKIN_KILLS", kills)
        .env("RIFFKIN_SEED", seed)
        .status()
        .map_err(|why| format!("cannot start cargo: {why}"))?;
    if status.success() { Ok(()) } else { Err("a kill did harm".to_owned()) }
}
