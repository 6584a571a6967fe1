#!/usr/bin/env python3
"""Learns the weights with which a bass is heard inside a mix (`crates/audio/src/listen/mix/weights.bin`).

    learn_mix.py --out weights.bin --sets DIR... [--variants 2] [--check DIR...]

Each DIR holds `mix/NAME.{wav,flac,ogg}` and `ref/NAME.csv` (onset_s,offset_s,midi), as `mix_lines.py` writes them: that
script says what they are. The weights in the project were learned from other lines (docs/decisions/0005-learned-hearing.md).
Needs the packages of `learning-requirements.txt`; torch takes four minutes with a graphics processor and hours without.
The same sets give the same weights up to rounding.

What is learned are two multinomial logistic regressions (conditional logits, McFadden 1974), nothing deeper: for each
frame, which of 45 pitches sounds or none, and which of them is struck at this frame or none. The score of pitch p is
a weighted sum of log-compressed energies at fixed places *relative to p* on a semitone axis (12 semitones below to 33
above, which holds the first six partials), in spectra of several lengths and at several times around the frame. The
weights are shared by all pitches but for a slow drift over the register (linear between `KNOTS` pitches): a template
of what a bass note looks like beside what else there is in a mix, with positive weights at its partials and negative
ones at those places that speak for another note or for a drum.

The spectra must be what `spectra.rs` makes; that file says where they come from.
"""
import argparse
import glob
import math
import os
import struct

import numpy as np
import soundfile as sf
import torch

RATE, HOP = 11025, 128
LOWEST, PITCHES, BELOW, ABOVE = 23, 45, 12, 33
FIRST, CHANNELS = LOWEST - BELOW, PITCHES + BELOW + ABOVE  # semitone channels, from this MIDI number up
WINDOWS = (2048, 1024, 512, 256)
NEWS = ((1, 4), (2, 3))  # (which window, frames back): what the turning phases do not foretell
QUIET, SILENT = 1e-4, 1e-10
NEAR_S = 3.0
LEVEL = (12, 60)  # channels whose energy is the level: MIDI 23 to 70
KNOTS = 4
# What is looked at: (spectrum, frames after the frame). Spectra: the windows, then the news.
SOUNDS = ([(0, d) for d in (-16, -12, -6, 0, 6, 12, 16)]
          + [(1, d) for d in (-16, -12, -8, -6, -4, -2, 0, 2, 4, 6, 8, 12, 16)]
          + [(2, d) for d in (-9, -6, -3, 0, 3, 6, 9)]
          + [(3, d) for d in (-4, -2, 0, 2, 4)]
          + [(4, d) for d in (-8, -4, 0, 4, 8)]
          + [(5, d) for d in (-4, -2, 0, 2, 4)])
STRUCK = ([(0, d) for d in (-16, -12, -9, -6, 0, 6, 9, 12, 16)]
          + [(1, d) for d in (-16, -9, -6, -3, 0, 3, 6, 9, 12, 16)]
          + [(2, d) for d in (-9, -6, -4, -2, 0, 2, 4, 6, 8, 9)] + [(3, d) for d in (-6, -4, *range(-3, 5), 6)]
          + [(4, d) for d in (-4, -2, 0, 2, 4, 6, 8)] + [(5, d) for d in (-3, -2, -1, 0, 1, 2, 3)])
EDGE = 16
DEVICE = "cuda" if torch.cuda.is_available() else "cpu"


