"""Invented bass lines with their true notes, and what is done to their sound.

A line is a list of `Note`s in seconds. Everything is drawn from a seeded generator: the same seed makes the same
lines. Used by `recorded_lines.py` (played by recorded notes) and `synth_lines.py` (played by a synthesiser).
"""
import csv
import os
import random
import shutil
import subprocess
import sys
import tempfile
from dataclasses import dataclass

import mido
import numpy as np
import soundfile as sf
from scipy.signal import fftconvolve, lfilter

RATE = 44100
LOWEST, HIGHEST = 23, 67  # B0 to G4: five strings, 24 frets
LEAD_IN = 0.25  # seconds before the first bar
SCALES = {
    "minor pentatonic": (0, 3, 5, 7, 10), "major pentatonic": (0, 2, 4, 7, 9), "dorian": (0, 2, 3, 5, 7, 9, 10),
    "mixolydian": (0, 2, 4, 5, 7, 9, 10), "aeolian": (0, 2, 3, 5, 7, 8, 10), "major": (0, 2, 4, 5, 7, 9, 11),
}
MINOR = {"minor pentatonic", "dorian", "aeolian"}
JOINED = ("hammer", "slide")


@dataclass
class Note:
    """One note: when it begins and ends, its MIDI number, velocity, and how it begins."""

    on: float
    off: float
    midi: int
    velocity: int
    manner: str  # struck, hammer (also pull-off), slide, dead; of these JOINED are no strokes


@dataclass
class Line:
    """A whole line and what the accompaniment needs to know of it."""

    kind: str
    meter: str
    bpm: float
    tick: float  # seconds of a sixteenth (4/4, 3/4) or of a triplet eighth (12/8)
    ticks_per_bar: int
    ticks_per_beat: int
    bars: int
    swing: float
    scale: str
    tonic: int
    roots: list  # MIDI number of the root of each bar
    notes: list  # with the dead ones

    def seconds(self):
        """Length of the recording."""
        return self.notes[-1].off + 0.7

    def strokes(self):
        """The notes of each stroke of the plucking hand: one that is struck or dead, then those joined to it."""
        begins = [k for k, note in enumerate(self.notes) if k == 0 or note.manner not in JOINED]
        return [self.notes[begin:end] for begin, end in zip(begins, begins[1:] + [len(self.notes)])]


# kind: lowest, highest, slowest, fastest, chances of: rest, same pitch again, joined, dead; lengths in ticks
KINDS = {
    "riff": (28, 52, 80, 132, .10, .25, .10, .06, (1, 2, 2, 2, 3, 4)),
    "eighths": (28, 50, 80, 150, .03, .80, .02, .03, (2,)),
    "sixteenths": (28, 50, 76, 112, .08, .55, .05, .22, (1, 1, 1, 1, 2)),
    "octaves": (28, 55, 100, 132, .05, .00, .02, .08, (2, 2, 2, 4)),
    "walking": (28, 50, 90, 160, .00, .10, .03, .08, (4,)),
    "ballad": (28, 55, 60, 88, .12, .15, .22, .00, (4, 4, 6, 8, 2)),
    "upper": (40, 67, 76, 126, .10, .12, .28, .03, (1, 2, 2, 3, 4)),
    "low": (23, 40, 70, 126, .08, .30, .08, .05, (2, 2, 3, 4, 1)),
    "legato": (28, 57, 70, 116, .06, .08, .42, .02, (1, 2, 2, 4)),
    "stabs": (28, 55, 84, 132, .22, .30, .00, .10, (1, 2, 2, 3)),
}
JOINED_AT_MOST = 5  # semitones


