// SPDX-License-Identifier: Apache-2.0
// The benches of this daemon, what each is doing, and its instruments with the date of their calibration.
import {get} from "./api.js";
import {element, link, show_in} from "./dom.js";
import {Poll} from "./poll.js";
import {hash_of} from "./route.js";
import {calibration} from "./words.js";

const every_ms = 3000;

function bench_node(say, bench, today) {
  const instrument = (i) => {
    const due = calibration(say, i.calibration_due, today);
    return element(
        "li", {}, element("b", {}, i.role), ` ${i.kind}`,
        element("span", {class: due.over ? "again" : "hint"}, due.words),
        element("span", {class: "hint resource"}, i.resource));
  };
  return element(
      "section", {class: "bench-of-many", "aria-label": bench.name}, element("h2", {}, bench.name),
      element("p", {}, [bench.about, say(`state.${bench.state}`)].filter((s) => s).join(" · ")),
      bench.trouble ? element("p", {class: "again"}, bench.trouble.message) : null,
      element("p", {class: "next"}, link(say("benches.open"), hash_of("bench", bench.name), {id: `to-${bench.name}`})),
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

  told(benches) {
    const today = new Date().toISOString().slice(0, 10);
    const shown =
        benches.map(({name, about, state, trouble, instruments}) => ({name, about, state, trouble, instruments}));
    show_in(this.list, shown, () => shown.map((bench) => bench_node(this.page.say, bench, today)));
  }
}
