//! Pictures of material: the degree strip, the neck, the ladder.

mod difference;
mod ladder;
mod neck;
mod strip;
mod upright;

pub use difference::{Difference, difference};
pub use ladder::{LadderStyle, Rung, ladder, ladder_head, ladder_row};
pub use neck::{NeckDiagram, NeckMark, neck};
pub use strip::{Strip, strip};
pub use upright::{length, upright_neck};