def invent(rng, index, seconds=12.0, joined=True, dead=True):
    """A line of about `seconds`; `index` picks the kind, `rng` everything else."""
    kind = list(KINDS)[index % len(KINDS)]
    low, high, slow, fast, p_rest, p_same, p_joined, p_dead, lengths = KINDS[kind]
    meter = "4/4"
    if kind in ("riff", "ballad", "legato", "walking") and rng.random() < .3:
        meter = rng.choice(["12/8", "3/4"])
    per_beat = 3 if meter == "12/8" else 4
    per_bar = {"4/4": 16, "3/4": 12, "12/8": 12}[meter]
    bpm = rng.uniform(slow, fast)
    if meter == "12/8":
        bpm = min(bpm, rng.uniform(60, 110))
    tick = 60 / bpm / per_beat
    swing = rng.uniform(.56, .67) if meter == "4/4" and kind in ("riff", "walking", "stabs") and rng.random() < .4 else .5
    bars = max(3, round(seconds / (tick * per_bar)))
    scale = rng.choice(list(SCALES))
    tonic = rng.randrange(low, min(low + 12, high - 7))
    pitches = [p for p in range(low, high + 1) if (p - tonic) % 12 in SCALES[scale]]
    near = [p for p in pitches if p <= tonic + 9] or pitches
    roots = [tonic, rng.choice(near), rng.choice(near), rng.choice(near)]
    gate = rng.choice(["short", "normal", "long", "mixed"]) if kind != "stabs" else "short"
    loud = rng.randint(76, 104)

    def swung(at):
        """Off-beat eighths of a swung line come late."""
        if swing == .5:
            return at * tick
        beat, rest = divmod(at, 4)
        return (beat * 4 + (rest * swing * 2 if rest <= 2 else 4 * swing + (rest - 2) * (1 - swing) * 2)) * tick

    figure, notes, now = None, [], tonic
    for bar in range(bars):
        root = roots[bar % 4]
        fresh = figure is None or kind == "walking" or rng.random() < .45
        if fresh:
            figure = _figure(rng, kind, root, roots[(bar + 1) % 4], pitches, now, per_bar, per_beat, lengths,
                             p_rest, p_same, p_dead if dead else 0.)
            base = root
        shift = root - base
        at = 0
        for length, midi, is_dead in figure:
            if midi is not None:
                midi = min(HIGHEST, max(LOWEST, midi + (shift if low <= midi + shift <= high else 0)))
                start = bar * per_bar + at
                on, following = swung(start), swung(start + length)
                share = {"short": rng.uniform(.35, .6), "normal": rng.uniform(.75, .92), "long": rng.uniform(.97, 1.)}[
                    gate if gate != "mixed" else rng.choice(["short", "normal", "long"])]
                accent = 9 if start % (per_beat * 2) == 0 else 0
                velocity = max(42, min(124, loud + accent + rng.randint(-16, 10)))
                jitter = max(-.014, min(.014, rng.gauss(0, .006)))
                if is_dead:
                    notes.append(Note(on + jitter, on + jitter + rng.uniform(.03, .06), midi, velocity, "dead"))
                else:
                    length_s = max(.06, (following - on) * share)
                    notes.append(Note(on + jitter, on + jitter + length_s, midi, velocity, "struck"))
                now = midi
            at += length
    for note in notes:
        note.on += LEAD_IN
        note.off += LEAD_IN
    if joined:
        _join(rng, notes, p_joined)
    for note, after in zip(notes, notes[1:]):
        joined_on = after.manner in JOINED
        note.off = after.on if joined_on else min(note.off, after.on - .004)
    kept = [n for n in notes if n.off - n.on >= .03]
    return Line(kind, meter, bpm, tick, per_bar, per_beat, bars, swing, scale, tonic,
                [roots[b % 4] for b in range(bars)], kept)


def _figure(rng, kind, root, next_root, pitches, now, per_bar, per_beat, lengths, p_rest, p_same, p_dead):
    """One bar: (length in ticks, MIDI number or None for a rest, whether dead)."""
    out, left, pitch = [], per_bar, min(pitches, key=lambda p: abs(p - root))
    if per_beat == 3:
        lengths = {4: (3,), 8: (6, 3)}.get(lengths[0], (1, 1, 2, 3))
    first = True
    while left:
        length = min(rng.choice(lengths), left)
        index = min(range(len(pitches)), key=lambda k: abs(pitches[k] - pitch))
        if first:
            pass
        elif kind == "octaves":
            pitch = pitch + 12 if pitch < root + 12 <= pitches[-1] else root
        elif kind == "walking" and left <= lengths[0]:
            pitch = next_root + rng.choice([-2, -1, 1])
        elif rng.random() >= p_same:
            draw = rng.random()
            if draw < .1 and pitch + 12 <= pitches[-1]:
                pitch += 12
            elif draw < .2 and pitch - 12 >= pitches[0]:
                pitch -= 12
            elif draw < .3:
                pitch += rng.choice([-1, 1])
            elif draw < .42:
                pitch = root
            else:
                pitch = pitches[max(0, min(len(pitches) - 1, index + rng.choice([-3, -2, -1, -1, 1, 1, 2, 3])))]
            pitch = max(pitches[0], min(pitches[-1], pitch))
        rest = not first and rng.random() < p_rest
        is_dead = not first and not rest and rng.random() < p_dead
        if kind == "walking" and length == 4 and rng.random() < p_dead * 2 and left >= 4:
            out += [(3, pitch, False), (1, pitch, True)]  # a skipped dead note before the next beat
        else:
            out.append((length, None if rest else pitch, is_dead))
        left -= length
        first = False
    return out


