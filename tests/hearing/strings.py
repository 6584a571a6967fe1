#!/usr/bin/env python3
"""Bass lines played by strings and simple synthesisers that are computed, not recorded: no two lines sound alike.

    strings.py --seed N --out DIR [--count 20] [--soundfont F.sf2]

The SoundFont plays what else there is in the mix.

A plucked string is the sum of its partials. Partial n of a stiff string lies at n f0 sqrt(1 + B n^2) (Fletcher, "Normal
vibration frequencies of a stiff piano string", JASA 36(1), 1964). Plucked at the share p of its length and heard by a
pickup at the share q, it has the amplitude sin(n pi p) sin(n pi q) / n (an ideal string and its velocity; Fletcher and
Rossing, The Physics of Musical Instruments, chapter 2). The higher a partial, the sooner it dies. What else a line is
given by lot (stiffness, finger or plectrum, muting palm, slap, tone, beating, drive) has no source: it is meant to be
wide, not true to an instrument. One line in four is played by a synthesiser instead: saw, square, triangle or sine
through a filter that closes.

Sound above `HIGHEST_HZ` is not made; what hears a bass in a mix does not look there.
"""
import argparse

import numpy as np
from scipy.signal import butter, sosfilt

import lines
import synth_lines
from lines import RATE

HIGHEST_HZ = 5000.
MOST_PARTIALS = 48
TOUCHES = ("finger", "finger", "finger", "plectrum", "plectrum", "palm", "slap")
WAVES = ("saw", "square", "triangle", "sine")
STRINGS = (23, 28, 33, 38, 43)  # B0 E1 A1 D2 G2


