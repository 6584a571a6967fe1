//! Starting a program and reading what it used: CPU time and peak memory.
//!
//! Linux tells both under `/proc`. CPU time is read when the program has ended but has not been waited for (its
//! entry still counts user and system time of all its threads, in hundredths of a second; while it runs its main
//! thread's own count, in nanoseconds, is read too, and the larger of the two is taken, so that short runs are not
//! rounded down). Peak memory is `VmHWM`, the highest resident set so far, read every millisecond until the end.

use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// Hundredths of a second, the unit in which Linux tells CPU times (`USER_HZ`, the same on every architecture that
/// this runs on).
const TICKS_PER_S: f64 = 100.0;

/// What a program left behind.
#[derive(Clone, Debug)]
pub(crate) struct Used {
    /// Whether it ended with success.
    pub(crate) ok: bool,
    /// What it said on standard error.
    pub(crate) said: String,
    /// CPU seconds, user and system; `None` where this cannot be read.
    pub(crate) cpu_s: Option<f64>,
    /// Peak resident memory in bytes; `None` where this cannot be read.
    pub(crate) peak_bytes: Option<u64>,
}

/// Runs a program to its end with its standard output going to `out`, or stops it after `limit`.
///
/// # Errors
/// When it cannot be started or had to be stopped, or the output file cannot be made.
pub(crate) fn run(command: &mut Command, out: &Path, limit: Duration) -> Result<Used, String> {
    let name = command.get_program().to_string_lossy().into_owned();
    let told = |why: std::io::Error| format!("{}: {why}", out.display());
    let beside = out.with_extension("stderr");
    command.stdin(Stdio::null());
    command.stdout(fs::File::create(out).map_err(told)?);
    command.stderr(fs::File::create(&beside).map_err(told)?);
    let mut child = command.spawn().map_err(|why| format!("cannot start {name}: {why}"))?;
    let start = Instant::now();
    let mut seen = Seen::default();
    let status = loop {
        let ended = seen.look(child.id()) == State::Ended;
        let status = if ended { child.try_wait() } else { Ok(None) };
        if let Some(status) = status.map_err(|why| format!("lost {name}: {why}"))? {
            break status;
        }
        if start.elapsed() > limit {
            child.kill().unwrap_or_default();
            child.wait().map_err(|why| format!("cannot stop {name}: {why}"))?;
            return Err(format!("{name} was stopped after {} s", limit.as_secs()));
        }
        std::thread::sleep(Duration::from_millis(1));
    };
    let said = fs::read_to_string(&beside).unwrap_or_default();
    fs::remove_file(&beside).unwrap_or_default();
    let cpu_s = seen.ticks_s.map(|ticks| ticks.max(seen.main_thread_s));
    Ok(Used { ok: status.success(), said, cpu_s, peak_bytes: seen.peak_bytes })
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum State {
    Running,
    /// Over, or this machine does not tell.
    Ended,
}

#[derive(Default)]
struct Seen {
    ticks_s: Option<f64>,
    main_thread_s: f64,
    peak_bytes: Option<u64>,
}

impl Seen {
    fn look(&mut self, id: u32) -> State {
        let read = |what: &str| fs::read_to_string(format!("/proc/{id}/{what}")).ok();
        if let Some(nanoseconds) = read("schedstat").and_then(|text| first_number(&text)) {
            self.main_thread_s = self.main_thread_s.max(nanoseconds as f64 * 1e-9);
        }
        if let Some(kilobytes) = read("status").as_deref().and_then(peak_of) {
            self.peak_bytes = self.peak_bytes.max(Some(kilobytes * 1024));
        }
        let Some((state, ticks)) = read("stat").as_deref().and_then(state_of) else { return State::Ended };
        self.ticks_s = Some(ticks as f64 / TICKS_PER_S);
        if state == 'Z' { State::Ended } else { State::Running }
    }
}

fn first_number(text: &str) -> Option<u64> {
    text.split_whitespace().next()?.parse().ok()
}

fn peak_of(status: &str) -> Option<u64> {
    status.lines().find_map(|line| line.strip_prefix("VmHWM:")).and_then(first_number)
}

/// The state letter, and user and system time together in ticks: fields 3, 14 and 15 of proc_pid_stat(5). The
/// program's name, in brackets, may hold spaces and brackets.
fn state_of(stat: &str) -> Option<(char, u64)> {
    let (_, rest) = stat.rsplit_once(')')?;
    let fields: Vec<&str> = rest.split_whitespace().collect();
    let ticks = fields.get(11)?.parse::<u64>().ok()? + fields.get(12)?.parse::<u64>().ok()?;
    Some((fields.first()?.chars().next()?, ticks))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_lines_of_proc_are_read() {
        let stat = "4242 (a (b) c) Z 1 2 3 4 5 6 7 8 9 10 37 5 0 0 20 0 1";
        assert_eq!(state_of(stat), Some(('Z', 42)));
        assert_eq!(peak_of("Name:\tx\nVmHWM:\t  2048 kB\nVmRSS:\t 1 kB\n"), Some(2048));
        assert_eq!(state_of("nonsense"), None);
    }

    #[cfg(target_os = "linux")]
    #[test]
    fn a_program_s_work_and_memory_are_seen() {
        let out = std::env::temp_dir().join(format!("xtask-child-{}.out", std::process::id()));
        let busy = "i=0; while [ $i -lt 200000 ]; do i=$((i+1)); done; echo done";
        let used = run(Command::new("sh").args(["-c", busy]), &out, Duration::from_secs(60)).unwrap();
        assert!(used.ok);
        assert_eq!(fs::read_to_string(&out).unwrap(), "done\n");
        fs::remove_file(&out).unwrap();
        assert!(used.cpu_s.unwrap() > 0.02, "{used:?}");
        assert!((500_000..100_000_000).contains(&used.peak_bytes.unwrap()), "{used:?}");
    }
}
