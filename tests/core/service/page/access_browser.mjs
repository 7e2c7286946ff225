// SPDX-License-Identifier: Apache-2.0
// Who may do what, in a browser against the stand-in: what is not offered, users, tokens, seats, the audit. With
// EYELEVEL_PAGE_PICTURES pictures of all of it are kept in that folder, for people to look at.
import assert from "node:assert/strict";
import {mkdirSync} from "node:fs";
import {join} from "node:path";
import {after, test} from "node:test";

import {breaches, close_browser, is_too_wide, open_page, press_pedal, stand_in} from "./browser.mjs";
import {bench, opened, password} from "./signed_in.mjs";

after(close_browser);

const job = {
  bench,
  sequence: "ready/pickup-level.yaml",
  serial: "LF2-00417"
};
test("where nobody needs to sign in, nothing is said of it", async (t) => {
  const daemon = await stand_in();
  const page = await open_page(t, `${daemon.url}/#/settings`);
  t.after(() => daemon.cut());
  await page.getByLabel("Who answers here").waitFor();
  assert.equal(await page.locator("#who").isVisible(), false);
  assert.deepEqual(
      await page.locator("nav a").allTextContents(),
      ["Bench", "Jobs", "Records", "Workshop", "Instruments", "Rehearsal", "Settings"]);
  assert.doesNotMatch(await page.locator("body").innerText(), /sign|password|token/i);
});

test("away from the bench a question is text with the reason; neither pedal nor space answers it", async (t) => {
  const {daemon, page} = await opened(t, {as: "ada", at: `#/bench/${bench}`});
  daemon.becomes({state: "running", run: "2030-01-07-1", sequence: daemon.sequence()});
  daemon.ask({text: "Close the cover"});
  await page.locator(".stage", {hasText: "Only a person at lanternfield-1 answers"}).waitFor();
  assert.equal(await page.locator(".stage button").count(), 0);
  await page.locator("#said", {hasText: "Close the cover. Only a person at lanternfield-1 answers"}).waitFor();
  const before = daemon.received.length;
  for (const key of ["Space", "Enter", "PageDown"]) await page.keyboard.press(key);
  daemon.becomes({question: null});
  await page.getByRole("button", {name: "Pause"}).click();
  await page.locator(".stage", {hasText: "It goes on when a person at the bench says so."}).waitFor();
  assert.equal(await page.getByRole("button", {name: "Go on"}).count(), 0);
  assert.deepEqual(daemon.received.slice(before).map((r) => r.path.split("/").pop()), ["pause"]);
});

test("at its bench a screen answers", async (t) => {
  const {daemon, page} = await opened(t, {as: "ada", at: `#/bench/${bench}`, seat: bench});
  daemon.becomes({state: "running", run: "2030-01-07-1", sequence: daemon.sequence()});
  const answer = daemon.ask({text: "Close the cover"});
  await press_pedal(page);
  assert.equal(await answer, "done");
});

test("who only looks is offered no button, at the bench neither", async (t) => {
  const {daemon, page} = await opened(t, {as: "cy", at: `#/bench/${bench}`, seat: bench});
  await page.locator("[data-stage=idle]").waitFor();
  assert.equal(await page.locator("main a, main button").count(), 0);
  daemon.becomes({state: "running", run: "2030-01-07-1", sequence: daemon.sequence()});
  daemon.ask({text: "Close the cover"});
  await page.locator(".stage", {hasText: "you have no right to operate"}).waitFor();
  assert.equal(await page.locator("main button").count(), 0);
  daemon.plays = false;
  daemon.take(job);
  Object.assign(daemon.take({...job, serial: "LF2-00418"}), {state: "interrupted"});
  await page.goto(`${daemon.url}/#/queue`);
  await page.getByText("LF2-00418").waitFor();
  assert.equal(await page.locator("main button, main form").count(), 0);
});

test("who may operate but not change queues and resumes jobs, and moves none", async (t) => {
  const {daemon, page} = await opened(t, {as: "ada", at: "#/queue"});
  daemon.plays = false;
  daemon.take(job);
  Object.assign(daemon.take({...job, serial: "LF2-00418"}), {state: "interrupted"});
  await page.getByRole("button", {name: "Resume job 2"}).waitFor();
  await page.getByRole("button", {name: "Queue a job"}).waitFor();
  assert.equal(await page.getByRole("button", {name: "Withdraw job 1"}).count(), 0);
});

test("who may not look has settings, and what there is to administer", async (t) => {
  const {page} = await opened(t, {as: "di"});
  await page.getByRole("heading", {name: "You may not see this page"}).waitFor();
  assert.deepEqual(await page.locator("nav a").allTextContents(), ["Settings", "Access"]);
});

