"""Proves that the other scripts can fail: right files made up on the spot pass, each broken one is caught.

Usage: selfcheck.py BROWSER
"""

import sys
import tempfile
import zipfile
from pathlib import Path

import mido

import page
import scores
import sheet
from report import Report

NOTE = """<note><pitch><step>{step}</step>{alter}<octave>{octave}</octave></pitch><duration>{duration}</duration>{tie}
<voice>{voice}</voice><type>{kind}</type><staff>{staff}</staff>{notations}</note>"""

SCORE = """<?xml version="1.0" encoding="UTF-8"?>
<score-partwise version="4.0">
<part-list><score-part id="P1"><part-name>Bass</part-name></score-part></part-list>
<part id="P1">
<measure number="1">
<attributes><divisions>2</divisions><key><fifths>-6</fifths></key><time><beats>3</beats><beat-type>4</beat-type></time>
<staves>2</staves><clef number="1"><sign>F</sign><line>4</line></clef><clef number="2"><sign>TAB</sign></clef>
<staff-details number="2"><staff-lines>2</staff-lines>
<staff-tuning line="1"><tuning-step>A</tuning-step><tuning-octave>1</tuning-octave></staff-tuning>
<staff-tuning line="2"><tuning-step>D</tuning-step><tuning-octave>2</tuning-octave></staff-tuning></staff-details>
<transpose><diatonic>0</diatonic><chromatic>0</chromatic><octave-change>-1</octave-change></transpose></attributes>
<direction><direction-type><metronome><beat-unit>quarter</beat-unit><per-minute>90</per-minute></metronome>
</direction-type><sound tempo="90"/></direction>
<harmony><root><root-step>D</root-step></root><kind>minor</kind></harmony>
{bar1}</measure>
<measure number="2">{bar2}</measure>
</part></score-partwise>
"""

# Cb2 quarter, F2 tied over the bar line; sounding. Written an octave above.
RIFF = {
    "name": "made up",
    "musicxml": "a.musicxml",
    "mxl": "a.mxl",
    "midi": "a.mid",
    "notes": [
        {"onset": "0", "duration": "1", "midi": 35, "name": "Cb2", "string": 2, "fret": 2},
        {"onset": "1", "duration": "7/2", "midi": 41, "name": "F2", "string": 1, "fret": 3},
    ],
    "played": [{"onset": "0", "duration": "1/3", "midi": 35}, {"onset": "1", "duration": "7/2", "midi": 41}],
    "fifths": -6,
    "meters": [{"onset": "0", "meter": "3/4"}],
    "tempos": [{"onset": "0", "quarters_per_minute": "90"}],
}


def staff(number):
    """Both bars of one staff."""
    voice = number * 4 - 3

    def note(step, alter, octave, duration, kind, tie="", technical=""):
        tied = f'<tie type="{tie}"/>' if tie else ""
        inner = (f'<tied type="{tie}"/>' if tie else "") + (technical if number == 2 else "")
        return NOTE.format(
            step=step,
            alter=f"<alter>{alter}</alter>" if alter else "",
            octave=octave,
            duration=duration,
            tie=tied,
            voice=voice,
            kind=kind,
            staff=number,
            notations=f"<notations>{inner}</notations>" if inner else "",
        )

    tab = "<technical><string>{}</string><fret>{}</fret></technical>"
    bar1 = note("C", -1, 3, 2, "quarter", technical=tab.format(2, 2))
    bar1 += note("F", 0, 3, 4, "half", "start", tab.format(1, 3))
    bar2 = note("F", 0, 3, 3, "quarter", "stop").replace("<staff>", "<dot/><staff>")
    return bar1, bar2


def score():
    one, two = staff(1), staff(2)
    return SCORE.format(
        bar1=one[0] + "<backup><duration>6</duration></backup>" + two[0],
        bar2=one[1] + "<backup><duration>3</duration></backup>" + two[1],
    )


def write_midi(path, shift=0, late=0, drop_off=False):
    file = mido.MidiFile(ticks_per_beat=480)
    tempo, notes = mido.MidiTrack(), mido.MidiTrack()
    tempo.append(mido.MetaMessage("set_tempo", tempo=666667))
    tempo.append(mido.MetaMessage("time_signature", numerator=3, denominator=4))
    notes.append(mido.Message("note_on", note=35 + shift, velocity=90, time=0))
    notes.append(mido.Message("note_on", note=35 + shift, velocity=0, time=160))
    notes.append(mido.Message("note_on", note=41, velocity=90, time=320 + late))
    notes.append(mido.Message("note_on", channel=9, note=76, velocity=90, time=0))
    notes.append(mido.Message("note_off", channel=9, note=76, time=0))
    if not drop_off:
        notes.append(mido.Message("note_off", note=41, time=1680))
    file.tracks += [tempo, notes]
    file.save(path)


