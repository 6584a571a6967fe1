//! Pictures compared letter by letter, so that no change of the look goes unseen. To accept one, see
//! `examples/specimen.rs`.

mod common;

use riffkin_engrave::svg;

#[test]
fn pictures_are_as_they_were() {
    let kept = [
        ("music.svg", include_str!("golden/music.svg")),
        ("strip.svg", include_str!("golden/strip.svg")),
        ("neck.svg", include_str!("golden/neck.svg")),
        ("neck-left.svg", include_str!("golden/neck-left.svg")),
        ("ladder.svg", include_str!("golden/ladder.svg")),
    ];
    let drawn = common::golden();
    assert_eq!(drawn.len(), kept.len());
    for ((name, scene), (file, wanted)) in drawn.iter().zip(kept) {
        assert_eq!(*name, file);
        let text = svg::document(scene);
        let differs = text.lines().zip(wanted.lines()).position(|(a, b)| a != b);
        assert!(
            text == wanted,
            "{name} changed, first at line {:?}; look at the new picture, then accept it as examples/specimen.rs says",
            differs.map(|n| n + 1)
        );
    }
}
