#!/usr/bin/env python3
"""Writes triples.json: true notes, heard notes, and what mir_eval 0.8.2 says of them.

    triples.py > triples.json

Notes are [onset_s, offset_s, midi]. Expected are [precision, recall, F1] of

- `onset`: mir_eval.transcription.precision_recall_f1_overlap with offset_ratio=None;
- `onset_and_offset`: the same with the standard offset_ratio 0.2;
- `onset_only`: mir_eval.transcription.onset_precision_recall_f1;
- `any_octave`: mir_eval's maximum matching over pairs within 50 ms whose pitches differ by whole octaves within 50
  cents (mir_eval has no such measure of its own).
"""
import json
import random
import warnings

import mir_eval
import numpy as np

warnings.simplefilter("ignore")  # mir_eval warns of empty lists


def arrays(notes):
    table = np.array(notes, float).reshape(-1, 3)
    return table[:, :2], 440 * 2 ** ((table[:, 2] - 69) / 12)


def any_octave(reference, estimated):
    graph = {}
    for j, heard in enumerate(estimated):
        for i, truth in enumerate(reference):
            apart = abs(truth[2] - heard[2]) % 12
            if np.around(abs(truth[0] - heard[0]), 4) <= .05 and min(apart, 12 - apart) <= .5:
                graph.setdefault(j, []).append(i)
    hits = len(mir_eval.util._bipartite_match(graph)) if graph else 0
    if not reference or not estimated:
        return [0., 0., 0.]
    precision, recall = hits / len(estimated), hits / len(reference)
    return [precision, recall, mir_eval.util.f_measure(precision, recall)]


def triple(name, reference, estimated):
    ri, rp = arrays(reference)
    ei, ep = arrays(estimated)
    measure = mir_eval.transcription
    expected = {
        "onset": list(measure.precision_recall_f1_overlap(ri, rp, ei, ep, offset_ratio=None)[:3]),
        "onset_and_offset": list(measure.precision_recall_f1_overlap(ri, rp, ei, ep)[:3]),
        "onset_only": list(measure.onset_precision_recall_f1(ri, ei)),
        "any_octave": any_octave(reference, estimated),
    }
    return {"name": name, "reference": reference, "estimated": estimated,
            "expected": {key: [float(v) for v in value] for key, value in expected.items()}}


def by_hand():
    one = [[1.0, 2.0, 40]]
    yield "both empty", [], []
    yield "nothing heard", one, []
    yield "nothing there", [], one
    yield "the same", one, one
    for shift in (.0499, .05, .05004, .05005, .05006, .0501, -.05, -.05004, -.0501):
        yield f"onset {shift:+} s", one, [[1.0 + shift, 2.0, 40]]
    for at in (.1, .3, 1.1, 7.7, 33.3, 1234.5):  # sums that are not exact in binary
        yield f"onset 50 ms after {at}", [[at, at + 1, 40]], [[at + .05, at + 1, 40]]
        yield f"onset 50 ms before {at}", [[at, at + 1, 40]], [[at - .05, at + 1, 40]]
        yield f"offset a fifth after {at}", [[at, at + 1, 40]], [[at, at + 1.2, 40]]
    for cents in (49.9, 50.1, -49.9, -50.1, 1200, -1200, 1249.9, 1250.1, 2400, 700):
        yield f"pitch {cents:+} cents", one, [[1.0, 2.0, 40 + cents / 100]]
    for shift in (.05, .1999, .2, .20004, .20006, .2001, -.2, -.2001):
        yield f"offset {shift:+} s of one second", one, [[1.0, 2.0 + shift, 40]]
    for length in (.1, .2, .25, .251, .3):
        for shift in (.05, .0501, .06, -.05):
            yield f"offset {shift:+} s of {length} s", [[1., 1 + length, 40]], [[1., 1 + length + shift, 40]]
    yield "one heard for two", [[1.0, 1.02, 40], [1.04, 1.5, 40]], [[1.02, 1.5, 40]]
    yield "two heard for one", [[1.0, 1.5, 40]], [[.98, 1.5, 40], [1.02, 1.5, 40]]
    yield "only one way to match both", [[1., 1.1, 40], [1.06, 1.2, 40]], [[.96, 1.1, 40], [1.015, 1.2, 40]]
    chain = [[.05 * k, .05 * k + .04, 40] for k in range(12)]
    yield "a chain moved up by a step", chain, [[t + .05, u + .05, m] for t, u, m in chain]
    yield "a chain moved up by half a step", chain, [[t + .025, u + .025, m] for t, u, m in chain]
    yield "a chain without its middle", chain, [n for k, n in enumerate(chain) if k != 6]
    yield "unsorted", chain, [list(n) for n in reversed(chain)]
    yield "a chord on one onset", [[1., 2., 40], [1., 2., 47], [1., 2., 52]], [[1., 2., 52], [1., 2., 28]]


def by_lot(seed):
    rng = random.Random(seed)
    grain = rng.choice([.05, .01, .001, .0001, .0001])  # coarse grains make many exact ties
    on_grain = lambda x: round(round(x / grain) * grain, 7)
    reference, now = [], .2
    for _ in range(rng.randint(1, 40)):
        length = max(grain, rng.choice([.04, .08, .15, .3, .8]) * rng.uniform(.6, 1.4))
        pitch = rng.choice([28, 28, 33, 40, 40, 45])
        reference.append([on_grain(now), on_grain(now + length) + grain, pitch])
        now += rng.choice([.03, .06, length, length + .1])
    estimated = []
    for on, off, pitch in reference:
        for _ in range(rng.choice([0, 1, 1, 1, 1, 1, 2])):
            a = on_grain(on + rng.gauss(0, .03))
            b = max(a + grain, on_grain(off + rng.gauss(0, .08)))
            estimated.append([max(0., a), round(b, 7), pitch + rng.choice([0] * 8 + [.3, -.3, 1, 12, -12])])
    return f"by lot {seed}", reference, [n for n in estimated if n[1] > n[0]]


def main():
    cases = [triple(*case) for case in by_hand()] + [triple(*by_lot(seed)) for seed in range(80)]
    rows = ",\n".join(json.dumps(case, separators=(",", ":")) for case in cases)
    print(f'{{"made_with":"mir_eval {mir_eval.__version__}","triples":[\n{rows}\n]}}')


if __name__ == "__main__":
    main()
