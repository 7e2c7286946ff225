// SPDX-License-Identifier: Apache-2.0
#include "sim/rehearsal/junit.hpp"

#include <catch2/catch.hpp>

using namespace eyelevel;

TEST_CASE("junit: counts tests and failures, says how to repeat one, and escapes what XML cannot hold", "[sim]") {
  sim::JunitSuite suite{.name = "pickup-level",
                        .begun = base::UtcTime(std::chrono::milliseconds(1'893'999'600'250)),  // 2030-01-07T07:00:00.25
                        .properties = {{"seed", "7"}},
                        .tests = {}};
  suite.tests.push_back({"LF2-00001", 0.25, "", "eyelevel rehearse a.yaml --seed 7"});
  suite.tests.push_back({"LF2-00002", 0, "level <1> passes & \"should\" not\x01", "eyelevel rehearse a.yaml --seed 7"});
  CHECK(sim::junit_xml(suite) ==
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"
        "<testsuite name=\"pickup-level\" timestamp=\"2030-01-07T07:00:00\" hostname=\"localhost\" tests=\"2\" "
        "failures=\"1\" errors=\"0\" time=\"0.250\">\n"
        "  <properties>\n"
        "    <property name=\"seed\" value=\"7\"/>\n"
        "  </properties>\n"
        "  <testcase classname=\"pickup-level\" name=\"LF2-00001\" time=\"0.250\"/>\n"
        "  <testcase classname=\"pickup-level\" name=\"LF2-00002\" time=\"0.000\">\n"
        "    <failure message=\"level &lt;1&gt; passes &amp; &quot;should&quot; not?\" type=\"rehearsal\">again: "
        "eyelevel "
        "rehearse a.yaml --seed 7</failure>\n"
        "  </testcase>\n"
        "  <system-out/>\n"
        "  <system-err/>\n"
        "</testsuite>\n");
}
