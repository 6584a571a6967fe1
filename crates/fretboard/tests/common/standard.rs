//! Fingerings of method-book practice, written down before the fit was asked for any of them.

/// One fingering.
pub(crate) struct Case {
    /// What it is called.
    pub(crate) name: &'static str,
    /// A neck by name.
    pub(crate) neck: &'static str,
    /// How the hand is set.
    pub(crate) hand: How,
    /// The notes; none when the places are given and only the fingers are asked for.
    pub(crate) notes: &'static str,
    /// `string:fret/finger` for every note.
    pub(crate) wanted: &'static str,
    /// Where it is taught.
    pub(crate) source: &'static str,
}

/// The settings that a method book takes for granted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum How {
    /// As it comes: 1-2-4 below fret 5, one finger per fret from there, open strings sparing.
    Usual,
    /// One finger per fret everywhere.
    OnePerFret,
    /// 1-2-4 everywhere.
    ThreeFrets,
    /// Open strings welcome.
    Open,
}

const COMMON: &str = "common practice, no source";
const SIMANDL: &str =
    "F. Simandl, New Method for the Double Bass, 1881, half and first position (1-2-4), from memory";

const fn case(
    name: &'static str,
    neck: &'static str,
    hand: How,
    notes: &'static str,
    wanted: &'static str,
    source: &'static str,
) -> Case {
    Case { name, neck, hand, notes, wanted, source }
}