test("what the daemon refuses all the same is told, and then no longer offered", async (t) => {
  const {daemon, page} = await opened(t, {as: "ada", at: `#/bench/${bench}`});
  daemon.becomes({state: "running", run: "2030-01-07-1", sequence: daemon.sequence()});
  await page.getByRole("button", {name: "Pause"}).waitFor();
  daemon.access.change_user("ada", {rights: ["look"]});
  await page.getByRole("button", {name: "Pause"}).click();
  await page.getByRole("alert").filter({hasText: "ada may not operate here"}).waitFor();
  await page.locator("nav a", {hasText: "Jobs"}).click();
  await page.getByText("No jobs.").waitFor();
  assert.equal(await page.locator("main form").count(), 0);
});

test("one's own password is changed, with the old one", async (t) => {
  const {daemon, page} = await opened(t, {as: "ada", at: "#/settings"});
  await page.getByLabel("Password until now").fill("a wrong one");
  await page.getByLabel("New password").fill("other words of mine");
  await page.getByRole("button", {name: "Change password"}).click();
  await page.getByRole("alert").filter({hasText: "the old password is another one"}).waitFor();
  await page.getByLabel("Password until now").fill(password);
  await page.keyboard.press("Enter");
  await page.getByRole("status").filter({hasText: "Everywhere else you are signed out."}).waitFor();
  assert.equal(daemon.access.users[0].password, "other words of mine");
  assert.equal(await page.getByLabel("New password").inputValue(), "");
});

test("a token is made with some of one's rights, its secret shown once and copied, and ended", async (t) => {
  const {daemon, page} =
      await opened(t, {as: "ada", at: "#/settings", options: {permissions: ["clipboard-read", "clipboard-write"]}});
  await page.getByLabel("Name of the token").fill("figures");
  assert.equal(await page.getByLabel("administer").count(), 0);
  await page.getByLabel("Days that it lasts").fill("7");
  await page.getByRole("button", {name: "Make a token"}).click();
  await page.getByRole("button", {name: "Copy"}).click();
  await page.getByText("Copied.").waitFor();
  assert.equal(await page.evaluate(() => navigator.clipboard.readText()), "secret-of-2");
  assert.deepEqual(daemon.access.tokens.map(({name, rights}) => [name, rights]), [["figures", ["look"]]]);
  await page.reload();
  await page.getByText("figures").waitFor();
  assert.doesNotMatch(await page.content(), /secret-of/);
  await page.getByRole("button", {name: "End the token figures"}).click();
  await page.getByText("There is none.").waitFor();
});

test("a copy that the browser does not let is left selected, and said", async (t) => {
  const {page} = await opened(t, {as: "ada", at: "#/settings"});
  await page.evaluate(() => {
    navigator.clipboard.writeText = () => Promise.reject(new Error("not allowed"));
  });
  await page.getByLabel("Name of the token").fill("figures");
  await page.getByRole("button", {name: "Make a token"}).click();
  await page.getByRole("button", {name: "Copy"}).click();
  await page.getByText("copy it by hand").waitFor();
  assert.equal(await page.evaluate(() => getSelection().toString()), "secret-of-2");
});

test("this screen stands at a bench, then at another, then at none", async (t) => {
  const {daemon, page} = await opened(t, {as: "bo", at: "#/access"});
  await page.getByText("This screen stands at no bench.").waitFor();
  await page.getByLabel("Name of this screen").fill("tablet");
  await page.getByRole("button", {name: "It stands there"}).click();
  await page.getByText("This screen stands at lanternfield-1.").waitFor();
  await page.getByLabel("Name of this screen").fill("tablet again");
  await page.keyboard.press("Enter");
  await page.getByText("tablet again").waitFor();
  assert.deepEqual(daemon.access.seats.map((seat) => seat.name), ["tablet again"]);
  await page.getByRole("button", {name: "Stands there no more: tablet again"}).click();
  await page.getByText("This screen stands at no bench.").waitFor();
  assert.deepEqual(daemon.access.seats, []);
});

