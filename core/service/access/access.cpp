// SPDX-License-Identifier: Apache-2.0
#include "core/service/access/access.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <boost/asio/ip/address.hpp>
#include <utility>

#include "core/base/error.hpp"
#include "core/service/access/cookies.hpp"
#include "core/service/access/secret.hpp"
#include "core/service/http/problem.hpp"

namespace eyelevel::service {

using http::Problem;

namespace {

constexpr const char* at_this_machine = "at this machine";
// How exactly it is known when a session was last used, so that not every request writes.
constexpr base::Duration used_is_kept_every = std::chrono::minutes(5);
constexpr base::Duration seat_cookie_kept = std::chrono::hours(24 * 365);

std::string_view bearer(const http::Request& request) {
  const auto header = request.header("authorization");
  return header.starts_with("Bearer ") ? header.substr(7) : std::string_view();  // RFC 6750, 2.1
}

// Whoever has one IPv6 address has a whole /64 (RFC 4291, 2.5.4).
std::string peer_key(const std::string& peer) {
  boost::system::error_code error;
  const auto address = boost::asio::ip::make_address(peer, error);
  if (error || address.is_v4()) return fmt::format("from {}", peer);
  auto bytes = address.to_v6().to_bytes();
  std::fill(bytes.begin() + 8, bytes.end(), static_cast<unsigned char>(0));
  return fmt::format("from {}", boost::asio::ip::address_v6(bytes).to_string());
}

void require_name(const std::string& name) {
  const bool is_good = !name.empty() && name.size() <= 40 && std::all_of(name.begin(), name.end(), [](unsigned char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '.' || c == '-' ||
           c == '_' || c >= 0x80;
  });
  if (!is_good)
    throw Problem(422, fmt::format("\"{}\" cannot be the name of a user", base::escaped(name, 60)),
                  "up to 40 letters, digits, dots, hyphens");
}

void require_strong(const std::string& password, const std::string& user) {
  if (const auto why = weakness(password, user)) throw Problem(422, *why);
}

}  // namespace

Access::Access(base::Timeline& timeline, Ledger& ledger, record::StoreThread& ledger_thread)
    : timeline_(timeline), ledger_(ledger), ledger_thread_(ledger_thread), book_(ledger.read()) {}
Access::~Access() { hashing_.settle(); }

User* Access::find_user(std::string_view name) {
  const auto at = std::find_if(book_.users.begin(), book_.users.end(), [&](const User& u) { return u.name == name; });
  return at == book_.users.end() ? nullptr : &*at;
}
const User* Access::find_user(std::string_view name) const {
  const auto at = std::find_if(book_.users.begin(), book_.users.end(), [&](const User& u) { return u.name == name; });
  return at == book_.users.end() ? nullptr : &*at;
}

bool Access::has_administrator() const {
  return std::any_of(book_.users.begin(), book_.users.end(),
                     [](const User& user) { return user.rights.has(Right::administer); });
}

bool Access::is_over(const Session& session) const {
  const auto now = timeline_.utc();
  return now - session.used > idle || now - session.begun > session_at_most;
}

Caller Access::caller_of(const http::Request& request) const {
  Caller caller;
  if (const auto token = bearer(request); !token.empty())
    caller = caller_of_token(token);
  else if (const auto secret = cookie_of(request, cookie_name("session")); !secret.empty())
    caller = caller_of_session(secret);
  caller.seat = seat_of(request);
  // A token says less than this machine may: who brings one means it.
  if (policy_.is_open && caller.user.empty() && bearer(request).empty()) {
    caller.name = at_this_machine;
    caller.rights = Rights::all();
  }
  caller.is_at_every = policy_.is_open;
  return caller;
}

Caller Access::caller_of_session(std::string_view secret) const {
  Caller caller;
  const auto mark = mark_of(secret);
  const auto at = std::find_if(book_.sessions.begin(), book_.sessions.end(),
                               [&](const Session& session) { return session.mark == mark; });
  if (at == book_.sessions.end() || is_over(*at)) return caller;
  const User* user = find_user(at->user);
  if (user == nullptr) return caller;
  caller.user = caller.name = user->name;
  caller.rights = user->rights;
  caller.mark = mark;
  caller.is_session = true;
  return caller;
}

Caller Access::caller_of_token(std::string_view secret) const {
  Caller caller;
  const auto mark = mark_of(secret);
  const auto at =
      std::find_if(book_.tokens.begin(), book_.tokens.end(), [&](const Token& token) { return token.mark == mark; });
  if (at == book_.tokens.end() || at->expires <= timeline_.utc()) return caller;
  const User* user = find_user(at->user);
  if (user == nullptr) return caller;
  caller.user = user->name;
  caller.name = fmt::format("token {} of {}", at->id, user->name);
  caller.rights = user->rights.both(at->rights);
  caller.mark = mark;
  return caller;
}

task<> Access::keep_used(std::string mark) {
  const auto at = std::find_if(book_.sessions.begin(), book_.sessions.end(),
                               [&](const Session& session) { return session.mark == mark; });
  if (at == book_.sessions.end() || timeline_.utc() - at->used < used_is_kept_every) co_return;
  at->used = timeline_.utc();
  const Session used = *at;
  co_await in_ledger([&] { ledger_.put(used); });
}

std::string Access::seat_of(const http::Request& request) const {
  std::string secret(request.header("eyelevel-seat"));
  if (secret.empty()) secret = cookie_of(request, cookie_name("seat"));
  if (secret.empty()) return {};
  const auto mark = mark_of(secret);
  const auto at =
      std::find_if(book_.seats.begin(), book_.seats.end(), [&](const Seat& seat) { return seat.mark == mark; });
  return at == book_.seats.end() ? std::string() : at->bench;
}

void Access::require(const Caller& caller, Right right) const {
  if (caller.rights.has(right)) return;
  if (caller.user.empty())
    throw Problem(401, "nobody is signed in", "sign in at the page, or send a token as Authorization: Bearer");
  throw Problem(403, fmt::format("{} may not {} here", caller.name, name_of(right)),
                fmt::format("ask whoever administers this daemon for the right to {}", name_of(right)));
}

void Access::require_seat(const Caller& caller, std::string_view bench) const {
  if (caller.is_at(bench)) return;
  throw Problem(403, fmt::format("only a person at {} answers there: this screen stands elsewhere", bench),
                "go to the bench; whoever administers this daemon says under Settings which screen stands there");
}

bool Access::still_may(const Caller& caller, Right right) const {
  if (caller.mark.empty()) return policy_.is_open;
  const User* user = find_user(caller.user);
  if (user == nullptr || !user->rights.has(right)) return false;
  if (caller.is_session)
    return std::any_of(book_.sessions.begin(), book_.sessions.end(), [&](const Session& session) {
      return session.mark == caller.mark && timeline_.utc() - session.begun <= session_at_most;
    });
  return std::any_of(book_.tokens.begin(), book_.tokens.end(),
                     [&](const Token& token) { return token.mark == caller.mark && token.expires > timeline_.utc(); });
}

task<bool> Access::is_right(std::string name, std::string password, std::string peer) {
  const std::array<std::string, 2> keys = {fmt::format("as {}", name), peer_key(peer)};
  base::Duration wait{};
  for (const auto& key : keys) wait = std::max(wait, back_off_.wait(key, timeline_.now()));
  if (wait > base::Duration{}) {
    const auto seconds = std::chrono::ceil<std::chrono::seconds>(wait).count();
    throw Problem(429, fmt::format("too many wrong passwords: wait {} s", seconds), "then try again")
        .after_seconds(seconds);
  }
  if (signing_in_ >= sign_ins_at_once)
    throw Problem(429, "too many sign in at once", "try again in a moment").after_seconds(1);
  for (const auto& key : keys) back_off_.tried(key, timeline_.now());
  const User* user = find_user(name);
  const std::string hash = user == nullptr ? "" : user->password_hash;
  bool is_good = false;
  ++signing_in_;
  try {
    co_await hashing_.done(timeline_, [&] { is_good = is_password(hash, password); });
  } catch (...) {
    --signing_in_;
    throw;
  }
  --signing_in_;
  if (is_good)
    for (const auto& key : keys) back_off_.succeeded(key);
  co_return is_good;
}

task<std::string> Access::sign_in(std::string name, std::string password, std::string peer) {
  const bool is_good = co_await is_right(name, std::move(password), std::move(peer));
  if (!is_good || find_user(name) == nullptr)
    throw Problem(401, "name or password is wrong", "after five tries each takes longer");
  auto secret = new_secret();
  const Session session{mark_of(secret), name, timeline_.utc(), timeline_.utc()};
  co_await in_ledger([&] { ledger_.put(session); });
  std::erase_if(book_.sessions, [&](const Session& one) { return is_over(one); });
  book_.sessions.push_back(session);
  co_return secret;
}

task<> Access::sign_out(std::string mark) {
  co_await in_ledger([&] { ledger_.remove_session(mark); });
  std::erase_if(book_.sessions, [&](const Session& one) { return one.mark == mark; });
}

task<std::string> Access::hashed(std::string password) {
  std::string hash;
  co_await hashing_.done(timeline_, [&] { hash = hash_of_password(password); });
  co_return hash;
}

task<> Access::add_user(std::string name, Rights rights, std::string password) {
  require_name(name);
  require_strong(password, name);
  if (find_user(name) != nullptr) throw Problem(409, fmt::format("there is a user {} already", name));
  const User user{name, rights, co_await hashed(std::move(password)), timeline_.utc()};
  if (find_user(name) != nullptr) throw Problem(409, fmt::format("there is a user {} already", name));
  co_await in_ledger([&] { ledger_.put(user); });
  if (auto* known = find_user(name))  // added twice at the same moment: the later one is in the ledger
    *known = user;
  else
    book_.users.push_back(user);
}

namespace {

[[noreturn]] void unknown(std::string_view name) {
  throw Problem(404, fmt::format("there is no user \"{}\"", base::escaped(name, 60)), "list the users: /api/1/users");
}

}  // namespace

void Access::require_administrator_without(std::string_view name) const {
  const bool is_left = std::any_of(book_.users.begin(), book_.users.end(), [&](const User& user) {
    return user.name != name && user.rights.has(Right::administer);
  });
  if (!is_left) throw Problem(409, "nobody would be left who may administer", "give another user that right first");
}

task<> Access::set_rights(std::string name, Rights rights) {
  const User* user = find_user(name);
  if (user == nullptr) unknown(name);
  if (user->rights.has(Right::administer) && !rights.has(Right::administer)) require_administrator_without(name);
  User changed = *user;
  changed.rights = rights;
  co_await in_ledger([&] { ledger_.put(changed); });
  if (auto* known = find_user(name)) known->rights = rights;
}

task<> Access::remove_user(std::string name) {
  const User* user = find_user(name);
  if (user == nullptr) unknown(name);
  if (user->rights.has(Right::administer)) require_administrator_without(name);
  co_await in_ledger([&] { ledger_.remove_user(name); });
  std::erase_if(book_.users, [&](const User& one) { return one.name == name; });
  std::erase_if(book_.sessions, [&](const Session& one) { return one.user == name; });
  std::erase_if(book_.tokens, [&](const Token& one) { return one.user == name; });
}

task<> Access::set_password(std::string name, std::string password, std::string keep) {
  if (find_user(name) == nullptr) unknown(name);
  require_strong(password, name);
  auto hash = co_await hashed(std::move(password));
  const User* user = find_user(name);
  if (user == nullptr) unknown(name);
  User changed = *user;
  changed.password_hash = std::move(hash);
  co_await in_ledger([&] {
    ledger_.put(changed);
    ledger_.remove_other_sessions(name, keep);
  });
  if (auto* known = find_user(name)) known->password_hash = changed.password_hash;
  std::erase_if(book_.sessions, [&](const Session& one) { return one.user == name && one.mark != keep; });
}

task<> Access::require_password(std::string name, std::string password, std::string peer) {
  if (!co_await is_right(std::move(name), std::move(password), std::move(peer)))
    throw Problem(422, "the old password is another one");
}

task<std::pair<std::int64_t, std::string>> Access::add_token(Token token) {
  auto secret = new_secret();
  token.mark = mark_of(secret);
  token.made = timeline_.utc();
  co_await in_ledger([&] { token.id = ledger_.add(token); });
  const auto id = token.id;
  book_.tokens.push_back(std::move(token));
  co_return std::pair{id, std::move(secret)};
}

task<> Access::remove_token(std::int64_t id) {
  co_await in_ledger([&] { ledger_.remove_token(id); });
  std::erase_if(book_.tokens, [&](const Token& one) { return one.id == id; });
}

task<std::pair<std::int64_t, std::string>> Access::add_seat(Seat seat) {
  auto secret = new_secret();
  seat.mark = mark_of(secret);
  seat.made = timeline_.utc();
  co_await in_ledger([&] { seat.id = ledger_.add(seat); });
  const auto id = seat.id;
  book_.seats.push_back(std::move(seat));
  co_return std::pair{id, std::move(secret)};
}

task<> Access::remove_seat(std::int64_t id) {
  co_await in_ledger([&] { ledger_.remove_seat(id); });
  std::erase_if(book_.seats, [&](const Seat& one) { return one.id == id; });
}

task<std::int64_t> Access::note(AuditEntry entry) {
  std::int64_t number = 0;
  co_await in_ledger([&] { number = ledger_.add(entry); });
  co_return number;
}

task<> Access::told(std::int64_t number, int status) {
  co_await in_ledger([&] { ledger_.told(number, status); });
}

task<std::vector<AuditEntry>> Access::audit(std::int64_t before, std::size_t at_most) {
  std::vector<AuditEntry> list;
  co_await in_ledger([&] { list = ledger_.audit(before, at_most); });
  co_return list;
}

// RFC 6265bis, 4.1.3.2: __Host- is taken over TLS only, for this host and every path.
std::string Access::cookie_name(std::string_view what) const {
  return fmt::format("{}eyelevel-{}-{}", policy_.is_secure ? "__Host-" : "", what, policy_.port);
}

std::string Access::cookie(std::string_view what, std::string_view secret, base::Duration keep) const {
  const auto seconds = secret.empty() ? 0 : std::chrono::duration_cast<std::chrono::seconds>(keep).count();
  return fmt::format("{}={}; Path=/; HttpOnly; SameSite=Strict; Max-Age={}{}", cookie_name(what), secret, seconds,
                     policy_.is_secure ? "; Secure" : "");
}

std::string Access::session_cookie(std::string_view secret) const { return cookie("session", secret, session_at_most); }
std::string Access::seat_cookie(std::string_view secret) const { return cookie("seat", secret, seat_cookie_kept); }

}  // namespace eyelevel::service
