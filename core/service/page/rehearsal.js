// SPDX-License-Identifier: Apache-2.0
// A rehearsal as it is ordered from the daemon, and what came of it in sentences. No DOM.
import {count_text} from "./numbers.js";

// `fields`: texts of the form, and the list of `troubles`; the rate is in percent there.
export function rehearsal_order({sequence, model, units, rate, seed, troubles}) {
  return {sequence, model, units: Number(units), seed: Number(seed), trouble_rate: Number(rate) / 100, troubles};
}

// `result`: as `eyelevel rehearse --json` prints it. How the units ended, and whether as they must.
export function rehearsal_sentences(say, result) {
  const count = (n) => count_text(say.locale, n);
  const ends = ["pass", "fail", "undecided", "not judged", "stopped"].filter((end) => result.endings[end] > 0);
  const parts = ends.map((end) => say(`rehearsal.end.${end}`, {count: count(result.endings[end])}));
  const wrong = result.not_as_they_must + result.wrong_passes;
  return [
    say("rehearsal.ends", {units: count(result.units.length), ends: parts.join(", ")}),
    wrong === 0 ?
        say("rehearsal.as_they_must") :
        say("rehearsal.not_as_they_must", {wrong: count(result.not_as_they_must), passes: count(result.wrong_passes)})
  ];
}