class Player:
    """Plays one line; all that is the instrument's own is drawn when it is made."""

    def __init__(self, rng):
        self.rng, self.noise = rng, np.random.default_rng(rng.getrandbits(32))
        self.touch = rng.choice(WAVES) if rng.random() < .25 else rng.choice(TOUCHES)
        self.synthetic = self.touch in WAVES
        self.tuning = rng.uniform(-.1, .1)  # semitones
        self.stiffness = 0. if self.synthetic else np.exp(rng.uniform(np.log(1e-5), np.log(2.5e-4)))  # of an open string
        self.pluck = rng.uniform(.05, .4)  # where on the open string
        self.pickup = rng.uniform(.04, .3)
        self.bright_hz = {"finger": 1100, "palm": 600, "plectrum": 3000, "slap": 3800}.get(self.touch, 0) * np.exp(
            rng.uniform(-.6, .6))
        if self.touch == "palm":
            self.life = .25 * np.exp(rng.uniform(-.6, .6))
        else:
            self.life = np.exp(rng.uniform(np.log(.7), np.log(6)))
        self.fall = np.exp(rng.uniform(np.log(.3), np.log(6)))  # how much sooner a partial at 1 kHz dies, per second
        self.beating = rng.uniform(0, .35)
        self.glide = rng.uniform(0, .25)  # semitones a hard stroke is sharp at first
        self.click = 10 ** (rng.uniform(-36, -14) / 20) * (3 if self.touch == "slap" else 1)
        self.spread = rng.uniform(.7, 1.7)
        self.damping = rng.uniform(.006, .025)
        self.drive = rng.uniform(1, 6) if rng.random() < .25 else 0.
        # The equaliser of strings, body, pickup and amplifier: decibels at these places, and what the lows lose.
        self.places = np.log2(np.geomspace(25, HIGHEST_HZ, 10))
        self.decibels = np.array([rng.gauss(0, 4) for _ in self.places])
        self.low_cut_hz = rng.uniform(60, 160) if rng.random() < .25 else rng.uniform(15, 35)
        self.filter_hz, self.filter_open = np.exp(rng.uniform(np.log(150), np.log(1500))), rng.uniform(0, 8)
        self.filter_s, self.resonance = rng.uniform(.04, .5), rng.uniform(0, 2.5)
        self.sustain, self.swell = rng.uniform(.3, 1.), rng.uniform(.001, .015)

    def play(self, line):
        """The line's sound, mono."""
        out = np.zeros(int(line.seconds() * RATE) + RATE)
        for stroke in line.strokes():
            sound = self.dead(stroke[0]) if stroke[0].manner == "dead" else self.voice(stroke)
            begin = max(0, round(stroke[0].on * RATE))
            end = min(len(out), begin + len(sound))
            out[begin:end] += sound[:end - begin]
        if self.drive:
            loud = np.sqrt(np.mean(out ** 2)) + 1e-9
            out = np.tanh(self.drive * out / (3 * loud)) + .15 * out / loud
        return out

    def voice(self, notes):
        """A stroke and the notes joined to it."""
        rng, first = self.rng, notes[0]
        time = np.arange(int((notes[-1].off - first.on + .2) * RATE)) / RATE
        pitch, strength = np.full(len(time), float(first.midi)), np.ones(len(time))
        for before, note in zip(notes, notes[1:]):
            at = note.on - first.on
            half = rng.uniform(.02, .05) if note.manner == "slide" else rng.uniform(.003, .014)
            step = note.midi - before.midi
            ramp = np.clip((time - at + half) / (2 * half), 0, 1)
            if note.manner == "slide" and not self.synthetic:
                whole = np.floor(ramp * abs(step))
                ramp = np.minimum(abs(step), whole + np.clip((ramp * abs(step) - whole) * 3, 0, 1)) / abs(step)
            pitch += step * ramp
            strength *= 1 + (rng.uniform(.6, 1.1) - 1) * np.clip((time - at) / .01, 0, 1)
        hard = (first.velocity / 100) ** (2 * self.spread)
        bend = self.glide * min(1.5, hard) * np.exp(-time / .08) if not self.synthetic else 0.
        hertz = 440 * 2 ** ((pitch + self.tuning + bend - 69) / 12)
        turns = np.cumsum(hertz) / RATE
        sound = (self.wave if self.synthetic else self.string)(first, time, hertz[0], turns)
        hold = rng.uniform(.7, 2) * self.damping
        off = notes[-1].off - first.on
        return sound * strength * hard * np.where(time < off, 1., np.exp(-np.maximum(0, time - off) / hold))

    def coloured(self, hertz):
        """Gain of the equaliser."""
        decibels = np.interp(np.log2(np.maximum(hertz, 1)), self.places, self.decibels)
        return 10 ** (decibels / 20) * hertz ** 2 / (hertz ** 2 + self.low_cut_hz ** 2)

    def string(self, note, time, hertz, turns):
        """A plucked string from the stroke on."""
        rng = self.rng
        open_string = max([s for s in STRINGS if s <= note.midi] or [STRINGS[0]])
        shorter = 2 ** ((note.midi - open_string) / 12)
        stiffness = self.stiffness * shorter ** 2
        place = min(.5, (self.pluck + rng.uniform(-.03, .03)) * shorter)
        bright = self.bright_hz * (note.velocity / 90) ** 1.5
        sound = np.zeros(len(time))
        for n in range(1, MOST_PARTIALS):
            stretch = n * np.sqrt((1 + stiffness * n * n) / (1 + stiffness))
            f = stretch * hertz
            if f > HIGHEST_HZ:
                break
            size = np.sin(n * np.pi * place) * np.sin(n * np.pi * self.pickup * shorter) / n
            size *= self.coloured(f) / (1 + (f / bright) ** 2)
            dying = 1 / self.life + self.fall * (f / 1000) ** 1.3
            dying *= np.exp(self.noise.normal(0, .25))
            envelope = np.exp(-dying * time)
            if n <= 10 and self.beating > .05:
                envelope *= 1 + self.beating * np.sin(2 * np.pi * (rng.uniform(.3, 4) * time + rng.random()))
            sound += size * envelope * np.sin(2 * np.pi * stretch * turns)
        sound *= np.clip(time / (.0015 if self.touch != "finger" else .004), 0, 1)
        loud = np.abs(sound).max() + 1e-9
        thump = self.click * self.noise.standard_normal(len(time)) * np.exp(-time / rng.uniform(.002, .012))
        if self.touch == "slap":
            thump += .3 * np.sin(2 * np.pi * rng.uniform(60, 140) * time) * np.exp(-time / .02)
        return sound + loud * sosfilt(butter(1, rng.uniform(800, 5000), fs=RATE, output="sos"), thump)

    def wave(self, note, time, hertz, turns):
        """A synthesiser's tone through a filter that closes."""
        cut = self.filter_hz * (1 + self.filter_open * np.exp(-time / self.filter_s)) * (note.velocity / 90)
        sound = np.zeros(len(time))
        for n in range(1, MOST_PARTIALS):
            f = n * hertz
            if f > HIGHEST_HZ:
                break
            size = {"saw": 1 / n, "square": (n % 2) / n, "triangle": (n % 2) / n ** 2,
                    "sine": (1., .15, .05)[n - 1] if n <= 3 else 0.}[self.touch]
            if size == 0:
                continue
            over = f / cut
            through = (1 + self.resonance * np.exp(-((over - 1) / .25) ** 2)) / np.sqrt(1 + over ** 4)
            sound += size * self.coloured(f) * through * np.sin(2 * np.pi * n * turns)
        level = self.sustain + (1 - self.sustain) * np.exp(-time / .25)
        return sound * level * np.clip(time / self.swell, 0, 1)

    def dead(self, note):
        """A muted string: its lowest partials for a few periods, and a thump."""
        rng = self.rng
        length = note.off - note.on
        time = np.arange(int((length + .03) * RATE)) / RATE
        hertz = 440 * 2 ** ((note.midi + rng.choice([0, 3, 5, 12]) - 69) / 12)
        sound = self.noise.standard_normal(len(time))
        for n in range(1, 6):
            sound += rng.uniform(.2, 1) * np.sin(2 * np.pi * n * hertz * time + n)
        sound *= np.exp(-time / (length / rng.uniform(3, 6))) * np.clip(time / .001, 0, 1)
        sound = sosfilt(butter(2, rng.uniform(300, 1500), fs=RATE, output="sos"), sound)
        return sound * .15 * (note.velocity / 100) ** 2


def main():
    say = argparse.ArgumentParser(description="bass lines played by computed strings")
    say.add_argument("--seed", type=int, required=True)
    say.add_argument("--out", required=True)
    say.add_argument("--count", type=int, default=20)
    say.add_argument("--soundfont", default=synth_lines.SOUNDFONT)
    asked = say.parse_args()
    lines.need_program("fluidsynth", "fluidsynth")
    lines.need_program("ffmpeg", "ffmpeg")
    lines.write_set(asked.out, asked.seed, "c", asked.count, asked.soundfont,
                    lambda line, rng, k: Player(rng).play(line), lambda k: "computed")


if __name__ == "__main__":
    main()
