//! The family picture: which riffs are made of the same degrees, and which sets of degrees lie within others.
//!
//! Above, a table: a row for each set, its degree strip and the riffs that have it, small sets first, so that a set
//! stands below those it holds. Below, the same sets as a graph ordered by inclusion: a line leads down from a set
//! to those that hold all of it and the fewest more. Rows and boxes carry one number. Form and words only, no
//! colour.

mod graph;
mod layers;
mod table;

use crate::font::{Face, TextStyle, shape};
use crate::scene::{Anchor, Item, Role, Scene};
use crate::units::{Point, pt};
use riffkin_score::Warning;
use riffkin_score::degree::{Degree, DegreeSet};

/// Riffs of one set of degrees.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Group {
    /// The set.
    pub set: DegreeSet,
    /// The riffs' names.
    pub riffs: Vec<String>,
}

/// Sizes of a family picture in millimetres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Style {
    /// Width of the picture.
    pub width: f64,
    /// Em of its text.
    pub text: f64,
    /// Names stand above their strip and not beside it.
    pub stacked: bool,
}

impl Default for Style {
    fn default() -> Self {
        Self { width: 180.0, text: 3.6, stacked: false }
    }
}

impl Style {
    /// For a screen 360 pixels wide: 95 mm, at 96 pixels an inch.
    #[must_use]
    pub const fn narrow() -> Self {
        Self { width: 95.0, text: 3.5, stacked: true }
    }

    /// White all round.
    fn margin(&self) -> f64 {
        self.text * 0.5
    }
    fn roman(&self) -> TextStyle {
        TextStyle::new(Face::Roman, self.text)
    }
    fn bold(&self) -> TextStyle {
        TextStyle::new(Face::Bold, self.text)
    }
}

/// Most sets that are drawn; those with the fewest riffs are left out.
pub const MOST_SETS: usize = 40;
/// Most sets in the graph.
pub const MOST_BOXES: usize = 24;
/// Most names in a row.
pub const MOST_NAMES: usize = 12;

/// The picture, and what there was no room for.
#[derive(Clone, Debug, PartialEq)]
pub struct Picture {
    /// The picture.
    pub scene: Scene,
    /// Sets and names that are not drawn.
    pub left_out: Vec<Warning>,
}

/// Draws families. Groups of one set are put together; riffs without a degree are left out.
#[must_use]
pub fn picture(groups: &[Group], style: &Style) -> Picture {
    let mut left_out = Vec::new();
    let all = gathered(groups, &mut left_out);
    let shown = most_riffs(&all, MOST_SETS);
    if shown.len() < all.len() {
        left_out.push(Warning::whole(format!(
            "the picture has the {} sets of degrees with the most riffs; {} more are left out",
            shown.len(),
            all.len() - shown.len()
        )));
    }
    let boxed = most_riffs(&shown, MOST_BOXES);
    if boxed.len() < shown.len() {
        left_out.push(Warning::whole(format!(
            "the graph has {} of them; those with the fewest riffs stand in the table only",
            boxed.len()
        )));
    }
    // Drawn without its margin, then moved into it.
    let (whole, margin) = (style, style.margin());
    let style = &Style { width: whole.width - 2.0 * margin, ..*whole };
    let mut scene = Scene::new(whole.width, 0.0);
    scene.title = "Families of riffs by their degrees".to_owned();
    scene.description = words(&shown);
    let mut y = heading(&mut scene, "Riffs by their degrees", 0.0, style);
    y = table::table(&mut scene, &shown, y, style, &mut left_out);
    if boxed.len() > 1 {
        y = heading(&mut scene, "Which lie within which", y + style.text * 1.6, style);
        y = note(&mut scene, "A line leads down to a set that has all of these degrees and more.", y, style);
        let numbers: Vec<(usize, &Group)> =
            shown.iter().enumerate().filter(|(_, g)| boxed.contains(g)).map(|(i, g)| (i + 1, g)).collect();
        y = graph::graph(&mut scene, &numbers, y + style.text * 0.5, style);
    }
    scene.items = scene.items.into_iter().map(|item| item.shifted(margin, margin)).collect();
    scene.height = y + pt(2.0) + 2.0 * margin;
    Picture { scene, left_out }
}

