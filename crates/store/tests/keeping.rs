//! Riffs are added, changed, removed, taken back, purged; every state is kept.

#![allow(clippy::unwrap_used, reason = "a test stops where it fails")]

mod common;

use common::{Folder, add, content, facts, open};
use riffkin_store::history::{Deed, Field};
use riffkin_store::imports::Import;
use riffkin_store::necks::KeptNeck;
use riffkin_store::prints::{Prints, Renewed};
use riffkin_store::riff::{Change, ChangedRiff, Content, New};
use riffkin_store::search::{Order, Wanted};
use riffkin_store::settings::Setting;
use riffkin_store::whole::Former;
use riffkin_store::{Moment, Permission, RiffId, Shelf, StoreError};

fn shelf(name: &str) -> (Folder, Shelf) {
    let folder = Folder::new(name);
    let shelf = open(&folder.file("a.shelf"));
    (folder, shelf)
}

fn titles(shelf: &Shelf, wanted: &Wanted) -> Vec<String> {
    let found = shelf.find(wanted).unwrap();
    assert_eq!(shelf.count_of(wanted).unwrap(), found.len() as u64);
    found.into_iter().map(|e| e.title).collect()
}

fn words(text: &str) -> Wanted {
    Wanted { words: text.to_owned(), ..Wanted::default() }
}

fn tagged(tags: &[&str]) -> Change {
    Change { tags: Some(tags.iter().map(|t| (*t).to_owned()).collect()), ..Change::default() }
}

fn renamed(title: &str, notes: bool) -> Change {
    let riff = ChangedRiff {
        title: title.to_owned(),
        notation: format!("riff: {title}\n| w D2 |\n"),
        facts: facts("D minor", 9),
        prints: Some(Prints { version: 1, likeness: vec![9], imprint: vec![9] }),
        notes,
    };
    Change { riff: Some(riff), ..Change::default() }
}

#[test]
fn every_change_keeps_the_state_before_it() {
    let (_folder, mut shelf) = shelf("history");
    let id = add(&mut shelf, &content("Ballast"), &facts("A minor", 1), 10);
    assert_eq!(shelf.change(id, &tagged(&["slow", "Slow", "first"]), Moment(20)).unwrap(), 2);
    let change = Change {
        source: Some("invented".into()),
        permission: Some(Permission::OwnWork),
        note: Some("count\naloud".into()),
        ..renamed("Deep Hold", true)
    };
    assert_eq!(shelf.change(id, &change, Moment(30)).unwrap(), 3);
    // The same once more changes nothing and makes no edition.
    assert_eq!(shelf.change(id, &change, Moment(40)).unwrap(), 3);

    let history = shelf.history(id).unwrap();
    let deeds: Vec<_> = history.iter().map(|e| (e.number, e.at.0, e.deed.clone())).collect();
    let all = vec![Field::Notes, Field::Title, Field::Source, Field::Permission, Field::Note];
    assert_eq!(
        deeds,
        [(1, 10, Deed::Added), (2, 20, Deed::Changed(vec![Field::Tags])), (3, 30, Deed::Changed(all))]
    );
    assert_eq!(history[0].content, content("Ballast"));
    assert_eq!(history[1].content.tags, ["first", "slow"]);
    let entry = shelf.entry(id).unwrap();
    assert_eq!(
        (entry.title.as_str(), entry.facts.key.as_str(), entry.changed),
        ("Deep Hold", "D minor", Moment(30))
    );
    assert_eq!(shelf.content(id).unwrap(), history[2].content);

    // Going back is a new edition equal to the old one.
    let back = shelf.back_to(id, 1, &facts("A minor", 1), &Prints::default(), Moment(50)).unwrap();
    let newest = shelf.edition(id, back).unwrap();
    assert_eq!((newest.deed, newest.content), (Deed::BackTo(1), content("Ballast")));
    assert_eq!(shelf.entry(id).unwrap().facts, facts("A minor", 1));
    assert!(shelf.tags().unwrap().is_empty(), "tags went back too");
    assert_eq!(titles(&shelf, &words("deep")), Vec::<String>::new());
    assert_eq!(titles(&shelf, &words("ballast")), ["Ballast"]);
    assert_eq!(shelf.faults().unwrap(), Vec::<String>::new());
    assert!(matches!(
        shelf.back_to(id, 9, &facts("", 1), &Prints::default(), Moment(60)),
        Err(StoreError::NoSuchEdition { asked: 9, newest: 4, .. })
    ));
    assert!(matches!(shelf.edition(id, 0), Err(StoreError::NoSuchEdition { .. })));
}

