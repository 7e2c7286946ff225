// SPDX-License-Identifier: Apache-2.0
// Routes of users, sessions, tokens, seats and the audit.
#include <fmt/format.h>

#include <algorithm>
#include <boost/json.hpp>
#include <utility>

#include "core/base/error.hpp"
#include "core/record/journal/event_json.hpp"
#include "core/service/api.hpp"
#include "core/service/fields.hpp"
#include "core/service/http/json_answer.hpp"
#include "core/service/http/problem.hpp"
#include "core/service/numbers.hpp"

namespace eyelevel::service {

namespace json = boost::json;
using http::json_answer;
using http::Problem;
using http::Response;

namespace {

Response done() { return {204, "", "", {}}; }

json::array rights_json(Rights rights) {
  json::array list;
  for (const auto name : rights.names()) list.push_back(json::value(json::string_view(name.data(), name.size())));
  return list;
}

json::object user_json(const User& user) {
  return {{"name", user.name}, {"rights", rights_json(user.rights)}, {"made_utc", record::utc_text(user.made)}};
}

json::object token_json(const Token& token) {
  return {{"id", token.id},
          {"name", token.name},
          {"user", token.user},
          {"rights", rights_json(token.rights)},
          {"made_utc", record::utc_text(token.made)},
          {"expires_utc", record::utc_text(token.expires)}};
}

json::object seat_json(const Seat& seat) {
  return {{"id", seat.id},
          {"bench", seat.bench},
          {"name", seat.name},
          {"made_by", seat.made_by},
          {"made_utc", record::utc_text(seat.made)}};
}

Rights rights_in(const Fields& fields) {
  if (const auto rights = Rights::of(fields.texts("rights")); rights && !rights->is_empty()) return *rights;
  throw Problem(422, "\"rights\" holds none, or one that there is not",
                fmt::format("some of {}", Rights::all().text()));
}

std::int64_t number_in(const Call& call, const char* part) {
  if (const auto number = whole_number(call.named.at(part))) return *number;
  throw Problem(404, fmt::format("there is no {} \"{}\"", part, base::escaped(call.named.at(part), 40)));
}

template <class T>
const T& with_id(const std::vector<T>& all, std::int64_t id, const char* what) {
  const auto at = std::find_if(all.begin(), all.end(), [&](const T& one) { return one.id == id; });
  if (at == all.end()) throw Problem(404, fmt::format("there is no {} {}", what, id));
  return *at;
}

json::object session_json(const Access& access, const Caller& caller) {
  return {{"user", caller.user},
          {"rights", rights_json(caller.rights)},
          {"seat", caller.seat},
          {"signing_in", access.policy().is_open ? "not needed" : "needed"}};
}

}  // namespace

task<Response> Api::show_session(const Call& call) { co_return json_answer(session_json(access_, call.caller)); }

task<Response> Api::sign_in(const Call& call) {
  const Fields fields(call.body, {"name", "password"});
  const auto secret = co_await access_.sign_in(fields.text("name"), fields.text("password"), call.request.peer);
  // As the next request will be seen.
  http::Request next = call.request;
  next.headers["cookie"] = access_.session_cookie(secret) + "; " + std::string(call.request.header("cookie"));
  Response response = json_answer(session_json(access_, access_.caller_of(next)));
  response.headers.emplace_back("Set-Cookie", access_.session_cookie(secret));
  co_return response;
}

task<Response> Api::sign_out(const Call& call) {
  if (call.caller.is_session) co_await access_.sign_out(call.caller.mark);
  Response response = done();
  response.headers.emplace_back("Set-Cookie", access_.session_cookie(""));
  co_return response;
}

task<Response> Api::change_password(const Call& call) {
  const Fields fields(call.body, {"old", "password"});
  if (!call.caller.is_session)
    throw Problem(409, "only who is signed in with a password can change it", "sign in first");
  co_await access_.require_password(call.caller.user, fields.text("old"), call.request.peer);
  co_await access_.set_password(call.caller.user, fields.text("password"), call.caller.mark);
  co_return done();
}

task<Response> Api::list_users(const Call&) {
  json::array list;
  for (const auto& user : access_.users()) list.push_back(user_json(user));
  co_return json_answer(json::object{{"users", std::move(list)}});
}

task<Response> Api::add_user(const Call& call) {
  const Fields fields(call.body, {"name", "password", "rights"});
  const auto name = fields.text("name");
  co_await access_.add_user(name, rights_in(fields), fields.text("password"));
  const auto& users = access_.users();
  const auto made = std::find_if(users.begin(), users.end(), [&](const User& user) { return user.name == name; });
  if (made == users.end()) throw Problem(409, fmt::format("{} was removed again at once", name));
  co_return json_answer(user_json(*made), 201);
}

task<Response> Api::change_user(const Call& call) {
  const Fields fields(call.body, {"password", "rights"});
  const auto& name = call.named.at("user");
  if (call.body.empty()) throw Problem(422, "nothing is to be changed", "give \"rights\" or \"password\"");
  if (call.body.contains("rights")) co_await access_.set_rights(name, rights_in(fields));
  if (call.body.contains("password")) co_await access_.set_password(name, fields.text("password"), call.caller.mark);
  co_return done();
}

task<Response> Api::remove_user(const Call& call) {
  co_await access_.remove_user(call.named.at("user"));
  co_return done();
}

task<Response> Api::list_tokens(const Call& call) {
  json::array list;
  for (const auto& token : access_.tokens())
    if (token.user == call.caller.user || call.caller.rights.has(Right::administer)) list.push_back(token_json(token));
  co_return json_answer(json::object{{"tokens", std::move(list)}});
}

task<Response> Api::add_token(const Call& call) {
  const Fields fields(call.body, {"name", "rights", "days"});
  if (!call.caller.is_session)
    throw Problem(409, "a token speaks for a user, and nobody is signed in with a password", "sign in first");
  const auto days = fields.whole("days");
  constexpr std::int64_t most_days = 366;
  if (days < 1 || days > most_days) throw Problem(422, fmt::format("\"days\" is to be from 1 to {}", most_days));
  Token token;
  token.user = call.caller.user;
  token.name = fields.text("name");
  token.rights = rights_in(fields);
  if (token.rights.both(call.caller.rights) != token.rights)
    throw Problem(403, "a token may do nothing that its user may not",
                  fmt::format("some of {}", call.caller.rights.text()));
  token.expires = house_.timeline.utc() + std::chrono::hours(24) * days;
  const auto [id, secret] = co_await access_.add_token(token);
  co_return json_answer(json::object{{"id", id}, {"token", secret}}, 201);
}

task<Response> Api::remove_token(const Call& call) {
  const auto id = number_in(call, "token");
  const auto& token = with_id(access_.tokens(), id, "token");
  if (token.user != call.caller.user) access_.require(call.caller, Right::administer);
  co_await access_.remove_token(id);
  co_return done();
}

task<Response> Api::list_seats(const Call&) {
  json::array list;
  for (const auto& seat : access_.seats()) list.push_back(seat_json(seat));
  co_return json_answer(json::object{{"seats", std::move(list)}});
}

task<Response> Api::add_seat(const Call& call) {
  const Fields fields(call.body, {"bench", "name"});
  Seat seat;
  seat.bench = fields.text("bench");
  seat.name = fields.text_or("name", "");
  seat.made_by = call.caller.name;
  if (find_bench(seat.bench) == nullptr)
    throw Problem(422, fmt::format("there is no bench \"{}\"", base::escaped(seat.bench)),
                  "list the benches: /api/1/benches");
  const auto [id, secret] = co_await access_.add_seat(seat);
  Response response = json_answer(json::object{{"id", id}, {"seat", secret}}, 201);
  response.headers.emplace_back("Set-Cookie", access_.seat_cookie(secret));
  co_return response;
}

task<Response> Api::remove_seat(const Call& call) {
  const auto id = number_in(call, "seat");
  with_id(access_.seats(), id, "seat");
  co_await access_.remove_seat(id);
  co_return done();
}

task<Response> Api::list_audit(const Call& call) {
  std::int64_t before = 0;
  if (const auto at = call.request.query.find("before"); at != call.request.query.end()) {
    const auto number = whole_number(at->second);
    if (!number) throw Problem(400, "`before` is no number of an entry");
    before = *number;
  }
  json::array list;
  for (const auto& entry : co_await access_.audit(before, at_most_of(call.request, 100)))
    list.push_back(json::object{{"number", entry.number},
                                {"at_utc", record::utc_text(entry.at)},
                                {"who", entry.who},
                                {"from", entry.from},
                                {"what", entry.what},
                                {"with", entry.with},
                                {"status", entry.status}});
  co_return json_answer(json::object{{"audit", std::move(list)}});
}

}  // namespace eyelevel::service
