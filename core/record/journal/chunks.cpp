// SPDX-License-Identifier: Apache-2.0
#include "core/record/journal/chunks.hpp"

#include <fmt/format.h>
#include <zstd.h>

#include <bit>
#include <memory>
#include <string>

#include "core/base/error.hpp"

namespace eyelevel::record {

static_assert(std::endian::native == std::endian::little, "samples are stored as they lie in memory");

namespace {

struct FreeCompressor {
  void operator()(ZSTD_CCtx* c) const { ZSTD_freeCCtx(c); }
};

[[noreturn]] void damaged(const std::string& why) {
  throw base::Error(base::ErrorCode::bad_input, "stored samples are damaged: " + why);
}

std::size_t checked(std::size_t result) {
  if (ZSTD_isError(result) != 0U) damaged(ZSTD_getErrorName(result));
  return result;
}

template <class T>
signal::Codes unpack_as(std::uint64_t samples, std::span<const Chunk> chunks) {
  // The chunks tell how much memory is needed, never the count alone: a file may claim anything.
  std::uint64_t total = 0;
  for (const Chunk& chunk : chunks) {
    const auto size = ZSTD_getFrameContentSize(chunk.data(), chunk.size());
    if (size == ZSTD_CONTENTSIZE_ERROR || size == ZSTD_CONTENTSIZE_UNKNOWN || size > chunk_size_bytes) {
      damaged("a chunk that does not state its size");
    }
    total += size;
  }
  if (total % sizeof(T) != 0 || total / sizeof(T) != samples) {
    damaged(fmt::format("expected {} samples of {} bytes, found {} bytes", samples, sizeof(T), total));
  }
  std::vector<T> codes(samples);
  const auto bytes = std::as_writable_bytes(std::span(codes));
  std::size_t at = 0;
  for (const Chunk& chunk : chunks) {
    at += checked(ZSTD_decompress(bytes.data() + at, bytes.size() - at, chunk.data(), chunk.size()));
  }
  if (at != bytes.size()) damaged("a chunk shorter than it states");
  return codes;
}

}  // namespace

std::vector<Chunk> pack(const signal::Codes& codes) {
  return pack(std::visit([](const auto& c) { return std::as_bytes(std::span(c)); }, codes));
}

std::vector<Chunk> pack(std::span<const std::byte> bytes) {
  const std::unique_ptr<ZSTD_CCtx, FreeCompressor> compressor(ZSTD_createCCtx());
  ZSTD_CCtx_setParameter(compressor.get(), ZSTD_c_checksumFlag, 1);
  std::vector<Chunk> chunks;
  for (std::size_t at = 0; at < bytes.size(); at += chunk_size_bytes) {
    const auto piece = bytes.subspan(at, std::min(chunk_size_bytes, bytes.size() - at));
    Chunk chunk(ZSTD_compressBound(piece.size()));
    chunk.resize(checked(ZSTD_compress2(compressor.get(), chunk.data(), chunk.size(), piece.data(), piece.size())));
    chunk.shrink_to_fit();
    chunks.push_back(std::move(chunk));
  }
  return chunks;
}

std::string unpack_bytes(std::uint64_t size_bytes, std::span<const Chunk> chunks) {
  const auto bytes = std::get<std::vector<std::int8_t>>(unpack_as<std::int8_t>(size_bytes, chunks));
  return {bytes.begin(), bytes.end()};
}

signal::Codes unpack(std::string_view type, std::uint64_t samples, std::span<const Chunk> chunks) {
  if (type == "int8") return unpack_as<std::int8_t>(samples, chunks);
  if (type == "int16") return unpack_as<std::int16_t>(samples, chunks);
  if (type == "float32") return unpack_as<float>(samples, chunks);
  damaged(fmt::format("sample type \"{}\", expected int8, int16 or float32", type));
}

}  // namespace eyelevel::record
