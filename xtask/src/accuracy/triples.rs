//! Our matching against mir_eval's on saved triples of true notes, heard notes and what mir_eval 0.8.2 says of them
//! (`tests/hearing/triples/triples.py` writes them).

use super::matching::{Rule, Score, matched};
use super::notes::Sounded;
use serde_json::Value;

const TRIPLES: &str = include_str!("../../../tests/hearing/triples/triples.json");

fn notes(list: &Value) -> Vec<Sounded> {
    let number = |note: &Value, k: usize| note[k].as_f64().unwrap();
    let list = list.as_array().unwrap().iter();
    list.map(|note| Sounded {
        onset: number(note, 0),
        offset: number(note, 1),
        midi: number(note, 2),
        confidence: None,
    })
    .collect()
}

#[test]
fn our_scores_are_those_of_mir_eval() {
    let saved: Value = serde_json::from_str(TRIPLES).unwrap();
    assert_eq!(saved["made_with"], "mir_eval 0.8.2");
    let triples = saved["triples"].as_array().unwrap();
    assert!(triples.len() > 150, "only {} triples", triples.len());
    let rules = [
        ("onset", Rule::Onset),
        ("onset_and_offset", Rule::OnsetAndOffset),
        ("onset_only", Rule::OnsetOnly),
        ("any_octave", Rule::AnyOctave),
    ];
    let mut partial = 0;
    for triple in triples {
        let (reference, estimated) = (notes(&triple["reference"]), notes(&triple["estimated"]));
        for (name, rule) in rules {
            let hits = matched(&reference, &estimated, rule).len();
            let ours = Score::of(hits, estimated.len(), reference.len());
            let expected = &triple["expected"][name];
            for (k, value) in [ours.precision, ours.recall, ours.f1].into_iter().enumerate() {
                let theirs = expected[k].as_f64().unwrap();
                assert!(
                    (value - theirs).abs() < 1e-12,
                    "{}: {name}: {value} here, {theirs} there",
                    triple["name"]
                );
            }
            partial += usize::from(ours.f1 > 0.0 && ours.f1 < 1.0);
        }
    }
    assert!(partial > 200, "too few triples in which some notes match and some do not: {partial}");
}
