//! Printing a riff and reading the text gives the riff back, whatever the riff.

use riffkin_formats::riff_text::{parse, print};
use riffkin_score::random::{Recipe, riff_of};

fn there_and_back(recipe: Recipe, seeds: std::ops::Range<u64>) {
    for seed in seeds {
        let riff = riff_of(seed, recipe);
        let text = print(&riff);
        match parse(&text) {
            Ok((back, _)) => {
                assert_eq!(back, riff, "seed {seed}\n{text}");
                assert_eq!(print(&back), text, "seed {seed}");
            }
            Err(error) => assert_eq!(error.to_string(), "", "seed {seed}\n{text}"),
        }
        let longest = text.lines().skip_while(|l| !l.starts_with('|')).map(|l| l.chars().count()).max();
        assert!(longest.is_some_and(|n| n <= 140), "seed {seed}\n{text}");
    }
}

#[test]
fn plain_riffs() {
    there_and_back(Recipe::plain(8), 0..200);
}

#[test]
fn full_riffs() {
    there_and_back(Recipe::full(1), 0..300);
    there_and_back(Recipe::full(8), 300..900);
    there_and_back(Recipe::full(40), 900..950);
}

#[test]
fn anything_a_riff_can_hold() {
    there_and_back(Recipe::wild(1), 0..300);
    there_and_back(Recipe::wild(7), 300..1200);
}

/// Header texts that look like something else.
#[test]
fn odd_header_texts() {
    let riff = riff_of(1, Recipe::plain(1));
    for text in [
        "| w r |",
        "// no comment",
        "key: D",
        ": :",
        "[pickup]",
        "\u{feff}mark",
        "x3",
        "a\u{200b}b",
        "Ärger № 5",
        "'\"",
        "five",
        "my own",
        "-",
        "\\",
    ] {
        let header = riffkin_score::riff::Header {
            title: text.to_owned(),
            neck: Some(text.to_owned()),
            source: Some(text.to_owned()),
            permission: Some(text.to_owned()),
            remarks: vec![text.to_owned(), text.to_owned()],
            ..riff.header().clone()
        };
        let riff = riff.with_header(header);
        assert_eq!(parse(&print(&riff)).map(|r| r.0), Ok(riff));
    }
}
