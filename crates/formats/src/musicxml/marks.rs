//! Names that writing and reading share.

use riffkin_score::value::Shape;

/// The field with the exact key, such as `G minor pentatonic`.
pub(super) const FIELD_KEY: &str = "riffkin-key";
/// The field with the neck's name; empty when the riff names none.
pub(super) const FIELD_NECK: &str = "riffkin-neck";
/// A remark; one field each.
pub(super) const FIELD_REMARK: &str = "riffkin-remark";
/// Meters whose groups the `beats` element cannot say, as `index:groups/unit`, blanks between.
pub(super) const FIELD_METERS: &str = "riffkin-meters";

/// The header's tempo, as `quarter. 96`, when a tempo change stands on the first beat and hides it.
pub(super) const FIELD_TEMPO: &str = "riffkin-tempo";

/// `other-technical` of a note struck with the thumb.
pub(super) const SLAP: &str = "slap";
/// `other-technical` of a note snapped with a finger.
pub(super) const POP: &str = "pop";

/// Note types with their shapes (MusicXML 4.0, data type `note-type-value`).
pub(super) const TYPES: [(&str, Shape); 9] = [
    ("breve", Shape::Breve),
    ("whole", Shape::Whole),
    ("half", Shape::Half),
    ("quarter", Shape::Quarter),
    ("eighth", Shape::Eighth),
    ("16th", Shape::Sixteenth),
    ("32nd", Shape::ThirtySecond),
    ("64th", Shape::SixtyFourth),
    ("128th", Shape::HundredTwentyEighth),
];

/// The note type of a shape.
pub(super) fn type_of(shape: Shape) -> &'static str {
    TYPES[shape as usize].0
}

/// The shape of a note type; `None` for those longer or shorter than a riff can hold.
pub(super) fn shape_of(name: &str) -> Option<Shape> {
    TYPES.iter().find(|(n, _)| *n == name).map(|(_, shape)| *shape)
}