/// Groups by set, small sets first, of one size those with the most riffs first.
fn gathered(groups: &[Group], left_out: &mut Vec<Warning>) -> Vec<Group> {
    let mut by_set: std::collections::BTreeMap<DegreeSet, Vec<String>> = std::collections::BTreeMap::new();
    for group in groups {
        by_set.entry(group.set).or_default().extend(group.riffs.iter().cloned());
    }
    if let Some(none) = by_set.remove(&DegreeSet::EMPTY) {
        left_out.push(Warning::whole(format!("without a degree, and so left out: {}", none.join(", "))));
    }
    let mut all: Vec<Group> = by_set.into_iter().map(|(set, riffs)| Group { set, riffs }).collect();
    all.sort_by_key(|g| (g.set.len(), std::cmp::Reverse(g.riffs.len()), g.set));
    all
}

/// The groups with the most riffs, in their order.
fn most_riffs(groups: &[Group], most: usize) -> Vec<Group> {
    let mut order: Vec<usize> = (0..groups.len()).collect();
    order.sort_by_key(|&i| (std::cmp::Reverse(groups.get(i).map_or(0, |g| g.riffs.len())), i));
    order.truncate(most);
    order.sort_unstable();
    order.into_iter().filter_map(|i| groups.get(i).cloned()).collect()
}

/// The degrees under their usual names, as printed.
fn names(set: DegreeSet) -> String {
    set.slots().map(|s| Degree::usual(s).print()).collect::<Vec<_>>().join(" ")
}

/// Which of the sets lie directly below a set: hold all of it, and no other of them lies between. By index.
fn holders(sets: &[DegreeSet], at: usize) -> Vec<usize> {
    let Some(&set) = sets.get(at) else { return Vec::new() };
    let above = |small: DegreeSet, large: DegreeSet| small != large && small.is_within(large);
    (0..sets.len())
        .filter(|&i| above(set, sets[i]) && !sets.iter().any(|&s| above(set, s) && above(s, sets[i])))
        .collect()
}

/// The whole picture in sentences.
fn words(groups: &[Group]) -> String {
    let sets: Vec<DegreeSet> = groups.iter().map(|g| g.set).collect();
    let sentences = groups.iter().enumerate().map(|(i, group)| {
        let held: Vec<String> = holders(&sets, i).iter().map(|h| (h + 1).to_string()).collect();
        let within = if held.is_empty() { String::new() } else { format!(" Within {}.", held.join(", ")) };
        let (riffs, more) = shortened(&group.riffs);
        format!("{}: degrees {}. Riffs: {}{more}.{within}", i + 1, names(group.set), riffs.join(", "))
    });
    if groups.is_empty() { "No riffs.".to_owned() } else { sentences.collect::<Vec<_>>().join(" ") }
}

/// The first names, and how many more there are.
fn shortened(riffs: &[String]) -> (&[String], String) {
    let shown = riffs.get(..riffs.len().min(MOST_NAMES)).unwrap_or_default();
    let more = riffs.len() - shown.len();
    (shown, if more > 0 { format!(" and {more} more") } else { String::new() })
}

fn heading(scene: &mut Scene, text: &str, y: f64, style: &Style) -> f64 {
    let size = style.text * 1.25;
    let at = Point::new(0.0, y + size);
    let item = Item::text(text, at, TextStyle::new(Face::Bold, size), Anchor::Start);
    scene.items.push(Item::group(Role::Heading(2), vec![item]));
    y + size * 1.6
}

fn note(scene: &mut Scene, text: &str, y: f64, style: &Style) -> f64 {
    let italic = TextStyle::new(Face::Italic, style.text);
    let mut y = y;
    let lines = wrapped(text, italic, style.width);
    let items = lines.into_iter().map(|line| {
        y += style.text * 1.2;
        Item::text(line, Point::new(0.0, y), italic, Anchor::Start)
    });
    let items = items.collect();
    scene.items.push(Item::group(Role::Paragraph, items));
    y + style.text * 0.4
}

