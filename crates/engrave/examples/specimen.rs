//! Writes specimen pages into a folder: `cargo run -p riffkin-engrave --example specimen -- DIR [large|random|golden|pace]`.
//!
//! With `golden` it writes the pictures that the golden test compares; look at them before you keep them:
//! `cargo run -p riffkin-engrave --example specimen -- crates/engrave/tests/golden golden`.

#![allow(
    clippy::disallowed_methods,
    clippy::disallowed_types,
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "a tool for eyes, not a library"
)]

#[path = "../tests/common/mod.rs"]
mod common;

use common::{Dice, bars, golden, places, random_riff, riff};
use riffkin_engrave::diagram::{NeckDiagram, NeckMark, Rung, Strip, neck as neck_diagram, strip};
use riffkin_engrave::music::{Fingered, Layout, Part, engrave, fingered};
use riffkin_engrave::sheet::{Block, Paper, Rich, SheetStyle, compose};
use riffkin_engrave::{pdf, svg};
use riffkin_fretboard::fit::fit;
use riffkin_fretboard::hand::Hand;
use riffkin_fretboard::neck::Neck;
use riffkin_score::degree::{Degree, DegreeSet};
use riffkin_score::riff::Riff;
use riffkin_score::tempo::{Feel, Swing};
use riffkin_score::time::Quarters;

fn all() -> Vec<(Riff, &'static str)> {
    let mut one = bars(
        "4/4",
        "e:G1 e:Bb1 e:C2 e:Db2 q:C2 e:Bb1 e:F1 | q.:G1 e:r s:G1 s:G1 e:Bb1 q:C2^ | e.:G1 s:G1! e:Bb1 e:C2 s:Db2 s:C2 s:Bb1 s:G1 q:F1~ | h:F1 h:G1",
    );
    one[0].chords = vec![(Quarters::ZERO, "Gm7".parse().unwrap())];
    one[1].chords =
        vec![(Quarters::ZERO, "C7".parse().unwrap()), (Quarters::whole_quarters(2), "Bb".parse().unwrap())];
    one[2].chords = vec![(Quarters::ZERO, "Gm7b5".parse().unwrap_or("Gm7".parse().unwrap()))];
    one[0].repeat_start = true;
    one[2].endings = vec![1];
    one[2].repeat_end = Some(2);
    one[2].events.last_mut().unwrap().note.as_mut().unwrap().tied = false;
    one[3].endings = vec![2];
    let one = riff("Ferry Stomp", "G minor", one);
    let mut header = one.header().clone();
    header.feel = Feel::Swing(Swing::TRIPLET);
    let one = one.with_header(header);

    let mut marks = bars(
        "4/4",
        "q:G1x e:A1g e:C2H e:D2P e:C2P q:E2/ | q:E1S e:E2O e:E1S q:G2v q:G2* | e:A1m e:A1m e:A1m e:A1m h:D2l | q:F2\\ q:A2 q:D22 q:C3",
    );
    marks.insert(0, {
        let mut b = bars("4/4", "e:D2 e:E2").remove(0);
        b.short = true;
        b
    });
    let marks = riff("Wet Rope", "D Dorian", marks);

    let triplets = riff("Net Mender", "Eb major", bars("4/4", "e3:Eb1 e3:G1 e3:Bb1 q3:Eb2 e3:D2 q3:C2 q3:Bb1 q3:Ab1 | e:F#1 e:F1 s:E1 s:Eb1 s:E1 e:F1 s:r q:Gb1~ s:Gb1 e.:B1 | w:r | q:r e:r s:r s:Ab1 h.:Bb1".split('|').map(str::trim).take(1).collect::<Vec<_>>().join("|").as_str()));
    let compound = riff(
        "Low Tide Lament",
        "A minor",
        bars("6/8", "e:A1 e:C2 e:E2 q:D2 e:C2 | q.:A1 e:G1 s:A1 s:B1 e:C2 | h.:A1"),
    );
    let seven = riff(
        "Harbour Sevens",
        "E Phrygian",
        bars("7/8", "e:E1 e:F1 e:G1 e:E1 e:B1 e:A1 e:G1 | q:E1 q:E1 q.:F1"),
    );
    let rests = riff("Rests", "", bars("4/4", "w:r | h:r q:r e:r s:r t:r t:E1 | q:E1 q.:r e:C3 e:E3 e:G3"));
    let sharp = riff("Sharp End", "C# major", bars("3/4", "e:C#2 e:D2 e:D#2 e:E#2 e:B#1 e:B1 | h.:C#2"));
    let mut long = String::new();
    for i in 0..16 {
        if i > 0 {
            long.push('|');
        }
        long.push_str(
            [
                "e:E1 e:E1 e:G1 e:A1 e:E1 e:D2 e:B1 e:A1",
                "q:E1 q:G1 q:A1 q:B1",
                "s:E1 s:E1 s:G1 s:A1 e:B1 e:D2 q:E2 q:B1",
                "h:E1 h:B1",
            ][i % 4],
        );
    }
    let long = riff("Long Haul", "E minor", bars("4/4", &long));
    vec![
        (one, "four"),
        (marks, "four"),
        (triplets, "five"),
        (compound, "four"),
        (seven, "four"),
        (rests, "four"),
        (sharp, "four"),
        (long, "six"),
    ]
}

