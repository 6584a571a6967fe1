"""Reads back written MusicXML and MIDI with music21, mido and the MusicXML 4.0 schema.

Usage: scores.py OUTDIR, the folder that the `outside_export` example wrote. README.md beside this file says what
`expected.json` holds.
"""

import importlib.util
import io
import json
import re
import sys
import tempfile
import warnings
import zipfile
from fractions import Fraction
from pathlib import Path

import mido
import music21
from lxml import etree

from report import Report

HERE = Path(__file__).resolve().parent
LETTER = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
CLICK_CHANNEL = 9  # channel 10, counted from 0


def schema():
    """The MusicXML 4.0 schema, with its two imports taken from files beside this script."""
    package = importlib.util.find_spec("musicxml")
    source = Path(package.submodule_search_locations[0]) / "generate_classes" / "musicxml_4_0.xsd"
    text = source.read_text(encoding="utf-8")
    for name in ("xml", "xlink"):
        local = (HERE / "schema" / f"{name}.xsd").as_uri()
        text = text.replace(f"http://www.musicxml.org/xsd/{name}.xsd", local)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "musicxml.xsd"
        path.write_text(text, encoding="utf-8")
        return etree.XMLSchema(etree.parse(str(path), parser()))


def parser():
    """An XML parser that never leaves the machine and expands nothing."""
    return etree.XMLParser(no_network=True, load_dtd=False, resolve_entities=False)


def midi_of(name):
    """MIDI number of a spelled pitch such as `Bb1`."""
    letter, alteration, octave = re.fullmatch(r"([A-G])(b*|#*)(-?\d+)", name).groups()
    shift = len(alteration) if alteration.startswith("#") else -len(alteration)
    return 12 * (int(octave) + 1) + LETTER[letter] + shift


def spelled(pitch):
    """A music21 pitch in our spelling (`B-1` is `Bb1`; natural signs are not shown)."""
    return pitch.step + "#" * max(0, int(pitch.alter)) + "b" * max(0, -int(pitch.alter)) + str(pitch.octave)


def exact(number):
    """A position of music21 as a fraction; it keeps thirds and the like as fractions, the rest as floats."""
    return Fraction(number).limit_denominator(65535)


def expected_line(notes):
    return sorted((Fraction(n["onset"]), Fraction(n["duration"]), n["midi"], n["name"]) for n in notes)


def check_expected(report, riff):
    """The export's own words must hang together, or agreeing with them means nothing."""
    name = riff["name"]
    for note in riff["notes"]:
        if midi_of(note["name"]) != note["midi"]:
            report.check(False, f"{name}: expected.json calls MIDI {note['midi']} {note['name']}")
            return
    report.check(bool(riff["notes"]) or not riff["played"], f"{name}: nothing written but something played")


def check_schema(report, validator, name, data):
    tree = report.attempt(f"{name}: XML", lambda: etree.parse(io.BytesIO(data), parser()))
    if tree is None:
        return None
    good = validator.validate(tree)
    first = "" if good else str(validator.error_log[0])
    report.check(good, f"{name}: not valid MusicXML 4.0: {first}")
    return tree


def lines_of(score):
    """The line on each staff, as written and as sounding: `[(written, sounding)]`."""
    pairs = []
    for part in score.parts:
        joined = part.stripTies()
        sounding = joined.toSoundingPitch()
        pairs.append((notes_of(joined), notes_of(sounding)))
    return pairs


def notes_of(part):
    found = []
    for element in part.flatten().notes:
        if isinstance(element, music21.harmony.Harmony):
            continue  # a chord symbol counts as a chord there
        length = Fraction(0) if element.duration.isGrace else exact(element.duration.quarterLength)
        for pitch in element.pitches:
            found.append((exact(element.offset), length, pitch.midi, spelled(pitch)))
    return sorted(found)


def check_musicxml(report, riff, path):
    """Note for note, on every staff; and written an octave above sounding."""
    name = riff["name"]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        score = report.attempt(
            f"{name}: music21", lambda: music21.converter.parse(path, format="musicxml", forceSource=True)
        )
        if score is None:
            return
        pairs = report.attempt(f"{name}: music21", lambda: lines_of(score))
    if pairs is None:
        return
    wanted = expected_line(riff["notes"])
    report.check(bool(pairs), f"{name}: no staff")
    for number, (written, sounding) in enumerate(pairs, 1):
        report.check(sounding == wanted, f"{name}: staff {number}: {first_difference(sounding, wanted)}")
        octave_up = [(onset, length, midi + 12) for onset, length, midi, _ in sounding]
        report.same(
            [note[:3] for note in written], octave_up, f"{name}: staff {number} is not written an octave above sounding"
        )
    check_frame(report, riff, score)


