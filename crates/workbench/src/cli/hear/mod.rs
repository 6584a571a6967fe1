//! `hear`: a recording becomes notes, a riff, a picture, a list of doubts.

mod json;
mod progress;
mod review;

use std::fmt::Write as _;
use std::path::Path;

use riffkin_audio::listen::{A4_HZ, Asked, CountIn, HeardNote, Listening, Manner};
use riffkin_engrave::svg;
use riffkin_formats::detect::Kind;
use riffkin_formats::riff_text;
use riffkin_score::Warning;
use riffkin_score::meter::Meter;
use riffkin_score::tempo::Tempo;
use riffkin_score::time::Quarters;
use riffkin_score::value::NoteValue;

use super::{Failure, args, notice, say, warn, write};
use crate::app::hearing::{self, HearError, Heard, Order, Region};
use crate::app::{intake, output};

/// What the file after `-o` is to hold.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Wanted {
    Csv,
    Json,
    Review,
    Picture,
    Riff,
}

/// Endings that can be written.
const ENDINGS: &str = ".riff, .musicxml, .mxl, .mid, .csv, .json, .txt or .svg";

pub(super) fn hear(words: &args::Hear) -> Result<(), Failure> {
    let wanted = words.out.as_deref().map(|out| wanted(out, &words.audio)).transpose()?;
    let mut order = order(words)?;
    order.keep_sound = wanted == Some(Wanted::Picture);
    let reads = words.json || words.review || !matches!(wanted, None | Some(Wanted::Csv));
    order.notes_only = !reads && (words.csv || wanted.is_some());
    let name = words.audio.display().to_string();
    let could = |e: &dyn std::fmt::Display| Failure::Could(format!("{name}: {e}"));
    let kind = intake::kind(&words.audio)?;
    if !matches!(kind, Kind::Audio | Kind::Unknown) {
        return Err(could(&format!("this is {} and no recording; use explain or copy", kind.name())));
    }
    let mut line = progress::Line::new();
    let heard = hearing::open(&words.audio)
        .and_then(|source| hearing::hear(source, &order, &mut |done, all| line.show(done, all)));
    line.clear();
    let heard = heard.map_err(|e| match e {
        HearError::LongForPicture => Failure::Words(e.to_string()),
        _ => could(&e),
    })?;
    let nothing = heard.nothing();
    warn(&heard.warnings);
    if let Some(out) = &words.out {
        match (wanted, &nothing) {
            (Some(Wanted::Riff), Some(why)) => return Err(could(why)),
            (Some(wanted), _) => put(&heard, wanted, out, words)?,
            (None, _) => {}
        }
    }
    let prints = words.csv || words.json || words.review;
    if let Some(why) = &nothing {
        if !prints && words.out.is_none() {
            return Err(could(why));
        }
        if !heard.untuned {
            warn(&[Warning::whole(why.clone())]);
        }
    }
    if words.csv {
        return say(&csv(&heard));
    }
    if words.json {
        return say(&super::json::text(&json::heard(&heard)));
    }
    if words.review {
        return say(&listed(&heard, words)?);
    }
    match (&heard.written, &words.out) {
        (Some(written), None) => say(&riff_text::print(&written.riff)),
        (None, None) => Err(could(&"the notes fill no riff; print them with --csv or --json")),
        _ => Ok(()),
    }
}

/// What the ending asks for. The recording itself is never written over.
fn wanted(out: &Path, audio: &Path) -> Result<Wanted, Failure> {
    let same = out.canonicalize().is_ok_and(|out| audio.canonicalize().is_ok_and(|audio| audio == out));
    if same {
        return Err(Failure::Words(format!("{}: this is the recording; give another name", out.display())));
    }
    match out.extension().unwrap_or_default().to_string_lossy().to_lowercase().as_str() {
        "csv" => Ok(Wanted::Csv),
        "json" => Ok(Wanted::Json),
        "txt" => Ok(Wanted::Review),
        "svg" => Ok(Wanted::Picture),
        "riff" | "musicxml" | "xml" | "mxl" | "mid" | "midi" => Ok(Wanted::Riff),
        _ => {
            let message =
                format!("{}: the ending names nothing that can be written; use {ENDINGS}", out.display());
            Err(Failure::Words(message))
        }
    }
}

fn put(heard: &Heard, wanted: Wanted, out: &Path, words: &args::Hear) -> Result<(), Failure> {
    let text = match wanted {
        Wanted::Csv => csv(heard),
        Wanted::Json => super::json::text(&json::heard(heard)),
        Wanted::Review => listed(heard, words)?,
        Wanted::Picture => {
            let title = words.audio.file_name().unwrap_or_default().to_string_lossy();
            let scene = hearing::picture(heard, &title)?;
            svg::document(&scene.ok_or_else(|| Failure::Could("the sound was not kept".to_owned()))?)
        }
        Wanted::Riff => {
            let written = heard.written.as_ref().ok_or_else(|| {
                Failure::Could(format!(
                    "{}: the notes fill no riff; write them as .csv or .json",
                    words.audio.display()
                ))
            })?;
            return write::riff(&written.riff, out, None);
        }
    };
    Ok(output::write_whole(out, text.as_bytes())?)
}

