//! The fingerings that method-book practice gives: common practice, no source.

mod common;

use common::{eighths, written};
use riffkin_fretboard::fit::fit;
use riffkin_fretboard::hand::{Hand, OpenStrings};
use riffkin_fretboard::neck::Neck;

fn four() -> Neck {
    Neck::named("four").unwrap()
}

#[test]
fn print_all() {
    let one_per_fret = Hand::default().with_switch_fret(1);
    let welcome = Hand::default().with_open_strings(OpenStrings::Welcome);
    for (name, text) in [
        ("G major", "G1 A1 B1 C2 D2 E2 F#2 G2"),
        ("F major", "F1 G1 A1 Bb1 C2 D2 E2 F2"),
        ("C major", "C2 D2 E2 F2 G2 A2 B2 C3"),
        ("A box", "A1 C2 D2 E2 G2 A2 C3"),
        ("G box", "G1 Bb1 C2 D2 F2 G2 Bb2 C3"),
        ("R58 A", "A1 E2 A2"),
        ("R58 G", "G1 D2 G2"),
        ("R58 C", "C2 G2 C3"),
        ("chrom", "A1 Bb1 B1 C2"),
        ("chrom low", "F1 Gb1 G1 Ab1"),
        ("E minor", "E1 G1 A1 B1 D2 E2 G2"),
        ("D minor", "D2 F2 G2 A2 C3 D3"),
        ("7 below", "G1 F1 G1 Bb1 C2 Db2 C2 Bb1 G1"),
        ("rest", "G1 A1 B1 - - - - - C3 D3 E3 C3"),
        ("octaves", "G1 G2 G1 G2 A1 A2 A1 A2"),
        ("blues", "A1 C#2 E2 F#2 G2 F#2 E2 C#2"),
        ("arp", "C2 E2 G2 B2 C3 B2 G2 E2"),
    ] {
        for (h, hand) in [("usual", &Hand::default()), ("1/fret", &one_per_fret), ("welcome", &welcome)] {
            let f = fit(&eighths(text), &four(), hand).unwrap();
            println!("{name} {h} {:.2} {} {:?} {:?}", f.cost, written(&f), f.reasons, f.cautions);
        }
    }
}
