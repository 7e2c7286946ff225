// SPDX-License-Identifier: Apache-2.0
// Who may use the stand-in: users, sessions, tokens, seats, audit, as core/service/api_access.cpp answers them.
import {Refused} from "./stand_in_api.mjs";

const all_rights = ["look", "operate", "change", "administer"];

// What a request needs; "look" where it says nothing else. "": nothing.
const needs = {
  "POST benches": "operate",
  "POST jobs": "operate",
  "PATCH jobs": "change",
  "DELETE jobs": "change"
};
function right_needed(method, what) {
  if (what === "session") return "";
  if (["users", "seats", "audit"].includes(what)) return "administer";
  return needs[`${method} ${what}`] ?? "look";
}

function cookies_of(request) {
  const parts = (request.headers.cookie ?? "").split(";").map((part) => part.trim().split("="));
  return Object.fromEntries(parts.filter(([name]) => name !== ""));
}

export class StandInAccess {
  // `users`: { name, password, rights }; none: nobody needs to sign in.
  constructor(users = []) {
    this.is_open = users.length === 0;
    this.users = users.map((user) => ({...user, made_utc: new Date().toISOString()}));
    this.sessions = new Map();  // cookie to name
    this.tokens = [];
    this.seats = [];
    this.audit = [];
    this.wait_s = 0;  // how long signing in is refused
    this.made = 0;
  }

  caller_of(request) {
    const cookies = cookies_of(request);
    const user = this.users.find((u) => u.name === this.sessions.get(cookies.session));
    const seat = this.seats.find((s) => s.cookie === cookies.seat)?.bench ?? "";
    return {user: user?.name ?? "", rights: this.is_open ? all_rights : user?.rights ?? [], seat, cookies};
  }

  session_of(caller) {
    const {user, rights, seat} = caller;
    return {user, rights, seat, signing_in: this.is_open ? "not needed" : "needed"};
  }

  require(caller, method, what) {
    const right = right_needed(method, what);
    if (right === "" || caller.rights.includes(right)) return;
    if (caller.user === "") throw new Refused(401, "Unauthorized", "nobody is signed in");
    throw new Refused(
        403, "Forbidden", `${caller.user} may not ${right} here`,
        {advice: `ask whoever administers this daemon for the right to ${right}`});
  }

  require_seat(caller, bench) {
    if (!this.is_open && caller.seat !== bench)
      throw new Refused(403, "Forbidden", `only a person at ${bench} answers there: this screen stands elsewhere`);
  }

  note(caller, method, path, body) {
    const shown = {...body, ...(body.password === undefined ? {} : {password: "..."})};
    this.audit.unshift({
      number: this.audit.length + 1,
      at_utc: new Date().toISOString(),
      who: caller.user,
      from: "127.0.0.1",
      what: `${method} ${path}`,
      with: Object.keys(shown).length === 0 ? "" : JSON.stringify(shown),
      status: 200
    });
  }

  sign_in({name, password}, caller) {
    if (this.wait_s > 0)
      throw new Refused(429, "Too many", `too many wrong passwords: wait ${this.wait_s} s`, {advice: "then try again"});
    const user = this.users.find((u) => u.name === name && u.password === password);
    if (user === undefined) throw new Refused(401, "Unauthorized", "name or password is wrong");
    const cookie = `s${++this.made}`;
    this.sessions.set(cookie, name);
    return {
      body: this.session_of({user: name, rights: user.rights, seat: caller.seat}),
      cookie: `session=${cookie}; Path=/; HttpOnly; SameSite=Strict`
    };
  }

  sign_out(caller) {
    this.sessions.delete(caller.cookies.session);
    return null;
  }

  add_seat({bench, name = ""}, caller) {
    const id = ++this.made;
    this.seats.push({id, bench, name, made_by: caller.user, made_utc: new Date().toISOString(), cookie: `seat${id}`});
    return {status: 201, body: {id, seat: `seat${id}`}, cookie: `seat=seat${id}; Path=/; HttpOnly; SameSite=Strict`};
  }

  add_token({name, rights, days}, caller) {
    const id = ++this.made;
    const now = Date.now();
    const utc = (ms) => new Date(ms).toISOString();
    this.tokens.push(
        {id, name, rights, user: caller.user, made_utc: utc(now), expires_utc: utc(now + days * 24 * 3600 * 1000)});
    return {status: 201, body: {id, token: `secret-of-${id}`}};
  }

  change_password({old, password}, caller) {
    const user = this.users.find((u) => u.name === caller.user);
    if (user.password !== old) throw new Refused(422, "Unprocessable", "the old password is another one");
    user.password = password;
    return null;
  }

  add_user({name, password, rights}) {
    if (password.length < 12) throw new Refused(422, "Unprocessable", "the password is too short");
    const user = {name, password, rights, made_utc: new Date().toISOString()};
    this.users.push(user);
    return {status: 201, body: user};
  }

  change_user(name, changes) {
    Object.assign(this.users.find((u) => u.name === name), changes);
    return null;
  }

  remove_user(name) {
    const left = this.users.filter((u) => u.name !== name);
    if (!left.some((u) => u.rights.includes("administer")))
      throw new Refused(409, "Conflict", "nobody would be left who may administer");
    this.users = left;
    return null;
  }

  // Undefined for what has nothing to do with access.
  answer_to(caller, method, [what, id], query, body) {
    const without = (list) => list.filter((one) => one.id !== Number(id));
    switch (`${method} ${what}`) {
      case "GET session": return this.session_of(caller);
      case "POST session": return this.sign_in(body, caller);
      case "DELETE session": return this.sign_out(caller);
      case "POST password": return this.change_password(body, caller);
      case "GET users": return {users: this.users.map(({name, rights, made_utc}) => ({name, rights, made_utc}))};
      case "POST users": return this.add_user(body);
      case "PATCH users": return this.change_user(id, body);
      case "DELETE users": return this.remove_user(id);
      case "GET tokens": return {tokens: this.tokens};
      case "POST tokens": return this.add_token(body, caller);
      case "DELETE tokens": this.tokens = without(this.tokens); return null;
      case "GET seats": return {seats: this.seats.map(({cookie, ...seat}) => seat)};
      case "POST seats": return this.add_seat(body, caller);
      case "DELETE seats": this.seats = without(this.seats); return null;
      case "GET audit": {
        const before = Number(query.get("before") ?? Infinity);
        return {audit: this.audit.filter((e) => e.number < before).slice(0, Number(query.get("at_most")))};
      }
      default: return undefined;
    }
  }
}
