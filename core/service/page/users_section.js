// SPDX-License-Identifier: Apache-2.0
// Users: adding one, and for each its rights, a new password, and its end.
import {rights} from "./access.js";
import {call, get, path_of, post} from "./api.js";
import {button, element, field, show_in} from "./dom.js";
import {rights_field, rights_in, rights_text} from "./rights_field.js";
import {name_input, password_input, section, small_form} from "./small_form.js";

export class UsersSection {
  constructor(page) {
    this.page = page;
    this.list = element("div", {tabindex: -1});
    this.node = section(
        "users", page.say("users.title"), this.list, element("h3", {}, page.say("users.add_title")), this.add_form());
    this.load();
  }

  add_form() {
    const say = this.page.say;
    return small_form(this.page, {
      id: "user-form",
      label: say("users.add"),
      fields: [
        field(say("users.name"), name_input("user-name")),
        field(say("users.password"), password_input("user-password", "new-password"), say("password.hint")),
        rights_field(say, "user-rights", rights, ["look", "operate"])
      ],
      does: (form) => post("/users", {
        name: form.elements["user-name"].value.trim(),
        password: form.elements["user-password"].value,
        rights: rights_in(form)
      }),
      done: say("users.added"),
      then: () => this.load()
    });
  }

  async load() {
    const answer = await this.page.ask(() => get("/users"));
    if (answer === undefined) return;
    const {users} = answer;
    show_in(this.list, users, () => element("ul", {class: "entries"}, ...users.map((user) => this.user_node(user))));
  }

  user_node({name, rights: has}) {
    const say = this.page.say;
    const at = path_of("users", name);
    const remove = async () => {
      if ((await this.page.attempt(() => call("DELETE", at))) !== undefined) this.load();
    };
    return element(
        "li", {},
        element(
            "details", {id: `user-${name}`},
            element("summary", {}, element("b", {}, name), ` ${rights_text(say, has)}`),
            this.rights_form(name, has, at), this.password_form(name, at),
            button(
                say("users.remove"), remove,
                {id: `user-remove-${name}`, class: "removes", "aria-label": say("users.remove_of", {name})})));
  }

  rights_form(name, has, at) {
    const say = this.page.say;
    return small_form(this.page, {
      id: `rights-form-${name}`,
      label: say("users.set_rights"),
      fields: [rights_field(say, `rights-${name}`, rights, has)],
      does: (form) => call("PATCH", at, {rights: rights_in(form)}),
      done: say("users.changed"),
      then: () => {
        if (name === this.page.session.user) this.page.is_session_old = true;
        this.load();
      }
    });
  }

  password_form(name, at) {
    const say = this.page.say;
    const input = password_input(`password-${name}`, "new-password");
    return small_form(this.page, {
      id: `password-form-${name}`,
      label: say("users.set_password"),
      fields: [field(say("password.new"), input, say("users.password_hint"))],
      does: () => call("PATCH", at, {password: input.value}),
      done: say("users.changed")
    });
  }
}
