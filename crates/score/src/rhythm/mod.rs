//! From time to notation: played times become exact ([`quantise()`]), exact times become written bars
//! ([`notate()`]).
//!
//! The two are apart because they fail differently: quantising guesses and says how far off it may be,
//! notating is arithmetic and either gives back exactly the times it was given or says why it cannot.

mod levels;
mod notate;
mod quantise;
pub mod swing;
mod tuplets;

pub use notate::{Layout, NotateError, TimedNote, notate};
pub use quantise::{
    FeelWanted, Grids, Options, Played, QuantiseError, Quantised, QuantisedNote, Spread, divisions, quantise,
};
pub use swing::SwingClock;
