// SPDX-License-Identifier: Apache-2.0
// The files of the page as they lie in its folder: what the browser is told to fetch, what a strict
// content-security-policy would refuse.
import assert from "node:assert/strict";
import {readdirSync, readFileSync} from "node:fs";
import {test} from "node:test";

const folder = new URL("../../../../core/service/page/", import.meta.url);
const read = (name) => readFileSync(new URL(name, folder), "utf8");
const names = readdirSync(folder);
const scripts = names.filter((name) => name.endsWith(".js"));

function imported(name) { return [...read(name).matchAll(/^import .* from "\.\/([\w.]+)";$/gm)].map((m) => m[1]); }

function with_all_imported(name, found = new Set()) {
  for (const other of imported(name)) {
    if (found.has(other)) continue;
    found.add(other);
    with_all_imported(other, found);
  }
  return found;
}

test("files: the browser is told of every module of the first view at once, and of no other", () => {
  const told = [...read("index.html").matchAll(/rel="modulepreload" href="([\w.]+)"/g)].map((m) => m[1]);
  assert.ok(told.length > 10);
  assert.deepEqual(told, [...with_all_imported("main.js")].sort());
});

test("files: every module is imported by another, at once or later", () => {
  const later = [...read("main.js").matchAll(/import\("\.\/([\w.]+)"\)/g)].map((m) => m[1]);
  const reached =
      new Set(["main.js", ...later, ...["main.js", ...later].flatMap((name) => [...with_all_imported(name)])]);
  assert.deepEqual(scripts.filter((name) => !reached.has(name)), []);
});

test("files: no markup holds a script or a style, no script makes markup out of text", () => {
  assert.doesNotMatch(read("index.html"), /<script(?![^>]* src=)|<style|\sstyle=|\son\w+=/);
  for (const name of scripts)
    assert.doesNotMatch(
        read(name), /innerHTML|outerHTML|insertAdjacentHTML|document\.write|\beval\(|new Function/, name);
});

test("files: nothing is named that lies elsewhere", () => {
  // The namespace of SVG is a name, not an address.
  const all = names.map(read).join("\n").replaceAll("http://www.w3.org/2000/svg", "");
  assert.deepEqual([...all.matchAll(/(https?:)?\/\/[a-z0-9]+\.[a-z]+/g)].map(String), []);
});

test("files: each says its licence", () => {
  const may = names.filter((name) => !["package.json", "icon.svg"].includes(name));
  assert.deepEqual(may.filter((name) => !read(name).slice(0, 120).includes("SPDX-License-Identifier: Apache-2.0")), []);
});
