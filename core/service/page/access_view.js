// SPDX-License-Identifier: Apache-2.0
// For who administers: where screens stand, users, who changed what.
import {may} from "./access.js";
import {AuditSection} from "./audit_section.js";
import {element} from "./dom.js";
import {SeatsSection} from "./seats_section.js";
import {UsersSection} from "./users_section.js";

export class AccessView {
  constructor(page) {
    const title = page.say("nav.access");
    page.title(title);
    // Who may not look does not know the benches.
    const seats = may(page.session, "look") ? new SeatsSection(page).node : null;
    this.node = element(
        "div", {class: "settings"}, element("h1", {tabindex: -1}, title), seats, new UsersSection(page).node,
        new AuditSection(page).node);
  }

  close() {}
}
