// SPDX-License-Identifier: Apache-2.0
// The jobs of all benches: what is under way, what waits, what was interrupted, what has ended; and a form for a new
// one.
import {may} from "./access.js";
import {call, get, path_of, post} from "./api.js";
import {button, element, link, show_in} from "./dom.js";
import {job_form} from "./job_form.js";
import {sequence_name, sorted_out} from "./jobs.js";
import {Poll} from "./poll.js";
import {hash_of} from "./route.js";
import {when_text} from "./words.js";

const every_ms = 2000;

export class QueueView {
  constructor(page, parameters) {
    this.page = page;
    const say = page.say;
    page.title(say("queue.title"));
    this.list = element("div", {class: "jobs", tabindex: -1});
    this.schedules = element("div", {class: "jobs schedules", tabindex: -1});
    this.added = element("p", {role: "status"});
    this.form = element("div", {});
    this.node = element(
        "div", {class: may(page.session, "operate") ? "queue" : ""}, element("h1", {tabindex: -1}, say("queue.title")),
        this.list, this.schedules, may(page.session, "operate") ? this.add_section() : null);
    this.bench = parameters.bench ?? "";
    this.known = null;  // what a new job may be made of; it changes too rarely to be asked for again
    this.poll = new Poll(page, () => this.ask(), ([{jobs}, {schedules}]) => this.told(jobs, schedules), every_ms);
  }

  close() { this.poll.close(); }

  add_section() {
    return element(
        "section", {class: "add", "aria-labelledby": "add-title"},
        element("h2", {id: "add-title"}, this.page.say("queue.add")), this.form, this.added);
  }

  async ask() {
    if (this.known === null && may(this.page.session, "operate")) {
      const [{benches}, {sequences}, {models}] = await Promise.all([get(""), get("/sequences"), get("/models")]);
      this.known = {benches, sequences, models, bench: this.bench || benches[0]};
    }
    return Promise.all([get("/jobs"), get("/schedules")]);
  }

  make_form() {
    this.form.replaceChildren(job_form(this.page, this.known, (job) => {
      this.added.textContent = this.page.say("queue.added", {id: job.id});
      this.poll.now();
    }));
  }

  told(jobs, schedules) {
    const say = this.page.say;
    if (this.known !== null && this.form.childElementCount === 0) this.make_form();
    this.show_schedules(schedules);
    show_in(this.list, jobs, () => {
      if (jobs.length === 0) return element("p", {}, say("queue.nothing"));
      return sorted_out(jobs)
          .filter(([, some]) => some.length > 0)
          .map(
              ([heading, some]) => element(
                  "section", {}, element("h2", {}, say(`queue.${heading}`)),
                  element("ul", {class: "job-list"}, ...some.map((job) => this.job_node(job)))));
    });
  }

  show_schedules(schedules) {
    const say = this.page.say;
    show_in(this.schedules, schedules, () => {
      if (schedules.length === 0) return [];
      return element(
          "section", {}, element("h2", {}, say("queue.schedules")),
          element("ul", {class: "job-list"}, ...schedules.map((schedule) => this.schedule_node(schedule))));
    });
  }

  schedule_node(schedule) {
    const say = this.page.say;
    const facts = [schedule.bench, schedule.serial, sequence_name(schedule.sequence)].filter((f) => f !== "");
    return element(
        "li", {class: "job"}, element("span", {class: "job-what"}, schedule.name),
        element("span", {}, when_text(say, schedule)), element("span", {class: "hint"}, facts.join(" · ")));
  }

  job_node(job) {
    const say = this.page.say;
    const what = [job.serial, sequence_name(job.sequence)].filter((s) => s).join(", ");
    const facts = [
      say("queue.line", {id: job.id, priority: job.priority}), say(`queue.state.${job.state}`), job.bench,
      job.asked_by ? say("queue.asked_by", {by: job.asked_by}) : ""
    ];
    return element(
        "li", {class: "job"},
        element(
            "span", {class: "job-what"},
            job.run ? link(what, hash_of("run", job.run), {id: `job-run-${job.id}`}) : what),
        element("span", {class: "hint"}, facts.filter((f) => f !== "").join(" · ")),
        job.why ? element("span", {class: "again"}, job.why) : null,
        element("span", {class: "job-deeds"}, ...this.deeds(job)));
  }

  deeds(job) {
    const say = this.page.say;
    const deed = (name, does) => button(say(`queue.${name}`), async () => {
      await this.page.attempt(does);
      this.poll.now();
    }, {id: `${name}-${job.id}`, "aria-label": say(`queue.${name}_of`, {id: job.id})});
    const at = path_of("jobs", job.id);
    if (job.state === "waiting" && may(this.page.session, "change")) {
      return [
        deed("higher", () => call("PATCH", at, {priority: job.priority + 1})),
        deed("lower", () => call("PATCH", at, {priority: job.priority - 1})), deed("withdraw", () => call("DELETE", at))
      ];
    }
    if (job.state === "under way" && may(this.page.session, "operate")) return [deed("stop", () => post(`${at}/stop`))];
    if (job.state === "interrupted" && may(this.page.session, "operate"))
      return [deed("resume", () => post(`${at}/resume`)), deed("close", () => post(`${at}/close`))];
    return [];
  }
}