#[test]
fn a_change_of_what_changed_meanwhile_is_refused() {
    let (_folder, mut shelf) = shelf("expected");
    let id = add(&mut shelf, &content("One"), &facts("", 1), 1);
    shelf.change(id, &tagged(&["a"]), Moment(2)).unwrap();
    let late = Change { expected: Some(1), ..tagged(&["b"]) };
    assert!(matches!(
        shelf.change(id, &late, Moment(3)),
        Err(StoreError::Changed { expected: 1, found: 2, .. })
    ));
    assert_eq!(shelf.content(id).unwrap().tags, ["a"]);
}

#[test]
fn removed_riffs_come_back_and_purged_ones_do_not() {
    let (folder, mut shelf) = shelf("remove");
    let id = add(&mut shelf, &content("Quarrelsome Heron"), &facts("", 1), 1);
    shelf.change(id, &tagged(&["rare"]), Moment(2)).unwrap();
    assert!(matches!(shelf.purge(&[id]), Err(StoreError::NotRemoved(_))));
    assert_eq!(shelf.remove(id, Moment(3)).unwrap(), 3);
    assert_eq!(shelf.remove(id, Moment(4)).unwrap(), 3, "removed once is removed");
    assert_eq!(shelf.count().unwrap(), (0, 1));
    assert!(titles(&shelf, &words("heron")).is_empty() && shelf.tags().unwrap().is_empty());
    assert_eq!(titles(&shelf, &Wanted { removed: true, ..words("heron") }), ["Quarrelsome Heron"]);
    shelf.take_back(id, Moment(5)).unwrap();
    assert_eq!(
        titles(&shelf, &Wanted { tags: vec!["RARE".into()], ..words("heron") }),
        ["Quarrelsome Heron"]
    );
    shelf.remove(id, Moment(6)).unwrap();
    shelf.purge(&[id]).unwrap();
    assert!(matches!(shelf.entry(id), Err(StoreError::NoSuchRiff(_))));
    assert_eq!(shelf.faults().unwrap(), Vec::<String>::new());
    // Its number is not used again.
    assert_eq!(add(&mut shelf, &content("Other"), &facts("", 1), 7), RiffId(id.0 + 1));
    drop(shelf);
    let bytes = std::fs::read(folder.file("a.shelf")).unwrap();
    let left = |word: &[u8]| bytes.windows(word.len()).any(|w| w.eq_ignore_ascii_case(word));
    assert!(!left(b"quarrelsome") && left(b"Other"), "what was purged is overwritten in the file");
}

