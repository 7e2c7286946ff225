// SPDX-License-Identifier: Apache-2.0
// The daemon over HTTP. What goes wrong is a Problem, worded by the daemon (RFC 9457) where it could still answer.

export class Problem extends Error {
  constructor({title = "", detail = "", where = "", advice = "", status = 0}) {
    super(detail || title);
    Object.assign(this, {title, detail, where, advice, status});
  }
}

async function problem_of(response) {
  try {
    return new Problem({status: response.status, ...(await response.json())});
  } catch {  // a proxy, or a daemon that broke off in the middle of its answer
    return new Problem({status: response.status, title: `${response.status} ${response.statusText}`});
  }
}

// The answer as data, or null where the daemon says there is nothing to say (204).
export async function call(method, path, body) {
  const options = {method, headers: {accept: "application/json"}};
  if (body !== undefined) {
    options.headers["content-type"] = "application/json";
    options.body = JSON.stringify(body);
  }
  let response;
  try {
    response = await fetch(`/api/1${path}`, options);
  } catch (error) {
    throw new Problem({status: 0, detail: error.message});
  }
  if (!response.ok) throw await problem_of(response);
  return response.status === 204 ? null : response.json();
}

export const get = (path) => call("GET", path);
export const post = (path, body) => call("POST", path, body);

export function path_of(...parts) { return parts.map((part) => `/${encodeURIComponent(part)}`).join(""); }

export function feed_address(bench, query) {
  const scheme = location.protocol === "https:" ? "wss:" : "ws:";
  return `${scheme}//${location.host}/api/1/benches/${encodeURIComponent(bench)}/feed${query}`;
}
