//! The project's own checks and chores: `cargo xtask tidy`, `cargo xtask test`, `cargo xtask fuzz`, `cargo xtask
//! accuracy`.
//!
//! `cargo xtask test` is the one command that proves a change; `docs/ARCHITECTURE.md` says what the rules
//! are for. Everything here is plain Rust over `git`, `cargo` and a few outside programs, with one dependency
//! (reading TOML), so that it builds in seconds.

mod accuracy;
mod counts;
mod files;
mod finding;
mod fuzz;
mod giants;
mod hours;
mod licences;
mod needs;
mod outside;
mod python;
mod run;
mod rust_source;
mod shelf_kills;
mod test;
mod tidy;

use std::process::ExitCode;

const USAGE: &str = "\
cargo xtask tidy                     check the house rules
cargo xtask test                     everything that must pass, in order, with the outside checks
cargo xtask test STAGE…              only these stages: fmt clippy tidy licences cargo-test docs
                                     fuzz-build outside tree
cargo xtask test --without-outside   leave out the checks that need Python, qpdf, poppler and Chromium
cargo xtask fuzz [TARGET] [--seconds N]
                                     build the fuzz targets and run one (or each) for N seconds (default 60)
cargo xtask fuzz --giants            feed every parser made-up inputs of 1 MiB, one second each at most
cargo xtask shelf-kills [COUNT] [SEED]
                                     kill the program COUNT times (default 100) while it writes to a shelf
cargo xtask hours [HOURS]            hear a recording of so many hours (default 2): notes, memory, Ctrl-C
";

fn main() -> ExitCode {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let root = match files::root() {
        Ok(root) => root,
        Err(why) => return fail(&why),
    };
    let outcome = match words.split_first() {
        Some((word, [])) if word == "tidy" => tidy::command(&root),
        Some((word, rest)) if word == "test" => test::command(&root, rest),
        Some((word, rest)) if word == "accuracy" => accuracy::command(&root, rest),
        Some((word, rest)) if word == "shelf-kills" => shelf_kills::command(&root, rest),
        Some((word, rest)) if word == "hours" => hours::command(&root, rest),
        Some((word, rest)) if word == "fuzz" => fuzz::command(&root, rest),
        Some((word, [])) if word == "help" || word == "--help" => {
            print!("{USAGE}{}", accuracy::USAGE);
            return ExitCode::SUCCESS;
        }
        _ => {
            eprint!("{USAGE}{}", accuracy::USAGE);
            return ExitCode::from(2);
        }
    };
    match outcome {
        Ok(()) => ExitCode::SUCCESS,
        Err(why) => fail(&why),
    }
}

fn fail(why: &str) -> ExitCode {
    eprintln!("xtask: {why}");
    ExitCode::FAILURE
}
