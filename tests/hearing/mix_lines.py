#!/usr/bin/env python3
"""Bass lines in a mix to learn from: `mix/NAME.flac` (mono, 11,025 Hz) and `ref/NAME.csv` (onset_s,offset_s,midi).

    mix_lines.py --seed N --out DIR [--count 100] [--cache DIR] [--soundfont F.sf2] [--bass KINDS] [--without SHARE]

The bass is played by lot by one of three: any General MIDI bass (33 to 40) of a SoundFont, recorded notes of an electric
bass (`recorded_lines.py`), or computed strings and synthesisers (`strings.py`); `--bass` names those wanted, separated by
commas. What plays beside it, and what happens to the whole, is `bands.py`'s. In one passage of seven no bass plays: some
lines have none at all (`--without` is their share), others pause for bars. One line in fifteen has a bass alone.

The SoundFont is Debian's fluid-soundfont-gm (FluidR3, MIT licence) unless another is named.
"""
import argparse
import os
import random
import sys
import tempfile

import numpy as np
import soundfile as sf
from scipy.signal import resample_poly

import bands
import lines
import recorded_lines
import strings
import synth_lines
from lines import RATE

FEWER = 4  # every fourth sample is kept, after a filter
KINDS = {"soundfont": .4, "recorded": .25, "computed": .35}
PAUSES = .35  # share of the lines that pause
ALONE = .065
RATIO_DB = (-9., 2.)  # bass to the rest


def paused(rng, line):
    """Takes the notes out of one or two stretches of one to three bars."""
    bar_s = line.ticks_per_bar * line.tick
    for _ in range(rng.choice([1, 1, 2])):
        bars = rng.randint(1, min(3, line.bars - 1))
        begin = lines.LEAD_IN + rng.randint(0, line.bars - bars) * bar_s
        left = [n for n in line.notes if not begin - .02 <= n.on < begin + bars * bar_s - .02]
        if left:
            line.notes = left
    before = None
    for note in line.notes:
        if note.manner in lines.JOINED and (before is None or before.off != note.on):
            note.manner = "struck"
        before = note


def bass(line, rng, kind, asked, found):
    """The bass alone, mono."""
    if kind == "recorded":
        return recorded_lines.Player(found, rng).play(line)
    if kind == "computed":
        return strings.Player(rng).play(line)
    for note in line.notes:  # a synthesiser strikes every note, and has none that is dead
        note.manner = "struck" if note.manner != "dead" else "dead"
    sounding = lines.Line(**{**vars(line), "notes": [n for n in line.notes if n.manner != "dead"]})
    return synth_lines.bass(sounding, rng, 32 + rng.randrange(8), asked.soundfont).mean(1)


def made(rng, noise_rng, index, asked, found, path):
    """(sound, notes) of one line."""
    kinds = {k: v for k, v in KINDS.items() if k in asked.bass.split(",")}
    kind = rng.choices(list(kinds), list(kinds.values()))[0]
    line = lines.invent(rng, index)
    length = int(line.seconds() * RATE)
    silent = rng.random() < asked.without
    if not silent and rng.random() < PAUSES:
        paused(rng, line)
    rest = lines.fitted(bands.band(rng, line, asked.soundfont, path), length)
    rest = bands.equalised(rest, rng, 4)
    rest /= rest.std() + 1e-9
    if silent:
        return bands.worn(rest, rng, noise_rng), []
    sound = lines.fitted(bass(line, rng, kind, asked, found), length)
    notes = [n for n in line.notes if n.manner != "dead"]
    time = np.arange(length) / RATE
    plays = np.zeros(length, bool)
    for note in notes:
        plays[(time >= note.on) & (time < note.off)] = True
    if rng.random() < .5:
        sound = bands.equalised(sound, rng, 4)
    if rng.random() < .3:
        sound = bands.compressed(sound, rng)
    sound /= np.sqrt(np.mean(sound[plays] ** 2)) + 1e-9 if plays.any() else 1.
    if rng.random() < ALONE:
        return bands.worn(sound, rng, noise_rng), notes
    return bands.worn(sound * 10 ** (rng.uniform(*RATIO_DB) / 20) + rest, rng, noise_rng), notes


def main():
    say = argparse.ArgumentParser(description="bass lines in a mix, to learn from")
    say.add_argument("--seed", type=int, required=True)
    say.add_argument("--out", required=True)
    say.add_argument("--count", type=int, default=100)
    say.add_argument("--cache", default=recorded_lines.CACHE)
    say.add_argument("--soundfont", default=synth_lines.SOUNDFONT)
    say.add_argument("--bass", default=",".join(KINDS))
    say.add_argument("--without", type=float, default=.09)
    say.add_argument("--wav", action="store_true", help="WAV in 16 bits at 44,100 Hz, to be heard by the program")
    asked = say.parse_args()
    lines.need_program("fluidsynth", "fluidsynth")
    lines.need_program("ffmpeg", "ffmpeg")
    if not os.path.exists(asked.soundfont):
        sys.exit(f"{asked.soundfont} is missing: apt-get install fluid-soundfont-gm, or name another with --soundfont")
    found = recorded_lines.recordings("electric", asked.cache) if "recorded" in asked.bass else []
    for name in ("mix", "ref"):
        os.makedirs(os.path.join(asked.out, name), exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        for k in range(asked.count):
            rng, noise_rng = random.Random(f"mix {asked.seed}:{k}"), np.random.default_rng([asked.seed, k])
            name = f"m{asked.seed}_{k:03d}"
            sound, notes = made(rng, noise_rng, k, asked, found, os.path.join(folder, "band.mid"))
            with open(os.path.join(asked.out, "ref", f"{name}.csv"), "w", encoding="utf-8") as out:
                out.writelines(f"{n.on:.3f},{n.off:.3f},{n.midi}\n" for n in notes)
            rate, ending = (RATE, "wav") if asked.wav else (RATE // FEWER, "flac")
            sound = sound if asked.wav else resample_poly(sound, 1, FEWER)
            loud = rng.uniform(.25, .9) / (np.abs(sound).max() + 1e-9)
            sf.write(os.path.join(asked.out, "mix", f"{name}.{ending}"), loud * sound, rate, subtype="PCM_16")


if __name__ == "__main__":
    main()