#[test]
fn words_are_found_whatever_they_look_like() {
    let (_folder, mut shelf) = shelf("words");
    let put = |shelf: &mut Shelf, title: &str, source: &str, note: &str, tags: &[&str]| {
        let content = Content {
            source: source.into(),
            note: note.into(),
            tags: tags.iter().map(|t| (*t).to_owned()).collect(),
            ..content(title)
        };
        add(shelf, &content, &facts("", 1), 1)
    };
    put(&mut shelf, "Ängelholm Stroll", "a fisherman's tune", "say \"one\" aloud", &["first term"]);
    put(&mut shelf, "Rope🎸Work", "", "OR NOT NEAR(x)", &["100%"]);
    put(&mut shelf, "日本の歌", "", "", &[]);
    for (asked, found) in [
        ("angel", "Ängelholm Stroll"),
        ("ÄNGELHOLM", "Ängelholm Stroll"),
        ("stroll fisher", "Ängelholm Stroll"),
        ("\"one\"", "Ängelholm Stroll"),
        ("fisherman's", "Ängelholm Stroll"),
        ("term first", "Ängelholm Stroll"),
        ("🎸", "Rope🎸Work"),
        ("rope 🎸 work", "Rope🎸Work"),
        ("🎸🏽", "Rope🎸Work"),
        ("or not near", "Rope🎸Work"),
        ("100%", "Rope🎸Work"),
        ("日本", "日本の歌"),
    ] {
        assert_eq!(titles(&shelf, &words(asked)), [found], "{asked}");
    }
    for nothing in [
        "\"",
        "\"\"\"",
        "*",
        "title:x",
        "a OR",
        "()",
        "-",
        "z* \"",
        "^",
        "\0",
        "rope\0angel",
        "{}",
        "+",
        "strollx",
        "🦭",
    ] {
        assert_eq!(titles(&shelf, &words(nothing)), Vec::<String>::new(), "{nothing:?}");
    }
    assert_eq!(titles(&shelf, &words("rope -")), ["Rope🎸Work"], "a sign among words does not matter");
    assert_eq!(titles(&shelf, &words("  ")).len(), 3, "no words ask for nothing");
}

#[test]
fn a_huge_title_is_kept_and_a_monstrous_one_refused() {
    let (_folder, mut shelf) = shelf("huge");
    let huge = format!("{}needle", "haystack ".repeat(100_000));
    let id = add(&mut shelf, &content(&huge), &facts("", 1), 1);
    assert_eq!(shelf.content(id).unwrap().title, huge);
    assert_eq!(shelf.find(&words("needle")).unwrap().len(), 1);
    let monstrous = Content { title: "x".repeat(2 << 20), ..Content::default() };
    let (facts, prints) = (facts("", 1), Prints::default());
    let refused =
        shelf.add(&[New { content: &monstrous, facts: &facts, prints: &prints, import: None }], Moment(1));
    assert!(matches!(refused, Err(StoreError::TooLong { what: "the title", .. })));
    assert_eq!(shelf.count().unwrap(), (1, 0));
}

#[test]
fn facts_choose_and_order_riffs() {
    let (_folder, mut shelf) = shelf("facts");
    // Bits: 1 = root, 1 << 3 = minor third, 1 << 7 = fifth, 1 << 10 = minor seventh.
    for (title, key, degrees, at) in [
        ("b", "G minor", 1 | 1 << 3 | 1 << 7, 3),
        ("a", "~G", 1 | 1 << 7, 2),
        ("C", "Gb minor", 1 | 1 << 10, 1),
    ] {
        add(&mut shelf, &content(title), &facts(key, degrees), at);
    }
    let key = |key: &str| Wanted { key: Some(key.into()), ..Wanted::default() };
    assert_eq!(titles(&shelf, &key("g")), ["b", "a"]);
    assert_eq!(titles(&shelf, &key("G Minor")), ["b"]);
    assert_eq!(titles(&shelf, &key("G%")), Vec::<String>::new());
    let within = Wanted { within: Some(1 | 1 << 3 | 1 << 7), ..Wanted::default() };
    assert_eq!(titles(&shelf, &within), ["b", "a"]);
    assert_eq!(titles(&shelf, &Wanted { having: 1 << 3, ..within }), ["b"]);
    assert_eq!(titles(&shelf, &Wanted { within: Some(0), ..Wanted::default() }), Vec::<String>::new());
    assert_eq!(titles(&shelf, &Wanted { order: Order::Title, ..Wanted::default() }), ["a", "b", "C"]);
    assert_eq!(titles(&shelf, &Wanted { order: Order::Changed, ..Wanted::default() }), ["b", "a", "C"]);
    let page = Wanted { order: Order::Title, skip: 1, most: Some(1), ..Wanted::default() };
    assert_eq!(shelf.find(&page).unwrap()[0].title, "b");
    assert_eq!(shelf.count_of(&page).unwrap(), 3);
    let id = shelf.find(&key("Gb")).unwrap()[0].id;
    let allowed = Change { permission: Some(Permission::PublicDomain), ..Change::default() };
    shelf.change(id, &allowed, Moment(9)).unwrap();
    let free = Wanted { permission: Some(Permission::PublicDomain), ..Wanted::default() };
    assert_eq!(titles(&shelf, &free), ["C"]);
    assert_eq!(
        titles(&shelf, &Wanted { permission: Some(Permission::OwnWork), ..free }),
        Vec::<String>::new()
    );
}