test("a user is added, gets other rights and a new password, and is removed", async (t) => {
  const {daemon, page} = await opened(t, {as: "bo", at: "#/access"});
  await page.getByLabel("Name of the user").fill("ed");
  await page.getByLabel("First password").fill("short");
  await page.getByRole("button", {name: "Add the user"}).click();
  await page.getByRole("alert").filter({hasText: "the password is too short"}).waitFor();
  await page.getByLabel("First password").fill("words that ed knows");
  await page.keyboard.press("Enter");
  const ed = page.locator("#user-ed");
  await ed.locator("summary", {hasText: "look, operate"}).click();
  await ed.getByLabel("operate").uncheck();
  await ed.getByRole("button", {name: "Set these rights"}).click();
  await ed.locator("summary", {hasText: /look$/}).click();
  await ed.getByLabel("New password").fill("other words for ed");
  await ed.getByRole("button", {name: "Set this password"}).click();
  await ed.getByText("Changed.").waitFor();
  const {password: now, rights} = daemon.access.users.at(-1);
  assert.deepEqual([now, rights], ["other words for ed", ["look"]]);
  await ed.getByRole("button", {name: "Remove this user: ed"}).click();
  await ed.waitFor({state: "detached"});
  assert.equal(daemon.access.users.some((user) => user.name === "ed"), false);
});

test("that nobody would be left who may administer is said, and stays said", async (t) => {
  const {daemon, page} = await opened(t, {as: "bo", at: "#/access"});
  daemon.access.remove_user("di");
  await page.locator("#user-bo summary").click();
  await page.getByRole("button", {name: "Remove this user: bo"}).click();
  await page.getByRole("alert").filter({hasText: "nobody would be left"}).waitFor();
  assert.ok(await page.locator("#problem").evaluate((e) => e.getBoundingClientRect().top > -1), "it is in sight");
});

test("who did what comes newest first, older on demand, without passwords", async (t) => {
  const {daemon, page} = await opened(t, {as: "bo"});
  for (let i = 1; i < 60; ++i) daemon.access.note({user: "ada"}, "POST", "/api/1/jobs", {serial: `LF2-${i}`});
  await page.goto(`${daemon.url}/#/access`);
  const entries = page.locator(".audit li");
  await entries.nth(24).waitFor();
  assert.match(await entries.first().innerText(), /LF2-59/);
  for (const count of [50, 60]) {
    await page.getByRole("button", {name: "Show older"}).click();
    await entries.nth(count - 1).waitFor();
  }
  assert.equal(await entries.count(), 60);
  assert.match(await entries.last().innerText(), /POST \/api\/1\/session/);
  assert.equal(await page.getByRole("button", {name: "Show older"}).isVisible(), false);
  assert.doesNotMatch(await page.content(), new RegExp(password));
});

const pictures = process.env.EYELEVEL_PAGE_PICTURES ?? "";
if (pictures !== "") mkdirSync(pictures, {recursive: true});

const screens = {
  "light": {},
  "dark": {colorScheme: "dark"},
  "german": {locale: "de-DE"},
  "phone": {viewport: {width: 360, height: 740}, hasTouch: true},
  "phone-german": {viewport: {width: 360, height: 740}, locale: "de-DE"},
};

async function look_at(page, screen, name) {
  assert.deepEqual(await breaches(page), [], `${name} on ${screen}`);
  if (pictures !== "") await page.screenshot({path: join(pictures, `${name}-${screen}.png`), fullPage: true});
  const size = page.viewportSize();
  await page.setViewportSize({width: 320, height: 640});
  assert.equal(await is_too_wide(page), false, `${name} on ${screen}, 320 pixels wide: it scrolls sideways`);
  await page.setViewportSize(size);
}

for (const [screen, options] of Object.entries(screens)) {
  test(`${screen}: everything about access`, {timeout: 120000}, async (t) => {
    const {daemon, page} = await opened(t, {options});
    await page.locator("#sign-in-name").fill("bo");
    await page.locator("#sign-in-password").fill("a wrong one");
    await page.keyboard.press("Enter");
    await page.locator("[role=alert]", {hasText: /wrong|falsch/}).waitFor();
    await look_at(page, screen, "sign-in");
    await page.locator("#sign-in-password").fill(password);
    await page.keyboard.press("Enter");
    await page.locator("[data-stage=idle]").waitFor();
    daemon.becomes({state: "running", run: "2030-01-07-1", sequence: daemon.sequence()});
    daemon.ask({text: "Insert the pressed test disc and start track 2", within_s: 600});
    await page.locator(".stage", {hasText: bench}).waitFor();
    await look_at(page, screen, "question-elsewhere");
    await page.goto(`${daemon.url}/#/settings`);
    await page.locator("#token-name").fill("figures");
    await page.locator("#token-form button").click();
    await page.locator("#token-secret").waitFor();
    await page.locator("#tokens-title ~ * .entries li").waitFor();
    await look_at(page, screen, "account");
    await page.goto(`${daemon.url}/#/access`);
    await page.locator("#seat-name").fill("tablet");
    await page.locator("#seat-form button").click();
    await page.locator("#seats-title ~ * .entries li").waitFor();
    await page.locator("#user-ada summary").click();
    await page.locator(".audit li").first().waitFor();
    await look_at(page, screen, "access");
  });
}
