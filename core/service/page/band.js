// SPDX-License-Identifier: Apache-2.0
// Where a value lies against its limits: the word for it and the place of its mark on the band. Numbers in, numbers
// out.

// "low", "in", "high", "near" (the interval reaches over a limit) or "none" (there is no limit). Without an uncertainty
// the value alone decides.
export function word_of(value, expanded, at_least, at_most) {
  if (at_least === null && at_most === null) return "none";
  const reach = expanded ?? 0;
  if (at_least !== null && value + reach < at_least) return "low";
  if (at_most !== null && value - reach > at_most) return "high";
  const inside = (at_least === null || value - reach >= at_least) && (at_most === null || value + reach <= at_most);
  return inside ? "in" : "near";
}

// The zones that the band shows, as shares of its width, from low to high. A side without a limit has no zone.
export function zones(at_least, at_most) {
  if (at_least === null && at_most === null) return [];
  if (at_least === null) return [{word: "in", share: 0.65}, {word: "high", share: 0.35}];
  if (at_most === null) return [{word: "low", share: 0.35}, {word: "in", share: 0.65}];
  return [{word: "low", share: 0.25}, {word: "in", share: 0.5}, {word: "high", share: 0.25}];
}

// Two values and the shares of the width at which they stand.
function scale_of(at_least, at_most) {
  if (at_least !== null && at_most !== null && at_most > at_least)
    return {from: at_least, at: 0.25, to: at_most, at_to: 0.75};
  const limit = at_least ?? at_most;
  // With one limit nothing says how wide the band is; half of the limit's size is as good a width as any.
  const width = Math.abs(limit) / 2 || 1;
  if (at_most === null) return {from: limit, at: 0.35, to: limit + width, at_to: 1};
  return {from: limit - width, at: 0, to: limit, at_to: 0.65};
}

// Where the value and its interval stand, as shares of the width, held within it. `off`: "low" or "high" where the
// value lies beyond the end of the band.
export function place_on_band(value, expanded, at_least, at_most) {
  const scale = scale_of(at_least, at_most);
  const share = (v) => scale.at + ((v - scale.from) / (scale.to - scale.from)) * (scale.at_to - scale.at);
  const held = (s) => Math.min(1, Math.max(0, s));
  const at = share(value);
  const reach = expanded ?? 0;
  return {
    at: held(at),
    from: held(share(value - reach)),
    to: held(share(value + reach)),
    off: at < 0 ? "low" :
        at > 1  ? "high" :
                  "",
  };
}
