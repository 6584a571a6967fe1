//! The sheet: blocks of content flow down pages of A4 or Letter.
//!
//! The caller decides what stands on it and in which order; this module knows margins, line breaks, page breaks and
//! what must stay together: a heading stays with what follows, a system of music or a picture is never cut, and a
//! [`Block::Together`] moves to the next page as a whole when it fits on one.

mod flow;
mod text;

pub use text::{Rich, Run};

use crate::diagram::Rung;
use crate::music::{Engraved, System};
use crate::pdf::{self, About, PdfError};
use crate::scene::Scene;
use crate::units::pt;
use riffkin_score::Warning;

/// A paper size.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Paper {
    /// 210 by 297 mm (ISO 216).
    #[default]
    A4,
    /// 8.5 by 11 inches (ANSI/ASME Y14.1).
    Letter,
}

impl Paper {
    /// Width and height in millimetres.
    #[must_use]
    pub const fn size(self) -> (f64, f64) {
        match self {
            Self::A4 => (210.0, 297.0),
            Self::Letter => (215.9, 279.4),
        }
    }
}

/// Sizes of a sheet, in millimetres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SheetStyle {
    /// The paper.
    pub paper: Paper,
    /// White on all four sides.
    pub margin: f64,
    /// Em of running text.
    pub text: f64,
}

impl SheetStyle {
    /// 11 pt text, margins of 17 mm.
    #[must_use]
    pub fn print(paper: Paper) -> Self {
        Self { paper, margin: 17.0, text: pt(11.0) }
    }

    /// Large print: 18 pt text (the American Printing House guideline; quoted from memory).
    #[must_use]
    pub fn large_print(paper: Paper) -> Self {
        Self { paper, margin: 15.0, text: pt(18.0) }
    }

    /// Width of the text column in millimetres.
    #[must_use]
    pub fn column(&self) -> f64 {
        self.paper.size().0 - 2.0 * self.margin
    }

    /// A cell of a degree strip that goes with this text, so that strip and neck stand side by side.
    #[must_use]
    pub fn strip_cell(&self) -> f64 {
        (self.text * 1.6).min(self.column() * 0.42 / 12.0)
    }

    /// Width of a neck diagram and distance of its strings that go with this text.
    #[must_use]
    pub fn neck_size(&self) -> (f64, f64) {
        (self.column() * 0.5, (self.text * 1.7).min(self.column() * 0.05))
    }

    /// Bottom of the text column.
    fn floor(&self) -> f64 {
        self.paper.size().1 - self.margin - self.text * 1.4
    }
}

/// A piece of content.
#[derive(Clone, Debug, PartialEq)]
pub enum Block {
    /// A heading; level 1 is the sheet's title.
    Heading {
        /// 1 to 6.
        level: u8,
        /// The words.
        text: String,
    },
    /// Running text.
    Paragraph(Rich),
    /// A remark in smaller type.
    Small(Rich),
    /// A list; numbered from 1, or with bullets.
    List {
        /// Numbers instead of bullets.
        numbered: bool,
        /// The entries.
        entries: Vec<Rich>,
    },
    /// Systems of music, one under another.
    Music(Vec<System>),
    /// Pictures side by side, as many as fit in a row; each is a figure with its own words.
    Figures(Vec<Scene>),
    /// A ladder as a table; its heading row is repeated on every page.
    Ladder(Vec<Rung>),
    /// This many ruled lines to write on.
    WriteOn(u8),
    /// A thin rule across the column.
    Rule,
    /// Empty space of so many lines of text.
    Space(f64),
    /// What follows begins on a new page.
    PageBreak,
    /// Not to be cut, if it fits on a page.
    Together(Vec<Block>),
}

impl Block {
    /// A heading.
    #[must_use]
    pub fn heading(level: u8, text: impl Into<String>) -> Self {
        Self::Heading { level, text: text.into() }
    }

    /// A paragraph of plain text.
    #[must_use]
    pub fn paragraph(text: impl Into<String>) -> Self {
        Self::Paragraph(Rich::plain(text))
    }

    /// The systems of an engraved riff.
    #[must_use]
    pub fn music(engraved: Engraved) -> Self {
        Self::Music(engraved.systems)
    }
}

/// Laid-out pages.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Sheet {
    /// One scene per page; at least one.
    pub pages: Vec<Scene>,
    /// Characters that could not be drawn, things that had to be made smaller.
    pub warnings: Vec<Warning>,
}

impl Sheet {
    /// The sheet as PDF.
    ///
    /// # Errors
    /// See [`pdf::write`].
    pub fn to_pdf(&self, about: &About) -> Result<Vec<u8>, PdfError> {
        pdf::write(&self.pages, about)
    }
}

/// Lays out `blocks`; `footer` stands at the foot of every page beside the page number.
#[must_use]
pub fn compose(blocks: &[Block], style: &SheetStyle, footer: &str) -> Sheet {
    flow::compose(blocks, style, footer)
}
