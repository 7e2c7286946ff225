// SPDX-License-Identifier: Apache-2.0
// In simulated time; how it looks from outside: ../api_access_test.cpp.
#include "core/service/access/access.hpp"

#include <catch2/catch.hpp>

#include "core/service/http/problem.hpp"
#include "tests/core/service/harness.hpp"

using namespace eyelevel;
using namespace std::chrono_literals;
using service::Access;
using service::Right;
using service::Rights;
using test::Daemon;

namespace {

constexpr const char* password = "four words of mine";

service::http::Request with_header(const std::string& name, const std::string& value) {
  service::http::Request request;
  request.headers[name] = value;
  return request;
}

// As a browser sends it back.
service::http::Request with_session(const Access& access, const std::string& secret) {
  const auto cookie = access.session_cookie(secret);
  return with_header("cookie", cookie.substr(0, cookie.find(';')));
}

task<int> status_of(task<> work) {
  try {
    co_await std::move(work);
  } catch (const service::http::Problem& problem) {
    co_return problem.status();
  }
  co_return 200;
}

task<int> signed_in(Access& access, std::string name, std::string with, std::string peer = "192.0.2.1") {
  try {
    co_await access.sign_in(std::move(name), std::move(with), std::move(peer));
  } catch (const service::http::Problem& problem) {
    co_return problem.status();
  }
  co_return 200;
}

// A daemon where everybody signs in, and its user.
void with_user(const std::function<task<>(Daemon&)>& script) {
  Daemon daemon;
  daemon.access.set_policy({.is_open = false, .is_secure = true, .port = 8470});
  daemon.run_alone([&](Daemon& d) -> task<> {
    co_await d.access.add_user("ada", *Rights::read("look, operate, administer"), password);
    co_await script(d);
  });
}

}  // namespace

TEST_CASE("access: who signed in is known by the cookie, and may what that user may", "[service]") {
  with_user([](Daemon& d) -> task<> {
    const auto secret = co_await d.access.sign_in("ada", password, "192.0.2.1");
    const auto caller = d.access.caller_of(with_session(d.access, secret));
    CHECK(caller.user == "ada");
    CHECK(caller.rights.text() == "look, operate, administer");
    CHECK_FALSE(caller.is_at("lanternfield-1"));
    CHECK(d.access.caller_of(with_session(d.access, "something else")).rights.is_empty());
    CHECK(d.access.caller_of({}).rights.is_empty());
    CHECK(d.access.session_cookie(secret) ==
          "__Host-eyelevel-session-8470=" + secret + "; Path=/; HttpOnly; SameSite=Strict; Max-Age=604800; Secure");
  });
}

TEST_CASE("access: a session ends twelve hours after it was last used, and after a week in any case", "[service]") {
  with_user([](Daemon& d) -> task<> {
    auto& time = *d.bench.sim.timeline;
    const auto unused = co_await d.access.sign_in("ada", password, "192.0.2.1");
    const auto used = co_await d.access.sign_in("ada", password, "192.0.2.1");
    const auto is_known = [&](const std::string& secret) {
      return !d.access.caller_of(with_session(d.access, secret)).user.empty();
    };
    co_await time.sleep(11h);
    co_await d.access.keep_used(d.access.caller_of(with_session(d.access, used)).mark);
    co_await time.sleep(2h);
    CHECK_FALSE(is_known(unused));
    CHECK(is_known(used));
    for (int i = 0; i < 15; ++i) {
      co_await time.sleep(10h);
      co_await d.access.keep_used(d.access.caller_of(with_session(d.access, used)).mark);
    }
    CHECK(is_known(used));
    co_await time.sleep(6h);
    CHECK_FALSE(is_known(used));
  });
}

TEST_CASE("access: sessions, tokens and seats are still good when the daemon begins anew", "[service]") {
  with_user([](Daemon& d) -> task<> {
    const auto session = co_await d.access.sign_in("ada", password, "192.0.2.1");
    service::Token token;
    token.user = "ada";
    token.rights = *Rights::read("look");
    token.expires = d.house.timeline.utc() + 24h;
    const auto token_secret = (co_await d.access.add_token(token)).second;
    service::Seat seat;
    seat.bench = "lanternfield-1";
    const auto seat_secret = (co_await d.access.add_seat(seat)).second;
    Access next(d.house.timeline, d.ledger, d.store_thread);
    next.set_policy(d.access.policy());
    CHECK(next.caller_of(with_session(next, session)).user == "ada");
    CHECK(next.caller_of(with_header("authorization", "Bearer " + token_secret)).rights.text() == "look");
    CHECK(next.caller_of(with_header("eyelevel-seat", seat_secret)).is_at("lanternfield-1"));
  });
}

