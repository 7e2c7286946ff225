// SPDX-License-Identifier: Apache-2.0
#include "sim/instrument/sample_format.hpp"

#include <algorithm>
#include <array>
#include <bit>
#include <cmath>
#include <cstring>
#include <type_traits>

namespace eyelevel::sim {
namespace {

constexpr int usual_digits = 7;

template <class T>
T in_order(T value, bool swapped) {
  static_assert(std::endian::native == std::endian::little, "written for little-endian hosts");
  if (swapped || sizeof(T) == 1) return value;  // SWAPped is least significant byte first
  std::array<char, sizeof(T)> bytes{};
  std::memcpy(bytes.data(), &value, sizeof(T));
  std::reverse(bytes.begin(), bytes.end());
  std::memcpy(&value, bytes.data(), sizeof(T));
  return value;
}

template <class T>
T converted(double value) {
  if constexpr (std::is_floating_point_v<T>) {
    return static_cast<T>(value);
  } else {
    const double rounded = std::nearbyint(value);
    const auto least = static_cast<double>(std::numeric_limits<T>::min());
    const auto most = static_cast<double>(std::numeric_limits<T>::max());
    return static_cast<T>(std::min(most, std::max(least, rounded)));
  }
}

// One block; `value_of` gives the number for each of the 256 codes.
template <class T, class ValueOf>
void answer_by_table(scpi::ResponseBuilder& response, std::span<const std::int8_t> codes, bool swapped,
                     const ValueOf& value_of) {
  std::array<std::array<char, sizeof(T)>, 256> table{};
  for (int code = -128; code < 128; ++code) {
    const T value = in_order(converted<T>(value_of(code)), swapped);
    std::memcpy(table[static_cast<std::uint8_t>(code)].data(), &value, sizeof(T));
  }
  const auto block = response.block(codes.size() * sizeof(T));
  char* out = block.data();
  for (const std::int8_t code : codes) {
    std::memcpy(out, table[static_cast<std::uint8_t>(code)].data(), sizeof(T));
    out += sizeof(T);
  }
}

template <class T>
void answer_block(scpi::ResponseBuilder& response, std::span<const double> values, bool swapped) {
  const auto block = response.block(values.size() * sizeof(T));
  char* out = block.data();
  for (const double value : values) {
    const T item = in_order(converted<T>(value), swapped);
    std::memcpy(out, &item, sizeof(T));
    out += sizeof(T);
  }
}

}  // namespace

void answer_codes(scpi::ResponseBuilder& response, std::span<const std::int8_t> codes, const SampleScale& scale,
                  const SampleFormat& format) {
  const auto volts = [&](int code) { return scale.offset_v + code * scale.step_v; };
  if (format.type == SampleType::ascii) {
    for (const std::int8_t code : codes) response.nr3(volts(code), format.length > 0 ? format.length : usual_digits);
  } else if (format.type == SampleType::real && format.length == 64) {
    answer_by_table<double>(response, codes, format.swapped, volts);
  } else if (format.type == SampleType::real) {
    answer_by_table<float>(response, codes, format.swapped, volts);
  } else if (format.length == 16) {
    answer_by_table<std::int16_t>(response, codes, format.swapped, [](int code) { return code * 256.0; });
  } else {
    answer_by_table<std::int8_t>(response, codes, format.swapped, [](int code) { return static_cast<double>(code); });
  }
}

void answer_values(scpi::ResponseBuilder& response, std::span<const double> values, const SampleFormat& format) {
  if (format.type == SampleType::ascii) {
    for (const double value : values) response.nr3(value, format.length > 0 ? format.length : usual_digits);
  } else if (format.type == SampleType::real && format.length == 64) {
    answer_block<double>(response, values, format.swapped);
  } else if (format.type == SampleType::real) {
    answer_block<float>(response, values, format.swapped);
  } else if (format.length == 16) {
    answer_block<std::int16_t>(response, values, format.swapped);
  } else {
    answer_block<std::int8_t>(response, values, format.swapped);
  }
}

}  // namespace eyelevel::sim
