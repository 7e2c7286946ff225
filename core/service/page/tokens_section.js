// SPDX-License-Identifier: Apache-2.0
// Tokens: what programs sign in with. The secret of a new one is shown this once.
import {call, get, path_of, post} from "./api.js";
import {button, element, field, show_in} from "./dom.js";
import {moment_text} from "./numbers.js";
import {rights_field, rights_in, rights_text} from "./rights_field.js";
import {name_input, section, small_form} from "./small_form.js";

const usual_days = 30;
const most_days = 366;

export class TokensSection {
  constructor(page) {
    this.page = page;
    const say = page.say;
    this.list = element("div", {tabindex: -1});
    this.secret = element("div", {tabindex: -1});
    this.node = section(
        "tokens", say("tokens.title"), element("p", {class: "hint"}, say("tokens.about")), this.list, this.secret,
        this.form());
    this.load();
  }

  form() {
    const {say, session} = this.page;
    const days = element("input", {
      id: "token-days",
      name: "token-days",
      type: "number",
      min: 1,
      max: most_days,
      value: usual_days,
      required: true
    });
    return small_form(this.page, {
      id: "token-form",
      label: say("tokens.make"),
      fields: [
        field(say("tokens.name"), name_input("token-name"), say("tokens.name_hint")),
        rights_field(say, "token-rights", session.rights, ["look"]), field(say("tokens.days"), days)
      ],
      does: (form) => post("/tokens", {
        name: form.elements["token-name"].value.trim(),
        rights: rights_in(form),
        days: Number(form.elements["token-days"].value)
      }),
      done: say("tokens.done"),
      then: (made) => {
        this.show_secret(made.token);
        this.load();
      }
    });
  }

  show_secret(secret) {
    const say = this.page.say;
    const place =
        element("input", {id: "token-secret", type: "text", readonly: true, value: secret, autocomplete: "off"});
    const copied = element("p", {role: "status", class: "hint"});
    const copy = async () => {
      place.select();
      try {
        await navigator.clipboard.writeText(secret);
        copied.textContent = say("tokens.copied");
      } catch {  // not let by the browser: it stands there, chosen
        copied.textContent = say("tokens.copy_by_hand");
      }
    };
    this.secret.replaceChildren(element(
        "div", {class: "secret"}, field(say("tokens.secret"), place, say("tokens.once")),
        button(say("tokens.copy"), copy, {id: "token-copy"}), copied));
    place.focus();
    place.select();
  }

  async load() {
    const answer = await this.page.ask(() => get("/tokens"));
    if (answer === undefined) return;
    const {tokens} = answer;
    show_in(
        this.list, tokens,
        () => tokens.length === 0 ?
            element("p", {}, this.page.say("tokens.none")) :
            element("ul", {class: "entries"}, ...tokens.map((token) => this.token_node(token))));
  }

  token_node(token) {
    const {say, session} = this.page;
    const facts = [
      token.user === session.user ? "" : say("tokens.of", {user: token.user}), rights_text(say, token.rights),
      say("tokens.until", {moment: moment_text(say.locale, token.expires_utc)})
    ];
    const end = async () => {
      if ((await this.page.attempt(() => call("DELETE", path_of("tokens", token.id)))) !== undefined) this.load();
    };
    return element(
        "li", {}, element("b", {}, token.name), element("span", {class: "hint"}, facts.filter((f) => f).join(" · ")),
        button(
            say("tokens.end"), end,
            {id: `token-end-${token.id}`, "aria-label": say("tokens.end_of", {name: token.name})}));
  }
}