def _join(rng, notes, chance):
    """Turns struck notes that follow closely into hammer-ons, pull-offs and slides."""
    for before, note in zip(notes, notes[1:]):
        step = abs(note.midi - before.midi)
        roomy = note.on - before.on >= .13 and note.off - note.on >= .11
        if (before.manner == "dead" or note.manner == "dead" or not 1 <= step <= JOINED_AT_MOST or not roomy
                or note.on - before.on > 1.2 or rng.random() >= min(.9, chance * 2)):
            continue
        note.manner = "hammer" if step <= 3 and rng.random() < .55 else "slide"


# ---------------------------------------------------------------- accompaniment
def accompaniment(rng, line):
    """(drums, chords, lead, chord program, lead program): lists of (on, off, MIDI number, velocity)."""
    at = lambda ticks: LEAD_IN + ticks * line.tick
    bar, beat = line.ticks_per_bar, line.ticks_per_beat
    drums, chords, lead = [], [], []
    cymbal = rng.choice([42, 42, 51])
    step = 1 if line.bpm < 75 and rng.random() < .3 else (2 if beat == 4 else 1)
    kicks = sorted({0} | {x for x in range(0, bar, 2) if rng.random() < .25})
    snares = [x for x in range(beat, bar, 2 * beat)]
    third = 3 if line.scale in MINOR else 4
    comp = sorted({0} | {x for x in range(0, bar, 2) if rng.random() < .28})
    high = [p for p in range(60, 86) if (p - line.tonic) % 12 in SCALES[line.scale]]
    now = rng.choice(high)
    for number, root in enumerate(line.roots):
        start = number * bar
        for x in kicks:
            drums.append((at(start + x), at(start + x) + .1, rng.choice([35, 36]), rng.randint(84, 114)))
        for x in snares:
            drums.append((at(start + x), at(start + x) + .1, rng.choice([38, 38, 40]), rng.randint(78, 110)))
        for x in range(0, bar, step):
            drums.append((at(start + x), at(start + x) + .05, cymbal, rng.randint(46, 86)))
        if number == line.bars - 1:
            for x in range(bar - beat, bar):
                drums.append((at(start + x), at(start + x) + .1, rng.choice([41, 43, 45, 47]), 94))
        base = 52 + (root - 52) % 12
        for k, x in enumerate(comp):
            end = comp[k + 1] if k + 1 < len(comp) else bar
            off = at(start + x) + (end - x) * line.tick * rng.choice([.45, .95])
            for interval in (0, third, 7) + ((10,) if rng.random() < .3 else ()):
                chords.append((at(start + x), off, base + interval, rng.randint(58, 90)))
        x = 0
        while x < bar:
            length = min(rng.choice([2, 2, 3, 4, 6]), bar - x)
            if rng.random() < .65:
                k = min(range(len(high)), key=lambda i: abs(high[i] - now))
                now = high[max(0, min(len(high) - 1, k + rng.choice([-2, -1, 1, 2])))]
                lead.append((at(start + x), at(start + x) + length * line.tick * .9, now, rng.randint(68, 100)))
            x += length
    chord_program = rng.choice([0, 2, 4, 5, 16, 18, 24, 25, 26, 27, 29])
    lead_program = rng.choice([11, 26, 29, 56, 57, 65, 66, 73, 80, 81])
    return drums, chords, lead, chord_program, lead_program