/// The list of doubts, for which the recording is read a second time.
fn listed(heard: &Heard, words: &args::Hear) -> Result<String, Failure> {
    let listening = Listening { mix: words.mix, reference_hz: words.reference };
    let doubts = hearing::open(&words.audio).and_then(|source| hearing::review(heard, source, listening))?;
    Ok(review::list(heard, &doubts))
}

/// Notes with a pitch as CSV: sounding MIDI numbers, seconds of the file.
fn csv(heard: &Heard) -> String {
    let dead = heard.notes.len() - heard.pitched().count();
    if dead > 0 {
        notice(&format!("note: {dead} dead notes have no pitch and no line; --json and --review show them"));
    }
    let line = |out: &mut String, n: &HeardNote| {
        let _ = writeln!(out, "{:.4},{:.4},{},{:.3}", n.onset_s, n.offset_s, n.midi, n.confidence);
    };
    heard.pitched().fold("onset_s,offset_s,midi,confidence\n".to_owned(), |mut out, n| {
        line(&mut out, n);
        out
    })
}

/// In words: how a note began.
fn manner(manner: Manner) -> &'static str {
    match manner {
        Manner::Struck => "struck",
        Manner::Joined => "joined",
        Manner::Dead => "dead",
    }
}

fn order(words: &args::Hear) -> Result<Order, Failure> {
    let wrong = |message: String| Failure::Words(message);
    let instant = |option: &str, text: &Option<String>| {
        text.as_deref()
            .map(|t| {
                hearing::instant(t)
                    .ok_or_else(|| wrong(format!("{option} {t} is no instant; write 12.5 or 1:02.5")))
            })
            .transpose()
    };
    let region =
        Region { from_s: instant("--from", &words.from)?.unwrap_or(0.0), to_s: instant("--to", &words.to)? };
    if region.to_s.is_some_and(|to| to <= region.from_s) {
        return Err(wrong("--to lies before --from; swap them".to_owned()));
    }
    if let Some(hz) = words.reference.filter(|hz| !(A4_HZ.0..=A4_HZ.1).contains(hz)) {
        return Err(wrong(format!("--reference {hz} lies outside {} to {} Hz", A4_HZ.0, A4_HZ.1)));
    }
    let count_in = match (words.count_in, instant("--first-click", &words.first_click)?) {
        (Some(beats @ 1..=32), Some(first_s)) => Some(CountIn { beats, first_s }),
        (Some(beats), _) => return Err(wrong(format!("--count-in {beats} lies outside 1 to 32"))),
        _ => None,
    };
    let meter: Option<Meter> = words
        .meter
        .as_deref()
        .map(str::parse)
        .transpose()
        .map_err(|e: riffkin_score::meter::NotAMeter| wrong(e.to_string()))?;
    let key = words.key.as_deref().map(str::parse).transpose();
    let asked = Asked {
        meter,
        tempo: words.tempo.map(|t| tempo(t, meter)).transpose()?,
        first_beat_s: instant("--first-beat", &words.first_beat)?,
        count_in,
        pickup: words.pickup.as_deref().map(pickup).transpose()?,
        feel: words
            .feel
            .as_deref()
            .map(|f| {
                riff_text::read_feel(f).ok_or_else(|| {
                    wrong(format!("--feel {f} is none; write straight, or such as \"swing 2:1 eighths\""))
                })
            })
            .transpose()?,
        key: key.map_err(|e: riffkin_score::key::NotAKey| wrong(e.to_string()))?,
    };
    let listening = Listening { mix: words.mix, reference_hz: words.reference };
    Ok(Order { listening, region, asked, ..Order::default() })
}

/// A tempo in counted beats: dotted quarters in 6/8.
fn tempo(per_minute: f64, meter: Option<Meter>) -> Result<Tempo, Failure> {
    let unit = meter.and_then(|m| NoteValue::of_length(m.beat_length()));
    let tempo = unit.map_or_else(|| Tempo::quarters(per_minute), |unit| Tempo::new(per_minute, unit));
    tempo.ok_or_else(|| Failure::Words("--tempo lies between 5 and 1000".to_owned()))
}

fn pickup(text: &str) -> Result<Quarters, Failure> {
    text.parse::<Quarters>()
        .ok()
        .filter(|q| *q >= Quarters::ZERO && *q <= Quarters::whole_quarters(16))
        .ok_or_else(|| {
            Failure::Words(format!(
                "--pickup {text} is no length; write quarters from 0 to 16, such as 1 or 3/2"
            ))
        })
}
