// SPDX-License-Identifier: Apache-2.0
// What kind of thing a number counts, as exponents of six independent units. Degrees of angle and samples are kept
// apart from plain ratios on purpose: 20 MSa/s is not 20 MHz, and an angle is not a percentage. All values are in SI
// units (volt, ampere, second, kelvin, ohm, farad) with samples and degrees beside them; a percentage is its fraction.
#pragma once

#include <cstdint>
#include <string>

namespace eyelevel::quantity {

struct Dimension {
  std::int8_t volt = 0;
  std::int8_t ampere = 0;
  std::int8_t second = 0;
  std::int8_t kelvin = 0;
  std::int8_t degree = 0;
  std::int8_t sample = 0;

  constexpr bool operator==(const Dimension&) const = default;
};

constexpr Dimension operator*(Dimension a, Dimension b) {
  const auto sum = [](std::int8_t x, std::int8_t y) { return static_cast<std::int8_t>(x + y); };
  return {sum(a.volt, b.volt),     sum(a.ampere, b.ampere), sum(a.second, b.second),
          sum(a.kelvin, b.kelvin), sum(a.degree, b.degree), sum(a.sample, b.sample)};
}
constexpr Dimension operator/(Dimension a, Dimension b) {
  const auto minus = [](std::int8_t x) { return static_cast<std::int8_t>(-x); };
  return a *
         Dimension{minus(b.volt), minus(b.ampere), minus(b.second), minus(b.kelvin), minus(b.degree), minus(b.sample)};
}

inline constexpr Dimension ratio{};
inline constexpr Dimension voltage{.volt = 1};
inline constexpr Dimension current{.ampere = 1};
inline constexpr Dimension time{.second = 1};
inline constexpr Dimension temperature{.kelvin = 1};
inline constexpr Dimension angle{.degree = 1};
inline constexpr Dimension samples{.sample = 1};
inline constexpr Dimension frequency = ratio / time;
inline constexpr Dimension sample_rate = samples / time;
inline constexpr Dimension resistance = voltage / current;
inline constexpr Dimension conductance = current / voltage;
inline constexpr Dimension capacitance = current * time / voltage;
inline constexpr Dimension power = voltage * current;

// "voltage", "time", ...; a combination without a name of its own is written out ("V s").
std::string name_of(Dimension dimension);
// "a voltage", "an angle": for sentences.
std::string with_article(Dimension dimension);
// How such a value is written: "1.20 V", "45 s", "20 MSa/s".
std::string example_of(Dimension dimension);
// The unit without prefix: "V", "Sa/s"; empty for a ratio.
std::string unit_of(Dimension dimension);

}  // namespace eyelevel::quantity
