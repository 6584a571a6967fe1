//! Pages and files: what stays together, what is repeated, what is said in warnings.

#![allow(clippy::expect_used, reason = "helpers outside test functions")]

mod common;

use common::{bars, places, riff};
use riffkin_engrave::diagram::{Rung, Strip, strip};
use riffkin_engrave::music::{Layout, Part, engrave};
use riffkin_engrave::pdf::{self, About, Date, PdfError};
use riffkin_engrave::scene::{Item, Role, Scene};
use riffkin_engrave::sheet::{Block, Paper, Rich, SheetStyle, compose};
use riffkin_fretboard::neck::Neck;
use riffkin_score::degree::DegreeSet;

fn texts(scene: &Scene) -> Vec<String> {
    let mut out = Vec::new();
    scene.visit(&mut |i| {
        if let Item::Text(t) = i {
            out.push(t.content.trim().to_owned());
        }
    });
    out
}

fn music() -> Block {
    let riff = riff("Ferry Stomp", "G minor", bars("4/4", "e:G1 e:Bb1 e:C2 e:Db2 q:C2 e:Bb1 e:F1|q:G1 h.:r"));
    let neck = Neck::named("four").expect("known");
    let fits = places(&riff, &neck);
    Block::music(engrave(&Part { riff: &riff, neck: Some(&neck), places: &fits }, &Layout::print(170.0)))
}

#[test]
fn nothing_still_makes_a_page() {
    for paper in [Paper::A4, Paper::Letter] {
        let sheet = compose(&[], &SheetStyle::print(paper), "");
        assert_eq!(sheet.pages.len(), 1);
        assert_eq!((sheet.pages[0].width, sheet.pages[0].height), paper.size());
        assert!(sheet.to_pdf(&About::titled("")).expect("a file").starts_with(b"%PDF-1.7"));
    }
    assert!(pdf::write(&[], &About::titled("Nothing")).is_ok());
}

#[test]
fn a_heading_stays_with_its_music_and_nothing_leaves_the_page() {
    let mut blocks = Vec::new();
    for i in 0..60 {
        blocks.push(Block::heading(2, format!("Heading {i}")));
        blocks.push(Block::paragraph("Some words. ".repeat(i % 7 + 1)));
        blocks.push(music());
    }
    let style = SheetStyle::print(Paper::A4);
    let sheet = compose(&blocks, &style, "Skarvik");
    assert!(sheet.warnings.is_empty());
    assert!(sheet.pages.len() > 5);
    for page in &sheet.pages {
        let ink = page.bounds();
        assert!(ink.left >= 0.0 && ink.right <= 210.0 && ink.bottom <= 297.0);
        let groups: Vec<&Role> = page
            .items
            .iter()
            .filter_map(|i| match i {
                Item::Group { role, .. } => Some(role),
                _ => None,
            })
            .collect();
        // The footer comes last; a heading never stands right before it.
        let [.., before_last, Role::Artifact] = groups.as_slice() else { panic!("a footer ends every page") };
        assert!(!matches!(before_last, Role::Heading(_)));
    }
    let all: Vec<String> = sheet.pages.iter().flat_map(texts).collect();
    for i in 0..60 {
        assert!(all.contains(&format!("Heading {i}")), "nothing is lost");
    }
}

#[test]
fn what_stands_together_is_not_cut() {
    let style = SheetStyle::print(Paper::A4);
    let block = |n: usize| {
        Block::Together(vec![
            Block::heading(2, format!("Part {n}")),
            music(),
            Block::paragraph(format!("End {n}")),
        ])
    };
    let blocks: Vec<Block> = (0..20).map(block).collect();
    let sheet = compose(&blocks, &style, "");
    for page in &sheet.pages {
        let t = texts(page);
        for n in 0..20 {
            assert_eq!(t.contains(&format!("Part {n}")), t.contains(&format!("End {n}")), "part {n} is cut");
        }
    }
    // Too much for one page flows on instead of vanishing.
    let long = Block::Together((0..200).map(|i| Block::paragraph(format!("Line {i}"))).collect());
    let sheet = compose(&[long], &style, "");
    let all: Vec<String> = sheet.pages.iter().flat_map(texts).collect();
    assert_eq!(sheet.pages.len(), 6, "and leaves no page half empty: 200 lines of 20 pt on pages of 35");
    assert!((0..200).all(|i| all.contains(&format!("Line {i}"))));
}

