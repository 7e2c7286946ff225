// SPDX-License-Identifier: Apache-2.0
#include "core/service/rehearsals.hpp"

#include <future>
#include <thread>

#include <boost/json.hpp>
#include <catch2/catch.hpp>

#include "core/base/error.hpp"
#include "core/service/http/problem.hpp"

using namespace eyelevel;
using service::RehearsalOrder;
using service::Rehearsals;
namespace json = boost::json;

namespace {

// Ends when it is told to, or asked to stop.
struct Held {
  std::promise<void> go_on;
  std::shared_future<void> may_end{go_on.get_future()};

  service::Rehearser rehearser() const {
    return {.troubles = [] { return json::array{json::object{{"name", "disc dirty"}}}; },
            .rehearse =
                [may_end = may_end](const RehearsalOrder& order, const std::function<void(int)>& done,
                                    const std::stop_token& stop) {
                  std::promise<void> stopped;
                  const std::stop_callback when_stopped(stop, [&] { stopped.set_value(); });
                  if (order.sequence == "bad.yaml")
                    throw base::Error(base::ErrorCode::bad_input, "it is bad", "write a good one");
                  done(1);
                  if (order.sequence == "long.yaml")
                    stopped.get_future().wait();
                  else
                    may_end.wait();
                  return json::object{{"units", json::array{1}}};
                }};
  }
};

json::object ended(const Rehearsals& rehearsals, std::int64_t number) {
  for (;;) {
    auto shown = rehearsals.show(number);
    if (shown.at("state") != "under way") return shown;
    std::this_thread::yield();
  }
}

int status_of(const std::function<void()>& call) {
  try {
    call();
  } catch (const service::http::Problem& problem) {
    return problem.status();
  }
  return 0;
}

}  // namespace

TEST_CASE("rehearsals: one at a time, with its result when it is over", "[service]") {
  Held held;
  Rehearsals rehearsals(held.rehearser());
  const auto first = rehearsals.begin({.sequence = "a.yaml", .units = 3});
  CHECK(rehearsals.show(first).at("state") == "under way");
  CHECK(rehearsals.show(first).at("result").is_null());
  CHECK(status_of([&] { rehearsals.begin({.sequence = "b.yaml"}); }) == 409);
  held.go_on.set_value();
  const auto shown = ended(rehearsals, first);
  CHECK(shown.at("state") == "over");
  CHECK(shown.at("done") == 1);
  CHECK(shown.at("units") == 3);
  CHECK(shown.at("result").at("units").as_array().size() == 1);
  CHECK(rehearsals.begin({.sequence = "b.yaml"}) == first + 1);
}

TEST_CASE("rehearsals: one that is stopped ends with what there is", "[service]") {
  const Held held;
  Rehearsals rehearsals(held.rehearser());
  const auto number = rehearsals.begin({.sequence = "long.yaml"});
  rehearsals.stop(number);
  CHECK(ended(rehearsals, number).at("state") == "over");
}

TEST_CASE("rehearsals: one that cannot be done says why", "[service]") {
  const Held held;
  Rehearsals rehearsals(held.rehearser());
  const auto shown = ended(rehearsals, rehearsals.begin({.sequence = "bad.yaml"}));
  CHECK(shown.at("state") == "failed");
  CHECK(json::value_to<std::string>(shown.at("why")).find("it is bad") != std::string::npos);
  CHECK(shown.at("result").is_null());
}

TEST_CASE("rehearsals: a trouble that is not known is refused, and so is the number of none", "[service]") {
  const Held held;
  Rehearsals rehearsals(held.rehearser());
  CHECK(status_of([&] { rehearsals.begin({.sequence = "a.yaml", .troubles = {"disc eaten"}}); }) == 422);
  CHECK(status_of([&] { rehearsals.show(1); }) == 404);
  CHECK(status_of([&] { rehearsals.stop(1); }) == 404);
}

TEST_CASE("rehearsals: only the newest are kept", "[service]") {
  Held held;
  held.go_on.set_value();
  Rehearsals rehearsals(held.rehearser());
  for (std::size_t i = 0; i <= Rehearsals::most_kept; ++i) ended(rehearsals, rehearsals.begin({.sequence = "a.yaml"}));
  CHECK(status_of([&] { rehearsals.show(1); }) == 404);
  CHECK(rehearsals.show(2).at("state") == "over");
}

TEST_CASE("rehearsals: what is under way is stopped when nobody wants it any more", "[service]") {
  const Held held;
  {
    Rehearsals rehearsals(held.rehearser());
    rehearsals.begin({.sequence = "long.yaml"});
  }
  SUCCEED("the daemon can end");
}
