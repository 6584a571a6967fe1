//! The invented Tuesday bass class at the community hall of Skarvik, kept in the program.

use std::path::Path;

use riffkin_engrave::sheet::Paper;
use riffkin_fretboard::hand::Hand;
use riffkin_fretboard::neck::{Neck, NeckError};
use riffkin_score::degree::DegreeSet;
use riffkin_score::pitch::{PitchName, Step};

use super::lesson::{Look, Order};
use super::output::{self, WriteError};

/// Files by name, as they came to the teacher.
macro_rules! class {
    ($($name:literal)*) => { [$(($name, include_bytes!(concat!("../../../../demo/class/", $name)).as_slice())),*] };
}

/// The class's riffs: riff notation, MusicXML, MIDI, typed tablature and a recording.
const CLASS: &[(&str, &[u8])] = &class![
    "ballast.riff"
    "bilge-pump.mid"
    "bollard-bounce.riff"
    "ciaccona.riff"
    "cold-quay-creep.riff"
    "crab-pot-count.txt"
    "deep-hold.riff"
    "ferry-stomp.riff"
    "fog-horn-five.riff"
    "folia.riff"
    "gull-on-the-roof.riff"
    "herring-ledger.mxl"
    "herring-queue.riff"
    "lantern-walk.musicxml"
    "low-tide-lament.riff"
    "mooring-line.flac"
    "net-mender.riff"
    "oilskin-strut.riff"
    "passamezzo-antico.riff"
    "pier-light.riff"
    "romanesca.riff"
    "rowlock-reel.riff"
    "seven-oars.riff"
    "slipway-shuffle.riff"
    "tar-barrel-hop.riff"
    "wet-rope.riff"
];

/// Writes the class's riffs into a folder.
///
/// # Errors
/// [`WriteError`].
pub fn unpack(folder: &Path) -> Result<(), WriteError> {
    output::make_folder(folder)?;
    CLASS.iter().try_for_each(|(name, bytes)| output::write_whole(&folder.join(name), bytes))
}

/// The lesson that the class gets: everything on G, four strings.
///
/// # Errors
/// [`NeckError`], never for the neck named here.
pub fn order() -> Result<Order, NeckError> {
    Ok(Order {
        look: Look {
            title: "Tuesday bass class, Skarvik".to_owned(),
            neck: Neck::named("four")?,
            hand: Hand::default(),
            paper: Paper::A4,
        },
        tonic: Some(PitchName::natural(Step::G)),
        known: DegreeSet::EMPTY,
    })
}
