#!/usr/bin/env python3
"""Bass lines played by a synthesiser, with their true notes.

    synth_lines.py --seed N --out DIR [--count 20] [--soundfont F.sf2]

The bass is one of the General MIDI basses 33 to 38 (acoustic, fingered, picked, fretless, two slapped) of a
SoundFont, with or without the synthesiser's reverberation: Debian's fluid-soundfont-gm (FluidR3, MIT licence) is the
usual one. All notes are struck. `offset` is where the key is let go.
"""
import argparse
import os
import sys
import tempfile

import lines

SOUNDFONT = "/usr/share/sounds/sf2/FluidR3_GM.sf2"


def bass(line, rng, program, soundfont):
    """The line by a program of the SoundFont (counted from 0), stereo, with the synthesiser's reverberation or without."""
    reverb = (rng.uniform(.05, .35), rng.uniform(.1, .6)) if rng.random() < .7 else None
    with tempfile.TemporaryDirectory() as folder:
        path = os.path.join(folder, "bass.mid")
        lines.write_midi(path, [(0, program, 64, [(n.on, n.off, n.midi, n.velocity) for n in line.notes])])
        return lines.synthesise(path, soundfont, reverb)


def main():
    say = argparse.ArgumentParser(description="bass lines played by a synthesiser")
    say.add_argument("--seed", type=int, required=True)
    say.add_argument("--out", required=True)
    say.add_argument("--count", type=int, default=20)
    say.add_argument("--soundfont", default=SOUNDFONT)
    asked = say.parse_args()
    lines.need_program("fluidsynth", "fluidsynth")
    lines.need_program("ffmpeg", "ffmpeg")
    if not os.path.exists(asked.soundfont):
        sys.exit(f"{asked.soundfont} is missing: apt-get install fluid-soundfont-gm, or name another with --soundfont")
    program = lambda k: 32 + k % 6
    lines.write_set(asked.out, asked.seed, "f", asked.count, asked.soundfont,
                    lambda line, rng, k: bass(line, rng, program(k), asked.soundfont),
                    lambda k: f"program {program(k) + 1}", joined=False, dead=False)


if __name__ == "__main__":
    main()
