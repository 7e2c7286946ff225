// SPDX-License-Identifier: Apache-2.0
#include "core/service/http/rate.hpp"

#include <catch2/catch.hpp>

using namespace eyelevel;
using namespace std::chrono_literals;
using service::http::Rate;

TEST_CASE("rate: a burst at once, then so many a second, each address for itself", "[service]") {
  Rate rate(5, 2);
  const auto taken = [&](const char* who, base::Duration now) {
    int count = 0;
    while (rate.take(who, now)) ++count;
    return count;
  };
  CHECK(taken("a", 0s) == 5);
  CHECK(taken("b", 0s) == 5);
  CHECK(taken("a", 1s) == 2);
  CHECK(taken("a", 1s + 499ms) == 0);
  CHECK(taken("a", 1s + 500ms) == 1);
  CHECK(taken("a", 100s) == 5);
}

TEST_CASE("rate: who asks no more is forgotten", "[service]") {
  Rate rate(5, 2);
  for (int i = 0; i < 5000; ++i) rate.take(std::to_string(i), std::chrono::seconds(i));
  CHECK(rate.known() < 1100);
}
