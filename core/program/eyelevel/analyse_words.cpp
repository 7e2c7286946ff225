// SPDX-License-Identifier: Apache-2.0
#include "core/program/eyelevel/analyse_words.hpp"

#include <fmt/format.h>

#include <cmath>

namespace eyelevel::program {

boost::json::value number(const std::optional<double>& value) {
  return value && std::isfinite(*value) ? boost::json::value(*value) : boost::json::value(nullptr);
}

std::string duration_text(double seconds) {
  return seconds < 1 ? fmt::format("{:.5g} ms", 1e3 * seconds) : fmt::format("{:.5g} s", seconds);
}

std::string clock_text(const disc::MinSecFrame& t) {
  return fmt::format("{:02}:{:02}:{:02}", t.minute, t.second, t.frame);
}

std::string_view content_text(disc::Content content) {
  switch (content) {
    case disc::Content::audio: return "audio";
    case disc::Content::data: return "data";
    case disc::Content::unknown: break;
  }
  return "unknown";
}

void print_figure(std::string_view name, const std::optional<double>& value, double factor, int digits,
                  std::string_view unit, std::string_view say) {
  if (value)
    fmt::print("  {:<28}{:>10.{}f} {:<3} {}\n", name, *value * factor, digits, unit, say);
  else
    fmt::print("  {:<28}{:>10} {:<3} {}\n", name, "-", "", say);
}

}  // namespace eyelevel::program
