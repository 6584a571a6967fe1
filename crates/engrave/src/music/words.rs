//! The music in words, for those who cannot see the picture.

use super::Part;
use super::bar::{BarPlan, Sign};
use riffkin_score::note::Approach;
use std::fmt::Write as _;

/// Bars as sentences: `Bar 1, 4/4: G1 eighth, degree 1, string 4 fret 3; rest quarter.`
pub(super) fn bars(part: &Part<'_>, plans: &[BarPlan<'_>]) -> String {
    let mut out = String::new();
    for plan in plans {
        if !out.is_empty() {
            out.push(' ');
        }
        let name = if plan.number == 0 { "Pickup".to_owned() } else { format!("Bar {}", plan.number) };
        out.push_str(&name);
        if plan.shows_meter {
            let _ = write!(out, ", {}", plan.bar.meter);
        }
        if plan.bar.repeat_start {
            out.push_str(", repeat from here");
        }
        if plan.ending_starts {
            let numbers: Vec<String> = plan.bar.endings.iter().map(u8::to_string).collect();
            let _ = write!(out, ", ending {}", numbers.join(" and "));
        }
        out.push_str(": ");
        let mut parts = Vec::new();
        for slot in &plan.slots {
            let mut text = String::new();
            if let Some(chord) = &slot.chord {
                let _ = write!(text, "chord {chord}");
            }
            if let Some((sign, value)) = &slot.sign {
                if !text.is_empty() {
                    text.push_str(", ");
                }
                match sign {
                    Sign::Rest(_) => {
                        let _ = write!(text, "rest {}", value.words());
                    }
                    Sign::Head(h) => {
                        let name = h.note.pitch.name().print();
                        let _ = write!(text, "{name}{} {}", h.note.pitch.octave(), value.words());
                        if !h.first {
                            text.push_str(" tied on");
                        } else {
                            note_words(&mut text, h, part);
                        }
                    }
                }
            }
            if !text.is_empty() {
                parts.push(text);
            }
        }
        out.push_str(&parts.join("; "));
        if let Some(times) = plan.bar.repeat_end {
            let _ = write!(out, "; played {times} times");
        }
        out.push('.');
    }
    out
}

fn note_words(text: &mut String, h: &super::bar::Head, part: &Part<'_>) {
    if let Some(d) = h.degree {
        let _ = write!(text, ", degree {}", d.print());
    }
    if let (Some(f), true) = (h.fingered, part.neck.is_some()) {
        let _ = write!(text, ", string {} fret {}", f.place.string, f.place.fret);
    }
    let how = match h.note.approach {
        Approach::Plucked => "",
        Approach::Hammer => ", hammered on",
        Approach::Pull => ", pulled off",
        Approach::Slide => ", slid into",
        Approach::SlidePlucked => ", slid into and plucked",
    };
    text.push_str(how);
    for mark in h.note.marks.iter() {
        let _ = write!(text, ", {}", mark.name());
    }
    if h.note.bend > 0 {
        let _ = write!(text, ", bent {} step", super::marks::bend_text(h.note.bend));
    }
}
