// SPDX-License-Identifier: Apache-2.0
#include "sim/rehearsal/junit.hpp"

#include <fmt/format.h>

#include <algorithm>

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

std::string junit_xml(const std::string& sequence, const std::vector<UnitOutcome>& units) {
  const auto wrong = std::count_if(units.begin(), units.end(), [](const UnitOutcome& u) { return !u.wrong.empty(); });
  double seconds = 0;
  for (const auto& unit : units) seconds += unit.wall_s;
  std::string out = "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n";
  out += fmt::format("<testsuite name=\"{}\" tests=\"{}\" failures=\"{}\" time=\"{:.3f}\">\n", xml(sequence),
                     units.size(), wrong, seconds);
  for (const auto& unit : units) {
    out += fmt::format("  <testcase classname=\"{}\" name=\"{}\" time=\"{:.3f}\"", xml(sequence), xml(unit.serial),
                       unit.wall_s);
    if (unit.wrong.empty())
      out += "/>\n";
    else
      out += fmt::format(">\n    <failure message=\"{}\"/>\n  </testcase>\n", xml(unit.wrong));
  }
  return out + "</testsuite>\n";
}

}  // namespace eyelevel::sim
