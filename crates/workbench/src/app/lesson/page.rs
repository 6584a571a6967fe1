//! The lesson as one HTML file that needs no network: pictures, words, and sound made on the spot from
//! samples kept in the page.

use base64::Engine as _;
use maud::{DOCTYPE, Markup, PreEscaped, html};
use riffkin_audio::render::{self, Instrument, NoteEvent, Performance, Player};
use riffkin_audio::{SampleRate, Seconds};
use riffkin_engrave::diagram;
use riffkin_engrave::music::{self, Layout, Part};
use riffkin_engrave::svg::{self, Outlines};
use riffkin_lesson::plan::{Member, Plan};
use riffkin_score::degree::Degree;
use serde::Serialize;

use super::Look;
use super::words;

/// Samples a second of the sound kept in the page: enough for a bass, whose partials above 10 kHz are faint.
const RATE: u32 = 22_050;
/// Seconds of each kept tone.
const TONE_S: f64 = 2.2;
/// A kept tone serves pitches up to this many semitones away.
const REACH: u8 = 1;

/// The page could not be made.
#[derive(Debug, thiserror::Error)]
#[error("the page's sound could not be made: {0}")]
pub struct PageError(String);

/// The whole page.
///
/// # Errors
/// [`PageError`] when the sound cannot be rendered.
pub fn page(plan: &Plan, look: &Look, player: &Player) -> Result<String, PageError> {
    let mut outlines = Outlines::new("g-");
    let sections: Vec<Markup> =
        plan.members.iter().enumerate().map(|(i, m)| section(i, m, look, &mut outlines)).collect();
    let bank = json(&bank(plan, player)?)?;
    let notes = json(&plan.members.iter().map(notes).collect::<Vec<_>>())?;
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta http-equiv="Content-Security-Policy"
                    content="default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'; img-src data:";
                title { (look.title) }
                style { (PreEscaped(include_str!("page.css"))) }
            }
            body {
                (PreEscaped(outlines.sheet()))
                header {
                    h1 { (look.title) }
                    p { (words::opening(plan, look)) }
                }
                main {
                    h2 { "The ladder" }
                    p class="quiet" { (words::LADDER) }
                    div class="scroll" tabindex="0" role="region" aria-label="The ladder" { (ladder_table(plan)) }
                    div class="row controls" hidden {
                        label for="tempo" { "Tempo" }
                        select id="tempo" {
                            @for percent in [40, 50, 60, 70, 80, 85, 90, 100, 110] {
                                option value=(percent) selected[percent == 100] { (percent) " %" }
                            }
                        }
                        span class="quiet" { "Escape stops." }
                    }
                    noscript { p { "The riffs can be read and printed; to hear them here, let the page run its script." } }
                    @for section in &sections { (section) }
                    div class="cautions" {
                        @for caution in words::CAUTIONS { p { (caution) } }
                    }
                }
                script type="application/json" id="sound-bank" { (PreEscaped(bank)) }
                script type="application/json" id="riff-notes" { (PreEscaped(notes)) }
                script { (PreEscaped(include_str!("page.js"))) }
            }
        }
    };
    Ok(page.into_string())
}

fn json<T: Serialize>(value: &T) -> Result<String, PageError> {
    // A closing tag inside a text would end the script element.
    Ok(serde_json::to_string(value).map_err(|e| PageError(e.to_string()))?.replace("</", "<\\/"))
}

fn section(index: usize, member: &Member, look: &Look, outlines: &mut Outlines) -> Markup {
    let places = music::fingered(&member.fit);
    let part = Part { riff: &member.riff, neck: Some(&look.neck), places: &places };
    let mut picture = |scene: &riffkin_engrave::scene::Scene, what: &str| {
        PreEscaped(svg::inline(scene, outlines, &format!("r{index}-{what}")))
    };
    let strip = picture(&diagram::strip(&super::strip_of(member), 7.0), "strip");
    let neck = super::neck_of(member, look).map(|n| picture(&diagram::neck(&n, 84.0, 7.0), "neck"));
    let wide = picture(&music::engrave(&part, &Layout::print(190.0)).stacked(music::system_gap()), "wide");
    let narrow = picture(&music::engrave(&part, &Layout::print(84.0)).stacked(music::system_gap()), "narrow");
    html! {
        section class="riff" id=(format!("riff-{}", index + 1)) data-riff=(index) aria-labelledby=(format!("riff-{}-name", index + 1)) {
            h2 id=(format!("riff-{}-name", index + 1)) { (index + 1) ". " (super::title(&member.riff, index)) }
            p { (words::about(member)) }
            div class="row" { (strip) button type="button" data-play hidden { "Play" } }
            div class="wide" { (wide) }
            div class="narrow" { (narrow) }
            @if let Some(neck) = neck { div class="scroll" tabindex="0" role="region" aria-label="Where the notes lie" { (neck) } }
            details {
                summary { "Note by note, in words" }
                ol { @for line in words::notes(member, &look.neck) { li { (line) } } }
            }
            @for line in words::notices(member) { p class="quiet" { (line) } }
        }
    }
}

