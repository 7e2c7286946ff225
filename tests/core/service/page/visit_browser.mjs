// SPDX-License-Identifier: Apache-2.0
// A whole visit with the keyboard alone. With EYELEVEL_PAGE_URL against the daemon there, whose operator is simulated
// or not needed; else against the stand-in.
import assert from "node:assert/strict";
import {after, test} from "node:test";

import {base_url, breaches, close_browser, open_page, press_pedal, prompt, stand_in} from "./browser.mjs";

after(close_browser);

// Tab until the element that matches has the focus.
async function tab_to(page, selector) {
  for (let i = 0; i < 60; ++i) {
    await page.keyboard.press("Tab");
    if (await page.evaluate((s) => document.activeElement?.matches(s) ?? false, selector)) return;
  }
  assert.fail(`the Tab key does not come to ${selector}`);
}

test(
    "a visit: queued, started, answered with the space bar, ended with a sentence, without a mouse", {timeout: 120000},
    async (t) => {
      const daemon = base_url === "" ? await stand_in() : null;
      const page = await open_page(t, `${daemon?.url ?? base_url}/`);
      t.after(() => daemon?.cut());  // after the page is closed, which would complain
      await page.locator(".stage").waitFor();
      await tab_to(page, "nav a:nth-child(2)");
      await page.keyboard.press("Enter");
      await page.locator("form.job-form").waitFor();
      const serial = `LF2-${String(Date.now()).slice(-5)}`;
      await tab_to(page, "#sequence");
      await page.keyboard.type("pickup-level");
      await tab_to(page, "#serial");
      await page.keyboard.type(serial);
      await page.keyboard.press("Enter");
      await page.locator(".job", {hasText: serial}).waitFor();

      await page.keyboard.press("Shift+Tab");
      for (let i = 0; i < 60 && !(await page.evaluate(() => document.activeElement.matches("nav a:first-child")));
           ++i) {
        await page.keyboard.press("Shift+Tab");
      }
      await page.keyboard.press("Enter");
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
      const sentence = await prompt(page).textContent();
      assert.match(sentence, /inished|topped/);
      assert.ok((await page.locator("#said").textContent()).endsWith(sentence), "and it is said aloud");
      assert.deepEqual(await breaches(page), []);
      await tab_to(page, ".stage a");
      await page.keyboard.press("Enter");
      await page.locator(".reading-value").filter({hasText: " V ± "}).waitFor();
    });
