// SPDX-License-Identifier: Apache-2.0
#include "core/quantity/dimension.hpp"

#include <fmt/format.h>

#include <array>
#include <string_view>
#include <utility>

namespace eyelevel::quantity {
namespace {

struct Named {
  Dimension dimension;
  std::string_view name;
  std::string_view example;
  std::string_view unit;
};

constexpr std::array named{
    Named{ratio, "ratio", "10 %", ""},
    Named{voltage, "voltage", "1.20 V", "V"},
    Named{current, "current", "45 mA", "A"},
    Named{time, "time", "45 s", "s"},
    Named{temperature, "temperature", "25 °C", "K"},
    Named{angle, "angle", "5 °", "°"},
    Named{samples, "number of samples", "600 kSa", "Sa"},
    Named{frequency, "frequency", "20 MHz", "Hz"},
    Named{sample_rate, "sample rate", "20 MSa/s", "Sa/s"},
    Named{resistance, "resistance", "1 kΩ", "Ω"},
    Named{conductance, "conductance", "1 mS", "S"},
    Named{capacitance, "capacitance", "12 pF", "F"},
    Named{power, "power", "2.5 mW", "W"},
};

const Named* find(Dimension dimension) {
  for (const Named& n : named)
    if (n.dimension == dimension) return &n;
  return nullptr;
}

std::string written_out(Dimension d) {
  std::string out;
  const std::array<std::pair<std::string_view, int>, 6> factors{
      {{"V", d.volt}, {"A", d.ampere}, {"s", d.second}, {"K", d.kelvin}, {"°", d.degree}, {"Sa", d.sample}}};
  for (const auto& [symbol, exponent] : factors) {
    if (exponent == 0) continue;
    if (!out.empty()) out += ' ';
    out += symbol;
    if (exponent != 1) out += fmt::format("^{}", exponent);
  }
  return out;
}

}  // namespace

std::string name_of(Dimension dimension) {
  const Named* n = find(dimension);
  return n != nullptr ? std::string(n->name) : "quantity in " + written_out(dimension);
}

std::string with_article(Dimension dimension) {
  const std::string name = name_of(dimension);
  return (name.front() == 'a' ? "an " : "a ") + name;
}

std::string example_of(Dimension dimension) {
  const Named* n = find(dimension);
  return n != nullptr ? std::string(n->example) : "1 " + written_out(dimension);
}

std::string unit_of(Dimension dimension) {
  const Named* n = find(dimension);
  return n != nullptr ? std::string(n->unit) : written_out(dimension);
}

}  // namespace eyelevel::quantity