fn ladder_table(plan: &Plan) -> Markup {
    html! {
        table class="ladder" {
            thead { tr {
                th scope="col" { "Riff" }
                @for slot in 0..12u8 { th scope="col" { (Degree::usual(slot).print()) } }
            } }
            tbody { @for (i, member) in plan.members.iter().enumerate() { tr {
                th scope="row" { a href=(format!("#riff-{}", i + 1)) { (super::title(&member.riff, i)) } }
                @for slot in 0..12u8 {
                    @if member.new.contains(slot) {
                        td class="has new" { b { (super::degree_in(member, slot).print()) } span class="hidden" { " new" } }
                    } @else if member.material.contains(slot) {
                        td class="has" { b { (super::degree_in(member, slot).print()) } }
                    } @else { td {} }
                }
            } } }
        }
    }
}

#[derive(Serialize)]
struct Bank {
    rate: u32,
    tones: Vec<Tone>,
    click: String,
}

#[derive(Serialize)]
struct Tone {
    midi: u8,
    data: String,
}

/// Tones for every pitch of the lesson, each at most [`REACH`] semitones from one kept.
fn bank(plan: &Plan, player: &Player) -> Result<Bank, PageError> {
    let rate = SampleRate::new(RATE).map_err(|e| PageError(e.to_string()))?;
    let mut wanted: Vec<u8> =
        plan.members.iter().flat_map(|m| m.riff.line()).map(|n| n.note.pitch.midi().number()).collect();
    wanted.sort_unstable();
    wanted.dedup();
    let mut tones: Vec<Tone> = Vec::new();
    for midi in wanted {
        if tones.last().is_some_and(|t| midi.abs_diff(t.midi) <= REACH) {
            continue;
        }
        let midi = midi.saturating_add(REACH).min(127);
        tones.push(Tone { midi, data: sample(player, rate, Instrument::Bass, midi, TONE_S)? });
    }
    Ok(Bank { rate: RATE, tones, click: sample(player, rate, Instrument::Click, 76, 0.08)? })
}

/// One tone as 16-bit samples, little-endian, in base64.
fn sample(
    player: &Player,
    rate: SampleRate,
    instrument: Instrument,
    midi: u8,
    length_s: f64,
) -> Result<String, PageError> {
    let note = NoteEvent { onset_s: 0.0, length_s, midi, velocity: 96, instrument };
    let fail = |e: &dyn std::fmt::Display| PageError(e.to_string());
    let tail = Seconds::new(0.02).map_err(|e| fail(&e))?;
    let clip = player.play(&[note], rate, tail).map_err(|e| fail(&e))?;
    let bytes: Vec<u8> = clip
        .mixed_down()
        .iter()
        .flat_map(|s| ((s.clamp(-1.0, 1.0) * 32_767.0).round() as i16).to_le_bytes())
        .collect();
    Ok(base64::engine::general_purpose::STANDARD.encode(bytes))
}

#[derive(Serialize)]
struct RiffNotes {
    /// Seconds of count-in before the riff.
    lead: f64,
    /// Seconds of the riff.
    length: f64,
    count_in: Vec<Click>,
    notes: Vec<Struck>,
}

#[derive(Serialize)]
struct Click {
    onset: f64,
    accent: bool,
}

#[derive(Serialize)]
struct Struck {
    onset: f64,
    length: f64,
    midi: u8,
    gain: f64,
    /// Position of the written note, in quarters, as the pictures carry it.
    written: f64,
}

fn notes(member: &Member) -> RiffNotes {
    let performed = render::performed(&member.riff, &Performance::default());
    let line = member.riff.line();
    let mut written =
        member.riff.played().into_iter().filter_map(|p| line.get(p.line)).map(|n| n.onset.to_f64());
    let mut out = RiffNotes {
        lead: performed.begins_s,
        length: performed.ends_s - performed.begins_s,
        count_in: Vec::new(),
        notes: Vec::new(),
    };
    for event in &performed.notes {
        if event.instrument == Instrument::Click {
            out.count_in.push(Click { onset: event.onset_s, accent: event.velocity > 100 });
        } else {
            out.notes.push(Struck {
                onset: event.onset_s - performed.begins_s,
                length: event.length_s,
                midi: event.midi,
                gain: f64::from(event.velocity) / 127.0,
                written: written.next().unwrap_or_default(),
            });
        }
    }
    out
}

#[cfg(test)]
mod tests {
    #[test]
    fn text_cannot_end_the_script_element() {
        assert_eq!(super::json(&"</script>").unwrap(), "\"<\\/script>\"");
    }
}
