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