def write_midi(path, tracks, first=None):
    """Tracks of (channel, program, pan, notes); one tick is a millisecond. `first` has for a channel what is sent to it
    before its notes: (kind of message, what it says)."""
    song = mido.MidiFile(type=1, ticks_per_beat=500)
    for channel, program, pan, notes in tracks:
        track = mido.MidiTrack()
        song.tracks.append(track)
        events = [(0, 0, mido.Message("control_change", channel=channel, control=10, value=pan))]
        for kind, says in (first or {}).get(channel, []):
            events.append((0, 0, mido.Message(kind, channel=channel, **says)))
        if channel != 9 or program:
            events.append((0, 0, mido.Message("program_change", channel=channel, program=program)))
        for on, off, midi, velocity in notes:
            events.append((round(on * 1000), 2, mido.Message("note_on", channel=channel, note=midi, velocity=velocity)))
            events.append((round(off * 1000), 1, mido.Message("note_off", channel=channel, note=midi, velocity=0)))
        last = 0
        for time, _, message in sorted(events, key=lambda e: (e[0], e[1])):
            track.append(message.copy(time=max(0, time - last)))
            last = max(last, time)
    song.save(path)


def synthesise(midi_path, soundfont, reverb=(.2, .4)):
    """The sound of a MIDI file, stereo; `reverb` is (level, room size) or None."""
    with tempfile.TemporaryDirectory() as folder:
        out = os.path.join(folder, "out.wav")
        level, room = reverb or (0., 0.)
        subprocess.run(
            ["fluidsynth", "-ni", "-q", "-g", "0.5", "-r", str(RATE), "-R", "1" if reverb else "0", "-C", "0",
             "-o", f"synth.reverb.level={level}", "-o", f"synth.reverb.room-size={room}",
             "-F", out, "-T", "wav", "-O", "float", soundfont, midi_path],
            check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        sound, _ = sf.read(out, always_2d=True)
    return sound


def need_program(name, package):
    """Ends with a clear message when an outside program is missing."""
    if not shutil.which(name):
        sys.exit(f"{name} is missing: install the Debian package {package} (apt-get install {package})")


# ---------------------------------------------------------------- what a room and a phone do to the sound
def through_mp3(sound, kbps=96):
    """The sound after an MP3 round trip; the codec's delay is taken off."""
    with tempfile.TemporaryDirectory() as folder:
        path = lambda name: os.path.join(folder, name)
        sf.write(path("a.wav"), sound, RATE)
        for source, to, options in (("a.wav", "b.mp3", ["-b:a", f"{kbps}k"]), ("b.mp3", "c.wav", [])):
            subprocess.run(["ffmpeg", "-v", "error", "-y", "-i", path(source), *options, path(to)], check=True)
        back, _ = sf.read(path("c.wav"))
    return back[:len(sound)]


def degrade(sound, rng, noise_rng):
    """(sound, SNR in dB, reverberation time in s): a room, noise at 20 to 30 dB, MP3 at 96 kbit/s."""
    decay, wet = rng.uniform(.2, .45), 10 ** (rng.uniform(-15, -8) / 20)
    count = int(decay * RATE)
    tail = noise_rng.standard_normal(count) * 10 ** (-3 * np.arange(count) / count)
    tail[:int(rng.uniform(.002, .006) * RATE)] = 0
    tail = lfilter([.5], [1, -.5], tail)
    tail /= np.sqrt((tail ** 2).sum())
    wet_sound = sound + wet * fftconvolve(sound, tail)[:len(sound)]
    noise = lfilter([.06], [1, -.94], noise_rng.standard_normal(len(sound)))
    noise = noise / noise.std() + rng.uniform(.2, .6) * noise_rng.standard_normal(len(sound))
    if rng.random() < .35:  # mains hum, part of the noise
        time, mains = np.arange(len(sound)) / RATE, rng.choice([50, 60])
        noise += .7 * np.sin(2 * np.pi * mains * time) + .3 * np.sin(2 * np.pi * 2 * mains * time + 1)
    snr = rng.uniform(20, 30)
    wet_sound = wet_sound + noise / noise.std() * wet_sound.std() * 10 ** (-snr / 20)
    return through_mp3(.8 * wet_sound / np.abs(wet_sound).max()), snr, decay


# ---------------------------------------------------------------- writing a set
def fitted(sound, length):
    """Cut or padded with silence to `length` samples."""
    return np.pad(sound, [(0, max(0, length - len(sound)))] + [(0, 0)] * (sound.ndim - 1))[:length]


FOLDERS = ("ref", "dead", "manner", "mid", "solo", "solo-degraded", "mix")
COLUMNS = ("name kind meter bpm bars swing scale notes joined dead seconds lowest highest snr_db rt60 bass_to_rest_db "
           "instrument").split()


def write_set(folder, seed, prefix, count, soundfont, bass_of, instrument_of, **invention):
    """Writes a set: `bass_of(line, rng, k)` gives a line's clean sound (mono or stereo).

    ref/NAME.csv     onset_s,offset_s,midi of the pitched notes
    dead/NAME.csv    the same of the dead notes (midi: where the hand was)
    manner/NAME.csv  onset_s,manner of every note of ref
    solo, solo-degraded, mix/NAME.wav, meta.csv
    """
    for name in FOLDERS:
        os.makedirs(os.path.join(folder, name), exist_ok=True)
    rows = []
    for k in range(count):
        rng, name = random.Random(f"{seed}:{k}"), f"{prefix}{seed}_{k:02d}"
        line = invent(rng, k, **invention)
        pitched = [n for n in line.notes if n.manner != "dead"]
        dead = [n for n in line.notes if n.manner == "dead"]
        length = int(line.seconds() * RATE)
        bass = fitted(bass_of(line, rng, k), length)
        mono = bass if bass.ndim == 1 else bass.mean(1)
        path = lambda kind, ending: os.path.join(folder, kind, f"{name}.{ending}")
        for kind, notes in (("ref", pitched), ("dead", dead)):
            with open(path(kind, "csv"), "w", encoding="utf-8") as out:
                out.writelines(f"{n.on:.3f},{n.off:.3f},{n.midi}\n" for n in notes)
        with open(path("manner", "csv"), "w", encoding="utf-8") as out:
            out.writelines(f"{n.on:.3f},{n.manner}\n" for n in pitched)
        sf.write(path("solo", "wav"), .8 * mono / np.abs(mono).max(), RATE, subtype="PCM_16")
        worse, snr, decay = degrade(mono, rng, np.random.default_rng([seed, k]))
        sf.write(path("solo-degraded", "wav"), np.clip(worse, -1, 1), RATE, subtype="PCM_16")
        drums, chords, lead, chord_program, lead_program = accompaniment(rng, line)
        ratio = rng.uniform(-6, 0)
        write_midi(path("mid", "mid"), [(9, 0, 64, drums), (1, chord_program, rng.choice([30, 98]), chords),
                                        (2, lead_program, rng.choice([48, 80]), lead)])
        rest = fitted(synthesise(path("mid", "mid"), soundfont), length)
        stereo = np.stack([mono, mono], 1) if bass.ndim == 1 else bass
        mix = stereo / stereo.std() * 10 ** (ratio / 20) + rest / rest.std()
        sf.write(path("mix", "wav"), .9 * mix / np.abs(mix).max(), RATE, subtype="PCM_16")
        joined = sum(n.manner in JOINED for n in pitched)
        rows.append([name, line.kind, line.meter, f"{line.bpm:.2f}", line.bars, f"{line.swing:.2f}", line.scale,
                     len(pitched), joined, len(dead), f"{length / RATE:.2f}", min(n.midi for n in pitched),
                     max(n.midi for n in pitched), f"{snr:.1f}", f"{decay:.2f}", f"{ratio:.1f}", instrument_of(k)])
    with open(os.path.join(folder, "meta.csv"), "w", newline="", encoding="utf-8") as out:
        table = csv.writer(out)
        table.writerow(COLUMNS)
        table.writerows(rows)
    print(f"{count} lines, {sum(r[7] for r in rows)} notes ({sum(r[8] for r in rows)} joined), "
          f"{sum(r[9] for r in rows)} dead, {sum(float(r[10]) for r in rows):.0f} s -> {folder}")
