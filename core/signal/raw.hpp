// SPDX-License-Identifier: Apache-2.0
// Bare samples without a header: the user says how they are written. One channel. int8, int16le and float32le samples
// stay in the caller's bytes; the others are copied block by block, 1 byte a sample for uint8, 2 for the 16-bit ones, 4
// for the rest.
#pragma once

#include <cstddef>
#include <memory>
#include <span>
#include <string_view>

#include "core/signal/stored.hpp"

namespace eyelevel::signal {

// "int8", "int16le", ...; throws Error(bad_input) with the names there are. int16 and float32 alone are little-endian.
RawFormat raw_format_named(std::string_view name);
std::string_view name_of(RawFormat format);

// options.format and options.rate_hz must be there, options.scale_v for integers; else Error(bad_input). Volts are the
// file's number times scale plus offset, with unsigned numbers taken as they are.
std::unique_ptr<SampleStream> open_raw(std::span<const std::byte> bytes, const ReadOptions& options,
                                       Release release = {});

}  // namespace eyelevel::signal
