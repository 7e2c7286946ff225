// SPDX-License-Identifier: Apache-2.0
#include "core/signal/raw.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <bit>
#include <cstdint>
#include <cstring>
#include <utility>

#include "core/signal/detail/refusal.hpp"
#include "core/signal/detail/samples.hpp"

namespace eyelevel::signal {

namespace {

struct Name {
  std::string_view name;
  RawFormat format;
};

// The first name of a format is the one that is printed.
constexpr std::array<Name, 14> names{{{"int8", RawFormat::int8},
                                      {"uint8", RawFormat::uint8},
                                      {"int16le", RawFormat::int16le},
                                      {"int16be", RawFormat::int16be},
                                      {"uint16le", RawFormat::uint16le},
                                      {"uint16be", RawFormat::uint16be},
                                      {"float32le", RawFormat::float32le},
                                      {"float32be", RawFormat::float32be},
                                      {"float64le", RawFormat::float64le},
                                      {"float64be", RawFormat::float64be},
                                      {"int16", RawFormat::int16le},
                                      {"uint16", RawFormat::uint16le},
                                      {"float32", RawFormat::float32le},
                                      {"float64", RawFormat::float64le}}};

std::size_t size_of(RawFormat format) {
  switch (format) {
    case RawFormat::int8:
    case RawFormat::uint8: return 1;
    case RawFormat::int16le:
    case RawFormat::int16be:
    case RawFormat::uint16le:
    case RawFormat::uint16be: return 2;
    case RawFormat::float32le:
    case RawFormat::float32be: return 4;
    case RawFormat::float64le:
    case RawFormat::float64be: return 8;
  }
  return 1;
}

bool is_integer(RawFormat format) { return size_of(format) <= 2; }

}  // namespace

RawFormat raw_format_named(std::string_view name) {
  const auto found = std::find_if(names.begin(), names.end(), [&](const Name& n) { return n.name == name; });
  if (found != names.end()) return found->format;
  std::string all;
  for (const Name& n : names) all += (all.empty() ? "" : ", ") + std::string(n.name);
  throw base::Error(base::ErrorCode::bad_input,
                    fmt::format("--format {}: is none of {}", base::escaped(name, 40), all));
}

std::string_view name_of(RawFormat format) {
  return std::find_if(names.begin(), names.end(), [&](const Name& n) { return n.format == format; })->name;
}

std::unique_ptr<SampleStream> open_raw(std::span<const std::byte> bytes, const ReadOptions& options, Release release) {
  detail::require_usable(options);
  detail::chosen_channel(options, 1);
  const detail::Place place{&options};
  if (!options.format) detail::refuse(place, "nothing says how its samples are written", "add --format");
  if (!options.rate_hz) {
    detail::refuse(place, "bare samples do not carry their sample rate", "add --rate with the samples per second");
  }
  const RawFormat format = *options.format;
  const std::size_t size = size_of(format);
  if (is_integer(format) && !options.scale_v) {
    detail::refuse(place, fmt::format("holds {} codes and nothing says what a code is worth", name_of(format)),
                   "add --scale with the volts per code, and --offset with the volts of code 0");
  }
  if (bytes.empty()) detail::refuse(place, "is empty", fmt::format("expected samples of {}", name_of(format)));
  if (bytes.size() % size != 0) {
    detail::refuse(
        place,
        fmt::format("has {} bytes, not a whole number of {} samples of {} bytes", bytes.size(), name_of(format), size),
        "is it cut short, or another --format?");
  }
  const detail::Samples samples{bytes,
                                0,
                                bytes.size() / size,
                                size,
                                {.codes = {},
                                 .rate_hz = *options.rate_hz,
                                 .scale_v = options.scale_v.value_or(1),
                                 .offset_v = options.offset_v.value_or(0),
                                 .screen = {}}};
  std::vector<std::string> assumed{fmt::format("bare {} samples", name_of(format)), rate_text(*options.rate_hz)};
  switch (format) {
    case RawFormat::int8:
      return detail::stream_of<std::int8_t>(samples, options, std::move(assumed), std::move(release));
    case RawFormat::uint8:
      return detail::stream_of<std::uint8_t>(samples, options, std::move(assumed), std::move(release));
    case RawFormat::int16le:
      return detail::stream_of<std::int16_t>(samples, options, std::move(assumed), std::move(release));
    case RawFormat::int16be:
      return detail::stream_of<std::int16_t, std::endian::big>(samples, options, std::move(assumed),
                                                               std::move(release));
    case RawFormat::uint16le:
      return detail::stream_of<std::uint16_t>(samples, options, std::move(assumed), std::move(release));
    case RawFormat::uint16be:
      return detail::stream_of<std::uint16_t, std::endian::big>(samples, options, std::move(assumed),
                                                                std::move(release));
    case RawFormat::float32le:
      return detail::stream_of<float>(samples, options, std::move(assumed), std::move(release));
    case RawFormat::float32be:
      return detail::stream_of<float, std::endian::big>(samples, options, std::move(assumed), std::move(release));
    case RawFormat::float64le:
      return detail::stream_of<double>(samples, options, std::move(assumed), std::move(release));
    case RawFormat::float64be:
      return detail::stream_of<double, std::endian::big>(samples, options, std::move(assumed), std::move(release));
  }
  return detail::stream_of<std::int8_t>(samples, options, std::move(assumed), std::move(release));
}

}  // namespace eyelevel::signal