# ---------------------------------------------------------------- spectra
def bins(sound, length):
    """Complex bins, their powers, places in bins (reassigned in frequency) and channels, for each frame."""
    n = torch.arange(length, device=DEVICE) - length // 2 + .5
    hann = .5 + .5 * torch.cos(2 * math.pi * n / length)
    slope = -(math.pi / length) * torch.sin(2 * math.pi * n / length)
    count = len(sound) // HOP + 1
    cut = torch.nn.functional.pad(sound, (length // 2, length)).unfold(0, length, HOP)[:count]
    low, high = max(1, int(15 * length / RATE)), int(2800 * length / RATE) + 2
    x, dx = torch.fft.rfft(cut * hann)[:, low:high], torch.fft.rfft(cut * slope)[:, low:high]
    power = x.abs() ** 2
    shift = -(dx * x.conj()).imag / (power + 1e-20) * length / (2 * math.pi)
    place = torch.arange(low, high, device=DEVICE) + shift.clamp(-1.5, 1.5)
    midi = 69 + 12 * torch.log2((place * RATE / length).clamp(min=1) / 440)
    return x, power, place, torch.round(midi).long() - FIRST


def gathered(channel, energy, length):
    inside = (channel >= 0) & (channel < CHANNELS)
    out = torch.zeros(len(channel), CHANNELS + 1, device=DEVICE)
    out.scatter_add_(1, torch.where(inside, channel, CHANNELS), energy * inside)
    return out[:, :CHANNELS] / (length * length / 16) / 1.5


def near_level(energy):
    """Level around each frame: mean of the energy weighted by itself, so that silence does not count."""
    reach, fall = 1500, NEAR_S * RATE / HOP
    weights = torch.exp(-torch.arange(-reach, reach + 1, device=DEVICE).abs() / fall)[None, None]
    spread = lambda v: torch.nn.functional.conv1d(torch.nn.functional.pad(v[None, None], (reach, reach)), weights)[0, 0]
    whole = (energy ** 2).sum() / (energy.sum() + 1e-20)
    return torch.maximum(spread(energy ** 2) / (spread(energy) + 1e-20), 1e-3 * whole)


def spectra(sound):
    """[spectrum, frame, channel], log-compressed relative to the level around."""
    parts = [bins(sound, length) for length in WINDOWS]
    made = [gathered(p[3], p[1], n) for p, n in zip(parts, WINDOWS)]
    levels = [near_level(e[:, LEVEL[0]:LEVEL[1]].sum(1)) for e in made]
    for which, back in NEWS:
        x, _, place, channel = parts[which]
        foretold = torch.zeros_like(x)
        foretold[back:] = x[:-back] * torch.exp(2j * math.pi * place[:-back] * back * HOP / WINDOWS[which])
        made.append(gathered(channel, (x - foretold).abs() ** 2, WINDOWS[which]))
        levels.append(levels[which])
    return torch.stack([torch.log1p(e / (QUIET * l[:, None] + SILENT)) for e, l in zip(made, levels)])


# ---------------------------------------------------------------- examples
def varied(sound, notes, rng):
    """The sound through an equaliser (4 dB of spread at nine places from 20 Hz to 5 kHz), a little faster or slower."""
    spectrum, count = torch.fft.rfft(sound), len(sound)
    hertz = np.maximum(np.arange(len(spectrum)) * RATE / count, 1)
    decibels = np.interp(np.log2(hertz), np.log2(np.geomspace(20, 5000, 9)), rng.normal(0, 4, 9))
    spectrum = spectrum * torch.tensor(10 ** (decibels / 20), dtype=torch.float32, device=DEVICE)
    faster = 2 ** (rng.uniform(-30, 30) / 1200)
    count = int(count / faster)
    return torch.fft.irfft(spectrum, count), [(on / faster, off / faster, midi) for on, off, midi in notes]


class Examples:
    """All frames of some sets: spectra with `EDGE` frames repeated at both ends of each file, and what is true.

    Each file is taken `variants` times more, each through a random equaliser and up to 30 cents off: no instrument,
    room or tuning is like those of the sets."""

    def __init__(self, sets, variants=0):
        self.made, self.places, self.truth, self.files, self.end = [], [], [], [], 0
        rng = np.random.default_rng(1)
        for path in [p for s in sets for p in sorted(glob.glob(os.path.join(s, "mix", "*")))]:
            folder, name = os.path.split(path)
            notes = self.notes(os.path.join(folder, "..", "ref", os.path.splitext(name)[0] + ".csv"))
            sound, rate = sf.read(path, dtype="float32", always_2d=True)
            sound = sound.mean(1)
            if rate != RATE:
                from scipy.signal import resample_poly  # sets to learn from have the right rate already
                sound = resample_poly(sound, RATE, rate).astype(np.float32)
            sound = torch.tensor(sound, device=DEVICE)
            self.add(path, sound, notes)
            for _ in range(variants):
                self.add(path, *varied(sound, notes, rng))
        self.spectra = torch.cat(self.made, 1)
        self.at = torch.tensor(np.concatenate(self.places), device=DEVICE)
        self.sounds, self.struck = (torch.tensor(np.concatenate(v), device=DEVICE) for v in zip(*self.truth))

    def add(self, path, sound, notes):
        made = spectra(sound).half()
        count = made.shape[1]
        self.made.append(torch.cat([made[:, :1].expand(-1, EDGE, -1), made, made[:, -1:].expand(-1, EDGE, -1)], 1))
        self.places.append(np.arange(count) + self.end + EDGE)
        self.end += count + 2 * EDGE
        now, hit = np.full(count, PITCHES), np.full(count, PITCHES)
        times = np.arange(count) * HOP / RATE
        for on, off, midi in notes:
            pitch = int(round(midi)) - LOWEST
            if 0 <= pitch < PITCHES:
                now[(times >= on) & (times < off)] = pitch
                k = int(round(on * RATE / HOP))
                hit[max(0, k - 1):k + 2] = pitch
        self.truth.append((now, hit))
        self.files.append((path, count, np.array(notes)))

    @staticmethod
    def notes(path):
        with open(path, encoding="utf-8") as lines:
            rows = [line.split(",")[:3] for line in lines]
        return [tuple(map(float, row)) for row in rows if row and row[0].strip()[:1].isdigit()]


class Scores(torch.nn.Module):
    """Score of each pitch against none, for frames at places `at`."""

    def __init__(self, views):
        super().__init__()
        self.views = views
        self.weights = torch.nn.Parameter(torch.zeros(KNOTS, len(views), BELOW + ABOVE + 1))
        self.bias = torch.nn.Parameter(torch.zeros(PITCHES))
        register = torch.linspace(0, 1, PITCHES) * (KNOTS - 1)
        self.register_buffer("share", (1 - (register[None] - torch.arange(KNOTS)[:, None]).abs()).clamp(min=0))
        spectrum, later = zip(*views)
        self.register_buffer("spectrum", torch.tensor(spectrum))
        self.register_buffer("later", torch.tensor(later))
        self.mean, self.spread = 0., 1.

    def seen(self, examples, at):
        return examples.spectra[self.spectrum, at[:, None] + self.later].float()

    def forward(self, seen):
        each = torch.nn.functional.conv1d((seen - self.mean) / self.spread, self.weights)
        return (each * self.share[None]).sum(1) + self.bias


def with_none(scores):
    return torch.cat([scores, torch.zeros_like(scores[:, :1])], 1)


def learned(examples, views, truth, epochs, batch=512, rate=6e-3, pull=1e-6):
    torch.manual_seed(0)
    model = Scores(views).to(DEVICE)
    some = model.seen(examples, examples.at[::37])
    model.mean, model.spread = some.mean(0), float(some.std())
    steps = epochs * (len(examples.at) // batch)
    optimiser = torch.optim.Adam(model.parameters(), lr=rate)
    schedule = torch.optim.lr_scheduler.CosineAnnealingLR(optimiser, steps)
    for _ in range(epochs):
        order = torch.randperm(len(examples.at), device=DEVICE)
        for k in range(0, len(order) - batch + 1, batch):
            chosen = order[k:k + batch]
            scores = with_none(model(model.seen(examples, examples.at[chosen])))
            loss = torch.nn.functional.cross_entropy(scores, truth[chosen])
            (loss + pull * sum((w ** 2).sum() for w in model.parameters())).backward()
            optimiser.step()
            optimiser.zero_grad()
            schedule.step()
    return model


@torch.no_grad()
def scored(model, examples):
    return torch.cat([model(model.seen(examples, examples.at[k:k + 8192])) for k in range(0, len(examples.at), 8192)])


@torch.no_grad()
def packed(model):
    """The views, then the biases (32-bit floats), a scale and the weights as 16-bit integers. Mean and spread go into
    them. A place outside the channels never occurs: the channels hold every place of every pitch."""
    weights = model.weights / model.spread
    shift = (torch.nn.functional.conv1d(model.mean[None], weights) * model.share[None]).sum(1)[0]
    bias = (model.bias - shift).cpu().numpy()
    scale = float(weights.abs().max()) / 32767
    whole = torch.round(weights / scale).to(torch.int16).cpu().numpy()
    head = struct.pack("<B", len(model.views)) + b"".join(struct.pack("<Bb", c, d) for c, d in model.views)
    return head + bias.astype("<f4").tobytes() + struct.pack("<f", scale) + whole.astype("<i2").tobytes()


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--out", required=True)
    parser.add_argument("--sets", nargs="+", required=True)
    parser.add_argument("--check", nargs="*", default=[])
    parser.add_argument("--variants", type=int, default=2)
    parser.add_argument("--epochs", type=int, default=6)
    asked = parser.parse_args()
    examples = Examples(asked.sets, asked.variants)
    print(f"{len(examples.files)} files, {len(examples.at)} frames on {DEVICE}, "
          f"{float((examples.sounds == PITCHES).float().mean()):.3f} of them without a bass")
    models = [learned(examples, SOUNDS, examples.sounds, asked.epochs),
              learned(examples, STRUCK, examples.struck, asked.epochs)]
    with open(asked.out, "wb") as out:
        out.write(struct.pack("<B", KNOTS))
        for model in models:
            out.write(packed(model))
    for folder in asked.check:
        held = Examples([folder])
        for model, truth, name in zip(models, (held.sounds, held.struck), ("sounds", "struck")):
            loss = torch.nn.functional.cross_entropy(with_none(scored(model, held)), truth)
            print(f"{folder}: {name}, {float(loss):.4f} nats a frame")


if __name__ == "__main__":
    main()