/// Degree set, marks for the neck, and names of a riff in its key.
fn material(riff: &Riff, places: &[Option<Fingered>], new: DegreeSet) -> (Strip, Vec<NeckMark>) {
    let Some(key) = riff.header().key else { return (Strip::new(DegreeSet::EMPTY), Vec::new()) };
    let mut degrees = Vec::new();
    let mut marks = Vec::new();
    for (note, place) in riff.line().iter().zip(places) {
        let Some(d) = Degree::between(key.tonic, note.note.pitch.name()) else { continue };
        degrees.push(d);
        if let Some(f) = place {
            let root = d.slot() == 0;
            marks.push(NeckMark { place: f.place, label: d.print(), root, new: new.contains(d.slot()) });
        }
    }
    (Strip::new(degrees.iter().copied().collect()).named(degrees).with_new(new), marks)
}

/// How long it takes to engrave, to write SVG and to write PDF, printed.
fn pace() {
    let mut dice = Dice(11);
    let neck = Neck::named("four").unwrap();
    let riffs: Vec<Riff> = (0..100).map(|_| random_riff(&mut dice)).collect();
    let fits: Vec<_> = riffs.iter().map(|r| places(r, &neck)).collect();
    let clock = std::time::Instant::now();
    let music: Vec<_> = riffs
        .iter()
        .zip(&fits)
        .map(|(riff, places)| engrave(&Part { riff, neck: Some(&neck), places }, &Layout::print(176.0)))
        .collect();
    println!(
        "100 riffs, {} systems: engraved in {:?}",
        music.iter().map(|m| m.systems.len()).sum::<usize>(),
        clock.elapsed()
    );
    let clock = std::time::Instant::now();
    let bytes: usize = music.iter().map(|m| svg::document(&m.stacked(5.0)).len()).sum();
    println!("as SVG, {bytes} bytes: {:?}", clock.elapsed());
    let clock = std::time::Instant::now();
    let blocks: Vec<Block> = music.into_iter().map(Block::music).collect();
    let sheet = compose(&blocks, &SheetStyle::print(Paper::A4), "");
    println!("{} pages laid out: {:?}", sheet.pages.len(), clock.elapsed());
    let clock = std::time::Instant::now();
    let file = sheet.to_pdf(&pdf::About::titled("Pace")).unwrap();
    println!("as PDF, {} bytes: {:?}", file.len(), clock.elapsed());
    let text = vec!["e:E1 e:E1 e:G1 e:A1 e:E1 e:D2 e:B1 e:A1"; 600].join("|");
    let long = riff("Long", "E minor", bars("4/4", &text));
    let fit = places(&long, &neck);
    let clock = std::time::Instant::now();
    let music = engrave(&Part { riff: &long, neck: Some(&neck), places: &fit }, &Layout::print(176.0));
    println!("600 bars, {} systems: {:?}", music.systems.len(), clock.elapsed());
}

