//! The map as a picture.

use riffkin_engrave::diagram::{NeckDiagram, NeckMark, length, neck, upright_neck};
use riffkin_engrave::font::{Face, TextStyle, shape};
use riffkin_engrave::scene::{Anchor, Item, Role, Scene};
use riffkin_engrave::svg;
use riffkin_engrave::units::Point;
use riffkin_fretboard::shapes::{self, Map};
use riffkin_score::key::{Key, Mode};
use riffkin_score::pitch::{PitchName, Step};

use super::Shown;

/// Strings apart, in millimetres.
const GAP: f64 = 7.5;
/// Marks on the narrowest fret are this wide, in millimetres.
const MARK: f64 = 6.2;
/// Height of the letters above the picture, in millimetres.
const CAPTION: f64 = 4.0;
/// Narrower than this a picture is not drawn, in millimetres.
const NARROWEST: f64 = 60.0;

/// The picture as an SVG document, with every place in words for those who cannot see it.
pub(super) fn svg(shown: &Shown, upright: bool, names: bool) -> String {
    // Without a map, the notes without sharps and flats, by name: where everybody begins.
    let c = Key::new(PitchName::natural(Step::C), Mode::Major);
    let naturals = Map {
        title: "Notes".to_owned(),
        spots: shapes::scale_map(&shown.neck, c, shown.frets.clone()).spots,
    };
    let by_name = names || shown.map.is_none();
    let map = shown.map.as_ref().unwrap_or(&naturals);
    let marks: Vec<NeckMark> = map
        .spots
        .iter()
        .map(|spot| NeckMark {
            place: spot.place,
            label: if by_name { spot.pitch.name().print() } else { spot.degree.print() },
            root: shown.map.is_some() && spot.is_root(),
            new: false,
        })
        .collect();
    let window = (*shown.frets.start(), *shown.frets.end());
    let whole = window == (0, shown.neck.frets());
    let pattern = whole && map.spots.iter().all(|s| s.place.fret > 2);
    let frets = (!pattern).then_some(window);
    let diagram = NeckDiagram { neck: &shown.neck, marks, frets };
    let long = length(&diagram, MARK, GAP).max(NARROWEST);
    let scene = if upright { upright_neck(&diagram, long, GAP) } else { neck(&diagram, long, GAP) };
    let mut scene = captioned(scene, &map.title);
    scene.title = format!("{}, on the neck {}", map.title, shown.neck.name());
    let mut words = map.lines(&shown.neck);
    if shown.map.is_none() {
        // A degree means nothing here.
        words.iter_mut().for_each(|line| {
            if let Some((place, _)) = line.rsplit_once(", ") {
                *line = place.to_owned();
            }
        });
    }
    let hand = if shown.neck.is_left_handed() { " Drawn for the left-handed." } else { "" };
    let capo = match shown.neck.capo() {
        0 => String::new(),
        fret => format!(" With a capo at fret {fret}, from which frets are counted."),
    };
    scene.description = format!("{}.{capo}{hand}", words.join("; "));
    svg::document(&scene)
}

/// The picture below a line that says what it shows, in letters small enough for its width.
fn captioned(picture: Scene, caption: &str) -> Scene {
    let usual = TextStyle::new(Face::Bold, CAPTION);
    let width = shape(caption, usual).width.max(0.1);
    let style = TextStyle::new(Face::Bold, CAPTION * (picture.width * 0.96 / width).min(1.0));
    let mut scene = Scene::new(picture.width, picture.height + CAPTION * 1.7);
    let at = Point::new(picture.width * 0.02, CAPTION);
    scene.items.push(Item::text(caption, at, style, Anchor::Start));
    scene.items.push(picture.placed(Point::new(0.0, CAPTION * 1.7), Role::Plain));
    scene
}