/// Breaks words into lines no wider than `room`; a single long word is made shorter with dots.
fn wrapped(text: &str, style: TextStyle, room: f64) -> Vec<String> {
    let width = |text: &str| shape(text, style).width;
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        let mut word = word.to_owned();
        while width(&word) > room && word.chars().count() > 2 {
            word = word.trim_end_matches('…').to_owned();
            word.pop();
            word.push('…');
        }
        match lines.last_mut() {
            Some(line) if width(&format!("{line} {word}")) <= room => {
                line.push(' ');
                line.push_str(&word);
            }
            _ => lines.push(word),
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    fn set(text: &str) -> DegreeSet {
        text.split_whitespace().filter_map(|d| d.parse::<Degree>().ok()).collect()
    }

    fn group(degrees: &str, riffs: &[&str]) -> Group {
        Group { set: set(degrees), riffs: riffs.iter().map(ToString::to_string).collect() }
    }

    fn some() -> Vec<Group> {
        vec![
            group("1 b3 4 b5 5 b7", &["Net Mender"]),
            group("1 b3 4 5 b7", &["Wet Rope", "Ferry Stomp"]),
            group("1 5", &["Ballast"]),
            group("1 2 3 5 6", &["Pier Light"]),
            group("1 2 3 4 5 6 7", &["Lantern Walk"]),
        ]
    }

    /// A set is joined to those that hold it with nothing between: checked against the definition.
    #[test]
    fn lines_are_those_of_inclusion_alone() {
        let sets: Vec<DegreeSet> = (0..4096).step_by(37).map(DegreeSet::from_bits).collect();
        for i in 0..sets.len() {
            let direct = holders(&sets, i);
            for (j, &other) in sets.iter().enumerate() {
                let inside = i != j && sets[i].is_within(other);
                // Reached by going down line by line exactly when it holds the set.
                let mut reached = vec![i];
                let mut next = 0;
                while next < reached.len() {
                    for h in holders(&sets, reached[next]) {
                        if !reached.contains(&h) {
                            reached.push(h);
                        }
                    }
                    next += 1;
                }
                assert_eq!(reached.contains(&j), inside || i == j);
                if direct.contains(&j) {
                    assert!(inside);
                }
            }
            if i > 12 {
                break;
            }
        }
    }

    #[test]
    fn words_say_what_is_seen() {
        let drawn = picture(&some(), &Style::default());
        let said = &drawn.scene.description;
        assert!(said.starts_with("1: degrees 1 5. Riffs: Ballast. Within 2, 3."), "{said}");
        assert!(said.contains("Riffs: Wet Rope, Ferry Stomp. Within 4."), "{said}");
        assert!(drawn.left_out.is_empty() && !drawn.scene.title.is_empty());
        assert!(drawn.scene.missing_characters().is_empty());
    }

    #[test]
    fn nothing_leaves_the_picture() {
        for style in [Style::default(), Style::narrow()] {
            let mut groups = some();
            let long = "Herringbarrelkeeper".repeat(6);
            groups.push(group("1 b2", &[&long, "Low Tide Lament"]));
            groups.extend((1..200u16).map(|b| Group {
                set: DegreeSet::from_bits(b * 20 + 1),
                riffs: vec![format!("Riff {b}"); usize::from(b % 30)],
            }));
            let drawn = picture(&groups, &style);
            let ink = drawn.scene.bounds();
            // A line may be half its own thickness nearer.
            let (left, top) = (style.margin() - 0.1, style.margin());
            assert!(ink.left >= left && ink.right <= style.width - left, "{ink:?}");
            assert!(ink.top >= top && ink.bottom <= drawn.scene.height - top, "{ink:?}");
            assert!(!drawn.left_out.is_empty(), "what has no room is named");
        }
        assert!(picture(&[], &Style::default()).scene.description.contains("No riffs"));
    }
}
