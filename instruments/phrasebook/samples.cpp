// SPDX-License-Identifier: Apache-2.0
#include "instruments/phrasebook/samples.hpp"

#include <bit>
#include <cmath>
#include <cstdint>
#include <cstring>

namespace eyelevel::phrasebook {
namespace {

// Far above any voltage and below SCPI's special numbers.
constexpr float most_v = 1e37F;

bool is_voltage(float value) { return std::abs(value) < most_v; }  // false for NaN

}  // namespace

std::optional<std::size_t> floats_from(std::string_view bytes, std::vector<float>& volts) {
  const std::size_t count = bytes.size() / sizeof(float);
  volts.resize(count);
  if (count == 0) return std::nullopt;
  std::memcpy(volts.data(), bytes.data(), count * sizeof(float));
  if constexpr (std::endian::native == std::endian::big) {
    for (float& value : volts) value = std::bit_cast<float>(__builtin_bswap32(std::bit_cast<std::uint32_t>(value)));
  }
  bool all_fine = true;
  for (const float value : volts) all_fine &= is_voltage(value);
  if (all_fine) return std::nullopt;
  for (std::size_t i = 0; i < count; ++i)
    if (!is_voltage(volts[i])) return i;
  return std::nullopt;
}

}  // namespace eyelevel::phrasebook