#[test]
fn a_ladder_of_two_hundred_rungs_repeats_its_head() {
    let rungs: Vec<Rung> = (1..=200)
        .map(|number| Rung {
            number,
            title: format!("Riff {number} with a name that is rather long for its column"),
            strip: Strip::new(DegreeSet::from_slots([0, 3, 5, 7, 10])).with_new(DegreeSet::from_slots([3])),
        })
        .collect();
    let sheet = compose(&[Block::Ladder(rungs)], &SheetStyle::print(Paper::Letter), "");
    assert!(sheet.pages.len() > 4);
    for page in &sheet.pages {
        assert_eq!(texts(page).iter().filter(|t| *t == "rung").count(), 1, "one head per page");
        let tables = page.items.iter().filter(|i| matches!(i, Item::Group { role: Role::Table, .. })).count();
        assert_eq!(tables, 1);
    }
    let numbers: usize = sheet.pages.iter().flat_map(texts).filter(|t| t.parse::<usize>().is_ok()).count();
    assert!(numbers >= 200);
    assert!(sheet.to_pdf(&About::titled("Ladder")).is_ok());
}

#[test]
fn every_kind_of_block_makes_a_valid_tagged_file_and_the_same_one_twice() {
    let picture = strip(&Strip::new(DegreeSet::from_slots([0, 7])), 6.0);
    let blocks = vec![
        Block::heading(1, "Tuesday bass class"),
        Block::Paragraph(Rich::plain("The ").bold("♭3").roman(" leans on the 4, ").italic("always.")),
        Block::Small("Skål, Skarvik æøå".into()),
        Block::List { numbered: true, entries: (0..12).map(|i| format!("Task {i}").into()).collect() },
        Block::List { numbered: false, entries: vec!["".into(), "one".into()] },
        Block::Figures(vec![picture.clone(), picture.clone(), picture]),
        music(),
        Block::Ladder(vec![Rung { number: 1, title: String::new(), strip: Strip::new(DegreeSet::EMPTY) }]),
        Block::WriteOn(3),
        Block::Rule,
        Block::Space(2.0),
        Block::PageBreak,
        Block::heading(6, ""),
        Block::heading(9, "Last"),
    ];
    let sheet = compose(&blocks, &SheetStyle::print(Paper::A4), "footer");
    assert_eq!(sheet.pages.len(), 2);
    let about = About { date: Some(Date { year: 2026, month: 7, day: 4 }), ..About::titled("Class") };
    let one = sheet.to_pdf(&about).expect("PDF/UA-1 rules hold");
    assert_eq!(one, sheet.to_pdf(&about).expect("twice"));
    let has = |file: &[u8], needle: &[u8]| file.windows(needle.len()).any(|w| w == needle);
    assert!(has(&one, b"pdfuaid:part"), "says that it is PDF/UA");
    assert!(has(&one, b"2026"));
    let undated = sheet.to_pdf(&About::titled("Class")).expect("a file");
    assert!(!has(&undated, b"/CreationDate") && !has(&undated, b"/Author"));
}

#[test]
fn letters_that_no_font_has_are_named() {
    let sheet = compose(&[Block::paragraph("Blues in 漢")], &SheetStyle::print(Paper::A4), "");
    assert_eq!(sheet.warnings.len(), 1);
    assert!(sheet.warnings[0].message.contains("U+6F22"));
    assert!(sheet.to_pdf(&About::titled("漢")).is_ok());
}

#[test]
fn impossible_pages_are_refused_by_number() {
    for (w, h) in [(0.0, 100.0), (f64::NAN, 100.0), (100.0, -1.0), (1e9, 100.0)] {
        let error = pdf::write(&[Scene::new(100.0, 100.0), Scene::new(w, h)], &About::titled("x"));
        assert!(matches!(error, Err(PdfError::PageSize { page: 2, .. })), "{w} {h}");
    }
}

#[test]
fn a_picture_larger_than_the_page_is_made_smaller_and_that_is_said() {
    let mut big = Scene::new(500.0, 600.0);
    big.title = "Big".into();
    big.items.push(Item::line(
        riffkin_engrave::units::Point::new(0.0, 0.0),
        riffkin_engrave::units::Point::new(500.0, 600.0),
        1.0,
    ));
    let sheet = compose(&[Block::Figures(vec![big])], &SheetStyle::print(Paper::A4), "");
    assert!(sheet.warnings[0].message.contains("percent"));
    assert!(sheet.pages[0].bounds().bottom < 297.0);
}
