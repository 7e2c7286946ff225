// SPDX-License-Identifier: Apache-2.0
// Signing in and out, and sessions that end, in a browser against the stand-in.
import assert from "node:assert/strict";
import {after, test} from "node:test";

import {close_browser} from "./browser.mjs";
import {bench, opened, password, sign_in} from "./signed_in.mjs";

after(close_browser);

// From now on the page's clock is the test's, and what feeds it opens are counted.
async function count_feeds(page) {
  await page.clock.install();
  await page.addInitScript(() => {
    globalThis.feeds = 0;
    const Plain = globalThis.WebSocket;
    globalThis.WebSocket = class extends Plain {
      constructor(...address) {
        super(...address);
        globalThis.feeds += 1;
      }
    };
  });
  await page.reload();
}

async function assert_no_more_feeds(page) {
  const feeds = () => page.evaluate(() => globalThis.feeds);
  const before = await feeds();
  for (let i = 0; i < 5; ++i) {
    await page.clock.runFor(3000);
    await page.evaluate(() => fetch("/api/1/session"));  // there and back, as a feed that is refused
  }
  assert.equal(await feeds(), before);
}

test("who is not known signs in first, and then is where they wanted to be", async (t) => {
  const {page} = await opened(t, {at: "#/records?serial=LF2-00417"});
  await page.getByRole("heading", {name: "Sign in"}).waitFor();
  assert.equal(await page.locator("nav a").count(), 0);
  assert.ok(await page.evaluate(() => document.activeElement.id === "sign-in-name"));
  await page.keyboard.type("ada");
  await page.keyboard.press("Tab");
  await page.keyboard.insertText(password);  // as pasting and a password manager do
  await page.keyboard.press("Enter");
  await page.getByRole("heading", {name: "Runs of LF2-00417"}).waitFor();
  assert.equal(new URL(page.url()).hash, "#/records?serial=LF2-00417");
  assert.ok(await page.evaluate(() => document.activeElement.matches("main h1")));
});

test("the fields say to a password manager what they are, and nothing hinders it", async (t) => {
  const {page} = await opened(t);
  await page.locator("#sign-in-name").waitFor();
  const fields = await page.evaluate(
      () => [...document.querySelectorAll("form input")].map((i) => [i.type, i.autocomplete, i.readOnly]));
  assert.deepEqual(fields, [["text", "username", false], ["password", "current-password", false]]);
  assert.equal(await page.locator("form button[type=submit]").count(), 1);
});

test("a wrong password is said aloud and the name stays; too many tries are told how long to wait", async (t) => {
  const {daemon, page} = await opened(t);
  await sign_in(page, "ada", "a wrong one");
  await page.getByRole("alert").filter({hasText: "Name or password is wrong."}).waitFor();
  assert.equal(await page.getByLabel("Name", {exact: true}).inputValue(), "ada");
  assert.ok(await page.evaluate(() => document.activeElement.id === "sign-in-password"));
  daemon.access.wait_s = 8;
  await page.keyboard.type(password);
  await page.keyboard.press("Enter");
  await page.getByRole("alert").filter({hasText: "wait 8 s"}).waitFor();
  daemon.access.wait_s = 0;
  await page.keyboard.press("Enter");
  await page.locator("#who", {hasText: "ada"}).waitFor();
});

test("Enter pressed twice signs in once", async (t) => {
  const {daemon, page} = await opened(t);
  await page.route("**/session", async (route) => {
    await daemon.pause(200);
    await route.continue();
  });
  await page.getByLabel("Name", {exact: true}).fill("ada");
  await page.getByLabel("Password", {exact: true}).fill(password);
  await page.keyboard.press("Enter");
  await page.keyboard.press("Enter");
  await page.locator("#who", {hasText: "ada"}).waitFor();
  assert.equal(daemon.received.length, 1);
});

test(
    "a session that ends brings the same place after signing in again; the cut feed does not try for ever",
    async (t) => {
      const {daemon, page} = await opened(t, {as: "ada", at: `#/bench/${bench}`});
      await count_feeds(page);
      await page.locator("[data-stage=idle]").waitFor();
      daemon.end_sessions();
      await page.getByText("Sign in again").first().waitFor();
      assert.equal(new URL(page.url()).hash, `#/bench/${bench}`);
      await assert_no_more_feeds(page);
      await sign_in(page, "ada");
      await page.locator("[data-stage=idle]").waitFor();
    });

test("a session that ended while the daemon was away is told once it is back", async (t) => {
  const {daemon, page} = await opened(t, {as: "ada", at: `#/bench/${bench}`});
  await page.locator("[data-stage=idle]").waitFor();
  await daemon.cut();
  daemon.access.sessions.clear();
  await page.locator("#connection", {hasText: "No connection"}).waitFor();
  await daemon.back();
  await page.getByRole("heading", {name: "Sign in"}).waitFor();
});

test("a list that is asked for again and again ends with its session, too", async (t) => {
  const {daemon, page} = await opened(t, {as: "ada", at: "#/queue"});
  await page.getByText("No jobs.").waitFor();
  daemon.access.sessions.clear();
  await page.getByRole("heading", {name: "Sign in"}).waitFor();
  assert.equal(await page.locator("#problem").isVisible(), false);
});

test("who signs out is asked to sign in, and another one sees what is theirs", async (t) => {
  const {daemon, page} = await opened(t, {as: "bo", at: "#/access"});
  await page.getByRole("heading", {name: "Who did what"}).waitFor();
  await page.locator("#sign-out").click();
  await sign_in(page, "ada");
  await page.getByRole("heading", {name: "You may not see this page"}).waitFor();
  assert.deepEqual(
      await page.locator("nav a").allTextContents(),
      ["Bench", "Jobs", "Records", "Workshop", "Instruments", "Rehearsal", "Settings"]);
  assert.equal(daemon.access.sessions.size, 1);
});

test("who may look no more, while looking, is told so, and the cut feed does not try for ever", async (t) => {
  const {daemon, page} = await opened(t, {as: "ada", at: `#/bench/${bench}`});
  await count_feeds(page);
  await page.locator("[data-stage=idle]").waitFor();
  daemon.access.change_user("ada", {rights: ["operate"]});
  for (const viewer of daemon.viewers) viewer.socket.cut();
  await page.getByRole("heading", {name: "You may not see this page"}).waitFor();
  assert.equal(await page.locator("#connection").isVisible(), false);
  assert.deepEqual(await page.locator("nav a").allTextContents(), ["Settings"]);
  await assert_no_more_feeds(page);
});
