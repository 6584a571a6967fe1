//! Riffs and fits as positioned shapes: staff, tablature, diagrams; written as SVG and PDF.
//!
//! Our own engraver for one monophonic bass line on the outlines of a SMuFL font. The road not taken is a
//! general engraving library: costly to build, and it knows neither degree strips nor necks nor the playing marks of
//! a bass. Everything is in millimetres, y down; nothing reads a font, a file or a clock.

pub mod diagram;
pub mod family;
pub mod font;
pub mod greys;
pub mod music;
pub mod path;
pub mod pdf;
pub mod portrait;
pub mod scene;
pub mod sheet;
pub mod svg;
pub mod units;
