// SPDX-License-Identifier: Apache-2.0
// Figures of the page: size and time of the first view, and how long an event takes to the screen. With
// EYELEVEL_PAGE_URL at the daemon there, from the moment that stands in the record; else at the stand-in, from the
// moment that it is sent.
import assert from "node:assert/strict";
import {after, test} from "node:test";

import {base_url, close_browser, open_page, press_pedal, stand_in} from "./browser.mjs";

after(close_browser);

const lost = /WebSocket|Failed to load resource/;
const bench = "lanternfield-1";

// The address of whoever serves the page, and the stand-in where it is that.
async function served() {
  if (base_url !== "") return {url: base_url, daemon: null};
  const daemon = await stand_in();
  return {url: daemon.url, daemon};
}

const at_bench = (url) => `${url}/#/bench/${bench}`;
const first_view = "[data-stage=idle], [data-stage=ended]";

function told(t, took) {
  took.sort((a, b) => a - b);
  const at = (share) => took[Math.floor(share * (took.length - 1))];
  t.diagnostic(`event to screen: median ${at(0.5)} ms, 99th percentile ${at(0.99)} ms, of ${took.length}`);
  return at;
}

test("the first view is under 300 kB", async (t) => {
  const {url, daemon} = await served();
  const page = await open_page(t, at_bench(url));
  t.after(() => daemon?.cut());  // after the page is closed, which would complain
  await page.locator(first_view).waitFor();
  const bytes = await page.evaluate(() => {
    const loaded = [...performance.getEntriesByType("navigation"), ...performance.getEntriesByType("resource")];
    return loaded.reduce((sum, entry) => sum + entry.transferSize, 0);
  });
  t.diagnostic(`first view: ${bytes} bytes`);
  assert.ok(bytes > 30000 && bytes < 300000, `${bytes} bytes`);
});

test("how long the first view takes is told; it is under three seconds", async (t) => {
  const {url, daemon} = await served();
  t.after(() => daemon?.cut());
  const took = [];
  for (let i = 0; i < 7; ++i) {
    const page = await open_page(t, `${url}/nothing`, {allowed: lost});
    await page.addInitScript((selector) => {
      new MutationObserver((_, observer) => {
        if (document.querySelector(selector) === null) return;
        observer.disconnect();
        requestAnimationFrame(() => {
          globalThis.shown_ms = performance.now();
        });
      }).observe(document, {childList: true, subtree: true, attributes: true});
    }, first_view);
    await page.goto(at_bench(url));
    await page.waitForFunction(() => globalThis.shown_ms > 0);
    took.push(await page.evaluate(() => globalThis.shown_ms));
    await page.close();
  }
  took.sort((a, b) => a - b);
  t.diagnostic(`first view: ${took.map((ms) => ms.toFixed(0)).join(", ")} ms`);
  // 200 ms are wanted, on a machine with nothing else to do; here other tests run beside this one.
  assert.ok(took[0] < 3000, `${took[0]} ms`);
});

if (base_url === "")
  test("an event is on the screen within 100 ms, level and eye running at 20 a second beside it", async (t) => {
    const {url, daemon} = await served();
    const page = await open_page(t, at_bench(url));
    t.after(() => daemon.cut());
    await page.locator(first_view).waitFor();
    daemon.becomes({state: "running", run: "2030-01-07-1", sequence: daemon.sequence()});
    await page.locator("[data-stage=now]").waitFor();
    await page.evaluate(() => {
      globalThis.took_ms = [];
      const painted = (sent) => requestAnimationFrame(() => globalThis.took_ms.push(Date.now() - sent));
      new MutationObserver(() => {
        const sent = Number(document.querySelector(".seen")?.textContent.match(/\d{13}/)?.[0]);
        if (sent && sent !== globalThis.last_sent) painted(sent);
        globalThis.last_sent = sent;
      }).observe(document.querySelector(".stage"), {childList: true, subtree: true, characterData: true});
    });
    const many = 200;
    const live = setInterval(() => {
      daemon.look(1.2);
      daemon.eye({seed: 3});
    }, 50);
    let sent = 0;
    for (let number = 1; number <= many; ++number) {
      sent = Date.now();
      daemon.tell({kind: "event", event: {run: daemon.bench.run, number, event: "seen", body: {what: String(sent)}}});
      await daemon.pause(25);
    }
    clearInterval(live);
    await page.waitForFunction((last) => globalThis.last_sent === last, sent);
    // On a busy machine several come between two drawings, and only the newest of them is ever shown.
    const took = await page.evaluate(() => globalThis.took_ms);
    assert.ok(took.length > many / 4, `${took.length} of ${many}`);
    const at = told(t, took);
    // The median, because other tests run beside this one; the 99th percentile is told above.
    assert.ok(at(0.5) < 100, `${at(0.5)} ms`);
  });

if (base_url !== "")
  test("an event of a run at the daemon is on the screen soon after it happened, the record between", async (t) => {
    const page = await open_page(t, `${base_url}/nothing`, {allowed: lost});
    await page.addInitScript(() => {
      globalThis.took = [];
      // The page draws in a task of its own after the message; the frame after that shows it.
      const note = ({run, utc}) => setTimeout(
          () => setTimeout(
              () =>
                  requestAnimationFrame(() => globalThis.took.push({run, ms: Date.now() - new Date(utc).getTime()}))));
      const Plain = globalThis.WebSocket;
      globalThis.WebSocket = class extends Plain {
        constructor(...address) {
          super(...address);
          this.addEventListener("message", ({data}) => {
            const message = typeof data === "string" ? JSON.parse(data) : {};
            if (message.kind === "event") note(message.event);
          });
        }
      };
    });
    await page.goto(at_bench(base_url));
    await page.locator(first_view).waitFor();
    const job = {bench, sequence: "ready/pickup-level.yaml", serial: "LF2-00999", model: "lf-2.yaml"};
    const answer = await fetch(
        `${base_url}/api/1/jobs`,
        {method: "POST", headers: {"content-type": "application/json"}, body: JSON.stringify(job)});
    assert.equal(answer.status, 201);
    await press_pedal(page);
    await page.getByRole("heading", {name: /Insert the pressed/}).waitFor();
    await press_pedal(page);
    await page.locator("[data-stage=ended]", {hasText: "LF2-00999"}).waitFor({timeout: 90000});
    const all = await page.evaluate(() => globalThis.took);
    // Events of the run before came when the page opened: they were old.
    const took = all.filter(({run}) => run === all.at(-1).run).map(({ms}) => ms);
    assert.ok(took.length > 50, `${took.length} events`);
    const at = told(t, took);
    assert.ok(at(0.5) < 1000, `${at(0.5)} ms`);
  });
