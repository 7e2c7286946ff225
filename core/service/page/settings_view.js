// SPDX-License-Identifier: Apache-2.0
// What this screen keeps (settings.js): language, who answers here, the key of the pedal; and the password and the
// tokens of who is signed in.
import {may} from "./access.js";
import {button, element, field} from "./dom.js";
import {password_section} from "./password_section.js";
import {may_be_learnt} from "./pedal.js";
import {keep, settings} from "./settings.js";
import {section} from "./small_form.js";
import {languages} from "./texts.js";
import {TokensSection} from "./tokens_section.js";

export class SettingsView {
  constructor(page) {
    this.page = page;
    const say = page.say;
    page.title(say("settings.title"));
    this.pedal = element("p", {role: "status"});
    this.forget = button(say("settings.pedal_forget"), () => this.learnt(""));
    this.node = element(
        "div", {class: "settings"}, element("h1", {tabindex: -1}, say("settings.title")), this.language(),
        page.session.user === "" ? this.by() : null,
        element(
            "section", {"aria-labelledby": "pedal-title"}, element("h2", {id: "pedal-title"}, say("settings.pedal")),
            this.pedal,
            element("p", {class: "next"}, button(say("settings.pedal_learn"), () => this.listen()), " ", this.forget)),
        ...this.account());
    this.show_pedal();
  }

  // Answers are given in the name of who is signed in.
  account() {
    const {page} = this;
    const {session: {user}, say} = page;
    if (user === "") return [];
    const own = may(page.session, "look") ? [password_section(page), new TokensSection(page).node] : [];
    return [
      section(
          "account", say("access.signed_in", {user}),
          element("p", {class: "next"}, button(say("sign_out"), () => page.sign_out()))),
      ...own
    ];
  }

  close() { this.hear_no_more?.(); }

  language() {
    const choice = element(
        "select", {id: "language"},
        ...Object.entries(languages).map(
            ([language, name]) => element(
                "option", {value: language, lang: language, selected: language === this.page.say.language}, name)));
    choice.addEventListener("change", () => {
      keep("language", choice.value);
      this.page.speak();
      this.page.go().then(() => document.getElementById("language").focus());
    });
    return field(this.page.say("settings.language"), choice);
  }

  by() {
    const input = element("input", {
      id: "by",
      type: "text",
      autocomplete: "off",
      value: settings.by,
      placeholder: this.page.say("settings.by_usual")
    });
    input.addEventListener("input", () => keep("by", input.value.trim()));
    return field(this.page.say("settings.by"), input);
  }

  show_pedal() {
    const say = this.page.say;
    this.pedal.textContent = say("settings.pedal_is", {key: settings.pedal || say("settings.pedal_none")});
    this.forget.disabled = settings.pedal === "";
  }

  learnt(code) {
    keep("pedal", code);
    this.show_pedal();
  }

  // The next key is the pedal's; Escape and Tab are not, so that nobody is caught here.
  listen() {
    this.hear_no_more?.();
    const heard = (event) => {
      if (event.repeat) return;  // the key that pressed the button is still down
      this.hear_no_more();
      this.show_pedal();
      if (!may_be_learnt(event.code)) return;
      event.preventDefault();
      event.stopPropagation();
      this.learnt(event.code);
    };
    this.hear_no_more = () => {
      removeEventListener("keydown", heard, true);
      this.hear_no_more = null;
    };
    addEventListener("keydown", heard, true);
    this.pedal.textContent = this.page.say("settings.pedal_press");
  }
}
