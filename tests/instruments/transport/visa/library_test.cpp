// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/visa/library.hpp"

#include <catch2/catch.hpp>

#include "core/base/error.hpp"

using namespace eyelevel;
using namespace eyelevel::transport;

TEST_CASE("visa library: its functions are found by name, and its words for a status are told with the number",
          "[transport]") {
  const visa::Library library(LITTLE_VISA);
  CHECK(library.manager() == 1);
  visa::Session session = 0;
  CHECK(library.call().open(library.manager(), "GPIB0::9::INSTR", 0, 100, &session) == visa::not_found);
  CHECK(library.words_for(1, visa::not_found) == "VI_ERROR_RSRC_NFOUND, 0xbfff0011");
}

TEST_CASE("visa library: one that is not there, or is something else, is told with what is missing", "[transport]") {
  for (const auto& [file, why] : {std::pair{"/nowhere/libvisa.so", "/nowhere/libvisa.so"},
                                  std::pair{"libm.so.6", "it has no function viOpenDefaultRM"}}) {
    CAPTURE(file);
    try {
      const visa::Library library(file);
      FAIL("was loaded");
    } catch (const base::Error& error) {
      CHECK(error.record().code == base::ErrorCode::not_found);
      CHECK_THAT(error.record().message, Catch::Contains(file) && Catch::Contains(why));
      CHECK_FALSE(error.record().advice.empty());
    }
  }
}