TEST_CASE("access: whoever guesses waits longer each time, also under a name that there is not", "[service]") {
  for (const std::string name : {"ada", "nobody"}) {
    CAPTURE(name);
    with_user([&](Daemon& d) -> task<> {
      auto& time = *d.bench.sim.timeline;
      for (int i = 0; i < 5; ++i) CHECK(co_await signed_in(d.access, name, "wrong") == 401);
      CHECK(co_await signed_in(d.access, name, "wrong") == 429);
      CHECK(co_await signed_in(d.access, name, password) == 429);
      // Another place is refused that name, this place any other name.
      CHECK(co_await signed_in(d.access, name, "wrong", "192.0.2.9") == 429);
      CHECK(co_await signed_in(d.access, "other", "wrong") == 429);
      CHECK(co_await signed_in(d.access, "other", "wrong", "192.0.2.9") == 401);
      co_await time.sleep(1s);
      CHECK(co_await signed_in(d.access, name, name == "ada" ? password : "wrong") == (name == "ada" ? 200 : 401));
      CHECK(co_await signed_in(d.access, name, "wrong") == (name == "ada" ? 401 : 429));
    });
  }
}

TEST_CASE("access: all addresses of one IPv6 network wait together", "[service]") {
  with_user([](Daemon& d) -> task<> {
    for (int i = 0; i < 5; ++i)
      co_await signed_in(d.access, "name " + std::to_string(i), "wrong", "2001:db8:1:2::" + std::to_string(i));
    CHECK(co_await signed_in(d.access, "ada", password, "2001:db8:1:2:3:4:5:6") == 429);
    CHECK(co_await signed_in(d.access, "ada", password, "2001:db8:1:3::1") == 200);
  });
}

TEST_CASE("access: the last one who may administer stays", "[service]") {
  with_user([](Daemon& d) -> task<> {
    CHECK(co_await status_of(d.access.remove_user("ada")) == 409);
    CHECK(co_await status_of(d.access.set_rights("ada", *Rights::read("look"))) == 409);
    co_await d.access.add_user("bo", Rights::all(), password);
    CHECK(co_await status_of(d.access.set_rights("ada", *Rights::read("look"))) == 200);
    CHECK(co_await status_of(d.access.remove_user("bo")) == 409);
    CHECK(co_await status_of(d.access.remove_user("ada")) == 200);
    CHECK(co_await status_of(d.access.remove_user("ada")) == 404);
  });
}

TEST_CASE("access: what lasts ends with the session, the token, the user or the right", "[service]") {
  with_user([](Daemon& d) -> task<> {
    co_await d.access.add_user("bo", *Rights::read("look"), password);
    const auto session_of_bo = [&]() -> task<service::Caller> {
      co_return d.access.caller_of(with_session(d.access, co_await d.access.sign_in("bo", password, "192.0.2.1")));
    };
    const auto first = co_await session_of_bo();
    const auto second = co_await session_of_bo();
    CHECK(d.access.still_may(first, Right::look));
    CHECK_FALSE(d.access.still_may(first, Right::operate));
    co_await d.access.sign_out(first.mark);
    CHECK_FALSE(d.access.still_may(first, Right::look));
    CHECK(d.access.still_may(second, Right::look));
    co_await d.access.set_password("bo", "four other words", "");
    CHECK_FALSE(d.access.still_may(second, Right::look));

    service::Token token;
    token.user = "bo";
    token.rights = *Rights::read("look");
    token.expires = d.house.timeline.utc() + 24h;
    const auto secret = (co_await d.access.add_token(token)).second;
    const auto by_token = d.access.caller_of(with_header("authorization", "Bearer " + secret));
    CHECK(d.access.still_may(by_token, Right::look));
    co_await d.access.set_rights("bo", *Rights::read("operate"));
    CHECK_FALSE(d.access.still_may(by_token, Right::look));
    co_await d.access.remove_user("bo");
    CHECK(d.access.caller_of(with_header("authorization", "Bearer " + secret)).user.empty());
  });
}

TEST_CASE("access: a token ends on its day, and never may what its user may not", "[service]") {
  with_user([](Daemon& d) -> task<> {
    service::Token token;
    token.user = "ada";
    token.rights = *Rights::read("look, change");
    token.expires = d.house.timeline.utc() + 24h;
    const auto request = with_header("authorization", "Bearer " + (co_await d.access.add_token(token)).second);
    CHECK(d.access.caller_of(request).rights.text() == "look");
    co_await d.bench.sim.timeline->sleep(24h);
    CHECK(d.access.caller_of(request).rights.is_empty());
  });
}

TEST_CASE("access: at this machine nobody signs in, but a token says less, and a wrong one nothing", "[service]") {
  with_user([](Daemon& d) -> task<> {
    d.access.set_policy({.is_open = true, .is_secure = false, .port = 8470});
    const auto anyone = d.access.caller_of({});
    CHECK(anyone.rights == Rights::all());
    CHECK(anyone.name == "at this machine");
    CHECK(anyone.is_at("any bench"));
    CHECK(d.access.caller_of(with_header("authorization", "Bearer wrong")).rights.is_empty());
    CHECK(d.access.still_may(anyone, Right::look));
    co_return;
  });
}

TEST_CASE("access: no user gets a name that could be taken for something else", "[service]") {
  with_user([](Daemon& d) -> task<> {
    for (const std::string name : {"", "a b", "a/b", "<b>", "a\n", "\"", "ada"}) {
      CAPTURE(name);
      CHECK(co_await status_of(d.access.add_user(name, Rights::all(), password)) == (name == "ada" ? 409 : 422));
    }
    CHECK(co_await status_of(d.access.add_user("Jörg.M-2", Rights::all(), password)) == 200);
    CHECK(co_await status_of(d.access.add_user("short", Rights::all(), "short")) == 422);
  });
}
