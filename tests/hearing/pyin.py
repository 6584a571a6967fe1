#!/usr/bin/env python3
"""The listener beside ours: librosa's probabilistic YIN, cut into notes as well as we can.

    pyin.py OUT_DIR [--mix] FILE.wav...

Writes OUT_DIR/NAME.csv with onset_s,offset_s,midi for each file and prints one line `NAME seconds cpu_s` for each:
the CPU time of this process from the file's opening to its notes, imports and first compilation left out.

pYIN (Mauch & Dixon 2014, as in librosa 0.11) gives a pitch or none for each frame. Notes are cut from it by

- a change to another semitone that lasts 40 ms;
- an onset: a peak of the spectral flux (librosa's onset strength with a maximum filter over frequency, Böck & Widmer
  2013) that is followed by a rise of level or a change of pitch;
- a release: the level falls faster than a string dies, or the voice ends.

With `--mix` all of this listens to the sound below 300 Hz only, which serves better when others play too.
"""
import os
import sys
import time

import librosa
import numpy as np
from scipy.signal import butter, sosfiltfilt

RATE, HOP, FRAME = 22050, 256, 2048
LOWEST_HZ, HIGHEST_HZ = 29.0, 420.0
SHORTEST_S = 0.05
STRONG, RISE_DB = 1.0, 1.0  # an onset's strength over the local mean, and the rise of level that it needs
FALL_DB, FALL_S = 8.0, 0.06 # a fall of the level by so much in so short a time is a release
AGAIN_DB = 6.0  # a rise by so much after a release begins a note even without an onset
MIX_HZ, MIX_FALL_DB = 300.0, 10.0
QUIET_DB = 30.0  # nothing is heard this far below the loudest


def notes_of(path, mix):
    """[(onset, offset, midi)] and the length of the recording in seconds."""
    sound, _ = librosa.load(path, sr=RATE, mono=True)
    if mix:
        sound = sosfiltfilt(butter(4, MIX_HZ, fs=RATE, output="sos"), sound)
    hertz, _, _ = librosa.pyin(sound, fmin=LOWEST_HZ, fmax=HIGHEST_HZ, sr=RATE, frame_length=FRAME, hop_length=HOP)
    midi = np.where(np.isnan(hertz), np.nan, librosa.hz_to_midi(np.where(np.isnan(hertz), 1., hertz)))
    level = 20 * np.log10(librosa.feature.rms(y=sound, frame_length=512, hop_length=HOP)[0] + 1e-9)
    strength = librosa.onset.onset_strength(y=sound, sr=RATE, hop_length=HOP, n_fft=1024, lag=2, max_size=3, fmax=4000)
    count = min(len(midi), len(level), len(strength))
    midi, level, strength = midi[:count], level[:count], strength[:count]
    onsets = np.zeros(count, bool)
    onsets[peaks(strength, level)] = True
    return cut(midi, level, onsets, MIX_FALL_DB if mix else FALL_DB), len(sound) / RATE


def peaks(strength, level):
    """Frames of onsets."""
    frames = librosa.util.peak_pick(strength, pre_max=4, post_max=4, pre_avg=12, post_avg=12, delta=STRONG, wait=5)
    kept = []
    for k in frames:
        before, after = level[max(0, k - 5):max(1, k)], level[k:k + 6]
        if after.max() - before.min() >= RISE_DB:
            kept.append(max(0, k - 1))
    return np.array(kept, int)


def cut(midi, level, onsets, fall_db):
    """Notes from the pitch, level and onsets of each frame."""
    per_frame = HOP / RATE
    lasting = max(1, round(.04 / per_frame))
    back = max(1, round(FALL_S / per_frame))
    quiet = level.max() - QUIET_DB
    found, start, pitches = [], None, []
    lowest, before = -200., np.nan  # since the last note's end; the last note's pitch

    def end(at):
        nonlocal start, lowest, before
        if pitches and (at - start) * per_frame >= SHORTEST_S:
            found.append((start * per_frame, at * per_frame, int(round(float(np.median(pitches))))))
            before = np.median(pitches)
        start, lowest = None, level[at] if at < len(level) else 0.

    for k in range(len(midi)):
        voiced = not np.isnan(midi[k])
        ahead = midi[k:k + lasting]
        if start is not None:
            now = np.median(pitches) if pitches else np.nan
            moved = voiced and pitches and (np.abs(ahead - now) > .6).all()
            gone = np.isnan(ahead).all() or level[k] < max(quiet, level[max(start, k - back):k + 1].max() - fall_db)
            if (onsets[k] and (k - start) * per_frame >= SHORTEST_S) or moved:
                end(k)
                lowest, before = -200., np.nan  # the next begins at once
            elif gone and (k - start) * per_frame >= SHORTEST_S:
                end(k)
                continue
        if start is None:
            lowest = min(lowest, level[k])
            near = np.flatnonzero(onsets[max(0, k - 6):k + 1])  # the pitch is clear a little after the attack
            other = voiced and not np.isnan(before) and (np.abs(ahead - before) > .6).all()
            if voiced and level[k] > quiet and (len(near) or level[k] > lowest + AGAIN_DB or other or not found):
                begin = max(0, k - 6) + near[-1] if len(near) else k
                if found and begin * per_frame < found[-1][1]:
                    begin = k
                start, pitches = begin, []
        if start is not None and voiced:
            pitches.append(midi[k])
    if start is not None:
        end(len(midi))
    return found


def main():
    mix = "--mix" in sys.argv
    out, *files = [word for word in sys.argv[1:] if word != "--mix"]
    os.makedirs(out, exist_ok=True)
    warm = np.sin(2 * np.pi * 55 * np.arange(RATE) / RATE)
    librosa.pyin(warm, fmin=LOWEST_HZ, fmax=HIGHEST_HZ, sr=RATE, frame_length=FRAME, hop_length=HOP)
    librosa.onset.onset_strength(y=warm, sr=RATE, hop_length=HOP, n_fft=1024, lag=2, max_size=3, fmax=4000)
    if files:
        notes_of(files[0], mix)
    for path in files:
        begun = time.process_time()
        notes, seconds = notes_of(path, mix)
        spent = time.process_time() - begun
        name = os.path.splitext(os.path.basename(path))[0]
        with open(os.path.join(out, f"{name}.csv"), "w", encoding="utf-8") as file:
            file.writelines(f"{a:.4f},{b:.4f},{m}\n" for a, b, m in notes)
        print(f"{name} {seconds:.2f} {spent:.3f}", flush=True)


if __name__ == "__main__":
    main()
