// SPDX-License-Identifier: Apache-2.0
// A rehearsal played through the page: a trouble switched on, how far it is, ended, its units with the truth beside.
import assert from "node:assert/strict";
import {mkdirSync} from "node:fs";
import {join} from "node:path";
import {after, test} from "node:test";

import {breaches, close_browser, is_too_wide, open_page, stand_in} from "./browser.mjs";

after(close_browser);

const pictures = process.env.EYELEVEL_PAGE_PICTURES ?? "";
if (pictures !== "") mkdirSync(pictures, {recursive: true});

async function begun(t, options = {}) {
  const daemon = await stand_in();
  const page = await open_page(t, `${daemon.url}/#/rehearsal`, options);
  t.after(() => daemon.cut());
  await page.locator("#units").fill("40");
  await page.locator("summary").click();
  await page.locator("#trouble-0").check();
  await page.locator("button[type=submit]").click();
  await page.locator("#stop-rehearsal").waitFor();
  return {daemon, page};
}

test("a rehearsal is ordered with its troubles, and says how far it is", async (t) => {
  const {daemon, page} = await begun(t);
  assert.deepEqual(daemon.received.filter((one) => one.path.endsWith("/rehearsals")).map((one) => one.body), [
    {sequence: "ready/pickup-level.yaml", model: "", units: 40, seed: 1, trouble_rate: 0, troubles: ["disc dirty"]}
  ]);
  daemon.rehearsal.done = 12;
  await page.getByText("12 of 40 units").waitFor();
});

for (const [name, options] of Object.entries({light: {}, phone: {viewport: {width: 360, height: 740}}})) {
  test(`${name}: the result has every unit, what is wrong, and the truth`, async (t) => {
    const {page} = await begun(t, options);
    await page.locator("#stop-rehearsal").click();
    await page.getByText("2 units: 1 pass, 1 stopped.").waitFor();
    await page.getByText("1 did not end as they must, 0 passed wrongly.").waitFor();
    assert.equal(await page.locator(".units li").count(), 2);
    await page.getByText("level_pressed is 1.204\u00a0V ± 0.021\u00a0V, in truth 1.199\u00a0V").waitFor();
    await page.getByText("it must name the disc").waitFor();
    assert.equal(await page.locator("#stop-rehearsal").count(), 0);
    assert.deepEqual(await breaches(page), []);
    assert.equal(await is_too_wide(page), false);
    if (pictures !== "") await page.screenshot({path: join(pictures, `rehearsal-result-${name}.png`), fullPage: true});
  });
}
