// SPDX-License-Identifier: Apache-2.0
// The benches of this daemon, what each is doing, and its instruments: how they were when they were met last, and the
// date of their calibration.
import {may} from "./access.js";
import {get, path_of, post} from "./api.js";
import {button, element, link, show_in} from "./dom.js";
import {Poll} from "./poll.js";
import {hash_of} from "./route.js";
import {calibration, health, proof_text} from "./words.js";

const every_ms = 3000;

// `ask`: what a button does that asks the instruments; null where they may not be disturbed.
function bench_node(say, bench, today, ask) {
  const instrument = (i) => {
    const due = calibration(say, i.calibration_due, today);
    const met = health(say, i.health);
    return element(
        "li", {}, element("b", {}, i.role), ` ${i.kind}`,
        element("span", {class: due.over ? "again" : "hint"}, due.words),
        element("span", {class: met.bad ? "again" : "hint"}, met.words.join("; ")),
        element("span", {class: "hint resource"}, i.resource));
  };
  return element(
      "section", {class: "bench-of-many", "aria-label": bench.name}, element("h2", {}, bench.name),
      element(
          "p", {},
          [bench.about, say(`state.${bench.state}`), proof_text(say, bench.proof)].filter((s) => s).join(" · ")),
      bench.trouble ? element("p", {class: "again"}, bench.trouble.message) : null,
      element(
          "p", {class: "next"}, link(say("benches.open"), hash_of("bench", bench.name), {id: `to-${bench.name}`}), " ",
          ask &&
              button(
                  say("benches.ask"), ask,
                  {id: `ask-${bench.name}`, "aria-label": say("benches.ask_of", {bench: bench.name})})),
      element("ul", {class: "instruments"}, ...bench.instruments.map(instrument)));
}

export class BenchesView {
  constructor(page) {
    this.page = page;
    page.title(page.say("benches.title"));
    this.list = element("div", {tabindex: -1});
    this.node = element("div", {}, element("h1", {tabindex: -1}, page.say("benches.title")), this.list);
    this.poll = new Poll(page, () => get("/benches"), ({benches}) => this.told(benches), every_ms);
  }

  close() { this.poll.close(); }

  asker(bench) {
    if (bench.state !== "idle" || !may(this.page.session, "operate")) return null;
    return async () => {
      await this.page.attempt(() => post(`${path_of("benches", bench.name)}/ask-instruments`));
      this.poll.now();
    };
  }

  told(benches) {
    const today = new Date().toISOString().slice(0, 10);
    const shown = benches.map(
        ({name, about, state, trouble, proof, instruments}) => ({name, about, state, trouble, proof, instruments}));
    show_in(this.list, shown, () => shown.map((bench) => bench_node(this.page.say, bench, today, this.asker(bench))));
  }
}