fn main() {
    let dir = std::env::args().nth(1).expect("a folder");
    if std::env::args().nth(2).is_some_and(|a| a == "golden") {
        for (name, scene) in golden() {
            std::fs::write(format!("{dir}/{name}"), svg::document(&scene)).unwrap();
        }
        return;
    }
    if std::env::args().nth(2).is_some_and(|a| a == "pace") {
        pace();
        return;
    }
    let large = std::env::args().nth(2).is_some_and(|a| a == "large");
    let style = if large { SheetStyle::large_print(Paper::Letter) } else { SheetStyle::print(Paper::A4) };
    let mut rungs = Vec::new();
    let mut blocks = Vec::new();
    let mut known = DegreeSet::EMPTY;
    let riffs = if std::env::args().nth(2).is_some_and(|a| a == "random") {
        let mut dice = Dice(7);
        (0..24).map(|_| (random_riff(&mut dice), "four")).collect()
    } else {
        all()
    };
    for (i, (riff, neck)) in riffs.into_iter().enumerate() {
        let neck = Neck::named(neck).unwrap().left_handed(i == 1);
        let fit = fit(&riff, &neck, &Hand::default());
        let places = fit.map_or_else(|_| places(&riff, &neck), |f| fingered(&f));
        let part = Part { riff: &riff, neck: Some(&neck), places: &places };
        let width = style.column();
        let layout = if large {
            Layout::large_print(width)
        } else {
            Layout { fingers: i == 0, ..Layout::print(width) }
        };
        let music = engrave(&part, &layout);
        for w in &music.warnings {
            eprintln!("{}: {w}", riff.header().title);
        }
        std::fs::write(format!("{dir}/riff{i}.svg"), svg::document(&music.stacked(5.0))).unwrap();
        let (plain, _) = material(&riff, &places, DegreeSet::EMPTY);
        let (picture, marks) = material(&riff, &places, plain.filled.without(known));
        known = known.union(plain.filled);
        rungs.push(Rung { number: i + 1, title: riff.header().title.clone(), strip: picture.clone() });
        let (wide, gap) = style.neck_size();
        let cell = style.strip_cell();
        let diagram = neck_diagram(&NeckDiagram { neck: &neck, marks, frets: None }, wide, gap);
        if i < 2 {
            std::fs::write(format!("{dir}/neck{i}.svg"), svg::document(&diagram)).unwrap();
            std::fs::write(format!("{dir}/strip{i}.svg"), svg::document(&strip(&picture, cell))).unwrap();
        }
        let text = Rich::plain("One bar moves, the next answers. The ")
            .bold("♭3")
            .roman(" leans on the 4; let it ring and ")
            .italic("do not hurry")
            .roman(". Office fifes waffle; AVATAR kerning.");
        blocks.push(Block::Together(vec![
            Block::heading(2, format!("{}. {}", i + 1, riff.header().title)),
            Block::Paragraph(text),
            Block::Figures(vec![strip(&picture, cell), diagram]),
            Block::music(music),
        ]));
    }
    let mut sheet = vec![
        Block::heading(1, "Tuesday bass class, Skarvik"),
        Block::paragraph(
            "All riffs are in one key and in teaching order. Each rung of the ladder adds as little as it can; what is new has a doubled border.",
        ),
        Block::heading(2, "The ladder"),
        Block::Ladder(rungs),
    ];
    sheet.extend(blocks);
    sheet.push(Block::heading(2, "Homework"));
    sheet.push(Block::List { numbered: true, entries: vec!["Play Ferry Stomp at 60, then at 80.".into(), "Name the degree of every note in bar 2 of Wet Rope, and write the names under the staff. Then move the riff up two frets: which degrees change?".into()] });
    sheet.push(Block::WriteOn(2));
    sheet.push(Block::Small("Keep the volume low enough to talk over; stop when it hurts.".into()));
    let sheet = compose(&sheet, &style, "Tuesday bass class, Skarvik");
    for w in &sheet.warnings {
        eprintln!("{w}");
    }
    std::fs::write(format!("{dir}/music.pdf"), sheet.to_pdf(&pdf::About::titled("Specimen")).unwrap())
        .unwrap();
}
