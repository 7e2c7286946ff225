#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""Holds the JSON of `eyelevel analyse` against the truth document of a case.

    judge.py CASE.json RESULT.json [EXIT STATUS]      prints 'ok' or one line for each field that is off; exit 1 if any

Tolerances: levels 1 % of I11 (top and bottom 2 %), mean 0.5 %, ratios 0.02, asymmetry 0.01, jitter 10 % or 1 ns, channel rate
100 ppm, complete subcode blocks and C1 counts exactly; a case may widen them (`tol`). What cannot be had must be null.
Record ends: C1 damage lies 8 frames after the beginning and 3 before the end, so error counts are exact; the number of words
may fall short by 8. A block cut by an end of the record may be left out or shown with crc false, never invented.
Flags of a case: inverted, ac, clipped, moving (baseline), disturbed (a fault inside; needs a warning), mean-any, short.
"""
import copy
import json
import pathlib
import re
import sys


def _real(x):
    return x if isinstance(x, (int, float)) and not isinstance(x, bool) and x == x else None


class Judge:
    """compares one result with one truth document; all() returns a line for each failing field"""

    def __init__(self, doc, result):
        self.doc, self.t, self.r = doc, doc["truth"], result
        self.flags, self.tol, self.bad = set(doc["flags"]), doc["tol"], []

    def get(self, path):
        q = self.r
        for key in path.split("."):
            q = q.get(key) if isinstance(q, dict) else None
        return q

    def fail(self, field, text):
        self.bad.append(f"{field}: {text}")

    def number(self, field, low, high, tol, null_ok=False):
        got = self.get(field)
        if got is None:
            if not null_ok:
                self.fail(field, f"is null, truth {low:.6g}")
        elif _real(got) is None:
            self.fail(field, f"is no number: {got!r}")
        elif not low - tol <= got <= high + tol:
            want = f"{low:.6g}" if low == high else f"{low:.6g} to {high:.6g}"
            self.fail(field, f"{got:.6g}, truth {want}, tolerance {tol:.3g}")

    def null(self, field):
        if self.get(field) is not None:
            self.fail(field, f"{self.get(field)!r}, must be null")

    def warned(self, pattern="."):
        w = self.get("warnings")
        if not isinstance(w, list) or not w:
            self.fail("warnings", "none")
        elif not re.search(pattern, " ".join(map(str, w)), re.I):
            self.fail("warnings", f"none matches /{pattern}/: {w}")

    def no_eye(self):
        for f in ("level.peak_to_peak_v", "level.i11_v", "level.i3_v", "i3_over_i11", "i11_over_top", "asymmetry", "beta",
                  "jitter_ns.all", *(f"jitter_ns.{n}T" for n in range(3, 12)), "bler_per_s"):
            self.null(f)
        if self.get("subcode"):
            self.fail("subcode", "must be empty")
        if self.get("c1.words"):
            self.fail("c1.words", f"{self.get('c1.words')}, must be 0 or null")
        if self.get("content") not in (None, "unknown"):
            self.fail("content", f"{self.get('content')!r}, must be 'unknown'")
        self.warned()

    def levels(self):
        t, a = self.t, self.t["i11_v"]
        level, ratio = self.tol.get("level", 0.01) * a, self.tol.get("ratio", 0.02)
        if "clipped" in self.flags:
            for f in ("level.peak_to_peak_v", "level.i11_v", "level.top_v"):
                self.number(f, t[f[6:]], t[f[6:]], level, null_ok=True)
            self.warned("clip|satur|flat|limit")
            return
        for f in ("peak_to_peak_v", "i11_v"):
            self.number(f"level.{f}", t[f], t[f], level)
        i3 = sorted((t["i3_v"], t["i3_peak_v"]))
        self.number("level.i3_v", *i3, ratio * a)
        self.number("i3_over_i11", i3[0] / a, i3[1] / a, ratio)
        if "mean-any" not in self.flags:
            self.number("level.mean_v", t["mean_v"], t["mean_v"], self.tol.get("mean", 0.005) * a)
        if "moving" not in self.flags:
            pair = sorted((t["top_v"], t["bottom_v"]))
            dark = t["dark_v"] or 0.0
            got = [_real(self.get("level.top_v")), _real(self.get("level.bottom_v"))]
            fits = lambda g, w: g is not None and min(abs(g - w), abs(g - (w - dark)), abs(g - (dark - w))) <= 2 * level
            if not (all(map(fits, got, pair[::-1])) or "inverted" in self.flags and all(map(fits, got, pair))):
                self.fail("level.top_v, level.bottom_v", f"{got}, truth {pair[::-1]}, tolerance {2 * level:.3g}")
        if "ac" in self.flags:
            self.null("i11_over_top")
        elif "moving" not in self.flags:
            self.number("i11_over_top", t["i11_over_top"], t["i11_over_top"], 0.02)
        for f, tol in (("asymmetry", 0.01), ("beta", 0.02)):
            if f == "beta" and self.flags & {"moving", "mean-any", "ac"}:
                continue
            got = self.get(f)
            if "inverted" in self.flags and isinstance(got, float) and got * t[f] < 0:
                self.r[f] = -got  # which side is light cannot be told from an eye alone
            self.number(f, t[f], t[f], tol)

    def jitter(self):
        t = self.t
        for g, want in t["jitter_ns"].items():
            if want is None:
                continue
            few = g != "all" and sum(t["runs"][g]) < 100
            if few and sum(t["runs"][g]) < 20:
                continue
            low = t["jitter_clean_ns"][g]
            high = max(want, t["jitter_common_ns"][g], t.get("jitter_wander_ns", {}).get(g) or 0)
            rel = self.tol.get("jitter", 0.25 if few else 0.10)
            tol = max(rel * high, self.tol.get("jitter_ns", 1.0))
            if "clipped" in self.flags and self.get(f"jitter_ns.{g}") is None:
                continue
            self.number(f"jitter_ns.{g}", low, high, tol)

    def subcode(self):
        want, got = self.t["subcode"], self.get("subcode")
        if not isinstance(got, list) or not all(isinstance(g, dict) for g in got):
            return self.fail("subcode", "is no list of blocks")
        if "short" in self.flags:
            return got and self.fail("subcode", f"{len(got)} blocks, must be empty")
        ragged = lambda g: g.get("crc") is False
        if want and got and not want[0]["complete"] and want[0]["crc"] and ragged(got[0]):
            got = got[1:]  # the block cut by the beginning, by the end of the record may be shown as damaged
        if want and got and not want[-1]["complete"] and want[-1]["crc"] and ragged(got[-1]):
            got = got[:-1]
        at = 0
        for k, w in enumerate(want):
            near = next((i for i in range(at, min(at + 2, len(got))) if self._same(w, got[i]) or
                         ragged(got[i]) and self._disturbed(w)), None)
            if near is not None:
                if near > at:
                    self.fail(f"subcode[{at}]", f"{got[at]} is in no section of the record")
                at = near + 1
            elif w["complete"] and not self._disturbed(w):
                if not w["crc"]:
                    continue  # a damaged block may be left out, but never shown as good
                shown = {q: w[q] for q in ("control", "adr", "track", "index", "relative", "absolute")}
                self.fail("subcode", f"block {k} missing or wrong: {shown}; got {got[at] if at < len(got) else 'nothing'}")
        for extra in got[at:]:
            if extra.get("crc") is not False:
                self.fail("subcode", f"not in the record: {extra}")
            elif "disturbed" not in self.flags:
                self.fail("subcode", f"damaged block reported: {extra}")

    def _disturbed(self, w):
        return "disturbed" in self.flags and w.get("touched")

    @staticmethod
    def _same(w, g):
        if not w["crc"] or g.get("crc") is not True:
            return not w["crc"] and g.get("crc") is False
        if (g.get("control"), g.get("adr")) != (w["control"], w["adr"]):
            return False
        if w["adr"] != 1:
            return True
        if w["track"] == "AA":
            return str(g.get("track")) in ("AA", "170") and all(g.get(q) == w[q] for q in ("relative", "absolute"))
        if str(g.get("track")).lstrip("0") != str(w["track"]).lstrip("0") or g.get("relative") != w["relative"]:
            return False
        if w["track"] == 0:  # lead-in: the pointed-to item; form of A0...A2 is left open
            return w["index"] is None or g.get("absolute") in (w["absolute"], None)
        return g.get("index") == w["index"] and g.get("absolute") == w["absolute"]

    def channel(self):
        t, n = self.t, self.t["frames"]
        slack = 8 if "disturbed" in self.flags else 2
        self.number("frames", t.get("frames_in_focus", n) - slack, n + 1, 0)
        if "disturbed" not in self.flags:
            self.number("sync_lost", 0, 0, 0)
        if "short" in self.flags:
            if self.get("content") not in ("unknown", None):
                self.fail("content", f"{self.get('content')!r}, must be 'unknown'")
            if self.get("c2.words"):
                self.fail("c2.words", f"{self.get('c2.words')}, no C2 word fits in the record")
            return
        if self.get("content") != t["content"]:
            self.fail("content", f"{self.get('content')!r}, truth {t['content']!r}")
        c = t["c1"]
        if "focus_lost" in t:
            if (_real(self.get("c1.words")) or 0) <= t["frames_in_focus"] + 2:
                self.number("c1.e11", 0, 3, 0)
                self.number("c1.e31", 0, 20, 0)
            return
        if "c1_wrong_words_range" in t:
            got = [_real(self.get(f"c1.{e}")) for e in ("e11", "e21", "e31")]
            low, high = t["c1_wrong_words_range"]
            if None in got or not low <= sum(got) <= high:
                self.fail("c1.e11+e21+e31", f"{got}, sum must lie in {low} to {high}")
            return
        self.number("c1.words", c["words"] - 8, c["words"] + 1, 0)
        for e in ("e11", "e21", "e31"):
            self.number(f"c1.{e}", c[e], c[e], 0)
        if n >= 112:
            self.number("c2.words", n - 120, n - 108, 0)
            self.number("c2.e32", 0, 0, 0)
        elif self.get("c2.words"):
            self.number("c2.words", 0, max(0, n - 108), 0)
        if t["speed"] == 1:
            want = (c["e11"] + c["e21"] + c["e31"]) / max(c["words"], 1) * t["channel_rate_hz"] / 588
            self.number("bler_per_s", want, want, 0.03 * want)

    def all(self):
        kind = self.doc["kind"]
        if not isinstance(self.r, dict):
            return [] if kind == "refuse" else ["result: missing, empty or no JSON object"]
        if kind != "eye":
            if not (kind == "refuse" and self.r.get("error")):
                self.no_eye()
            return self.bad
        t = self.t
        self.number("speed", t["speed"], t["speed"], 0.05)
        rate = t["channel_rate_hz"]
        self.number("channel_rate_hz", rate, rate, self.tol.get("rate", 100e-6) * rate)
        self.number("samples", t["samples"], t["samples"], 0)
        self.number("duration_s", t["duration_s"], t["duration_s"], 2e-6 * t["duration_s"] + 2 / self.doc["rate_hz"])
        if "focus_lost" in t and self.get("level.peak_to_peak_v") is None:
            self.warned()
        else:
            self.levels()
            self.jitter()
        if "disturbed" in self.flags or "focus_lost" in t:
            self.warned()
        self.subcode()
        self.channel()
        return self.bad


def read_result(path):
    try:
        return json.loads(pathlib.Path(path).read_text())
    except (OSError, ValueError):
        return None


def judge(doc, result, status=None):
    bad = Judge(doc, copy.deepcopy(result)).all()
    if status is not None and not 0 <= status <= 3:
        bad.append(f"exit status: {status}")
    elif status == 0 and doc["kind"] == "refuse" and result is None:
        bad.append("exit status: 0 without a result")
    return bad


def main(case, result, status=None):
    doc = json.loads(pathlib.Path(case).read_text())
    doc.setdefault("kind", "eye" if doc.get("eye") else "none")
    doc["truth"] = dict({k: doc[k] for k in ("scale_v", "offset_v", "dark_v") if k in doc}, **doc.get("truth", {}))
    bad = judge(doc, read_result(result), None if status is None else int(status))
    print("\n".join(bad) or "ok")
    return int(bool(bad))


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