#[test]
fn several_are_added_together_or_not_at_all() {
    let (_folder, mut shelf) = shelf("batch");
    let (good, bad) = (content("Good"), Content { note: "x".repeat(2 << 20), ..content("Bad") });
    let (facts, prints) = (facts("", 1), Prints::default());
    let new = |content| New { content, facts: &facts, prints: &prints, import: None };
    assert!(shelf.add(&[new(&good), new(&bad)], Moment(1)).is_err());
    assert_eq!(shelf.count().unwrap(), (0, 0));
    assert_eq!(shelf.add(&[new(&good), new(&good)], Moment(1)).unwrap(), [RiffId(1), RiffId(2)]);
}

#[test]
fn files_and_likeness_tell_what_came_before() {
    let (_folder, mut shelf) = shelf("before");
    let (content, facts) = (content("One"), facts("", 1));
    let prints = Prints { version: 4, likeness: vec![0, 255], imprint: vec![7] };
    let import = Import { digest: vec![0, 1, 2], name: "one.mid".into(), kind: "MIDI".into() };
    let new = New { content: &content, facts: &facts, prints: &prints, import: Some(&import) };
    let id = shelf.add(&[new], Moment(5)).unwrap()[0];
    assert_eq!(shelf.with_digest(&[0, 1, 2]).unwrap(), Some(id));
    assert_eq!(shelf.with_digest(&[0, 1]).unwrap(), None);
    assert_eq!(shelf.alike(4, &[0, 255], 10).unwrap(), [id]);
    assert_eq!(shelf.alike(3, &[0, 255], 10).unwrap(), []);
    let second = Import { digest: vec![9], name: "two.mid".into(), ..import.clone() };
    shelf.seen(id, &second, Moment(6)).unwrap();
    assert_eq!(shelf.with_digest(&[9]).unwrap(), Some(id));
    let files: Vec<_> =
        shelf.imports(id).unwrap().into_iter().map(|i| (i.import.name, i.kept, i.at.0)).collect();
    assert_eq!(files, [("one.mid".into(), true, 5), ("two.mid".into(), false, 6)]);
    assert!(matches!(shelf.seen(RiffId(99), &second, Moment(6)), Err(StoreError::NoSuchRiff(_))));

    assert_eq!(shelf.outdated_prints(4, 10).unwrap(), []);
    assert_eq!(shelf.outdated_prints(5, 10).unwrap(), [id]);
    let new = |edition| Renewed {
        id,
        edition,
        facts: common::facts("~C", 3),
        prints: Prints { version: 5, ..prints.clone() },
    };
    shelf.renew(&[new(2)]).unwrap();
    assert_eq!(shelf.outdated_prints(5, 10).unwrap(), [id], "another edition than the one that was read");
    shelf.renew(&[new(1)]).unwrap();
    assert_eq!(shelf.entry(id).unwrap().facts, common::facts("~C", 3));
    assert_eq!(shelf.history(id).unwrap().len(), 1);
    assert_eq!(shelf.prints(id).unwrap(), Some(new(1).prints));
    let mut seen = Vec::new();
    shelf
        .each_imprint(|i| {
            seen.push((i.id, i.title.to_owned(), i.bytes.to_vec()));
            true
        })
        .unwrap();
    assert_eq!(seen, [(id, "One".to_owned(), vec![7])]);
    // Who looked before another riff came is told to look again.
    let newest = shelf.newest().unwrap();
    let (other, facts) = (common::content("Other"), common::facts("", 1));
    let prints = Prints { version: 1, likeness: vec![9], imprint: vec![9] };
    let new = New { content: &other, facts: &facts, prints: &prints, import: None };
    let added = shelf.add_next(newest, &new, Moment(7)).unwrap();
    assert_eq!(added, Some(RiffId(newest.0 + 1)));
    assert_eq!(shelf.add_next(newest, &new, Moment(7)).unwrap(), None);
    // Once purged, the same file may come again.
    shelf.remove(id, Moment(7)).unwrap();
    shelf.purge(&[id]).unwrap();
    assert_eq!(shelf.with_digest(&[0, 1, 2]).unwrap(), None);
}