def write_mxl(path, text):
    container = (
        '<container xmlns="urn:oasis:names:tc:opendocument:xmlns:container"><rootfiles>'
        '<rootfile full-path="score.musicxml"/></rootfiles></container>'
    )
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("META-INF/container.xml", container)
        archive.writestr("score.musicxml", text)


def scores_verdict(validator, riff=None, text=None, packed=None, **midi):
    """What scores.py finds in one made-up riff."""
    verdict = Report()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "a.musicxml").write_text(text or score(), encoding="utf-8")
        write_mxl(folder / "a.mxl", packed or text or score())
        write_midi(folder / "a.mid", **midi)
        scores.check_riff(verdict, validator, folder, riff or RIFF)
    return verdict


def with_note(**change):
    """The riff with its first expected note changed."""
    return {**RIFF, "notes": [{**RIFF["notes"][0], **change}, RIFF["notes"][1]]}


def check_scores(report):
    validator = scores.schema()

    def passes(what, **made):
        wrong = scores_verdict(validator, **made).wrong
        report.check(not wrong, f"{what} should pass: {wrong}")

    def caught(what, word, **made):
        wrong = scores_verdict(validator, **made).wrong
        report.check(any(word in line for line in wrong), f"{what} should be caught by `{word}`: {wrong}")

    text = score()
    passes("the made-up riff")
    caught("a wrong octave", "staff 1", riff=with_note(midi=47, name="Cb3"))
    caught("a wrong spelling", "staff 1", riff=with_note(name="B1"))
    caught("a spelling that is not its number", "calls MIDI", riff=with_note(name="B2"))
    caught("a wrong onset", "staff 1", riff=with_note(onset="1/2"))
    caught("a wrong length", "staff 1", riff=with_note(duration="3/4"))
    caught("a lost note", "staff 2", riff={**RIFF, "notes": RIFF["notes"][:1]})
    caught("a wrong fret", "sounds MIDI", riff=with_note(fret=3))
    caught("another fret than written", "strings and frets", riff=with_note(fret=3))
    caught("a wrong key signature", "key signature", riff={**RIFF, "fifths": 6})
    caught("a wrong meter", "meters in MIDI", riff={**RIFF, "meters": [{"onset": "0", "meter": "6/8"}]})
    caught("a wrong tempo", "tempos in MusicXML", text=text.replace("90<", "91<").replace('"90"', '"91"'))
    caught("a broken tie", "staff 1", text=text.replace('<tie type="start"/>', "", 1).replace('<tied type="start"/>', "", 1))
    caught("no transposition", "octave above", text=text.replace("<octave-change>-1", "<octave-change>0"))
    caught("a word that the schema lacks", "not valid", text=text.replace("<voice>1</voice>", "<voicing>1</voicing>", 1))
    caught("text that is not XML", "XML", text=text.replace("</part>", ""))
    caught("another document in the mxl", "different documents", packed=text.replace("Bass", "Bess"))
    caught("a wrong MIDI number", "MIDI note 1", shift=1)
    caught("a late MIDI note", "MIDI note 2", late=1)
    caught("a MIDI note without end", "never ends", drop_off=True)


GOOD_PAGE = """<!DOCTYPE html><html lang="en"><head><meta charset="utf-8"><title>Made up</title>
<meta name="viewport" content="width=device-width"><style>
@page { size: A4; margin: 20mm } body { color: black; background: white }
@media (prefers-color-scheme: dark) { body { color: white; background: black } } </style></head>
<body><h1>Tuesday</h1><p>Low Oar, High Oar</p>
<section><h2>Low Oar</h2><button data-play>Play</button></section>
<section><h2>High Oar</h2><button data-play>Play</button></section>
<script>for (const button of document.querySelectorAll('button')) button.onclick = async () => {
const context = new AudioContext(); await context.resume();
const tone = context.createOscillator(), level = context.createGain(); level.gain.value = 0.2;
tone.connect(level).connect(context.destination); tone.start(); tone.stop(context.currentTime + 5);
button.closest('section').setAttribute('data-playing', ''); };</script></body></html>
"""


