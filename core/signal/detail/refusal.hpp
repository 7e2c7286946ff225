// SPDX-License-Identifier: Apache-2.0
// How every reader of this folder says no: Error(bad_input) that names the file as the user wrote it, and line and
// column where there are any; and the refusals that all of them share.
#pragma once

#include <fmt/format.h>

#include <cmath>
#include <cstddef>
#include <limits>
#include <string>

#include "core/base/error.hpp"
#include "core/quantity/counted.hpp"
#include "core/signal/stored.hpp"

namespace eyelevel::signal::detail {

struct Place {
  const ReadOptions* options;
  std::size_t line = 0;    // counted from 1; 0: the file as a whole
  std::size_t column = 0;  // counted from 1; 0: the line as a whole
};

[[noreturn]] inline void refuse(const Place& place, std::string message, std::string advice = {}) {
  base::ErrorRecord record;
  record.code = base::ErrorCode::bad_input;
  record.where = place.options->name;
  if (place.line > 0) record.where += fmt::format(":{}", place.line);
  if (place.column > 0) record.where += fmt::format(":{}", place.column);
  record.message = std::move(message);
  record.advice = std::move(advice);
  throw base::Error(std::move(record));
}

inline void require_usable(const ReadOptions& options) {
  const Place place{&options};
  if (options.rate_hz && (!(*options.rate_hz > 0) || !std::isfinite(*options.rate_hz))) {
    refuse(place, fmt::format("sample rate {} Hz, expected above 0", *options.rate_hz));
  }
  if (options.scale_v && (!std::isfinite(*options.scale_v) || *options.scale_v == 0)) {
    refuse(place, fmt::format("scale {} V, expected a number other than 0", *options.scale_v));
  }
  if (options.offset_v && !std::isfinite(*options.offset_v)) {
    refuse(place, fmt::format("offset {} V, expected a number", *options.offset_v));
  }
}

// The channel to be read, counted from 0.
inline std::size_t chosen_channel(const ReadOptions& options, std::size_t held) {
  const std::size_t wanted = options.channel.value_or(1);
  if (wanted >= 1 && wanted <= held) return wanted - 1;
  refuse({&options}, fmt::format("channel {} is wanted, the file holds {}", wanted, quantity::counted(held, "channel")),
         "channels are counted from 1, a column of times left out");
}

// Volts that a float cannot hold are as wrong as NaN.
inline void require_voltage(double value, std::size_t sample, const ReadOptions& options) {
  if (std::abs(value) <= static_cast<double>(std::numeric_limits<float>::max())) return;
  refuse({&options}, fmt::format("sample {} (counted from 0) is {}, not a voltage", sample, value),
         "cut the record before it, or mend what wrote it");
}

}  // namespace eyelevel::signal::detail