#[test]
fn a_whole_riff_goes_from_shelf_to_shelf() {
    let (folder, mut here) = shelf("whole");
    add(&mut here, &content("Gone"), &facts("", 1), 1);
    let id = add(&mut here, &content("Ballast"), &facts("A minor", 1), 2);
    here.change(id, &tagged(&["x", "a b"]), Moment(3)).unwrap();
    here.change(id, &renamed("Deep Hold", true), Moment(4)).unwrap();
    here.remove(id, Moment(5)).unwrap();
    let whole = here.whole(id).unwrap();
    let former = Former {
        id,
        editions: whole.editions.clone(),
        imports: whole.imports.clone(),
        facts: whole.entry.facts.clone(),
        prints: here.prints(id).unwrap().unwrap(),
    };
    let mut there = open(&folder.file("b.shelf"));
    assert_eq!(there.put_back(std::slice::from_ref(&former)).unwrap(), [id], "an unused number is kept");
    assert_eq!(there.whole(id).unwrap(), whole);
    assert_eq!(there.faults().unwrap(), Vec::<String>::new());
    let again = there.put_back(std::slice::from_ref(&former)).unwrap()[0];
    assert_eq!(again, RiffId(id.0 + 1), "a number that was used is not");
    // The highest number of all would be the last: riffs could not be added any more.
    let last = Former { id: RiffId(i64::MAX), ..former.clone() };
    assert_eq!(there.put_back(&[last]).unwrap(), [RiffId(id.0 + 2)]);
    let mut broken = former;
    broken.editions.remove(0);
    assert!(there.put_back(&[broken]).is_err());
}

#[test]
fn necks_and_settings_are_kept_by_name() {
    let (_folder, mut shelf) = shelf("names");
    let neck = KeptNeck { name: "Élan 34".into(), version: 1, body: "{}".into(), changed: Moment(1) };
    shelf.keep_neck(&neck).unwrap();
    let other = KeptNeck { name: "ÉLAN 34".into(), body: "{\"frets\":24}".into(), ..neck };
    shelf.keep_neck(&other).unwrap();
    assert_eq!(shelf.necks().unwrap(), std::slice::from_ref(&other));
    assert_eq!(shelf.neck("élan 34").unwrap(), Some(other));
    assert!(shelf.forget_neck("Élan 34").unwrap() && !shelf.forget_neck("Élan 34").unwrap());
    let taste =
        Setting { name: "taste".into(), version: 3, body: vec![0, 159, 146, 150], changed: Moment(2) };
    shelf.keep_setting(&taste).unwrap();
    assert_eq!(shelf.setting("taste").unwrap(), Some(taste.clone()));
    assert_eq!(shelf.settings().unwrap(), [taste]);
    assert!(shelf.forget_setting("taste").unwrap() && shelf.setting("taste").unwrap().is_none());
}
