// SPDX-License-Identifier: Apache-2.0
#include "core/register/outside.hpp"

#include <catch2/catch.hpp>

using namespace eyelevel::registers;

TEST_CASE("outside: kinds and results are called as plugins write them", "[register]") {
  CHECK(name_of(PartKind::verb) == "verb");
  CHECK(name_of(PartKind::measure) == "measure");
  CHECK(name_of(PartKind::driver) == "driver");
  CHECK(name_of(PartKind::transport) == "transport");
  CHECK(name_of(ResultKind::reading) == "reading");
  CHECK(name_of(ResultKind::waveform) == "waveform");
  CHECK(name_of(ResultKind::captures) == "captures");
}
