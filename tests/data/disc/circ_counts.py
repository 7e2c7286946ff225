#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""Counts of a CIRC decoder on the damage cases of circ_vectors.json: prints circ_counts.json.

Written from ECMA-130 2nd ed. annex C, apart from the decoder under test and by other means: parity checks as sums over
powers, erasures solved as linear equations, errors found by trying every place and every pair of places. A word is
corrected when exactly one set of values at the places allowed makes all four sums zero.
"""
import itertools
import json
import pathlib

HERE = pathlib.Path(__file__).resolve().parent
POWER, LOG = [1] * 255, {}
for k in range(255):
    POWER[k] = 1 if k == 0 else POWER[k - 1] << 1 ^ (0x11D if POWER[k - 1] & 0x80 else 0)
    LOG[POWER[k]] = k
POSITION = [0, 1, 6, 7, 16, 17, 22, 23, 2, 3, 8, 9, 18, 19, 24, 25, 4, 5, 10, 11, 20, 21, 26, 27]  # of byte 0, 1, ...


def times(a, b):
    return POWER[(LOG[a] + LOG[b]) % 255] if a and b else 0


def over(a, b):
    return POWER[(LOG[a] - LOG[b]) % 255] if a else 0


def sums(word):
    result = []
    for j in range(4):
        total = 0
        for i, v in enumerate(word):
            total ^= times(v, POWER[j * (len(word) - 1 - i) % 255])
        result.append(total)
    return result


def values_at(places, s, n):
    """The values at these places that explain all four sums, or None. Gauss elimination, four equations."""
    rows = [[POWER[j * (n - 1 - i) % 255] for i in places] + [s[j]] for j in range(4)]
    for c in range(len(places)):
        pivot = next(r for r in range(c, 4) if rows[r][c])
        rows[c], rows[pivot] = rows[pivot], rows[c]
        rows[c] = [over(v, rows[c][c]) for v in rows[c]]
        for r in range(4):
            if r != c and rows[r][c]:
                f = rows[r][c]
                rows[r] = [v ^ times(f, w) for v, w in zip(rows[r], rows[c])]
    if any(rows[r][-1] for r in range(len(places), 4)):
        return None
    return [rows[r][-1] for r in range(len(places))]


def correct(word, erased, errors_most):
    """The word with as few unmarked errors as explain it, and which symbols changed; None: cannot be."""
    s = sums(word)
    if not any(s):
        return word, []
    if len(erased) > 4:
        return None
    others = [i for i in range(len(word)) if i not in erased]
    for errors in range(min(errors_most, (4 - len(erased)) // 2) + 1):
        for more in itertools.combinations(others, errors):
            places = list(erased) + list(more)
            found = values_at(places, s, len(word)) if places else None
            if found is None or not all(found[len(erased):]):
                continue
            fixed = list(word)
            for i, v in zip(places, found):
                fixed[i] ^= v
            return fixed, [i for i, v in zip(places, found) if v]
    return None


def c1_words(f2, corrects):
    words, counts = {}, {"e11": 0, "e21": 0, "e31": 0}
    for n in range(1, len(f2)):
        word = [f2[n - k % 2][k] ^ (0xFF if 12 <= k < 16 or k >= 28 else 0) for k in range(32)]
        fixed = correct(word, [], corrects)
        if fixed is None:
            counts["e31"] += 1
        elif fixed[1]:
            counts["e11" if len(fixed[1]) == 1 else "e21"] += 1
        words[n] = (word if fixed is None else fixed[0], fixed is None)
    return words, counts


def c2_words(c1, frames, strategy):
    words, counts = {}, {"e12": 0, "e22": 0, "e32": 0}
    for n in range(109, frames):
        source = [c1[n - 4 * (27 - k)] for k in range(28)]
        word, flags = [source[k][0][k] for k in range(28)], [k for k in range(28) if source[k][1]]
        if not any(sums(word)):
            fixed = (word, [])
        elif strategy == "erasures only":
            fixed = correct(word, flags, 0) if flags else None
        elif strategy == "erasures" and 1 <= len(flags) <= 4:
            fixed = correct(word, flags, 1)
        else:
            fixed = correct(word, [], 2)
            if fixed and len(flags) > 4 and any(i not in flags for i in fixed[1]):
                fixed = None
        if fixed is None:
            counts["e32"] += 1
        elif fixed[1]:
            counts["e12" if len(fixed[1]) == 1 else "e22"] += 1
        bad = [] if fixed else flags or list(range(28))
        words[n] = (fixed[0] if fixed else word, bad)
    return words, counts


def decode(f2, f1, corrects, strategy):
    c1, counts1 = c1_words(f2, corrects)
    c2, counts2 = c2_words(c1, len(f2), strategy)
    right = vouched = 0
    for n in range(111, len(f2)):
        if n - 111 >= len(f1):
            break
        sent = f1[n - 111]
        right += all(c2[n - (2 if p >= 16 else 0)][0][p] == sent[b] for b, p in enumerate(POSITION))
        vouched += all(c2[n - (2 if p >= 16 else 0)][0][p] == sent[b] and p not in c2[n - (2 if p >= 16 else 0)][1]
                       for b, p in enumerate(POSITION))
    return {**counts1, **counts2, "vouched_frames": vouched, "right_frames": right}


def main():
    vectors = json.loads((HERE / "circ_vectors.json").read_text())
    f1 = [bytes.fromhex(x) for x in vectors["f1"]]
    f2 = [bytes.fromhex(x) for x in vectors["f2"]]
    result = {}
    for case in vectors["error_cases"]:
        damaged = [bytearray(x) for x in f2]
        for frame, symbol, value in case["inject"]:
            damaged[frame][symbol] ^= value
        # Holds this program itself against the published counts, which are for erasures only and ask for right bytes.
        check = decode(damaged, f1, 2, "erasures only")
        expect = case["expect"]
        assert [check["e11"], check["e21"], check["e31"], check["right_frames"]] == [
            expect["E11"], expect["E21"], expect["E31"], expect["recovered_input_frames"]], (case["name"], check)
        result[case["name"]] = [
            {"c1_corrects": corrects, "c2_erasures": strategy == "erasures", **decode(damaged, f1, corrects, strategy)}
            for corrects in (2, 1) for strategy in ("erasures", "errors")]
    for strategies in result.values():  # a row each
        strategies[:] = [json.dumps(row) for row in strategies]
    print(json.dumps(result, indent=1).replace('"{', "{").replace('}"', "}").replace('\\"', '"'))


main()
