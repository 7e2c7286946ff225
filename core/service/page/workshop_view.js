// SPDX-License-Identifier: Apache-2.0
// What all runs say together: first what there is to do something about, then the charts, then how many pass. The
// sentences are the tool's own, in English, as `eyelevel workshop` prints them.
import {get} from "./api.js";
import {element, field, show_in} from "./dom.js";
import {count_text, date_text, share_text} from "./numbers.js";
import {Poll} from "./poll.js";
import {hash_of} from "./route.js";

const every_ms = 60000;
const groups = ["by_bench", "by_operator", "units_by_lot", "by_model", "by_week"];

export class WorkshopView {
  constructor(page, check_unit) {
    this.page = page;
    const say = page.say;
    page.title(say("workshop.title"));
    const input = element("input", {
      id: "check-unit",
      name: "check_unit",
      type: "search",
      value: check_unit,
      autocomplete: "off",
      spellcheck: "false"
    });
    const form = element(
        "form", {
          class: "search",
          role: "search",
          submit: (event) => {
            event.preventDefault();
            const wanted = input.value.trim();
            location.hash = hash_of("workshop", "", wanted === "" ? {} : {check_unit: wanted});
          },
        },
        field(say("workshop.check_unit"), input), element("button", {type: "submit"}, say("workshop.look")));
    this.query = new URLSearchParams(check_unit === "" ? {} : {check_unit}).toString();
    this.said = element("div", {tabindex: -1});
    this.node =
        element("div", {class: "workshop"}, element("h1", {tabindex: -1}, say("workshop.title")), form, this.said);
    this.poll = new Poll(page, () => get(`/workshop?${this.query}`), (seen) => this.told(seen), every_ms);
  }

  close() { this.poll.close(); }

  told(seen) {
    const say = this.page.say;
    show_in(
        this.said, seen,
        () =>
            [element("ul", {class: "told", lang: "en"}, ...seen.sentences.map((words) => element("li", {}, words))),
             seen.reading === "" ? null : element("p", {class: "hint"}, say("workshop.since", {
                                                    day: date_text(say.locale, seen.since_utc.slice(0, 10)),
                                                    readings: count_text(say.locale, seen.readings),
                                                    reading: seen.reading
                                                  })),
             seen.charts.length + seen.checks.length === 0 ? null : this.charts(seen),
             ...groups.filter((group) => seen.yield [group].length > 0)
                 .map((group) => this.yields(group, seen.yield [group])),
    ]);
  }

  charts({reading}) {
    return element(
        "p", {class: "sheet"},
        element(
            "img",
            {src: `/api/1/workshop/charts.svg?${this.query}`, alt: this.page.say("workshop.charts", {reading})}));
  }

  yields(group, list) {
    const say = this.page.say;
    const cells = (one) => {
      const range = one.yield === null ?
          "" :
          `${share_text(say.locale, one.yield)} (${share_text(say.locale, one.yield_low)} – ${
              share_text(say.locale, one.yield_high)})`;
      return [one.passed, one.failed, one.undecided].map((count) => count_text(say.locale, count)).concat(range);
    };
    const heads = ["of", "passed", "failed", "undecided", "yield"].map((key) => say(`workshop.${key}`));
    const rows = list.map(
        (one) => element(
            "tr", {}, element("th", {scope: "row"}, one.of || say("workshop.not_said")),
            ...cells(one).map((cell) => element("td", {}, cell))));
    const table = element(
        "table", {}, element("caption", {}, say(`workshop.${group}`)),
        element("thead", {}, element("tr", {}, ...heads.map((head) => element("th", {scope: "col"}, head)))),
        element("tbody", {}, ...rows));
    // Wider than a phone: it scrolls by itself, with the keyboard, too.
    return element("div", {class: "wide", role: "region", tabindex: 0, "aria-label": say(`workshop.${group}`)}, table);
  }
}
