//! The examples of the documents are read as they stand.

use riffkin_formats::tab_text::TabOptions;
use riffkin_formats::{riff_text, tab_text};

/// The blocks of a document that are marked with a language.
fn blocks<'a>(document: &'a str, language: &str) -> Vec<&'a str> {
    let opening = format!("```{language}\n");
    document.split(opening.as_str()).skip(1).filter_map(|rest| rest.split("```").next()).collect()
}

#[test]
fn riff_notation() {
    let found = blocks(include_str!("../../../docs/riff-notation.md"), "riff");
    assert!(found.len() >= 8, "{}", found.len());
    for text in found {
        match riff_text::parse(text) {
            Ok((riff, warnings)) => {
                assert!(warnings.is_empty(), "{text}\n{warnings:?}");
                assert_eq!(riff_text::parse(&riff_text::print(&riff)).ok().map(|r| r.0), Some(riff));
            }
            Err(error) => assert_eq!(error.to_string(), "", "{text}"),
        }
    }
}

#[test]
fn typed_tablature() {
    let found = blocks(include_str!("../../../docs/typed-tablature.md"), "tab");
    assert!(found.len() >= 2, "{}", found.len());
    for text in found {
        let read = tab_text::read(text, &TabOptions::default());
        assert!(read.is_ok_and(|(riff, _)| riff.line().len() > 5), "{text}");
    }
}

/// The error that the document shows is the one that is given.
#[test]
fn the_error_shown() {
    let shown = blocks(include_str!("../../../docs/riff-notation.md"), "text");
    let text = "riff: a\nkey: D\n\n| w A1 | q A1 A1 e. A1 |\n";
    let error = riff_text::parse(text).map(|_| String::new()).unwrap_or_else(|e| e.to_string());
    let flat = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(shown.iter().any(|block| flat(block) == flat(&error)), "{error}");
}
