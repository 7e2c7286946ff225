// SPDX-License-Identifier: Apache-2.0
// Who changed what, newest first; more when it is wanted.
import {get} from "./api.js";
import {button, element} from "./dom.js";
import {moment_text} from "./numbers.js";
import {section} from "./small_form.js";

const at_most = 25;

export class AuditSection {
  constructor(page) {
    this.page = page;
    this.last = 0;
    this.list = element("ol", {class: "entries audit"});
    this.more = button(page.say("audit.more"), () => this.load(), {id: "audit-more", hidden: true});
    this.node = section("audit", page.say("audit.title"), this.list, this.more);
    this.load();
  }

  async load() {
    const query = new URLSearchParams({at_most, ...(this.last === 0 ? {} : {before: this.last})});
    const answer = await this.page.ask(() => get(`/audit?${query}`));
    if (answer === undefined) return;
    this.list.append(...answer.audit.map((entry) => this.entry_node(entry)));
    this.last = answer.audit.at(-1)?.number ?? 0;
    this.more.hidden = answer.audit.length < at_most;
  }

  entry_node({at_utc, who, from, what, with: body, status}) {
    const say = this.page.say;
    const facts = [
      moment_text(say.locale, at_utc), who || say("audit.nobody"), from,
      status === 0 ? say("audit.not_told") : say("audit.status", {status})
    ];
    return element(
        "li", {}, element("code", {}, what), element("span", {class: "hint"}, facts.filter((f) => f).join(" · ")),
        body === "" ? null : element("code", {class: "with"}, body));
  }
}
