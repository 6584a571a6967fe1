//! The figures in print.

use super::figures::{Figures, RULES};
use super::kinds::SLICES;
use std::fmt::Write as _;

/// A number between 0 and 1 as `.953`, or `1.00`.
pub(super) fn share(value: f64) -> String {
    let text = format!("{:.3}", value + 0.0); // a sum of nothing is minus nought
    if text.starts_with("1.") { "1.00".to_owned() } else { text.trim_start_matches('0').to_owned() }
}

/// Bytes in MB (a million bytes).
pub(super) fn megabytes(bytes: Option<u64>) -> String {
    bytes.map_or_else(|| "-".to_owned(), |bytes| format!("{:.0}", bytes as f64 / 1e6))
}

/// CPU seconds per second.
pub(super) fn cpu(per_s: Option<f64>) -> String {
    per_s.map_or_else(|| "-".to_owned(), |per_s| format!("{per_s:.4}"))
}

/// One row of the overview: onset F1 / onset and offset F1 of each variant, then cost.
pub(super) fn overview_row(listener: &str, variants: &[Option<Figures>]) -> String {
    let mut row = format!("| {listener} |");
    for figures in variants {
        let cell = figures.as_ref().map_or_else(
            || "-".to_owned(),
            |figures| {
                let means = figures.means();
                format!("{} / {}", share(means[0].f1), share(means[1].f1))
            },
        );
        push(&mut row, &format!(" {cell} |"));
    }
    let costs: Vec<String> = variants.iter().flatten().map(|figures| cpu(figures.cpu_per_s())).collect();
    let peak = variants.iter().flatten().filter_map(|figures| figures.peak_bytes).max();
    push(&mut row, &format!(" {} | {} |", costs.join(", "), megabytes(peak)));
    row
}

/// Everything about one listener on one variant.
pub(super) fn detail(figures: &Figures, with_files: bool) -> String {
    let mut text = format!(
        "{} files, {} true notes, {} heard\n\n| mean over files | P | R | F1 |\n| --- | --- | --- | --- |\n",
        figures.files.len(),
        figures.reference_notes,
        figures.estimated_notes
    );
    for ((_, name), score) in RULES.iter().zip(figures.means()) {
        let row = [score.precision, score.recall, score.f1].map(share).join(" | ");
        push(&mut text, &format!("| {name} | {row} |\n"));
    }
    push(&mut text, "\n| error | notes | % of true notes |\n| --- | --- | --- |\n");
    let per_note = 100.0 / figures.reference_notes.max(1) as f64;
    for (kind, count) in &figures.kinds {
        push(&mut text, &format!("| {} | {count} | {:.1} |\n", kind.words(), *count as f64 * per_note));
    }
    push(&mut text, "\n| true notes | found | of | recall |\n| --- | --- | --- | --- |\n");
    for name in SLICES {
        if let Some((found, there)) = figures.slices.get(name) {
            let recall = share(*found as f64 / *there as f64);
            push(&mut text, &format!("| {name} | {found} | {there} | {recall} |\n"));
        }
    }
    if let Some((mean, spread)) = figures.onset_bias() {
        push(
            &mut text,
            &format!("\nonsets of hits: {:+.1} ms late on average, SD {:.1} ms\n", mean * 1e3, spread * 1e3),
        );
    }
    if let Some(found) = figures.calibration() {
        push(
            &mut text,
            &format!(
                "confidence: expected calibration error {}; the least sure tenth of the notes holds {:.0} % of the {} wrong ones\n",
                share(found.error),
                100.0 * found.in_least_sure,
                found.wrong
            ),
        );
    }
    if with_files {
        push(&mut text, "\n| file | onset F1 | onset + offset F1 |\n| --- | --- | --- |\n");
        for (name, scores) in &figures.files {
            push(&mut text, &format!("| {name} | {} | {} |\n", share(scores[0].f1), share(scores[1].f1)));
        }
    }
    text
}

fn push(text: &mut String, more: &str) {
    // Writing to a string cannot fail.
    text.write_str(more).unwrap_or_default();
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_are_short() {
        assert_eq!([0.9534, 1.0, 0.0, 0.9999].map(share), [".953", "1.00", ".000", "1.00"]);
    }

    #[test]
    fn a_variant_that_was_not_heard_leaves_a_dash() {
        let row = overview_row("ours", &[Some(Figures::default()), None]);
        assert_eq!(row, "| ours | .000 / .000 | - | - | - |");
    }
}
