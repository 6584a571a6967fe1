//! A raster of greys: the one thing in a scene that is not an outline.
//!
//! It is written into SVG as a PNG of sixteen greys (W3C *Portable Network Graphics (PNG) Specification*, third edition,
//! 2025: chunks, filter 0, CRC) and into PDF as rectangles, one outline for each grey.

use crate::path::Path;
use crate::units::Rect;
use base64::Engine as _;
use flate2::write::ZlibEncoder;
use flate2::{Compression, Crc};
use std::io::Write as _;

/// Steps from paper to the darkest grey.
const STEPS: u8 = 15;
/// The darkest grey, 0 to 255: light enough that a black outline still stands out against it.
const DARKEST: f64 = 70.0;

/// A raster of greys.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Greys {
    columns: usize,
    /// Row by row from the top, 0 (paper) to [`STEPS`].
    steps: Vec<u8>,
}

impl Greys {
    /// A raster of `columns` columns. `darkness` is row by row from the top, 0 for paper to 255; a last row that is not
    /// whole is left out.
    #[must_use]
    pub fn new(columns: usize, darkness: &[u8]) -> Self {
        let whole = darkness.len().checked_div(columns).unwrap_or(0) * columns;
        let step = |d: &u8| (f64::from(*d) / 255.0 * f64::from(STEPS)).round() as u8;
        Self { columns, steps: darkness.iter().take(whole).map(step).collect() }
    }

    /// How many columns.
    #[must_use]
    pub fn columns(&self) -> usize {
        self.columns
    }

    /// How many rows.
    #[must_use]
    pub fn rows(&self) -> usize {
        self.steps.len().checked_div(self.columns).unwrap_or(0)
    }

    /// The grey of a step, 0 (black) to 255 (paper).
    fn grey(step: u8) -> u8 {
        (255.0 - (255.0 - DARKEST) * f64::from(step.min(STEPS)) / f64::from(STEPS)).round() as u8
    }

    /// The raster as a PNG file; empty without a pixel.
    #[must_use]
    pub fn png(&self) -> Vec<u8> {
        let (Ok(width), Ok(height)) = (u32::try_from(self.columns), u32::try_from(self.rows())) else {
            return Vec::new();
        };
        if width == 0 || height == 0 {
            return Vec::new();
        }
        let mut lines = Vec::with_capacity((self.columns / 2 + 2) * self.rows());
        for row in self.steps.chunks(self.columns) {
            lines.push(0);
            lines.extend(row.chunks(2).map(|two| match two {
                [a, b] => a << 4 | b,
                [a] => a << 4,
                _ => 0,
            }));
        }
        let mut packed = ZlibEncoder::new(Vec::new(), Compression::best());
        // Writing into memory does not fail.
        let packed = packed.write_all(&lines).and_then(|()| packed.finish()).unwrap_or_default();
        let palette: Vec<u8> = (0..=STEPS).flat_map(|s| [Self::grey(s); 3]).collect();
        let mut head = Vec::with_capacity(13);
        head.extend(width.to_be_bytes());
        head.extend(height.to_be_bytes());
        // Four bits a pixel, by palette; deflate, no filter choice beyond the standard's, not interlaced.
        head.extend([4, 3, 0, 0, 0]);
        let mut out = b"\x89PNG\r\n\x1a\n".to_vec();
        for (kind, data) in [(b"IHDR", head), (b"PLTE", palette), (b"IDAT", packed), (b"IEND", Vec::new())] {
            chunk(&mut out, kind, &data);
        }
        out
    }

    /// The PNG as a `data:` address (RFC 2397).
    pub(crate) fn address(&self) -> String {
        format!("data:image/png;base64,{}", base64::engine::general_purpose::STANDARD.encode(self.png()))
    }

    /// For each grey that occurs, paper left out: its value and its rectangles when the raster fills `area`.
    pub(crate) fn outlines(&self, area: Rect) -> Vec<(u8, Path)> {
        let mut paths = vec![Path::new(); usize::from(STEPS) + 1];
        let (wide, high) =
            (area.width() / self.columns.max(1) as f64, area.height() / self.rows().max(1) as f64);
        for (r, row) in self.steps.chunks(self.columns.max(1)).enumerate() {
            let mut column = 0;
            for run in row.chunk_by(|a, b| a == b) {
                let (left, top) = (area.left + column as f64 * wide, area.top + r as f64 * high);
                column += run.len();
                let step = run.first().copied().unwrap_or(0);
                if let Some(path) = paths.get_mut(usize::from(step)).filter(|_| step > 0) {
                    let right = area.left + column as f64 * wide;
                    path.segments.extend(Path::rectangle(Rect::new(left, top, right, top + high)).segments);
                }
            }
        }
        (0..=STEPS)
            .zip(paths)
            .filter(|(_, p)| !p.segments.is_empty())
            .map(|(s, p)| (Self::grey(s), p))
            .collect()
    }
}

fn chunk(out: &mut Vec<u8>, kind: &[u8; 4], data: &[u8]) {
    out.extend(u32::try_from(data.len()).unwrap_or(0).to_be_bytes());
    let mut sum = Crc::new();
    sum.update(kind);
    sum.update(data);
    out.extend(kind);
    out.extend(data);
    out.extend(sum.sum().to_be_bytes());
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The last twelve bytes of every PNG file, its checksum included, are printed in the standard (13.2, annex on IEND).
    #[test]
    fn a_png_has_its_marks() {
        let png = Greys::new(3, &[0, 128, 255, 0, 0, 255]).png();
        assert_eq!(png.get(..8), Some(&b"\x89PNG\r\n\x1a\n"[..]));
        assert_eq!(png.get(16..24), Some(&[0, 0, 0, 3, 0, 0, 0, 2][..]), "width and height");
        assert!(png.ends_with(b"\0\0\0\0IEND\xae\x42\x60\x82"));
        assert!(Greys::new(0, &[1, 2]).png().is_empty());
    }

    #[test]
    fn runs_of_one_grey_are_one_rectangle() {
        let greys = Greys::new(4, &[0, 255, 255, 0, 255, 255, 255, 255]);
        let outlines = greys.outlines(Rect::new(0.0, 0.0, 4.0, 2.0));
        assert_eq!(outlines.len(), 1);
        assert_eq!(outlines[0].1.segments.len(), 10, "two rectangles of five segments");
        assert_eq!(outlines[0].1.bounds(), Rect::new(0.0, 0.0, 4.0, 2.0));
    }

    #[test]
    fn a_row_that_is_not_whole_is_left_out() {
        assert_eq!((Greys::new(2, &[1, 2, 3]).rows(), Greys::new(0, &[1]).rows()), (1, 0));
    }
}
