// SPDX-License-Identifier: Apache-2.0
// The page around its views: language, navigation, what is said aloud, what went wrong, the pedal.
import {get, Problem} from "./api.js";
import {BenchView} from "./bench_view.js";
import {button, element, link} from "./dom.js";
import {is_pedal} from "./pedal.js";
import {hash_of, route_of} from "./route.js";
import {settings} from "./settings.js";
import {choose_language, choose_locale} from "./texts.js";
import {speaker} from "./words.js";

// What is not seen first is fetched once the first view stands, or when it is wanted.
const later = {
  run: () => import("./run_view.js"),
  records: () => import("./records_view.js"),
  queue: () => import("./queue_view.js"),
  benches: () => import("./benches_view.js"),
  settings: () => import("./settings_view.js"),
};

const by_id = (id) => document.getElementById(id);

class Page {
  constructor() {
    this.view = null;
    this.bench = "";  // the bench looked at last, for the way back
    this.speak();
  }

  speak() {
    const language = settings.language || choose_language(navigator.languages);
    this.say = speaker(language, choose_locale(language, navigator.languages));
    document.documentElement.lang = this.say.language;
    by_id("skip").textContent = this.say("skip");
    by_id("nav").setAttribute("aria-label", this.say("nav"));
  }

  announce(words) {
    const place = by_id("said");
    if (place.textContent !== words) place.textContent = words;
  }

  title(words) {
    const whole = `${words} – eyelevel`;
    if (document.title !== whole) document.title = whole;
  }

  // "cut" stays until it is "open" again; the first opening is not worth a word.
  connection(feed) {
    const place = by_id("connection");
    const was_cut = !place.hidden && place.dataset.feed === "cut";
    if ((feed === "cut") === was_cut) return;
    place.dataset.feed = feed;
    if (feed === "cut") {
      clearTimeout(this.back_due);
      place.textContent = this.say("feed.cut");
      place.hidden = false;
    } else {
      place.textContent = this.say("feed.back");
      this.back_due = setTimeout(() => {
        place.hidden = true;
      }, 3000);
    }
  }

  // Does something that may go wrong and says so; gives what came of it, or undefined.
  async attempt(what) {
    try {
      const done = await what();
      this.no_problem();
      return done;
    } catch (problem) {
      this.problem(problem);
      return undefined;
    }
  }

  problem(problem) {
    if (problem.status === undefined) throw problem;  // a mistake of the page, for the console
    const say = this.say;
    const lines = problem.status === 0 ? [say("error.no_answer")] : [problem.detail || problem.title];
    if (problem.where) lines.push(say("error.where", {where: problem.where}));
    if (problem.advice) lines.push(say("error.try", {advice: problem.advice}));
    by_id("problem").replaceChildren(
        element("h2", {}, say("error")), ...lines.map((line) => element("p", {}, line)),
        button("×", () => this.no_problem(), {class: "dismiss", "aria-label": say("queue.close")}));
    by_id("problem").hidden = false;
  }

  no_problem() {
    by_id("problem").hidden = true;
    by_id("problem").replaceChildren();
  }

  navigation(current) {
    const to = (view, name) =>
        link(this.say(`nav.${view}`), hash_of(view, name), {"aria-current": view === current ? "page" : null});
    by_id("nav").replaceChildren(
        to("bench", this.bench), to("queue", ""), to("records", ""), to("benches", ""), to("settings", ""));
  }

  async go() {
    const route = route_of(location.hash);
    this.view?.close();
    this.view = null;
    this.no_problem();
    by_id("connection").hidden = true;
    this.announce("");
    this.title("…");
    const hash = location.hash;
    this.navigation(route.view);
    const view = await this.view_of(route, hash);
    if (view === null || location.hash !== hash) {
      view?.close();
      return;
    }
    this.view = view;
    by_id("main").replaceChildren(view.node);
  }

  // Null where the viewer is sent elsewhere, or has gone there.
  async view_of(route, hash) {
    if (route.view === "bench") return this.bench_view(route.name, hash);
    if (route.view in later) return this.later_view(route);
    return {node: element("h1", {tabindex: -1}, this.say("not_found")), close() {}};
  }

  async later_view(route) {
    let module;
    try {
      module = await later[route.view]();
    } catch (error) {
      this.problem(new Problem({detail: error.message}));
      return null;
    }
    switch (route.view) {
      case "run": return new module.RunView(this, route.name);
      case "records": return new module.RecordsView(this, route.parameters.serial ?? "");
      case "queue": return new module.QueueView(this, route.parameters);
      case "benches": return new module.BenchesView(this);
      default: return new module.SettingsView(this);
    }
  }

  async bench_view(name, hash) {
    if (name !== "") {
      this.bench = name;
      this.navigation("bench");
      return new BenchView(this, name);
    }
    const known = await this.keep_asking("", hash);
    if (known === null) return null;
    if (known.benches.length === 1) {
      location.replace(hash_of("bench", known.benches[0]));
      return null;
    }
    const list =
        known.benches.map((bench) => element("li", {}, link(bench, hash_of("bench", bench), {class: "choice"})));
    const title = this.say(list.length === 0 ? "choose.none" : "choose.title");
    return {
      node: element("div", {}, element("h1", {tabindex: -1}, title), element("ul", {class: "choices"}, ...list)),
      close() {}
    };
  }

  // The answer of the daemon, however long that takes to come; null where the viewer has gone elsewhere meanwhile.
  async keep_asking(path, hash) {
    for (;;) {
      try {
        const answer = await get(path);
        this.connection("open");
        return location.hash === hash ? answer : null;
      } catch (problem) {
        if (problem.status !== 0) {
          this.problem(problem);
          return null;
        }
        this.connection("cut");
      }
      await new Promise((resolve) => {
        setTimeout(resolve, 1000);
      });
      if (location.hash !== hash) return null;
    }
  }
}

function place_of(target) {
  if (!(target instanceof Element)) return "page";
  if (target.closest("input, select, textarea")) return "typing";
  return target.closest("a, button, summary") ? "control" : "page";
}

const page = new Page();
addEventListener("hashchange", async () => {
  await page.go();
  document.querySelector("main h1")?.focus({preventScroll: true});
  scrollTo(0, 0);
});
addEventListener("online", () => page.view?.feed?.try_now());
addEventListener("keydown", (event) => {
  const key = {code: event.code, repeat: event.repeat, ctrl: event.ctrlKey, alt: event.altKey, meta: event.metaKey};
  // A key held down is no second answer; it must not scroll the page either.
  const fresh = {...key, repeat: false};
  const place = place_of(event.target);
  if (!is_pedal(fresh, place, settings.pedal) || !page.view?.pedal) return;
  if (key.repeat || page.view.pedal()) event.preventDefault();
});
by_id("skip").addEventListener("click", (event) => {
  event.preventDefault();
  by_id("main").focus();
});
await page.go();
// So that they are there when the daemon is not. One that fails is fetched again when it is wanted.
await Promise.allSettled(Object.values(later).map((load) => load()));