def check_pages(report, context):
    def verdict(text):
        found = Report()
        with tempfile.TemporaryDirectory() as name:
            path = Path(name) / "page.html"
            path.write_text(text, encoding="utf-8")
            page.check_page(found, context, path, Path(name) / "pictures", 2)
        return found.wrong

    def caught(what, word, old, new):
        wrong = verdict(GOOD_PAGE.replace(old, new))
        report.check(any(word in line for line in wrong), f"{what} should be caught by `{word}`: {wrong}")

    context.set_default_timeout(3_000)
    wrong = verdict(GOOD_PAGE)
    report.check(not wrong, f"the made-up page should pass: {wrong}")
    caught("an error on the console", "console", "</script>", "console.error('x')</script>")
    caught("an exception", "console", "</script>", "nothing.here()</script>")
    caught("a request to elsewhere", "beyond the file", "</body>", '<img alt="" src="http://127.0.0.1:9/x.png"></body>')
    caught("a riff that keeps silent", "does not play", "gain.value = 0.2", "gain.value = 0")
    caught("a riff that does not say it plays", "does not play", "setAttribute('data-playing', '')", "matches('a')")
    caught("a page too wide for a phone", "sideways", "<h1>", '<h1 style="width:500px">')
    caught("a button without a name", "without a name", ">Play</button>", "></button>")
    caught("no dark colours", "dark looks like light", "color: white; background: black", "")


def check_sheets(report, context):
    ladder = {"title": "Tuesday", "rungs": [{"riff": "Low Oar"}, {"riff": "High Oar"}]}

    def made(folder, name, text, **options):
        tab = context.new_page()
        tab.set_content(text)
        path = folder / name
        tab.pdf(path=str(path), prefer_css_page_size=True, tagged=True, **options)
        tab.close()
        return path

    def caught(pdf, word, what, with_ladder=ladder):
        found = Report()
        sheet.check_pdf(found, pdf, with_ladder)
        report.check(any(word in line for line in found.wrong), f"{what} should be caught by `{word}`: {found.wrong}")

    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        good = made(folder, "good.pdf", GOOD_PAGE)
        found = Report()
        sheet.check_pdf(found, good, ladder)
        report.check(not found.wrong, f"the made-up sheet should pass: {found.wrong}")
        caught(good, "ladder order", "riffs out of order", {**ladder, "rungs": ladder["rungs"][::-1]})
        caught(good, "does not come before", "a title that is not there", {**ladder, "title": "Wednesday"})
        caught(good, "does not name", "a riff that is not there", {**ladder, "rungs": [{"riff": "Far Oar"}]})
        letter = made(folder, "letter.pdf", GOOD_PAGE.replace("size: A4", "size: letter"))
        caught(letter, "not A4", "a page of another size")
        black = '<h1 style="background:black;print-color-adjust:exact">'
        bleeding = GOOD_PAGE.replace("<h1>", black).replace("margin: 20mm", "margin: 0").replace("body {", "body { margin: 0;")
        caught(made(folder, "bleed.pdf", bleeding), "outer", "ink at the edge")
        (folder / "cut.pdf").write_bytes(good.read_bytes()[:-400])
        caught(folder / "cut.pdf", "qpdf", "a file cut short")
        (folder / "bare.pdf").write_text(bare_pdf(), encoding="latin-1")
        caught(folder / "bare.pdf", "not embedded", "a font that is not in the file", None)
        caught(folder / "bare.pdf", "not tagged", "a document without tags", None)


def bare_pdf():
    """A page in a font that every reader is expected to bring itself."""
    stream = "BT /F1 24 Tf 100 700 Td (Tuesday) Tj ET"
    objects = [
        "<</Type/Catalog/Pages 2 0 R>>",
        "<</Type/Pages/Kids[3 0 R]/Count 1>>",
        "<</Type/Page/Parent 2 0 R/MediaBox[0 0 595.28 841.89]/Contents 4 0 R/Resources<</Font<</F1 5 0 R>>>>>>",
        f"<</Length {len(stream)}>>\nstream\n{stream}\nendstream",
        "<</Type/Font/Subtype/Type1/BaseFont/Helvetica>>",
    ]
    text, places = "%PDF-1.4\n", []
    for number, body in enumerate(objects, 1):
        places.append(len(text))
        text += f"{number} 0 obj\n{body}\nendobj\n"
    table = "".join(f"{place:010} 00000 n \n" for place in places)
    size = len(objects) + 1
    return f"{text}xref\n0 {size}\n0000000000 65535 f \n{table}trailer\n<</Size {size}/Root 1 0 R>>\nstartxref\n{len(text)}\n%%EOF\n"


def main(program):
    report = Report()
    report.attempt("scores", lambda: check_scores(report))
    with page.browser(program) as context:
        report.attempt("page", lambda: check_pages(report, context))
        report.attempt("sheet", lambda: check_sheets(report, context))
    return report.end()


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit("usage: selfcheck.py BROWSER")
    sys.exit(main(Path(sys.argv[1])))