def check_frame(report, riff, score):
    """Key signature, meters and tempos, where expected.json gives them."""
    name, part = riff["name"], score.parts[0]
    flat = part.flatten()
    if riff.get("fifths") is not None:
        keys = list(flat.getElementsByClass(music21.key.KeySignature))
        report.same(keys[0].sharps if keys else 0, riff["fifths"], f"{name}: key signature in MusicXML")
    if riff.get("meters"):
        found = [(exact(m.offset), m.ratioString) for m in flat.getElementsByClass(music21.meter.TimeSignature)]
        report.same(found, expected_meters(riff), f"{name}: meters in MusicXML")
    if riff.get("tempos"):
        marks = score.flatten().getElementsByClass(music21.tempo.MetronomeMark)
        found = sorted({(exact(m.offset), exact(m.getQuarterBPM())) for m in marks if m.getQuarterBPM()})
        report.same(found, expected_tempos(riff), f"{name}: tempos in MusicXML")


def expected_meters(riff):
    return [(Fraction(m["onset"]), m["meter"]) for m in riff["meters"]]


def expected_tempos(riff):
    return [(Fraction(t["onset"]), Fraction(t["quarters_per_minute"])) for t in riff["tempos"]]


def first_difference(found, wanted):
    for number, (have, want) in enumerate(zip(found, wanted), 1):
        if have != want:
            return f"note {number} is {told(have)}, should be {told(want)}"
    if len(found) != len(wanted):
        return f"{len(found)} notes, should be {len(wanted)}"
    return "equal"


def told(note):
    onset, length, midi = note[:3]
    name = f" {note[3]}" if len(note) > 3 else ""
    return f"(at {onset}, length {length}, MIDI {midi}{name})"


def check_tablature(report, riff, tree):
    """Every string and fret, over the open strings that the file itself gives, is the sounding pitch."""
    name = riff["name"]
    wanted = [(n["string"], n["fret"], n["midi"]) for n in riff["notes"] if "string" in n]
    if not wanted:
        return
    tuning = open_strings(tree)
    if not report.check(bool(tuning), f"{name}: tablature without staff-tuning"):
        return
    found = []
    for technical in tree.iterfind(".//technical"):
        string, fret = technical.findtext("string"), technical.findtext("fret")
        if string is not None and fret is not None and not tied_on(technical):
            found.append((int(string), int(fret)))
    report.same(found, [(s, f) for s, f, _ in wanted], f"{name}: strings and frets in MusicXML")
    for string, fret, midi in wanted:
        # Staff lines are numbered from the bottom, strings from the highest: MusicXML 4.0, `string`, `staff-tuning`.
        sounds = tuning.get(len(tuning) - string + 1, -1000) + fret
        if sounds != midi:
            report.check(False, f"{name}: string {string} fret {fret} sounds MIDI {sounds}, should be {midi}")
            return
    report.check(True, "")


def open_strings(tree):
    tuning = {}
    for line in tree.iterfind(".//staff-details/staff-tuning"):
        step, octave = line.findtext("tuning-step"), int(line.findtext("tuning-octave"))
        alter = int(float(line.findtext("tuning-alter") or 0))
        tuning[int(line.get("line"))] = 12 * (octave + 1) + LETTER[step] + alter
    return tuning


def tied_on(technical):
    """Whether the note that this belongs to continues the one before it."""
    note = technical.getparent().getparent()
    return any(tie.get("type") == "stop" for tie in note.iterfind("tie"))


def check_mxl(report, validator, riff, path, plain):
    """A zip whose container names a root file that is the same document as the uncompressed one."""
    name = riff["name"]

    def read():
        with zipfile.ZipFile(path) as archive:
            broken = archive.testzip()
            container = etree.fromstring(archive.read("META-INF/container.xml"), parser())
            root = container.find(".//{*}rootfile").get("full-path")
            return broken, archive.read(root)

    answer = report.attempt(f"{name}: mxl", read)
    if answer is None:
        return
    broken, data = answer
    report.check(broken is None, f"{name}: mxl: {broken} is damaged")
    tree = check_schema(report, validator, f"{name}: mxl", data)
    if tree is not None and plain is not None:
        same = etree.tostring(tree, method="c14n") == etree.tostring(plain, method="c14n")
        report.check(same, f"{name}: mxl and musicxml hold different documents")


