//! Whole riffs explained.

mod common;

use common::{name, riff};
use riffkin_score::analysis::explain::{How, explain};
use riffkin_score::key::Mode;

#[test]
fn a_dorian_riff_without_a_key() {
    let found = explain(&riff(None, &["D2:2 F2 G2 A2 B2 C3 A2", "D2:2 F2 G2 A2:2 C3 A2"]), None);
    assert_eq!(found.tonic, Some((name("D"), How::Ranked)));
    assert_eq!(found.verdict().mode(), Some(Mode::Dorian));
}
