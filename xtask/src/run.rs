//! Starting other programs: shown while they run, kept for reading, stopped when they hang.

use std::io::{BufRead, BufReader, Write};
use std::process::{Command, Stdio};
use std::sync::mpsc::{RecvTimeoutError, channel};
use std::time::{Duration, Instant};

/// What a finished program left behind.
pub(crate) struct Outcome {
    /// Whether it ended with success.
    pub(crate) ok: bool,
    /// Everything it said, standard output and standard error in the order they came.
    pub(crate) text: String,
}

/// Whether the output is shown while it comes.
#[derive(Clone, Copy, PartialEq)]
pub(crate) enum Show {
    /// Pass it on line by line.
    Yes,
    /// Only keep it.
    No,
}

/// Runs a program to its end, or stops it after `limit`.
///
/// # Errors
/// When it cannot be started or had to be stopped.
pub(crate) fn run(command: &mut Command, show: Show, limit: Duration) -> Result<Outcome, String> {
    let name = command.get_program().to_string_lossy().into_owned();
    let pipe = || std::io::pipe().map_err(|why| format!("no pipe for {name}: {why}"));
    let (reader, writer) = pipe()?;
    let second = writer.try_clone().map_err(|why| format!("no pipe for {name}: {why}"))?;
    command.stdin(Stdio::null()).stdout(writer).stderr(second);
    let mut child = command.spawn().map_err(|why| format!("cannot start {name}: {why}"))?;
    // The command holds our ends of the pipe for writing; give them up, or reading never ends.
    command.stdout(Stdio::null()).stderr(Stdio::null());

    let (sender, lines) = channel();
    std::thread::spawn(move || {
        let mut reader = BufReader::new(reader);
        let mut bytes = Vec::new();
        while reader.read_until(b'\n', &mut bytes).is_ok_and(|count| count > 0) {
            let line = String::from_utf8_lossy(&bytes).into_owned();
            bytes.clear();
            if sender.send(line).is_err() {
                break;
            }
        }
    });

    let start = Instant::now();
    let mut text = String::new();
    loop {
        match lines.recv_timeout(limit.saturating_sub(start.elapsed())) {
            Ok(line) => {
                if show == Show::Yes {
                    print!("{line}");
                    // A closed terminal must not end the run.
                    std::io::stdout().flush().unwrap_or_default();
                }
                text.push_str(&line);
            }
            Err(RecvTimeoutError::Disconnected) => break,
            Err(RecvTimeoutError::Timeout) => {
                child.kill().unwrap_or_default();
                child.wait().map_err(|why| format!("cannot stop {name}: {why}"))?;
                return Err(format!("{name} was stopped after {} s", limit.as_secs()));
            }
        }
    }
    let status = child.wait().map_err(|why| format!("lost {name}: {why}"))?;
    Ok(Outcome { ok: status.success(), text })
}

/// Runs a program, shown, that must end with success.
///
/// # Errors
/// When it cannot be started, fails, or had to be stopped; the message names the whole command.
pub(crate) fn must(command: &mut Command, limit: Duration) -> Result<Outcome, String> {
    let line = spoken(command);
    let outcome = run(command, Show::Yes, limit)?;
    if outcome.ok { Ok(outcome) } else { Err(format!("`{line}` failed")) }
}

/// The command as a person would type it.
pub(crate) fn spoken(command: &Command) -> String {
    let mut words = vec![command.get_program().to_string_lossy().into_owned()];
    words.extend(command.get_args().map(|word| word.to_string_lossy().into_owned()));
    words.join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cargo() -> Command {
        Command::new(std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into()))
    }

    const LONG: Duration = Duration::from_secs(60);

    #[test]
    fn output_and_success_come_back() {
        let outcome = run(cargo().arg("--version"), Show::No, LONG).unwrap();
        assert!(outcome.ok && outcome.text.starts_with("cargo "));
    }

    #[test]
    fn failure_keeps_what_was_said_on_standard_error() {
        let outcome = run(cargo().arg("no-such-subcommand-here"), Show::No, LONG).unwrap();
        assert!(!outcome.ok && outcome.text.contains("no-such-subcommand-here"));
        assert!(run(&mut Command::new("no such program"), Show::No, LONG).is_err());
    }

    #[cfg(unix)]
    #[test]
    fn a_program_that_hangs_is_stopped() {
        let start = Instant::now();
        let told = run(Command::new("sleep").arg("30"), Show::No, Duration::from_millis(200));
        assert!(told.is_err_and(|why| why.contains("stopped")));
        assert!(start.elapsed() < Duration::from_secs(10));
    }
}
