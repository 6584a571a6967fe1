#!/usr/bin/env python3
"""Makes sets for hearing to be learned from, each in a folder of its own.

    learning_sets.py --out DIR [--cache DIR] [--only mix|rest]

`mix` are those of the weights of a mix (`learn_mix.py`); `rest` those of the attack witnesses and the confidences
(`crates/audio/examples/learn_attacks.rs`, `learn_confidence.rs`). Other seeds measure the program. Takes half an hour of
one processor; every sound is of a source under a permissive licence (docs/sources.md).
"""
import argparse
import os
import subprocess
import sys

import recorded_lines
import synth_lines

HERE = os.path.dirname(os.path.abspath(__file__))
# name of the set, script, and what it is told
SETS = {
    "mix": [(f"m{seed}", "mix_lines.py", ["--seed", str(seed), "--count", "120"]) for seed in range(31, 39)],
    "rest": [(f"r{seed}", "recorded_lines.py", ["--seed", str(seed), "--count", "20"]) for seed in (2, 5, 6)]
    + [(f"f{seed}", "synth_lines.py", ["--seed", str(seed), "--count", "24"]) for seed in (41, 42)]
    + [(f"c{seed}", "strings.py", ["--seed", str(seed), "--count", "20"]) for seed in (51, 52)]
    + [("m61", "mix_lines.py", ["--seed", "61", "--count", "60", "--wav"])],
}


def main():
    say = argparse.ArgumentParser(description="makes sets for hearing to be learned from")
    say.add_argument("--out", required=True)
    say.add_argument("--cache", default=recorded_lines.CACHE)
    say.add_argument("--only", choices=list(SETS), action="append")
    asked = say.parse_args()
    for group in asked.only or SETS:
        for name, script, told in SETS[group]:
            folder = os.path.join(asked.out, name)
            told = [*told, "--out", folder, "--soundfont", synth_lines.SOUNDFONT]
            if script in ("mix_lines.py", "recorded_lines.py"):
                told += ["--cache", asked.cache]
            print(name, flush=True)
            subprocess.run([sys.executable, os.path.join(HERE, script), *told], check=True)


if __name__ == "__main__":
    main()
