//! What can be found out about a riff: its tonic, its mode, its spelling, and what every note is.
//!
//! Every finding carries its evidence and a rank; what cannot be known is said to be undecided. The teacher's
//! word, or the riff's own key, always wins over a guess.
//!
//! The order of work: [`heard`] takes the notes that count, [`tonic`] ranks what may be the note called 1,
//! [`material`] counts the degrees against it, [`mode`] says which scales hold them, [`spell`] names the
//! notes, and [`explain`] puts it together.

pub mod compare;
pub mod explain;
pub mod harmony;
pub mod heard;
pub mod material;
pub mod mode;
pub mod model;
mod model_weights;
pub mod observed;
pub mod ps13;
pub mod set_class;
pub mod shape;
pub mod spell;
pub mod tonic;
pub mod two_names;
pub mod verdict;