def midi_notes(path):
    """Notes as `(on tick, off tick, number)`, the meter and tempo events, and the ticks per quarter."""
    file = mido.MidiFile(path)
    notes, meters, tempos, hanging = [], [], [], []
    for track in file.tracks:
        tick, open_notes = 0, {}
        for message in track:
            tick += message.time
            if message.type == "time_signature":
                meter = f"{message.numerator}/{message.denominator}"
                # A meter said again, after a pickup for example, marks a bar line and changes nothing.
                if not meters or meters[-1][1] != meter:
                    meters.append((Fraction(tick, file.ticks_per_beat), meter))
            elif message.type == "set_tempo":
                tempos.append((Fraction(tick, file.ticks_per_beat), message.tempo))
            if message.type not in ("note_on", "note_off") or message.channel == CLICK_CHANNEL:
                continue
            queue = open_notes.setdefault((message.channel, message.note), [])
            if message.type == "note_on" and message.velocity > 0:
                queue.append(tick)
            elif queue:
                notes.append((queue.pop(0), tick, message.note))
            else:
                hanging.append(f"note {message.note} ends at tick {tick} without having begun")
        for (_, number), queue in sorted(open_notes.items()):
            hanging += [f"note {number} begins at tick {tick} and never ends" for tick in queue]
    return sorted(notes), meters, tempos, file.ticks_per_beat, hanging


def check_midi(report, riff, path):
    """Onsets and ends to the nearest tick, numbers exactly."""
    name = riff["name"]
    answer = report.attempt(f"{name}: mido", lambda: midi_notes(path))
    if answer is None:
        return
    found, meters, tempos, per_quarter, hanging = answer
    report.check(not hanging, f"{name}: MIDI: {'; '.join(hanging[:3])}")
    wanted = sorted((Fraction(n["onset"]), Fraction(n["duration"]), n["midi"]) for n in riff["played"])
    report.check(*midi_difference(name, found, wanted, per_quarter))
    if riff.get("meters"):
        report.same(meters, expected_meters(riff), f"{name}: meters in MIDI")
    if riff.get("tempos"):
        rounded = [(onset, round(60_000_000 / speed)) for onset, speed in expected_tempos(riff)]
        report.same(tempos, rounded, f"{name}: tempos in MIDI")


def midi_difference(name, found, wanted, per_quarter):
    if len(found) != len(wanted):
        return False, f"{name}: MIDI holds {len(found)} notes, should be {len(wanted)}"
    half = Fraction(1, 2)
    for number, ((on, off, midi), (onset, length, pitch)) in enumerate(zip(found, wanted), 1):
        start, end = onset * per_quarter, (onset + length) * per_quarter
        if midi != pitch or abs(on - start) > half or abs(off - end) > half:
            return False, (
                f"{name}: MIDI note {number} is {midi} from tick {on} to {off}, "
                f"should be {pitch} from {float(start):g} to {float(end):g}"
            )
    return True, ""


def check_riff(report, validator, folder, riff):
    """Everything about one riff."""
    check_expected(report, riff)
    path = folder / riff["musicxml"]
    data = report.attempt(f"{riff['name']}: musicxml", path.read_bytes)
    if data is None:
        return
    tree = check_schema(report, validator, riff["name"], data)
    check_musicxml(report, riff, path)
    if tree is not None:
        check_tablature(report, riff, tree)
    if riff.get("mxl"):
        check_mxl(report, validator, riff, folder / riff["mxl"], tree)
    check_midi(report, riff, folder / riff["midi"])


def main(folder):
    report = Report()
    text = (folder / "expected.json").read_text(encoding="utf-8")
    riffs = json.loads(text)["riffs"]
    validator = schema()
    for riff in riffs:
        check_riff(report, validator, folder, riff)
    names = {riff["name"] for riff in riffs}
    report.same(len(names), len(riffs), "names are not unique")
    report.check(len(riffs) >= 500, f"only {len(riffs)} riffs were exported")
    report.check(any(riff.get("mxl") for riff in riffs), "no compressed file was exported")
    notes = sum(len(riff["notes"]) for riff in riffs)
    print(f"scores: {len(riffs)} riffs with {notes} written notes")
    return report.end()


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit("usage: scores.py OUTDIR")
    sys.exit(main(Path(sys.argv[1])))
