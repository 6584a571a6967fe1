"""What plays beside a bass, and what is done to the whole: for learning, so everything is drawn widely.

The instruments are a General MIDI SoundFont's: any drum kit, any program that plays chords, any that plays a tune, and
sometimes a low one (cello, trombone, bassoon ...) that is no bass. Each is as loud as the lot says, each a few cents off.
"""
import numpy as np
from scipy.signal import lfilter

import lines
from lines import RATE

KITS = (0, 0, 0, 8, 16, 24, 25, 32, 40)
CHORDS = (*range(0, 8), *range(16, 32), *range(48, 55), *range(88, 96), 11, 12, 46, 61, 62, 63, 81)
LEADS = (*range(0, 32), *range(40, 44), *range(52, 88), 104, 105, 107, 109, 110, 111)
LOW = (42, 42, 43, 57, 58, 60, 66, 67, 68, 70, 71, 47, 19, 89)  # bowed, blown, struck and others of the bass's register
BEND = 4096 / 100  # steps of a pitch wheel for each cent, at the two semitones that General MIDI has


def band(rng, line, soundfont, path, reverb=None):
    """The sound of all that plays beside the bass, mono; `path` is for its MIDI file."""
    drums, chords, lead, _, _ = lines.accompaniment(rng, line)
    lower = 12 if rng.random() < .15 else 0
    chords = [(on, off, midi - lower, velocity) for on, off, midi, velocity in chords]
    tracks = [(9, rng.choice(KITS), 64, drums), (1, rng.choice(CHORDS), rng.choice([30, 64, 98]), chords),
              (2, rng.choice(LEADS), rng.choice([48, 64, 80]), lead)]
    gone = [.08, .12, .25]
    tracks = [t for t, share in zip(tracks, gone) if rng.random() >= share] or tracks[1:2]
    if rng.random() < .15:
        tracks.append((3, rng.choice(LOW), 64, low_line(rng, line)))
    first = {}
    for channel, *_ in tracks:
        volume = rng.randint(60, 127)
        first[channel] = [("control_change", {"control": 7, "value": volume})]
        if channel != 9:
            first[channel].append(("pitchwheel", {"pitch": round(rng.uniform(-18, 18) * BEND)}))
    lines.write_midi(path, tracks, first)
    return lines.synthesise(path, soundfont, reverb or (rng.uniform(0, .4), rng.uniform(.1, .7))).mean(1)


def low_line(rng, line):
    """A slow line in the bass's register: one or two notes a bar, from C2 to C4."""
    notes, scale = [], lines.SCALES[line.scale]
    pitches = [p for p in range(36, 61) if (p - line.tonic) % 12 in scale]
    for number, root in enumerate(line.roots):
        cuts = [0, line.ticks_per_bar] if rng.random() < .5 else [0, line.ticks_per_bar // 2, line.ticks_per_bar]
        for start, end in zip(cuts, cuts[1:]):
            at = lambda ticks: lines.LEAD_IN + (number * line.ticks_per_bar + ticks) * line.tick
            midi = rng.choice(pitches) if rng.random() < .6 else 48 + root % 12
            notes.append((at(start), at(start) + (end - start) * line.tick * rng.uniform(.6, 1), midi, rng.randint(60, 105)))
    return notes


def equalised(sound, rng, spread):
    """The sound through an equaliser: `spread` decibels (SD) at nine places from 25 Hz to 6 kHz."""
    spectrum = np.fft.rfft(sound)
    hertz = np.maximum(np.arange(len(spectrum)) * RATE / len(sound), 1)
    decibels = np.interp(np.log2(hertz), np.log2(np.geomspace(25, 6000, 9)), [rng.gauss(0, spread) for _ in range(9)])
    return np.fft.irfft(spectrum * 10 ** (decibels / 20), len(sound))


def compressed(sound, rng):
    """The sound through a compressor: over a threshold the level rises by a share only."""
    keep = np.exp(-1 / (rng.uniform(.01, .12) * RATE))
    level = np.sqrt(np.maximum(lfilter([1 - keep], [1, -keep], sound ** 2), 1e-12))
    over = np.maximum(1., level / (rng.uniform(.3, 1.) * np.sqrt(np.mean(sound ** 2)) + 1e-9))
    return sound * over ** (1 / rng.uniform(1.5, 6) - 1)


def worn(sound, rng, noise_rng):
    """The whole after a desk, a codec, an overdriven input or a room, each for some."""
    if rng.random() < .3:
        sound = compressed(sound, rng)
    if rng.random() < .12:
        sound = lines.degrade(sound, rng, noise_rng)[0]
    elif rng.random() < .3:
        sound = lines.through_mp3(.8 * sound / (np.abs(sound).max() + 1e-9), rng.choice([48, 64, 96, 128]))
    if rng.random() < .08:
        loud = np.quantile(np.abs(sound), rng.uniform(.9, .99))
        sound = np.clip(sound, -loud, loud)
    return sound
