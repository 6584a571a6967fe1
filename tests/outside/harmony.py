"""Asks music21 what we say about chords, numerals, scales, notes between chord tones and strong places.

Usage: harmony.py FILE, what the `outside_harmony` example of the crate `riffkin-score` wrote.
"""

import json
import sys
from fractions import Fraction
from math import log2
from pathlib import Path

from music21 import chord, harmony, key, meter, note, roman, scale, voiceLeading

from report import Report

SCALES = {
    "major": scale.MajorScale,
    "minor": scale.MinorScale,
    "Dorian": scale.DorianScale,
    "Phrygian": scale.PhrygianScale,
    "Lydian": scale.LydianScale,
    "Mixolydian": scale.MixolydianScale,
    "Locrian": scale.LocrianScale,
}


def theirs(name):
    """Our `Bb` is `B-` there."""
    return name.replace("b", "-")


def ours(name):
    return name.replace("-", "b")


def check_chord(report, given):
    """The notes of a chord symbol, spelled, by the kind that MusicXML calls it."""
    symbol = harmony.ChordSymbol(root=theirs(given["root"]), kind=given["kind"])
    found = sorted(ours(p.name) for p in symbol.pitches)
    report.same(sorted(given["notes"]), found, given["symbol"])


def check_numeral(report, given):
    """Degree, sign and case of a numeral against the major key of its tonic."""
    tonic = theirs(given["tonic"])
    notes = chord.Chord([theirs(n) for n in given["notes"]])
    found = roman.romanNumeralFromChord(notes, key.Key(tonic))
    degree, sign = found.scaleDegreeWithAlteration
    signs = ours(sign.modifier) if sign else ""
    numeral = found.romanNumeralAlone
    own = given["numeral"]
    letters = own.lstrip("b#")
    alone = letters[: len(letters) - len(letters.lstrip("IVXivx"))]
    report.same((own[: len(own) - len(letters)], alone), (signs, numeral), f"{given['notes']} in {tonic}")
    report.same(["I", "II", "III", "IV", "V", "VI", "VII"].index(alone.upper()) + 1, degree, f"{own} in {tonic}")


def check_scale(report, given):
    """The name of a scale has these notes, and they are those of the key."""
    what = f"{given['numeral']} in {given['tonic']} {given['mode']}"
    own = [theirs(n) for n in given["notes"]]
    if not report.check(given["name"] in SCALES, f"{what}: {given['name']} is no mode"):
        return
    named = [p.name for p in SCALES[given["name"]](theirs(given["root"])).pitches][:7]
    report.same(own, named, what)
    of_key = SCALES[given["mode"]](theirs(given["tonic"])).pitches
    report.same(sorted(own), sorted({p.name for p in of_key}), f"{what}: the key's notes")


def check_segment(report, given):
    """Passing and neighbour notes between chord tones."""
    names = [theirs(n) for n in given["notes"]]
    first, middle, last = (note.Note(n) for n in names)
    what = f"{' '.join(given['notes'])} over {given['chord']}"
    symbol = harmony.ChordSymbol(given["chord"])
    tone = middle.pitch.pitchClass in {p.pitchClass for p in symbol.pitches}
    report.same(given["role"] == "chord tone", tone, what)
    if tone:
        return
    three = voiceLeading.ThreeNoteLinearSegment(first, middle, last)
    report.same(given["role"] == "neighbour", bool(three.couldBeNeighborTone()), f"{what}: neighbour")
    passing = bool(three.couldBePassingTone())
    # Whole and half steps pass for us by their sound, since names may be guessed: B Db D as well as B C# D.
    sounding = [first.pitch.midi, middle.pitch.midi, last.pitch.midi]
    if not passing and all(0 < abs(b - a) <= 2 for a, b in zip(sounding, sounding[1:])):
        other = note.Note(middle.pitch.getEnharmonic())
        passing = bool(voiceLeading.ThreeNoteLinearSegment(first, other, last).couldBePassingTone())
    report.same(given["role"] == "passing", passing, f"{what}: passing")


def check_depth(report, given):
    """The accent of a place halves with every level."""
    weight = meter.TimeSignature(given["meter"]).getAccentWeight(
        float(Fraction(given["offset"])), forcePositionMatch=True, permitMeterModulus=False
    )
    report.same(given["depth"], round(-log2(weight)), f"{given['meter']} at {given['offset']}: weight {weight}")


def main(path):
    report = Report()
    given = json.loads(Path(path).read_text(encoding="utf-8"))
    for name, check in [
        ("chords", check_chord),
        ("numerals", check_numeral),
        ("scales", check_scale),
        ("segments", check_segment),
        ("depths", check_depth),
    ]:
        before = report.passed + len(report.wrong)
        for one in given[name]:
            report.attempt(f"{name}: {one}", lambda: check(report, one))
        print(f"{name}: {report.passed + len(report.wrong) - before} checks")
    return report.end()


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
