"""Holds our scales against those of music21, and states how long a riff takes us and one call for its key takes music21.

Usage: keys.py KEYS.json, the file that the `outside_keys` example wrote. The times are told, never judged.
"""

import json
import statistics
import sys
import time

from music21 import key, note, scale, stream

from report import Report

SCALES = {
    "Lydian": scale.LydianScale,
    "major": scale.MajorScale,
    "Mixolydian": scale.MixolydianScale,
    "Dorian": scale.DorianScale,
    "minor": scale.MinorScale,
    "Phrygian": scale.PhrygianScale,
    "Locrian": scale.LocrianScale,
}


def theirs(name):
    """A name such as `Bb` as music21 writes it."""
    return name[0] + name[1:].replace("b", "-")


def check_scales(report, scales):
    """Each scale's notes and its signature."""
    for ours in scales:
        tonic, mode = ours["tonic"], ours["mode"]
        what = f"{tonic} {mode}"
        pitches = report.attempt(what, lambda: SCALES[mode](theirs(tonic)).getPitches())
        if pitches is None:
            continue
        report.same([theirs(n) for n in ours["notes"]], [p.name for p in pitches[:7]], what)
        report.same(ours["signature"], key.Key(theirs(tonic), mode.lower()).sharps, f"signature of {what}")


def milliseconds(notes):
    """CPU time of one call for the key of a line."""
    line = stream.Part()
    for midi, onset, length in notes:
        one = note.Note(midi)
        one.quarterLength = length
        line.insert(onset, one)
    start = time.process_time()
    line.analyze("key")
    return (time.process_time() - start) * 1e3


def main():
    with open(sys.argv[1], encoding="utf-8") as file:
        data = json.load(file)
    report = Report()
    check_scales(report, data["scales"])
    per_mode = {mode: {s["notes"][0] for s in data["scales"] if s["mode"] == mode} for mode in SCALES}
    for mode, tonics in per_mode.items():
        pitch_classes = {note.Note(theirs(t)).pitch.pitchClass for t in tonics}
        report.same(len(pitch_classes), 12, f"keys of {mode}")
    lines = [r for r in data["riffs"] if r["notes"]]
    milliseconds(lines[0]["notes"])
    foreign = [milliseconds(r["notes"]) for r in lines]
    ours = [r["microseconds"] for r in lines]
    middle, most = statistics.median(ours), max(ours)
    print(f"explaining one of {len(lines)} riffs: {middle:.0f} microseconds in the middle, {most:.0f} at most")
    theirs_middle = statistics.median(foreign)
    print(f"music21, one call for the key: {theirs_middle:.1f} milliseconds in the middle")
    print(f"ratio of the middles: {theirs_middle * 1e3 / middle:.0f}")
    sys.exit(report.end())


if __name__ == "__main__":
    main()
