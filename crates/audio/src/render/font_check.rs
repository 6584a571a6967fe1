//! Whether a SoundFont's tables point only at what is there.
//!
//! The synthesiser trusts the counts inside a SoundFont. A damaged file would make it fail in the middle of a note, so
//! they are checked here first: SoundFont Technical Specification 2.01 (E-mu/Creative, 1998), chapter 7.

/// Size in bytes of one record of each table of the `pdta` list that is followed here.
const RECORD: [(&[u8; 4], usize); 9] = [
    (b"phdr", 38),
    (b"pbag", 4),
    (b"pmod", 10),
    (b"pgen", 4),
    (b"inst", 22),
    (b"ibag", 4),
    (b"imod", 10),
    (b"igen", 4),
    (b"shdr", 46),
];

/// A SoundFont whose tables do not fit together.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("byte {at}: {what}")]
pub(super) struct Misfit {
    /// Where in the file, in bytes.
    at: usize,
    what: String,
}

/// One table: where its records begin in the file, how many there are.
#[derive(Clone, Copy)]
struct Table<'a> {
    file: &'a [u8],
    at: usize,
    size: usize,
    records: usize,
}

impl Table<'_> {
    /// The 16-bit number at `offset` in record `k`.
    fn u16(&self, k: usize, offset: usize) -> usize {
        let at = self.at + k * self.size + offset;
        self.file.get(at..at + 2).map_or(0, |b| usize::from(b[0]) | usize::from(b[1]) << 8)
    }

    /// The 32-bit number at `offset` in record `k`.
    fn u32(&self, k: usize, offset: usize) -> usize {
        self.u16(k, offset) | self.u16(k, offset + 2) << 16
    }

    fn misfit(&self, k: usize, what: String) -> Misfit {
        Misfit { at: self.at + k * self.size, what }
    }

    /// Each record's number at `offset` leads on from the one before and stays below `limit`, the last may equal it.
    fn climbs(&self, offset: usize, limit: usize, name: &str) -> Result<(), Misfit> {
        let mut before = 0;
        for k in 0..self.records {
            let now = self.u16(k, offset);
            if now < before || now > limit {
                return Err(self.misfit(k, format!("{name} {now} is not between {before} and {limit}")));
            }
            before = now;
        }
        Ok(())
    }
}

/// Checks the tables of a SoundFont file.
///
/// # Errors
/// [`Misfit`] names the byte of the first record that points beyond a table.
pub(super) fn check(file: &[u8]) -> Result<(), Misfit> {
    let misfit = |at: usize, what: &str| Misfit { at, what: what.to_owned() };
    if file.get(..4) != Some(b"RIFF") || file.get(8..12) != Some(b"sfbk") {
        return Err(misfit(0, "it does not begin as a SoundFont (RIFF … sfbk)"));
    }
    let mut tables: [Option<Table<'_>>; 9] = [None; 9];
    let mut samples = None;
    for (kind, at, size) in chunks(file, 12, file.len()) {
        if kind != b"LIST" {
            continue;
        }
        for (inner, inner_at, inner_size) in chunks(file, at + 4, at + size) {
            if inner == b"smpl" {
                samples = Some(inner_size / 2);
            }
            for (table, (name, size)) in tables.iter_mut().zip(RECORD) {
                if inner == name {
                    *table = Some(Table { file, at: inner_at, size, records: inner_size / size });
                }
            }
        }
    }
    let [
        Some(phdr),
        Some(pbag),
        Some(pmod),
        Some(pgen),
        Some(inst),
        Some(ibag),
        Some(imod),
        Some(igen),
        Some(shdr),
    ] = tables
    else {
        return Err(misfit(12, "one of its nine tables is missing or cut off"));
    };
    let samples = samples.ok_or_else(|| misfit(12, "it has no samples"))?;
    for table in [phdr, pbag, pgen, inst, ibag, igen, shdr] {
        if table.records == 0 {
            return Err(table.misfit(0, "an empty table".to_owned()));
        }
    }
    // The last record of each table only closes it, so the highest index allowed is the count less one.
    phdr.climbs(24, pbag.records - 1, "preset zone")?;
    inst.climbs(20, ibag.records - 1, "instrument zone")?;
    pbag.climbs(0, pgen.records - 1, "generator")?;
    ibag.climbs(0, igen.records - 1, "generator")?;
    pbag.climbs(2, pmod.records, "modulator")?;
    ibag.climbs(2, imod.records, "modulator")?;
    for k in 0..shdr.records - 1 {
        let [start, end, loop_start, loop_end, rate] = [20, 24, 28, 32, 36].map(|offset| shdr.u32(k, offset));
        if start > end || end > samples {
            return Err(shdr.misfit(k, format!("sample {k} runs from {start} to {end} of {samples}")));
        }
        if loop_start > loop_end || loop_end > samples {
            return Err(
                shdr.misfit(k, format!("sample {k} loops from {loop_start} to {loop_end} of {samples}"))
            );
        }
        if !(100..=1_000_000).contains(&rate) {
            return Err(shdr.misfit(k, format!("sample {k} has a rate of {rate} Hz")));
        }
    }
    Ok(())
}

/// The chunks lying side by side from `at` to `end`: kind, where its body begins, the body's size.
fn chunks(file: &[u8], at: usize, end: usize) -> impl Iterator<Item = (&[u8], usize, usize)> {
    let end = end.min(file.len());
    let mut at = at;
    std::iter::from_fn(move || {
        let head = file.get(at..end)?.get(..8)?;
        let size = u32::from_le_bytes([head[4], head[5], head[6], head[7]]) as usize;
        let body = at + 8;
        if size > end - body {
            return None;
        }
        at = body + size + size % 2;
        Some((&head[..4], body, size))
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::render::soundfont;

    fn place_of(tag: &[u8]) -> usize {
        let font = soundfont();
        font.windows(4).rposition(|w| w == tag).expect("a table") + 8
    }

    #[test]
    fn our_own_font_fits_together() {
        assert_eq!(check(soundfont()), Ok(()));
    }

    #[test]
    fn a_zone_beyond_the_table_is_named_by_its_byte() {
        let mut font = soundfont().to_vec();
        let at = place_of(b"phdr") + 38;
        font[at + 24..at + 26].copy_from_slice(&[0xFF, 0x7F]);
        assert_eq!(check(&font).map_err(|m| m.at), Err(at));
    }

    #[test]
    fn a_sample_beyond_the_sound_is_named_by_its_byte() {
        let mut font = soundfont().to_vec();
        let at = place_of(b"shdr") + 46 * 3;
        font[at + 24..at + 28].copy_from_slice(&[0xFF; 4]);
        assert_eq!(check(&font).map_err(|m| m.at), Err(at));
    }

    #[test]
    fn a_font_cut_anywhere_is_refused() {
        let font = soundfont();
        for length in [0, 3, 11, 12, 300, font.len() / 2, place_of(b"pbag"), font.len() - 1] {
            assert!(check(&font[..length]).is_err(), "{length}");
        }
    }
}
