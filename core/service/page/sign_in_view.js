// SPDX-License-Identifier: Apache-2.0
// Signing in, in the place of whatever the address asks for, which comes afterwards. A password manager fills it in,
// and pasting is as good as typing (WCAG 2.2, 3.3.8).
import {post} from "./api.js";
import {element, field} from "./dom.js";

export class SignInView {
  constructor(page) {
    this.page = page;
    this.is_asking = false;
    const say = page.say;
    page.title(say("sign_in.title"));
    this.name = element("input", {
      id: "sign-in-name",
      name: "username",
      type: "text",
      autocomplete: "username",
      autocapitalize: "none",
      spellcheck: "false",
      required: true
    });
    this.password = element(
        "input",
        {id: "sign-in-password", name: "password", type: "password", autocomplete: "current-password", required: true});
    this.wrong = element("p", {class: "again", role: "alert"});
    const why = say(page.was_signed_in ? "sign_in.ended" : "sign_in.why");
    this.node = element(
        "form", {
          class: "sign-in",
          "aria-labelledby": "sign-in-title",
          submit: (event) => {
            event.preventDefault();
            this.submit();
          },
        },
        element("h1", {id: "sign-in-title", tabindex: -1}, say("sign_in.title")), element("p", {}, why),
        field(say("sign_in.name"), this.name), field(say("sign_in.password"), this.password), this.wrong,
        element("button", {type: "submit", class: "choice"}, say("sign_in")));
    this.why = why;
  }

  shown() {
    this.page.announce(this.why);
    this.name.focus();
  }

  close() {}

  async submit() {
    if (this.is_asking) return;
    this.is_asking = true;
    this.wrong.replaceChildren();
    try {
      this.page.session = await post("/session", {name: this.name.value.trim(), password: this.password.value});
    } catch (problem) {
      if (problem.status === undefined) throw problem;
      this.refused(problem);
      return;
    } finally {
      this.is_asking = false;
    }
    this.page.was_signed_in = true;
    await this.page.go();
    this.page.focus_title();
  }

  refused({status, detail, title}) {
    const say = this.page.say;
    const told = element("span", {lang: "en"}, detail || title);
    switch (status) {
      case 0: this.wrong.append(say("error.no_answer")); break;
      case 401: this.wrong.append(say("sign_in.wrong")); break;
      case 429: this.wrong.append(`${say("sign_in.later")} `, told); break;  // how long, only the daemon knows
      default: this.wrong.append(told);
    }
    this.password.focus();
    this.password.select();
  }
}
