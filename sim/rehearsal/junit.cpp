// SPDX-License-Identifier: Apache-2.0
#include "sim/rehearsal/junit.hpp"

#include <fmt/chrono.h>
#include <fmt/format.h>

#include <algorithm>
#include <chrono>

namespace eyelevel::sim {
namespace {

// Text for XML 1.0; characters that XML cannot hold become '?'.
std::string xml(std::string_view text) {
  std::string out;
  for (const char c : text) {
    switch (c) {
      case '&': out += "&amp;"; break;
      case '<': out += "&lt;"; break;
      case '>': out += "&gt;"; break;
      case '"': out += "&quot;"; break;
      case '\n': out += "&#10;"; break;
      default: out += static_cast<unsigned char>(c) < 0x20 ? '?' : c;
    }
  }
  return out;
}

}  // namespace

std::string junit_xml(const JunitSuite& suite) {
  const auto failed =
      std::count_if(suite.tests.begin(), suite.tests.end(), [](const JunitTest& t) { return !t.failure.empty(); });
  double seconds = 0;
  for (const auto& test : suite.tests) seconds += test.seconds;
  const std::string name = xml(suite.name);
  std::string out = "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n";
  out += fmt::format(
      "<testsuite name=\"{}\" timestamp=\"{:%Y-%m-%dT%H:%M:%S}\" hostname=\"localhost\" tests=\"{}\" failures=\"{}\" "
      "errors=\"0\" time=\"{:.3f}\">\n  <properties>\n",
      name, std::chrono::floor<std::chrono::seconds>(suite.begun), suite.tests.size(), failed, seconds);
  for (const auto& [key, value] : suite.properties)
    out += fmt::format("    <property name=\"{}\" value=\"{}\"/>\n", xml(key), xml(value));
  out += "  </properties>\n";
  for (const auto& test : suite.tests) {
    out += fmt::format("  <testcase classname=\"{}\" name=\"{}\" time=\"{:.3f}\"", name, xml(test.name), test.seconds);
    if (test.failure.empty())
      out += "/>\n";
    else
      out += fmt::format(">\n    <failure message=\"{}\" type=\"rehearsal\">again: {}</failure>\n  </testcase>\n",
                         xml(test.failure), xml(test.again));
  }
  return out + "  <system-out/>\n  <system-err/>\n</testsuite>\n";
}

}  // namespace eyelevel::sim
