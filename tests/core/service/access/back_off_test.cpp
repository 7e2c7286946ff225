// SPDX-License-Identifier: Apache-2.0
#include "core/service/access/back_off.hpp"

#include <catch2/catch.hpp>

using namespace eyelevel;
using namespace std::chrono_literals;
using service::BackOff;

TEST_CASE("back-off: five tries cost nothing, then each wait is twice the last, to a quarter of an hour", "[service]") {
  BackOff back_off;
  base::Duration now = 1h;
  std::vector<base::Duration> waits;
  for (int i = 0; i < 20; ++i) {
    waits.push_back(back_off.wait("somebody", now));
    now += waits.back();
    back_off.tried("somebody", now);
  }
  for (std::size_t i = 0; i < 5; ++i) CHECK(waits[i] == 0s);
  for (std::size_t i = 5; i < 15; ++i) CHECK(waits[i] == 1s * (1 << (i - 5)));
  for (std::size_t i = 15; i < 20; ++i) CHECK(waits[i] == 15min);
}

TEST_CASE("back-off: others do not wait, and a right password ends it", "[service]") {
  BackOff back_off;
  for (int i = 0; i < 8; ++i) back_off.tried("somebody", 1h);
  CHECK(back_off.wait("somebody", 1h) == 8s);
  CHECK(back_off.wait("somebody", 1h + 3s) == 5s);
  CHECK(back_off.wait("another", 1h) == 0s);
  back_off.succeeded("somebody");
  CHECK(back_off.wait("somebody", 1h) == 0s);
}

TEST_CASE("back-off: an hour without a try is forgotten, and however many names are tried, few are kept", "[service]") {
  BackOff back_off;
  for (int i = 0; i < 8; ++i) back_off.tried("somebody", 1h);
  back_off.tried("another", 3h);
  CHECK(back_off.wait("somebody", 3h) == 0s);
  for (int i = 0; i < 5; ++i) back_off.tried("the oldest", 4h);
  for (std::size_t i = 0; i < BackOff::most; ++i) back_off.tried("name " + std::to_string(i), 4h + 1ms);
  CHECK(back_off.wait("the oldest", 4h + 1ms) == 0s);
}
