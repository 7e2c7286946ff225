// SPDX-License-Identifier: Apache-2.0
#include "instruments/phrasebook/standard.hpp"

#include <catch2/catch.hpp>

#include <fstream>
#include <sstream>

#include "core/base/error.hpp"

using namespace eyelevel;

TEST_CASE("standard phrasebooks: all are built in and found by name", "[phrasebook]") {
  const auto all = phrasebook::standard_phrasebooks();
  CHECK(all.names() == std::vector<std::string>{"block-with-keyed-header", "block-with-numbered-header",
                                                "standard-counter", "standard-digitiser", "standard-function-generator",
                                                "standard-multimeter", "standard-power-supply", "standard-relay-box"});
  CHECK(phrasebook::find_phrasebook(all, "standard-digitiser").is_oscilloscope());
  CHECK_FALSE(phrasebook::find_phrasebook(all, "standard-multimeter").is_oscilloscope());
}

TEST_CASE("standard phrasebooks: what is built in is what stands in the files", "[phrasebook]") {
  for (const auto& [file, text] : phrasebook::detail::standard_texts()) {
    std::ifstream in("instruments/phrasebook/" + std::string(file));
    std::stringstream content;
    content << in.rdbuf();
    CHECK(content.str() == text);
  }
}

TEST_CASE("standard phrasebooks: an unknown name is told with the nearest", "[phrasebook]") {
  try {
    phrasebook::find_phrasebook(phrasebook::standard_phrasebooks(), "standard-digitizer");
    FAIL("found");
  } catch (const base::Error& error) {
    CHECK(std::string(error.what()) ==
          "unknown phrasebook 'standard-digitizer'; did you mean 'standard-digitiser'?\n  try: look at the bench file");
    CHECK(error.record().code == base::ErrorCode::not_found);
  }
}

TEST_CASE("phrasebooks: a file is read when its name is given, and its first mistake told", "[phrasebook]") {
  const phrasebook::Phrasebooks none("phrasebook");
  CHECK(phrasebook::find_phrasebook(none, "instruments/phrasebook/standard/standard-multimeter.yaml").name ==
        "standard-multimeter");
  CHECK_THROWS_WITH(phrasebook::find_phrasebook(none, "no-such-book.yaml"),
                    "no-such-book.yaml:1:1: there is no such file; look at the spelling of its path\n"
                    "  try: check the phrasebook");
}
