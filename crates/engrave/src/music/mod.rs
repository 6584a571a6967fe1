//! One monophonic bass line on staff and tablature, in systems of a given width.
//!
//! Inside this module lengths are staff spaces, y down, with the staff's middle line at zero; a finished system
//! is scaled to millimetres. The order of work: what stands in each bar (`bar`), how wide it is (`spacing`),
//! where the systems break, and only then shapes (`system`).

mod accidentals;
mod bar;
mod beam;
mod grouping;
mod marks;
mod rows;
mod skyline;
mod spacing;
mod staff;
mod system;
mod tab;
mod words;

use crate::scene::Scene;
use crate::units::pt;
use riffkin_fretboard::fit::Fit;
use riffkin_fretboard::neck::Neck;
use riffkin_score::Warning;
use riffkin_score::note::Place;
use riffkin_score::riff::Riff;

/// Where a note is played.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Fingered {
    /// String (1 the highest) and fret.
    pub place: Place,
    /// Fretting finger 1 to 4, 0 for an open string.
    pub finger: Option<u8>,
}

/// The places of a fit, one for each note of the riff's line.
#[must_use]
pub fn fingered(fit: &Fit) -> Vec<Option<Fingered>> {
    let mut out = Vec::with_capacity(fit.notes.len());
    for note in &fit.notes {
        if out.len() <= note.line {
            out.resize(note.line + 1, None);
        }
        if let Some(slot) = out.get_mut(note.line) {
            *slot = Some(Fingered { place: note.place, finger: Some(note.finger) });
        }
    }
    out
}

/// What to engrave: a riff, and where its notes lie on a neck.
#[derive(Clone, Copy, Debug)]
pub struct Part<'a> {
    /// The notes.
    pub riff: &'a Riff,
    /// The neck; with one there is a tablature.
    pub neck: Option<&'a Neck>,
    /// The place of each note of [`Riff::line`], in its order. May be shorter: the rest has no number.
    pub places: &'a [Option<Fingered>],
}

/// Which rows stand with the staff, and how large everything is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Layout {
    /// Width of a system in millimetres.
    pub width: f64,
    /// Distance of staff lines in millimetres; 1.75 gives the usual 7 mm staff.
    pub space: f64,
    /// A row of degree names under the music, when the riff has a key.
    pub degrees: bool,
    /// A row of fingers under the tablature.
    pub fingers: bool,
    /// Tempo and swing above the first bar.
    pub tempo: bool,
    /// Stretch the last system to the full width too.
    pub full_last: bool,
}

impl Layout {
    /// A 7 mm staff in a column of `width` millimetres, with degrees and tempo, without fingers.
    #[must_use]
    pub const fn print(width: f64) -> Self {
        Self { width, space: 1.75, degrees: true, fingers: false, tempo: true, full_last: false }
    }

    /// The same at one and a half times the size, for readers who need large print (18 pt and more for text:
    /// the smallest figure is then about 15 pt high).
    #[must_use]
    pub const fn large_print(width: f64) -> Self {
        Self { space: 2.6, ..Self::print(width) }
    }
}

/// One line of music.
#[derive(Clone, Debug, PartialEq)]
pub struct System {
    /// The shapes; the scene's description says in words what stands in the bars.
    pub scene: Scene,
    /// Number of the first bar as printed.
    pub first_bar: u32,
    /// Number of the last bar as printed.
    pub last_bar: u32,
}

/// An engraved riff.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Engraved {
    /// Its lines from top to bottom. No bar is split.
    pub systems: Vec<System>,
    /// What could not be shown as asked.
    pub warnings: Vec<Warning>,
}

impl Engraved {
    /// All systems one under another as a single picture, `gap` millimetres apart.
    #[must_use]
    pub fn stacked(&self, gap: f64) -> Scene {
        let mut out = Scene::default();
        for (i, s) in self.systems.iter().enumerate() {
            if i == 0 {
                out.title.clone_from(&s.scene.title);
            } else {
                out.height += gap;
                out.description.push(' ');
            }
            out.description.push_str(&s.scene.description);
            let at = crate::units::Point::new(0.0, out.height);
            out.items.push(s.scene.clone().placed(at, crate::scene::Role::Plain));
            out.height += s.scene.height;
            out.width = out.width.max(s.scene.width);
        }
        out
    }
}

/// The least system width that is honoured: 30 mm. Narrower asks are widened, with a warning.
pub const LEAST_WIDTH: f64 = 30.0;

/// Engraves a riff.
///
/// A bar that is too wide for the system is drawn on a smaller staff, with a warning. Sizes out of range are
/// brought into range, with a warning.
#[must_use]
pub fn engrave(part: &Part<'_>, layout: &Layout) -> Engraved {
    let mut warnings = Vec::new();
    let layout = sane(layout, &mut warnings);
    let bars = bar::prepare(part, &layout, &mut warnings);
    let prefix = system::Prefix::new(part, bars.signature);
    let room = layout.width / layout.space;
    let lines = spacing::break_lines(&bars.list, &prefix, room);
    let mut systems = Vec::with_capacity(lines.len());
    for (i, line) in lines.iter().enumerate() {
        let stretch = i + 1 < lines.len() || layout.full_last;
        systems.push(system::draw(part, &layout, &bars, &prefix, line.clone(), stretch, &mut warnings));
    }
    Engraved { systems, warnings }
}

fn sane(layout: &Layout, warnings: &mut Vec<Warning>) -> Layout {
    let mut out = *layout;
    if !out.space.is_finite() || !(0.5..=10.0).contains(&out.space) {
        out.space = 1.75;
        warnings
            .push(Warning::whole("the staff size lies outside 0.5 to 10 mm between lines; 1.75 mm is used"));
    }
    if !out.width.is_finite() || out.width < LEAST_WIDTH {
        out.width = LEAST_WIDTH;
        warnings.push(Warning::whole("the page is too narrow for music; systems are 30 mm wide"));
    }
    out
}

/// Millimetres between systems on a page.
#[must_use]
pub fn system_gap() -> f64 {
    pt(14.0)
}
