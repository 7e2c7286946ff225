// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/verb/ready.hpp"

#include <catch2/catch.hpp>

#include "core/sequence/measure/ready.hpp"

using namespace eyelevel;

TEST_CASE("ready language: all verbs and measures that are shipped are there by name", "[sequence]") {
  const auto language = sequence::ready_language();
  CHECK(language.verbs.names() ==
        std::vector<std::string>{"set up",       "prompt",  "wait for", "capture",       "measure",    "judge",
                                 "adjust",       "average", "compare",  "work out",      "if",         "repeat",
                                 "for each row", "part",    "together", "in this order", "finish",     "note",
                                 "diagnose",     "enclose", "prove",    "switch on",     "switch off", "route",
                                 "make safe"});
  CHECK(language.measures.names() ==
        std::vector<std::string>{"eye level", "d.c. level", "i3 over i11", "asymmetry", "jitter", "peak to peak",
                                 "probe factor", "top flatness", "frequency", "noise floor", "noise share",
                                 "output voltage", "output current", "ripple with the turns", "ripple beside the turns",
                                 "top level"});
}

TEST_CASE("ready language: a second verb of one name is refused", "[sequence]") {
  auto language = sequence::ready_language();
  CHECK_THROWS(sequence::register_ready_verbs(language.verbs));
}

TEST_CASE("ready language: every measure says what it is for, gives a reading, and takes something", "[sequence]") {
  const auto language = sequence::ready_language();
  for (const auto& m : language.measures.list()) {
    CAPTURE(m.declaration.name);
    CHECK_FALSE(m.declaration.about.empty());
    CHECK_FALSE(m.declaration.example.empty());
    CHECK(m.call.run);
    CHECK_FALSE((m.call.takes.empty() && m.call.kinds.empty()));
  }
}
