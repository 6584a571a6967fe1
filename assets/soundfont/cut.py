#!/usr/bin/env python3
"""Re-makes riffkin.sf2: a few presets of a large SoundFont 2 bank, made small.

    cut.py FluidR3_GM.sf2 riffkin.sf2

What is kept, and what is done to it (the recipe in words is in README.md):
  * four presets: fingered bass, picked bass, electric piano, standard drum kit;
  * of the drum kit only the keys in DRUM_KEYS;
  * of a stereo pair only the left sample, panned to the middle;
  * a sample without a loop is cut at TAIL_S seconds, with a fade over its last FADE_S.
Layout after the SoundFont Technical Specification 2.01 (E-mu/Creative, 1998), chapters 4 to 8.
"""
import array
import struct
import sys
from collections import namedtuple

PRESETS = [(0, 33), (0, 34), (0, 4), (128, 0)]  # (bank, program on the wire)
# General MIDI percussion keys a practice backing uses, and the GM2 sticks, click and bell (31, 33, 34).
DRUM_KEYS = {31, 33, 34, 35, 36, 37, 38, 39, 40, 41, 42, 44, 45, 46, 48, 49, 51, 54, 56, 70, 75, 76, 77}
TAIL_S, FADE_S = 1.8, 0.25
GUARD = 46  # zero samples after each sample, spec 2.01 section 6.1

PAN, KEY_RANGE, INSTRUMENT, SAMPLE_ID, SAMPLE_MODES = 17, 43, 41, 53, 54  # generators, section 8.1.2
RIGHT, LEFT = 2, 4  # sample types, section 7.10

Record = namedtuple("Record", "tag layout")
PHDR, INST, SHDR = Record(b"phdr", "<20sHHHIII"), Record(b"inst", "<20sH"), Record(b"shdr", "<20sIIIIIBbHH")
BAGS = {"p": Record(b"pbag", "<HH"), "i": Record(b"ibag", "<HH")}
GENS = {"p": Record(b"pgen", "<HH"), "i": Record(b"igen", "<HH")}
MODS = {"p": Record(b"pmod", "<HHhHH"), "i": Record(b"imod", "<HHhHH")}
Zone = namedtuple("Zone", "gens mods")


class Bank:
    """A SoundFont taken apart: presets, instruments (each a list of zones) and sample headers."""

    def __init__(self, data):
        self.data, self.chunk = data, {}
        for tag, at, size in chunks(data, 12, len(data)):
            if tag == b"LIST":
                for inner, inner_at, inner_size in chunks(data, at + 4, at + size):
                    self.chunk[inner] = (inner_at, inner_size)
        heads = self.records(PHDR)
        self.presets = {(h[2], h[1]): (h[0], self.zones("p", h[3], after[3])) for h, after in zip(heads, heads[1:])}
        insts = self.records(INST)
        self.instruments = [(i[0], self.zones("i", i[1], after[1])) for i, after in zip(insts, insts[1:])]
        self.samples = self.records(SHDR)[:-1]
        self.pcm_at = self.chunk[b"smpl"][0]

    def records(self, record):
        at, size = self.chunk[record.tag]
        return [struct.unpack_from(record.layout, self.data, at + k) for k in range(0, size, struct.calcsize(record.layout))]

    def zones(self, level, first, last):
        bags, gens, mods = self.records(BAGS[level]), self.records(GENS[level]), self.records(MODS[level])
        return [Zone(gens[a[0]:b[0]], mods[a[1]:b[1]]) for a, b in zip(bags[first:last], bags[first + 1:last + 1])]

    def pcm(self, header):
        wave = array.array("h")
        wave.frombytes(self.data[self.pcm_at + 2 * header[1]:self.pcm_at + 2 * header[2]])
        if sys.byteorder == "big":
            wave.byteswap()
        return wave


def chunks(data, at, end):
    while at < end:
        tag, size = struct.unpack_from("<4sI", data, at)
        yield tag, at + 8, size
        at += 8 + size + (size & 1)


def value(zone, generator):
    return dict(zone.gens).get(generator)


def wanted(zone, drums):
    keys = value(zone, KEY_RANGE)
    return not drums or keys is None or any(keys & 255 <= k <= keys >> 8 for k in DRUM_KEYS)


def thinned(bank, zones, drums):
    """The zones of an instrument that stay: wanted keys, left or mono sample, pan removed from former pairs."""
    kept = []
    for zone in zones:
        sample = value(zone, SAMPLE_ID)
        if sample is not None:
            kind = bank.samples[sample][9] & 0x7FFF
            if kind == RIGHT or not wanted(zone, drums):
                continue
            if kind == LEFT:
                zone = Zone([(g, 0 if g == PAN else v) for g, v in zone.gens], zone.mods)
        kept.append(zone)
    return kept


