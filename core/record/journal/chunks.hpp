// SPDX-License-Identifier: Apache-2.0
// Samples of a capture as compressed chunks: little-endian codes as they came, cut every 1 MiB, each piece one zstd
// frame (RFC 8878) with its checksum. What the chunks hold is told by the capture's JSON; chunks from a file are not
// trusted for a length. Where samples were thinned out of the record, one chunk of no bytes says so.
#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "core/signal/waveform.hpp"

namespace eyelevel::record {

using Chunk = std::vector<std::byte>;

inline constexpr std::size_t chunk_size_bytes = std::size_t{1} << 20;

std::vector<Chunk> pack(const signal::Codes& codes);
std::vector<Chunk> pack(std::span<const std::byte> bytes);

// Throws Error(bad_input) when the chunks are damaged or do not hold exactly `samples` codes of `type` ("int8",
// "int16", "float32").
std::string unpack_bytes(std::uint64_t size_bytes, std::span<const Chunk> chunks);
signal::Codes unpack(std::string_view type, std::uint64_t samples, std::span<const Chunk> chunks);

}  // namespace eyelevel::record
