// SPDX-License-Identifier: Apache-2.0
// Changes the password of who is signed in.
import {post} from "./api.js";
import {element, field} from "./dom.js";
import {password_input, section, small_form} from "./small_form.js";

export function password_section(page) {
  const say = page.say;
  // Tells a password manager whose password is changed.
  const whose = element(
      "input", {type: "text", autocomplete: "username", value: page.session.user, readonly: true, hidden: true});
  return section(
      "password", say("password.title"), small_form(page, {
        id: "password-form",
        label: say("password.change"),
        fields: [
          whose, field(say("password.old"), password_input("password-old", "current-password")),
          field(say("password.new"), password_input("password-new", "new-password"), say("password.hint"))
        ],
        does: (form) => post(
            "/password", {old: form.elements["password-old"].value, password: form.elements["password-new"].value}),
        done: say("password.done"),
      }));
}
