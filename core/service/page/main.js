// SPDX-License-Identifier: Apache-2.0
// The page around its views: language, navigation, what is said aloud, what went wrong, the pedal.
import {may, must_sign_in, pages_of, right_for} from "./access.js";
import {call, get, Problem} from "./api.js";
import {BenchView} from "./bench_view.js";
import {button, element, link} from "./dom.js";
import {is_pedal} from "./pedal.js";
import {hash_of, route_of} from "./route.js";
import {is_run, Scanner} from "./scan.js";
import {settings} from "./settings.js";
import {choose_language, choose_locale} from "./texts.js";
import {speaker} from "./words.js";

// What is not seen first is fetched once the first view stands, or when it is wanted.
const later = {
  run: () => import("./run_view.js"),
  records: () => import("./records_view.js"),
  workshop: () => import("./workshop_view.js"),
  queue: () => import("./queue_view.js"),
  benches: () => import("./benches_view.js"),
  rehearsal: () => import("./rehearsal_view.js"),
  settings: () => import("./settings_view.js"),
  access: () => import("./access_view.js"),
  sign_in: () => import("./sign_in_view.js"),
};

const by_id = (id) => document.getElementById(id);

class Page {
  constructor() {
    this.view = null;
    this.bench = "";      // the bench looked at last, for the way back
    this.session = null;  // who looks, and what that one may do (access.js); null: to be asked
    this.was_signed_in = false;
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

  // Does something that may go wrong and says so; gives what came of it, or undefined. What went wrong before is over.
  async attempt(what) {
    const done = await this.ask(what);
    if (done !== undefined) this.no_problem();
    return done;
  }

  // As attempt(), for what nobody has pressed a button for: what went wrong before stays told.
  async ask(what) {
    try {
      return await what();
    } catch (problem) {
      this.problem(problem);
      return undefined;
    }
  }

  problem(problem) {
    if (problem.status === undefined) throw problem;  // a mistake of the page, for the console
    if (problem.status === 401) {
      this.signed_out();
      return;
    }
    if (problem.status === 403) this.is_session_old = true;  // less is allowed than was known
    const say = this.say;
    const lines = problem.status === 0 ? [say("error.no_answer")] : [problem.detail || problem.title];
    if (problem.where) lines.push(say("error.where", {where: problem.where}));
    if (problem.advice) lines.push(say("error.try", {advice: problem.advice}));
    by_id("problem").replaceChildren(
        element("h2", {}, say("error")), ...lines.map((line) => element("p", {}, line)),
        button("×", () => this.no_problem(), {class: "dismiss", "aria-label": say("queue.close")}));
    by_id("problem").hidden = false;
    by_id("problem").scrollIntoView({block: "nearest"});
  }

  no_problem() {
    by_id("problem").hidden = true;
    by_id("problem").replaceChildren();
  }

  navigation(current) {
    const to = (view, name) =>
        link(this.say(`nav.${view}`), hash_of(view, name), {"aria-current": view === current ? "page" : null});
    const pages = this.session === null || must_sign_in(this.session) ? [] : pages_of(this.session);
    by_id("nav").replaceChildren(...pages.map((view) => to(view, view === "bench" ? this.bench : "")));
    by_id("nav").hidden = pages.length === 0;
    this.show_who();
  }

  // Who is signed in, beside the pages.
  show_who() {
    const user = this.session?.user ?? "";
    by_id("who").hidden = user === "";
    by_id("who").replaceChildren(...user === "" ? [] : [
      element("span", {class: "name", title: this.say("access.signed_in", {user})}, user),
      button(this.say("sign_out"), () => this.sign_out(), {id: "sign-out"})
    ]);
  }

  async sign_out() {
    if ((await this.attempt(() => call("DELETE", "/session"))) === undefined) return;
    this.was_signed_in = false;
    await this.ask_again();
  }

  // The session has ended, or was never begun. Views that are open may tell of it several times.
  signed_out() {
    if (this.session !== null && !must_sign_in(this.session)) this.ask_again();
  }

  // Shows the same address to who is there now.
  async ask_again() {
    this.session = null;
    await this.go();
  }

  focus_title() { document.querySelector("main h1")?.focus({preventScroll: true}); }

  async go() {
    const route = route_of(location.hash);
    const turn = {};
    this.turn = turn;
    this.view?.close();
    this.view = null;
    this.no_problem();
    by_id("connection").hidden = true;
    this.announce("");
    this.title("…");
    const view = await this.view_of(route, turn);
    if (view === null || this.turn !== turn) {
      view?.close();
      return;
    }
    this.view = view;
    by_id("main").replaceChildren(view.node);
    view.shown?.();
  }

  // True once it is known who looks, in this turn.
  async know_session(turn) {
    if (this.session !== null && !this.is_session_old) return true;
    const session = await this.keep_asking("/session", turn);
    if (session === null) return false;
    this.session = session;
    this.is_session_old = false;
    if (session.user !== "") this.was_signed_in = true;
    return true;
  }

  // Null where the viewer is sent elsewhere, or has gone there.
  async view_of(route, turn) {
    this.navigation(route.view);
    if (!(await this.know_session(turn))) return null;
    this.navigation(route.view);
    if (must_sign_in(this.session)) return this.later_view({view: "sign_in"});
    const right = right_for(route.view);
    if (right !== "" && !may(this.session, right)) return this.sentence("access.not_here");
    if (route.view === "bench") return this.bench_view(route.name, turn);
    if (route.view in later) return this.later_view(route);
    return this.sentence("not_found");
  }

  sentence(key) {
    this.title(this.say(key));
    return {node: element("h1", {tabindex: -1}, this.say(key)), close() {}};
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
      case "workshop": return new module.WorkshopView(this, route.parameters.check_unit ?? "");
      case "queue": return new module.QueueView(this, route.parameters);
      case "benches": return new module.BenchesView(this);
      case "rehearsal": return new module.RehearsalView(this);
      case "access": return new module.AccessView(this);
      case "sign_in": return new module.SignInView(this);
      default: return new module.SettingsView(this);
    }
  }

  async bench_view(name, turn) {
    if (name !== "") {
      this.bench = name;
      this.navigation("bench");
      return new BenchView(this, name);
    }
    const known = await this.keep_asking("", turn);
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
  async keep_asking(path, turn) {
    for (;;) {
      try {
        const answer = await get(path);
        this.connection("open");
        return this.turn === turn ? answer : null;
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
      if (this.turn !== turn) return null;
    }
  }
}

function place_of(target) {
  if (!(target instanceof Element)) return "page";
  if (target.closest("input, select, textarea")) return "typing";
  return target.closest("a, button, summary") ? "control" : "page";
}

const page = new Page();
const scanner = new Scanner();
addEventListener("hashchange", async () => {
  await page.go();
  if (page.view?.shown === undefined) page.focus_title();
  scrollTo(0, 0);
});
addEventListener("online", () => page.view?.feed?.try_now());
addEventListener("keydown", (event) => {
  const key = {code: event.code, repeat: event.repeat, ctrl: event.ctrlKey, alt: event.altKey, meta: event.metaKey};
  // A key held down is no second answer; it must not scroll the page either.
  const fresh = {...key, repeat: false};
  const place = place_of(event.target);
  const typed = {...key, key: event.key};
  const code = place === "typing" ? "" : scanner.take(typed, event.timeStamp);
  if (is_run(code)) {
    event.preventDefault();
    location.hash = hash_of("run", code);
    return;
  }
  if (code !== "" && page.view?.scan) {
    event.preventDefault();
    page.view.scan(code);
    return;
  }
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