def looped_samples(instruments):
    found = set()
    for _, zones in instruments:
        common = value(zones[0], SAMPLE_MODES) if value(zones[0], SAMPLE_ID) is None else None
        for zone in zones:
            mode = value(zone, SAMPLE_MODES)
            mode = common if mode is None else mode
            if value(zone, SAMPLE_ID) is not None and mode in (1, 3):
                found.add(value(zone, SAMPLE_ID))
    return found


def shortened(wave, rate):
    length, fade = int(TAIL_S * rate), int(FADE_S * rate)
    if len(wave) <= length:
        return wave
    wave = wave[:length]
    for k in range(fade):
        wave[length - fade + k] = int(wave[length - fade + k] * (1 - k / fade))
    return wave


def cut(bank):
    out = {tag: [] for tag in ("phdr", "pbag", "pgen", "pmod", "inst", "ibag", "igen", "imod", "shdr")}
    instruments, instrument_no, sample_no, pcm = [], {}, {}, array.array("h")

    def write_zones(level, zones, swap):
        for zone in zones:
            out[level + "bag"].append((len(out[level + "gen"]), len(out[level + "mod"])))
            out[level + "gen"] += [(g, swap(v) if g in (INSTRUMENT, SAMPLE_ID) else v) for g, v in zone.gens]
            out[level + "mod"] += zone.mods

    def instrument(old):
        return instrument_no[old]

    def sample(old):
        if old not in sample_no:
            sample_no[old] = len(out["shdr"])
            name, start, _, loop_start, loop_end, rate, key, correction, _, _ = bank.samples[old]
            wave = bank.pcm(bank.samples[old])
            if old not in looped:
                wave = shortened(wave, rate)
            at = len(pcm)
            pcm.extend(wave)
            pcm.extend([0] * GUARD)
            loop = [at + min(edge - start, len(wave)) for edge in (loop_start, loop_end)]
            out["shdr"].append((name, at, at + len(wave), *loop, rate, key, correction, 0, 1))
        return sample_no[old]

    for bank_no, program in PRESETS:
        drums = bank_no == 128
        name, zones = bank.presets[bank_no, program]
        kept = []
        for zone in zones:
            old = value(zone, INSTRUMENT)
            if old is not None and old not in instrument_no:
                left = thinned(bank, bank.instruments[old][1], drums)
                if not any(value(z, SAMPLE_ID) is not None for z in left):
                    continue
                instrument_no[old] = len(instruments)
                instruments.append((bank.instruments[old][0], left))
            kept.append(zone)
        out["phdr"].append((name, program, bank_no, len(out["pbag"]), 0, 0, 0))
        write_zones("p", kept, instrument)
    looped = looped_samples(instruments)
    for name, zones in instruments:
        out["inst"].append((name, len(out["ibag"])))
        write_zones("i", zones, sample)
    # The closing record of each list, section 7.
    out["phdr"].append((b"EOP", 0, 0, len(out["pbag"]), 0, 0, 0))
    out["inst"].append((b"EOI", len(out["ibag"])))
    for level in "pi":
        out[level + "bag"].append((len(out[level + "gen"]), len(out[level + "mod"])))
        out[level + "gen"].append((0, 0))
        out[level + "mod"].append((0, 0, 0, 0, 0))
    out["shdr"].append((b"EOS", 0, 0, 0, 0, 0, 0, 0, 0, 0))
    if sys.byteorder == "big":
        pcm.byteswap()
    return out, pcm.tobytes()


def chunk(tag, body):
    return tag + struct.pack("<I", len(body)) + body + b"\0" * (len(body) & 1)


def text(words):
    raw = words.encode() + b"\0"
    return raw + b"\0" * (len(raw) & 1)


def packed(out):
    layouts = [PHDR, BAGS["p"], MODS["p"], GENS["p"], INST, BAGS["i"], MODS["i"], GENS["i"], SHDR]
    return b"".join(chunk(r.tag, b"".join(struct.pack(r.layout, *row) for row in out[r.tag.decode()])) for r in layouts)


def main():
    source, target = sys.argv[1:3]
    with open(source, "rb") as file:
        out, pcm = cut(Bank(file.read()))
    info = (chunk(b"ifil", struct.pack("<HH", 2, 1)) + chunk(b"isng", text("EMU8000"))
            + chunk(b"INAM", text("Riffkin bass, keys and drums"))
            + chunk(b"ICOP", text("Subset of Fluid (R3) GM, (c) 2000-2002, 2008 Frank Wen; MIT")))
    body = (b"sfbk" + chunk(b"LIST", b"INFO" + info) + chunk(b"LIST", b"sdta" + chunk(b"smpl", pcm))
            + chunk(b"LIST", b"pdta" + packed(out)))
    with open(target, "wb") as file:
        file.write(chunk(b"RIFF", body))
    print(f"{target}: {len(body) + 8} bytes, {len(out['phdr']) - 1} presets, {len(out['shdr']) - 1} samples")


if __name__ == "__main__":
    main()
