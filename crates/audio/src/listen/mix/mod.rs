//! A bass among other instruments: the front end for a full mix.
//!
//! Drums, chords and a lead share the spectrum with the bass, so neither a period nor a rise of the whole level tells
//! of it. What tells is the pattern of partials above each pitch, what lies between and below them, and whether these
//! very partials rise or turn over. [`spectra`] lays the sound out so that such patterns look alike at every pitch;
//! [`scores`] weighs them.

mod scores;
mod spectra;

use crate::listen::evidence::{Evidence, Frame, FrontEnd, LOWEST_MIDI, PITCHES};
use crate::resample::resampled;
use crate::{Clip, SampleRate, Seconds};
use scores::Learned;
use spectra::{FIRST_MIDI, HOP, RATE_HZ, Spectra};

/// How much a frame's score counts for. The windows hear the same sound in many frames: as evidence in a row the scores
/// must count for less than each does alone.
const FRESH: f32 = 0.45;
/// Frames on either side that an attack's odds must outdo.
const PEAK_REACH: usize = 2;
/// Log odds where no attack is.
const NO_ATTACK: f32 = -30.0;
/// Evidence for a dead note: they are not heard in a mix, where a drum is the likelier cause.
const NO_DEAD_NOTE: f32 = -30.0;
/// Level in decibels of what is not there.
const NOTHING_DB: f32 = -100.0;
/// Semitones from a pitch to its first partials, as near as equal temperament has them.
const PARTIALS: [usize; 4] = [0, 12, 19, 24];

/// Listens to a bass with other instruments around it, one bass note at a time.
#[derive(Clone, Copy, Debug, Default)]
pub struct Mix;

impl FrontEnd for Mix {
    fn listen(&self, clip: &Clip) -> Evidence {
        let hop = Seconds::saturating(HOP as f64 / f64::from(RATE_HZ));
        let empty = Evidence { hop, delay: Seconds::ZERO, frames: Vec::new() };
        let (Ok(rate), Some(learned)) = (SampleRate::new(RATE_HZ), Learned::new()) else { return empty };
        let x = resampled(&clip.mixed_down(), clip.rate(), rate);
        if x.is_empty() {
            return empty;
        }
        let spectra = Spectra::new(&x);
        let struck: Vec<[f32; PITCHES]> =
            (0..spectra.frames).map(|k| learned.struck.at(&spectra, k)).collect();
        let frames = (0..spectra.frames)
            .map(|k| {
                let (cents, level_db) = whereabouts(&spectra, k);
                let onset = peaks(&struck, k);
                Frame {
                    salience: learned.sounds.at(&spectra, k).map(|score| FRESH * score),
                    cents,
                    onset,
                    level_db,
                    unpitched: NO_DEAD_NOTE,
                    attack_s: 0.0,
                    audible: true,
                }
            })
            .collect();
        Evidence { hop, delay: Seconds::ZERO, frames }
    }
}

/// The odds of each pitch's attack at a frame, where they are the best around.
fn peaks(struck: &[[f32; PITCHES]], k: usize) -> [f32; PITCHES] {
    let around = &struck[k.saturating_sub(PEAK_REACH)..(k + PEAK_REACH + 1).min(struck.len())];
    std::array::from_fn(|p| {
        let here = struck[k][p];
        if around.iter().all(|other| other[p] <= here) { here } else { NO_ATTACK }
    })
}

/// How far each pitch's partials lie from equal temperament, in cents, and how loud they are together, in decibels.
fn whereabouts(spectra: &Spectra, k: usize) -> ([i8; PITCHES], [f32; PITCHES]) {
    let mut cents = [0i8; PITCHES];
    let mut level = [NOTHING_DB; PITCHES];
    for p in 0..PITCHES {
        let (mut all, mut off) = (0f32, 0f32);
        for partial in PARTIALS {
            let (energy, distance) = spectra.found(k, usize::from(LOWEST_MIDI) + p + partial - FIRST_MIDI);
            all += energy;
            off += energy * distance;
        }
        if all > 0.0 {
            cents[p] = (100.0 * off / all).round().clamp(-50.0, 50.0) as i8;
            level[p] = (10.0 * all.log10()).max(NOTHING_DB);
        }
    }
    (cents, level)
}
