// SPDX-License-Identifier: Apache-2.0
// Debian's Chromium, driven by playwright-core, and axe-core; both from npm, installed by `install` into the folder
// that EYELEVEL_PAGE_TESTS names. A page opened here fails its test on any error in its console, on whatever the
// content-security-policy refused, and on a request to anywhere else.
import assert from "node:assert/strict";
import {createRequire} from "node:module";
import {join} from "node:path";

import {load_recorded, StandIn} from "./stand_in.mjs";

const folder = process.env.EYELEVEL_PAGE_TESTS;
assert.ok(folder, "EYELEVEL_PAGE_TESTS must name the folder that `prepare` has filled");
const require = createRequire(`${folder}/`);
const {chromium} = require("playwright-core");
const axe_source = require.resolve("axe-core/axe.min.js");

// Where a daemon serves the page already; without it the stand-in does.
export const base_url = process.env.EYELEVEL_PAGE_URL ?? "";

export function stand_in(options) {
  return new StandIn(...load_recorded(join(folder, "run.json"), join(folder, "sentences.json")), options).listen();
}

const browser = await chromium.launch({
  executablePath: process.env.EYELEVEL_CHROMIUM ?? "/usr/bin/chromium",
  args: ["--no-sandbox", "--disable-dev-shm-usage"],
});

export async function close_browser() { await browser.close(); }

// A page of its own with nothing kept from others. `allowed`: what may stand in the console (a feed that was cut).
export async function open_page(test, url, {allowed = null, ...options} = {}) {
  const context = await browser.newContext({locale: "en-GB", viewport: {width: 1280, height: 800}, ...options});
  const page = await context.newPage();
  const wrong = [];
  page.on("console", (message) => {
    if (message.type() === "error" && !allowed?.test(message.text())) wrong.push(message.text());
  });
  page.on("pageerror", (error) => wrong.push(String(error)));
  page.on("request", (request) => {
    if (new URL(request.url()).origin !== new URL(url).origin) wrong.push(`a request to ${request.url()}`);
  });
  test.after(async () => {
    await context.close();
    assert.deepEqual(wrong, []);
  });
  await page.goto(url);
  return page;
}

// Breaches of WCAG 2.2 A and AA and of good practice that axe finds, each with the element.
export async function breaches(page) {
  if (!(await page.evaluate(() => "axe" in globalThis))) {
    // By the debugger, which the page's content-security-policy does not bind.
    const {readFileSync} = await import("node:fs");
    await page.evaluate(readFileSync(axe_source, "utf8"));
  }
  const found = await page.evaluate(
      () => globalThis.axe.run(
          document, {runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}));
  return found.violations.flatMap((v) => v.nodes.map((n) => `${v.id}: ${n.html} ${n.failureSummary}`));
}

// Tells whether the page can be scrolled sideways.
export function is_too_wide(page) {
  return page.evaluate(() => document.documentElement.scrollWidth > document.documentElement.clientWidth);
}

export function prompt(page) { return page.locator(".stage .prompt"); }

// Waits until the one button may be pressed, and presses a key.
export async function press_pedal(page, key = "Space") {
  await page.locator("button.the-one:enabled").waitFor();
  await page.keyboard.press(key);
}

// Tab until the element that matches has the focus.
export async function tab_to(page, selector) {
  for (let i = 0; i < 60; ++i) {
    await page.keyboard.press("Tab");
    if (await page.evaluate((s) => document.activeElement?.matches(s) ?? false, selector)) return;
  }
  assert.fail(`the Tab key does not come to ${selector}`);
}
