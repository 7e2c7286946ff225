// SPDX-License-Identifier: Apache-2.0
// Which screen stands at which bench: this one is told so here, and any is told that it stands there no more. Only a
// screen that stands at a bench answers there.
import {call, get, path_of, post} from "./api.js";
import {button, element, field, show_in} from "./dom.js";
import {moment_text} from "./numbers.js";
import {keep, settings} from "./settings.js";
import {name_input, section, small_form} from "./small_form.js";

export class SeatsSection {
  constructor(page) {
    this.page = page;
    this.here = element("p", {class: "standing"});
    this.form = element("div", {});
    this.list = element("div", {tabindex: -1});
    this.node = section(
        "seats", page.say("seats.title"), element("p", {class: "hint"}, page.say("seats.about")), this.here, this.form,
        this.list);
    this.load();
  }

  async load() {
    const answer = await this.page.ask(() => Promise.all([get("/session"), get("/benches"), get("/seats")]));
    if (answer === undefined) return;
    const [session, {benches}, {seats}] = answer;
    this.page.session = session;
    const say = this.page.say;
    this.here.textContent = session.seat === "" ? say("seats.nowhere") : say("seats.here", {bench: session.seat});
    const names = benches.map((bench) => bench.name);
    show_in(this.form, names, () => this.seat_form(names));
    show_in(
        this.list, [seats, settings.seat],
        () => element("ul", {class: "entries"}, ...seats.map((seat) => this.seat_node(seat))));
  }

  seat_form(names) {
    const say = this.page.say;
    const choice = element(
        "select", {id: "seat-bench", name: "seat-bench"},
        ...names.map((name) => element("option", {value: name}, name)));
    return small_form(this.page, {
      id: "seat-form",
      label: say("seats.set"),
      fields: [
        field(say("seats.bench"), choice), field(say("seats.name"), name_input("seat-name"), say("seats.name_hint"))
      ],
      does: (form) => this.stand_at(form.elements["seat-bench"].value, form.elements["seat-name"].value.trim()),
      done: say("seats.done"),
      then: () => this.load()
    });
  }

  // A screen stands at one bench: its seat before, where it is still there, is given up.
  async stand_at(bench, name) {
    const before = Number(settings.seat);
    const made = await post("/seats", {bench, name});
    keep("seat", String(made.id));
    const {seats} = await get("/seats");
    if (seats.some((seat) => seat.id === before)) await call("DELETE", path_of("seats", before));
    return made;
  }

  seat_node(seat) {
    const say = this.page.say;
    const is_this = String(seat.id) === settings.seat;
    const facts = [
      is_this ? say("seats.this") : "", seat.bench,
      say("seats.made", {who: seat.made_by, moment: moment_text(say.locale, seat.made_utc)})
    ];
    const end = async () => {
      if ((await this.page.attempt(() => call("DELETE", path_of("seats", seat.id)))) !== undefined) this.load();
    };
    const name = seat.name || seat.bench;
    return element(
        "li", {}, element("b", {}, name), element("span", {class: "hint"}, facts.filter((f) => f).join(" · ")),
        button(say("seats.end"), end, {id: `seat-end-${seat.id}`, "aria-label": say("seats.end_of", {name})}));
  }
}
