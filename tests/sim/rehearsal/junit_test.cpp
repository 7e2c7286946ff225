// SPDX-License-Identifier: Apache-2.0
#include "sim/rehearsal/junit.hpp"

#include <catch2/catch.hpp>

using namespace eyelevel;

TEST_CASE("junit: counts units and failures and escapes what XML cannot hold", "[sim]") {
  sim::UnitOutcome good, bad;
  good.serial = "LF2-00001";
  good.wall_s = 0.25;
  bad.serial = "LF2-00002";
  bad.wrong = "level <1> passes & \"should\" not\x01";
  CHECK(sim::junit_xml("pickup-level", {good, bad}) ==
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"
        "<testsuite name=\"pickup-level\" tests=\"2\" failures=\"1\" time=\"0.250\">\n"
        "  <testcase classname=\"pickup-level\" name=\"LF2-00001\" time=\"0.250\"/>\n"
        "  <testcase classname=\"pickup-level\" name=\"LF2-00002\" time=\"0.000\">\n"
        "    <failure message=\"level &lt;1&gt; passes &amp; &quot;should&quot; not?\"/>\n"
        "  </testcase>\n"
        "</testsuite>\n");
}
