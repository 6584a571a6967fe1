//! The lines above the notes: `word: text`.

use std::collections::BTreeSet;

use riffkin_fretboard::neck::Neck;
use riffkin_score::Warning;
use riffkin_score::meter::Meter;
use riffkin_score::riff::Header;

use super::words;
use crate::text_error::{Source, TextError, shown};

/// What the header said.
pub(super) struct Head {
    pub(super) header: Header,
    pub(super) meter: Meter,
    /// The neck that places are on; `None` when the header names one that is not known.
    pub(super) neck: Option<Neck>,
    pub(super) warnings: Vec<Warning>,
}

/// The header words, in the order of the printer.
pub(super) const WORDS: [&str; 9] =
    ["riff", "key", "meter", "tempo", "feel", "neck", "source", "permission", "remark"];

/// Reads up to the first line that starts with a bar line or a bracket such as `[pickup]`, and says where that is.
/// `own` are necks that are known by name beside the usual ones.
pub(super) fn read(source: Source<'_>, own: &[Neck]) -> Result<(Head, usize), TextError> {
    let mut head = Head {
        header: Header::default(),
        meter: Meter::FOUR_FOUR,
        neck: Neck::named("four").ok(),
        warnings: Vec::new(),
    };
    let mut seen = BTreeSet::new();
    let mut at = 0;
    while let Some(rest) = source.0.get(at..).filter(|rest| !rest.is_empty()) {
        let length = rest.find(['\n', '\r']).unwrap_or(rest.len());
        let line = rest.get(..length).unwrap_or(rest);
        let unmarked = if at == 0 { line.strip_prefix('\u{feff}').unwrap_or(line) } else { line };
        let text = unmarked.trim_start();
        let start = at + line.len() - text.len();
        if text.starts_with(['|', '[']) {
            return Ok((head, start));
        }
        if !text.is_empty() && !text.starts_with("//") {
            head.line(source, start, text.trim_end(), own, &mut seen)?;
        }
        at += length + 1;
    }
    Err(source.error(
        source.0.len(),
        "the text ends without a bar",
        "write the notes below the header, the first line starting with |",
    ))
}

impl Head {
    fn line<'a>(
        &mut self,
        source: Source<'a>,
        at: usize,
        line: &'a str,
        own: &[Neck],
        seen: &mut BTreeSet<&'static str>,
    ) -> Result<(), TextError> {
        let Some((word, value)) = line.split_once(':') else {
            return Err(source.error(
                at,
                format!("{} is no header line", shown(line)),
                "write a word and a colon, such as 'riff: Ferry Stomp'; the first line of notes starts with |",
            ));
        };
        let wanted = word.trim().to_lowercase();
        let Some(word) = WORDS.into_iter().find(|w| *w == wanted) else {
            return Err(source.error(
                at,
                format!("{} is no header word", shown(word.trim())),
                format!("known are {}", WORDS.join(", ")),
            ));
        };
        if word != "remark" && !seen.insert(word) {
            return Err(source.error(
                at,
                format!("a second line '{word}:'"),
                "keep one of them; only remark may be repeated",
            ));
        }
        let lead = value.len() - value.trim_start().len();
        let value_at = at + (line.len() - value.len()) + lead;
        self.value(word, value.trim(), own)
            .map_err(|(problem, advice)| source.error(value_at, problem, advice))
    }

    fn value(&mut self, word: &str, value: &str, own: &[Neck]) -> Result<(), (String, String)> {
        let header = &mut self.header;
        let text = || Some(value.to_owned()).filter(|v| !v.is_empty());
        let refuse = |what: &str, advice: &str| (format!("{} is no {what}", shown(value)), advice.to_owned());
        match word {
            "riff" => header.title = value.to_owned(),
            "key" => {
                let advice = "write a tonic and, if known, a mode, such as G, G minor or D Dorian";
                header.key = Some(value.parse().map_err(|_| refuse("key", advice))?);
            }
            "meter" => {
                let advice =
                    "write 4/4, 6/8, 2+2+3/8 or '3/4 in one'; one to 32 beats over 1, 2, 4, 8, 16 or 32";
                self.meter = value.parse().map_err(|_| refuse("meter", advice))?;
            }
            "tempo" => {
                let advice = "write beats in a minute from 5 to 1000, such as 96 or 'dotted quarter = 60'";
                header.tempo = words::read_tempo(value).ok_or_else(|| refuse("tempo", advice))?;
            }
            "feel" => {
                let advice = "write 'straight', 'swing 2:1 eighths' or 'swing 3:2 sixteenths' (at most 4:1)";
                header.feel = words::read_feel(value).ok_or_else(|| refuse("feel", advice))?;
            }
            "neck" => {
                header.neck = text();
                if let Some(name) = &header.neck {
                    let name = Header::clean(name);
                    let own = own.iter().find(|n| n.name().to_lowercase() == name.to_lowercase());
                    let neck = Neck::named(&name).or_else(|e| own.cloned().ok_or(e));
                    if let Err(unknown) = &neck {
                        self.warnings.push(Warning::at(
                            "neck",
                            format!("{unknown}; strings and frets cannot be checked against it"),
                        ));
                    }
                    self.neck = neck.ok();
                }
            }
            "source" => header.source = text(),
            "permission" => header.permission = text(),
            _ => header.remarks.extend(text()),
        }
        Ok(())
    }
}
