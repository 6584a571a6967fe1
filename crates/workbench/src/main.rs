//! Riffkin: riffs in, lessons out. The program only wires; what it does is in [`app`], how it is asked in [`cli`].

#![allow(unreachable_pub, reason = "a program has no outside; `pub` here means for the other modules")]

mod app;
mod cli;

use std::process::ExitCode;

fn main() -> ExitCode {
    cli::run()
}