/// All of them. Weights may be set on those with an even index; those with an odd index are held back.
#[rustfmt::skip]
pub(crate) const CASES: &[Case] = &[
    // Scales in open position.
    case("E major, open position", "four", How::Open, "E1 F#1 G#1 A1 B1 C#2 D#2 E2",
        "4:0/0 4:2/1 4:4/4 3:0/0 3:2/1 3:4/4 2:1/1 2:2/2", SIMANDL),
    case("A major, open position", "four", How::Open, "A1 B1 C#2 D2 E2 F#2 G#2 A2",
        "3:0/0 3:2/1 3:4/4 2:0/0 2:2/1 2:4/4 1:1/1 1:2/2", SIMANDL),
    case("E natural minor, open position", "four", How::Open, "E1 F#1 G1 A1 B1 C2 D2 E2",
        "4:0/0 4:2/1 4:3/2 3:0/0 3:2/1 3:3/2 2:0/0 2:2/1", SIMANDL),
    case("A natural minor, open position", "four", How::Open, "A1 B1 C2 D2 E2 F2 G2 A2",
        "3:0/0 3:2/1 3:3/2 2:0/0 2:2/1 2:3/2 1:0/0 1:2/1", SIMANDL),
    case("E minor pentatonic, open position", "four", How::Open, "E1 G1 A1 B1 D2 E2 G2",
        "4:0/0 4:3/2 3:0/0 3:2/1 2:0/0 2:2/1 1:0/0", COMMON),
    case("A minor pentatonic, open position", "four", How::Open, "A1 C2 D2 E2 G2 A2",
        "3:0/0 3:3/2 2:0/0 2:2/1 1:0/0 1:2/1", COMMON),
    case("D major, open position", "four", How::Open, "D2 E2 F#2 G2 A2 B2",
        "2:0/0 2:2/1 2:4/4 1:0/0 1:2/1 1:4/4", SIMANDL),
    case("B flat major, half position", "four", How::Open, "Bb1 C2 D2 Eb2 F2 G2 A2 Bb2",
        "3:1/1 3:3/4 2:0/0 2:1/1 2:3/4 1:0/0 1:2/2 1:3/4", SIMANDL),
    case("E blues, open position", "four", How::Open, "E1 G1 A1 Bb1 B1 D2 E2",
        "4:0/0 4:3/4 3:0/0 3:1/1 3:2/2 2:0/0 2:2/2", COMMON),
    case("E natural minor downwards, open position", "four", How::Open, "E2 D2 C2 B1 A1 G1 F#1 E1",
        "2:2/1 2:0/0 3:3/2 3:2/1 3:0/0 4:3/2 4:2/1 4:0/0", SIMANDL),
    // Major scales that move.
    case("G major, one octave, from fret 3", "four", How::Usual, "G1 A1 B1 C2 D2 E2 F#2 G2",
        "4:3/2 4:5/4 3:2/1 3:3/2 3:5/4 2:2/1 2:4/3 2:5/4", COMMON),
    case("B flat major from fret 6", "four", How::Usual, "Bb1 C2 D2 Eb2 F2 G2 A2 Bb2",
        "4:6/2 4:8/4 3:5/1 3:6/2 3:8/4 2:5/1 2:7/3 2:8/4", COMMON),
    case("D major from fret 5 of the A string", "four", How::Usual, "D2 E2 F#2 G2 A2 B2 C#3 D3",
        "3:5/2 3:7/4 2:4/1 2:5/2 2:7/4 1:4/1 1:6/3 1:7/4", COMMON),
    case("F sharp major from fret 2, one finger per fret", "four", How::OnePerFret,
        "F#1 G#1 A#1 B1 C#2 D#2 E#2 F#2", "4:2/2 4:4/4 3:1/1 3:2/2 3:4/4 2:1/1 2:3/3 2:4/4", COMMON),
    case("E flat major from fret 6 of the A string", "four", How::Usual, "Eb2 F2 G2 Ab2 Bb2 C3 D3 Eb3",
        "3:6/2 3:8/4 2:5/1 2:6/2 2:8/4 1:5/1 1:7/3 1:8/4", COMMON),
    case("A major downwards to fret 5", "four", How::Usual, "A2 G#2 F#2 E2 D2 C#2 B1 A1",
        "2:7/4 2:6/3 2:4/1 3:7/4 3:5/2 3:4/1 4:7/4 4:5/2", COMMON),
    case("C major up and down", "four", How::Usual, "C2 D2 E2 F2 G2 A2 B2 C3 B2 A2 G2 F2 E2 D2 C2",
        "3:3/2 3:5/4 2:2/1 2:3/2 2:5/4 1:2/1 1:4/3 1:5/4 1:4/3 1:2/1 2:5/4 2:3/2 2:2/1 3:5/4 3:3/2", COMMON),
    case("A Lydian from fret 5", "four", How::Usual, "A1 B1 C#2 D#2 E2 F#2 G#2 A2",
        "4:5/2 4:7/4 3:4/1 3:6/3 3:7/4 2:4/1 2:6/3 2:7/4", COMMON),
    case("B flat Mixolydian from fret 6", "four", How::Usual, "Bb1 C2 D2 Eb2 F2 G2 Ab2 Bb2",
        "4:6/2 4:8/4 3:5/1 3:6/2 3:8/4 2:5/1 2:6/2 2:8/4", COMMON),
    // Minor scales that move.
    case("B flat natural minor from fret 6", "four", How::Usual, "Bb1 C2 Db2 Eb2 F2 Gb2 Ab2 Bb2",
        "4:6/1 4:8/3 4:9/4 3:6/1 3:8/3 3:9/4 2:6/1 2:8/3", COMMON),
    case("D natural minor from fret 5 of the A string", "four", How::Usual, "D2 E2 F2 G2 A2 Bb2 C3 D3",
        "3:5/1 3:7/3 3:8/4 2:5/1 2:7/3 2:8/4 1:5/1 1:7/3", COMMON),
    case("A Phrygian from fret 5", "four", How::Usual, "A1 Bb1 C2 D2 E2 F2 G2 A2",
        "4:5/1 4:6/2 4:8/4 3:5/1 3:7/3 3:8/4 2:5/1 2:7/3", COMMON),
    case("D Dorian from fret 5 of the A string", "four", How::Usual, "D2 E2 F2 G2 A2 B2 C3 D3",
        "3:5/1 3:7/3 3:8/4 2:5/1 2:7/3 1:4/1 1:5/2 1:7/4", COMMON),
    case("A melodic minor from fret 5", "four", How::Usual, "A1 B1 C2 D2 E2 F#2 G#2 A2",
        "4:5/1 4:7/3 4:8/4 3:5/1 3:7/3 2:4/1 2:6/3 2:7/4", COMMON),
    case("A Locrian from fret 5", "four", How::Usual, "A1 Bb1 C2 D2 Eb2 F2 G2 A2",
        "4:5/1 4:6/2 4:8/4 3:5/1 3:6/2 3:8/4 2:5/1 2:7/3", COMMON),
    // Pentatonic boxes and blues.
    case("B flat minor pentatonic box at fret 6", "four", How::Usual, "Bb1 Db2 Eb2 F2 Ab2 Bb2",
        "4:6/1 4:9/4 3:6/1 3:8/3 2:6/1 2:8/3", COMMON),
    case("A minor pentatonic box downwards", "four", How::Usual, "D3 C3 A2 G2 E2 D2 C2 A1",
        "1:7/3 1:5/1 2:7/3 2:5/1 3:7/3 3:5/1 4:8/4 4:5/1", COMMON),
    case("A major pentatonic box at fret 5", "four", How::Usual, "A1 B1 C#2 E2 F#2 A2",
        "4:5/2 4:7/4 3:4/1 3:7/4 2:4/1 2:7/4", COMMON),
    case("B flat major pentatonic box up and down", "four", How::Usual, "Bb1 C2 D2 F2 G2 Bb2 G2 F2 D2 C2 Bb1",
        "4:6/2 4:8/4 3:5/1 3:8/4 2:5/1 2:8/4 2:5/1 3:8/4 3:5/1 4:8/4 4:6/2", COMMON),
    case("D major pentatonic box from the A string", "four", How::Usual, "D2 E2 F#2 A2 B2 D3",
        "3:5/2 3:7/4 2:4/1 2:7/4 1:4/1 1:7/4", COMMON),
    case("A minor pentatonic, second box", "four", How::Usual, "",
        "4:8/2 4:10/4 3:7/1 3:10/4 2:7/1 2:10/4 1:7/1 1:9/3", COMMON),
    case("B flat blues scale at fret 6", "four", How::Usual, "Bb1 Db2 Eb2 E2 F2 Ab2 Bb2",
        "4:6/1 4:9/4 3:6/1 3:7/2 3:8/3 2:6/1 2:8/3", COMMON),
    // Root, fifth, octave.
    case("root, fifth, octave on B flat", "four", How::Usual, "Bb1 F2 Bb2", "4:6/1 3:8/3 2:8/4", COMMON),
    case("root, fifth, octave on F, half position", "four", How::Usual, "F1 C2 F2", "4:1/1 3:3/4 2:3/4", COMMON),
    case("root, fifth, octave on F, one finger per fret", "four", How::OnePerFret, "F1 C2 F2",
        "4:1/1 3:3/3 2:3/4", COMMON),
    case("root, fifth, octave on C", "four", How::Usual, "C2 G2 C3", "3:3/1 2:5/4 1:5/4", COMMON),
    case("root, fifth, octave, fifth", "four", How::Usual, "A1 E2 A2 E2", "4:5/1 3:7/3 2:7/4 3:7/3", COMMON),
    case("octaves in 1-2-4", "four", How::ThreeFrets, "", "4:3/1 2:5/4 4:5/1 2:7/4", COMMON),
    case("fifth below the root", "four", How::Usual, "D2 A1 D2 A1", "3:5/1 4:5/1 3:5/1 4:5/1", COMMON),
    case("root and tenth", "four", How::Usual, "", "4:5/1 1:6/2 4:5/1 1:6/2", COMMON),
    // Chromatic.
    case("chromatic, four fingers at fret 7", "four", How::Usual, "",
        "4:7/1 4:8/2 4:9/3 4:10/4 3:7/1 3:8/2 3:9/3 3:10/4", COMMON),
    case("finger exercise 1 3 2 4", "four", How::Usual, "A1 B1 Bb1 C2", "4:5/1 4:7/3 4:6/2 4:8/4", COMMON),
    case("chromatic downwards", "four", How::Usual, "", "4:8/4 4:7/3 4:6/2 4:5/1", COMMON),
    case("half position on the A string", "four", How::Usual, "", "3:1/1 3:2/2 3:3/4", SIMANDL),
    case("first position on the E string", "four", How::Usual, "", "4:2/1 4:3/2 4:4/4", SIMANDL),
    // Arpeggios.
    case("B flat major triad", "four", How::Usual, "Bb1 D2 F2 Bb2", "4:6/2 3:5/1 3:8/4 2:8/4", COMMON),
    case("D minor triad from the A string", "four", How::Usual, "D2 F2 A2 D3", "3:5/1 3:8/4 2:7/3 1:7/4", COMMON),
    case("A major seventh", "four", How::Usual, "A1 C#2 E2 G#2", "4:5/2 3:4/1 3:7/4 2:6/3", COMMON),
    case("A dominant seventh", "four", How::Usual, "A1 C#2 E2 G2", "4:5/2 3:4/1 3:7/4 2:5/2", COMMON),
    case("A minor seventh", "four", How::Usual, "A1 C2 E2 G2", "4:5/1 4:8/4 3:7/3 2:5/1", COMMON),
    case("A half-diminished seventh", "four", How::Usual, "A1 C2 Eb2 G2", "4:5/1 4:8/4 3:6/2 2:5/1", COMMON),
    // Three notes to a string.
    case("two strings, whole steps, at fret 7", "four", How::Usual, "",
        "4:7/1 4:9/2 4:11/4 3:7/1 3:9/2 3:11/4", COMMON),
    case("two strings, minor, at fret 7", "four", How::Usual, "", "4:7/1 4:9/3 4:10/4 3:7/1 3:9/3 3:10/4", COMMON),
    case("two strings, Phrygian, at fret 7", "four", How::Usual, "", "4:7/1 4:8/2 4:10/4 3:7/1 3:8/2 3:10/4", COMMON),
    // Walking and boogie.
    case("boogie: 1 3 5 6 8 6 5 3", "four", How::Usual, "A1 C#2 E2 F#2 A2 F#2 E2 C#2",
        "4:5/2 3:4/1 3:7/4 2:4/1 2:7/4 2:4/1 3:7/4 3:4/1", COMMON),
    case("boogie with the flat seventh", "four", How::Usual, "A1 C#2 E2 F#2 G2 F#2 E2 C#2",
        "4:5/2 3:4/1 3:7/4 2:4/1 2:5/2 2:4/1 3:7/4 3:4/1", COMMON),
    case("walk up a major tetrachord", "four", How::Usual, "A1 B1 C#2 D2", "4:5/2 4:7/4 3:4/1 3:5/2", COMMON),
    case("walk up a minor tetrachord", "four", How::Usual, "A1 B1 C2 D2", "4:5/1 4:7/3 4:8/4 3:5/1", COMMON),
    // Other necks.
    case("D major from fret 3 of the low B string", "five", How::Usual, "D1 E1 F#1 G1 A1 B1 C#2 D2",
        "5:3/2 5:5/4 4:2/1 4:3/2 4:5/4 3:2/1 3:4/3 3:5/4", COMMON),
    case("E minor pentatonic box on the low B string", "five", How::Usual, "E1 G1 A1 B1 D2 E2",
        "5:5/1 5:8/4 4:5/1 4:7/3 3:5/1 3:7/3", COMMON),
    case("root, fifth, octave under one finger in drop D", "drop-d", How::Usual, "G1 D2 G2",
        "4:5/1 3:5/1 2:5/1", COMMON),
    case("G major on a short scale", "short", How::Usual, "G1 A1 B1 C2 D2 E2 F#2 G2",
        "4:3/2 4:5/4 3:2/1 3:3/2 3:5/4 2:2/1 2:4/3 2:5/4", COMMON),
];
