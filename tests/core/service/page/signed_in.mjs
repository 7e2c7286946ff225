// SPDX-License-Identifier: Apache-2.0
// A stand-in with users, and a page there of one who is signed in.
import {open_page, stand_in} from "./browser.mjs";

const refused = /WebSocket|Failed to load resource/;  // what Chromium itself says of a 401, 403, 422 or 429
export const password = "four words of mine";
export const bench = "lanternfield-1";
const users = [
  {name: "ada", password, rights: ["look", "operate"]},
  {name: "bo", password, rights: ["look", "operate", "change", "administer"]},
  {name: "cy", password, rights: ["look"]},
  {name: "di", password, rights: ["administer"]},
];

export async function sign_in(page, name, its_password = password) {
  await page.getByLabel("Name", {exact: true}).fill(name);
  await page.getByLabel("Password", {exact: true}).fill(its_password);
  await page.keyboard.press("Enter");
}

// A page at this address, signed in where a name is given.
export async function opened(t, {as = "", at = "", seat = "", options = {}} = {}) {
  const daemon = await stand_in({users});
  const page = await open_page(t, `${daemon.url}/${at}`, {allowed: refused, ...options});
  t.after(() => daemon.cut());
  if (seat !== "") {
    const {cookie} = daemon.access.add_seat({bench: seat, name: "tablet"}, {user: "bo"});
    const [name, value] = cookie.split(";")[0].split("=");
    await page.context().addCookies([{name, value, url: daemon.url}]);
  }
  if (as !== "") {
    await sign_in(page, as);
    await page.locator("#who", {hasText: as}).waitFor();
  }
  return {daemon, page};
}
