// SPDX-License-Identifier: Apache-2.0
// A whole visit with the keyboard alone. With EYELEVEL_PAGE_URL against the daemon there, whose operator is simulated
// or not needed, as the user that EYELEVEL_PAGE_USER and EYELEVEL_PAGE_PASSWORD name, if any; else against the
// stand-in.
import assert from "node:assert/strict";
import {after, test} from "node:test";

import {base_url, breaches, close_browser, open_page, press_pedal, prompt, stand_in, tab_to} from "./browser.mjs";

after(close_browser);

async function follow(page, label) {
  await tab_to(page, `nav a[href^="#/${label}"]`);
  await page.keyboard.press("Enter");
}

async function sign_in(page, {name, password}) {
  await page.locator("#sign-in-name:focus").waitFor();
  await page.keyboard.type(name);
  await page.keyboard.press("Tab");
  await page.keyboard.type(password);
  await page.keyboard.press("Enter");
  await page.locator(".stage").waitFor();
}

async function stand_at_bench(page) {
  await follow(page, "access");
  await page.locator("#seat-form").waitFor();
  await tab_to(page, "#seat-name");
  await page.keyboard.type("tablet");
  await page.keyboard.press("Enter");
  await page.getByText("This screen stands at lanternfield-1.").waitFor();
}

async function queue_job(page, serial) {
  await follow(page, "queue");
  await page.locator("form.job-form").waitFor();
  await tab_to(page, "#sequence");
  await page.keyboard.type("pickup-level");
  await tab_to(page, "#serial");
  await page.keyboard.type(serial);
  await page.keyboard.press("Enter");
  await page.locator(".job", {hasText: serial}).waitFor();
}

// The run as a person at the bench goes through it; gives the sentence at its end.
async function play(page) {
  await page.locator("button.the-one:enabled").waitFor();
  assert.ok(await page.locator(".stage .cautions li").count() >= 2, "the cautions stand above the start");
  await press_pedal(page);
  await page.getByText("Insert the pressed test disc and start track 2", {exact: true})
      .locator("visible=true")
      .first()
      .waitFor();
  await press_pedal(page);
  await page.locator(".level-number").filter({hasText: " V"}).waitFor();
  await page.locator("[data-stage=ended]").waitFor({timeout: 90000});
  return prompt(page).textContent();
}

async function visit(t, user) {
  const daemon = base_url === "" ? await stand_in({users: user === null ? [] : [user]}) : null;
  const page = await open_page(t, `${daemon?.url ?? base_url}/`);
  t.after(() => daemon?.cut());  // after the page is closed, which would complain
  if (user !== null) {
    await sign_in(page, user);
    await stand_at_bench(page);
  }
  await page.locator("nav a").first().waitFor();
  await queue_job(page, `LF2-${String(Date.now()).slice(-5)}`);
  await follow(page, "bench");
  const sentence = await play(page);
  assert.match(sentence, /inished|topped/);
  assert.ok((await page.locator("#said").textContent()).endsWith(sentence), "and it is said aloud");
  assert.deepEqual(await breaches(page), []);
  await tab_to(page, ".stage a");
  await page.keyboard.press("Enter");
  await page.locator(".reading-value").filter({hasText: " V ± "}).waitFor();
  if (user === null) return;
  await tab_to(page, "#sign-out");
  await page.keyboard.press("Enter");
  await page.locator("#sign-in-name:focus").waitFor();
}

const given = process.env.EYELEVEL_PAGE_USER;
const user = {
  name: given ?? "bo",
  password: process.env.EYELEVEL_PAGE_PASSWORD ?? "four words of mine",
  rights: ["look", "operate", "change", "administer"]
};

if (base_url === "" || given === undefined)
  test(
      "a visit: queued, started, answered with the space bar, ended with a sentence, without a mouse",
      {timeout: 120000}, (t) => visit(t, null));
if (base_url === "" || given !== undefined)
  test(
      "a visit where one signs in first, says at which bench the screen stands, and signs out", {timeout: 120000},
      (t) => visit(t, user));
