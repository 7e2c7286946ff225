// SPDX-License-Identifier: Apache-2.0
#include "core/signal/wav.hpp"

#include <fmt/format.h>

#include <cmath>
#include <cstdint>
#include <cstring>
#include <optional>
#include <utility>

#include "core/signal/detail/refusal.hpp"
#include "core/signal/detail/samples.hpp"

namespace eyelevel::signal {

namespace {

constexpr std::uint16_t pcm = 1, ieee_float = 3, extensible = 0xFFFE;
constexpr std::uint32_t not_said = 0xFFFFFFFF;  // a size that stands in "ds64", or that the writer never filled in
constexpr std::size_t riff_header = 12, chunk_header = 8, fmt_least = 16, fmt_extensible = 26;

using Bytes = std::span<const std::byte>;

template <class Number>
Number number_at(Bytes bytes, std::size_t at) {
  Number value;
  std::memcpy(&value, bytes.data() + at, sizeof value);
  return value;
}

bool has_tag(Bytes bytes, std::size_t at, const char* tag) {
  return bytes.size() >= at + 4 && std::memcmp(bytes.data() + at, tag, 4) == 0;
}

struct Header {
  std::uint16_t kind = 0;
  std::size_t channels = 0;
  std::uint32_t rate_hz = 0;
  std::size_t frame_size = 0;  // bytes of one sample of all channels
  std::size_t bits = 0;
  std::size_t data_at = 0;
  std::size_t data_size = 0;
  bool size_is_open = false;  // the writer did not say; the file's end is taken

  std::size_t sample_size() const { return bits / 8; }
};

void read_format(Bytes chunk, std::size_t at, Header& header, const ReadOptions& options) {
  if (chunk.size() < fmt_least) {
    detail::refuse({&options}, fmt::format("byte {}: chunk \"fmt \" has {} bytes, expected {} or more", at,
                                           chunk.size(), fmt_least));
  }
  header.kind = number_at<std::uint16_t>(chunk, 0);
  header.channels = number_at<std::uint16_t>(chunk, 2);
  header.rate_hz = number_at<std::uint32_t>(chunk, 4);
  header.frame_size = number_at<std::uint16_t>(chunk, 12);
  header.bits = number_at<std::uint16_t>(chunk, 14);
  // The first two bytes of the sub-format are the kind it would have had.
  if (header.kind == extensible && chunk.size() >= fmt_extensible) header.kind = number_at<std::uint16_t>(chunk, 24);
  const bool is_known =
      (header.kind == pcm && (header.bits == 8 || header.bits == 16 || header.bits == 24 || header.bits == 32)) ||
      (header.kind == ieee_float && header.bits == 32);
  if (!is_known) {
    detail::refuse(
        {&options},
        fmt::format("holds samples of kind {} with {} bits, expected PCM (1) of 8, 16, 24 or 32 bits or float "
                    "(3) of 32 bits",
                    header.kind, header.bits),
        "save it again as PCM");
  }
  if (header.channels == 0 || header.frame_size != header.channels * header.sample_size()) {
    detail::refuse({&options}, fmt::format("byte {}: {} channels of {} bits cannot lie in frames of {} bytes", at,
                                           header.channels, header.bits, header.frame_size));
  }
}

// Walks the chunks up to the data.
Header read_header(Bytes bytes, const ReadOptions& options) {
  Header header;
  std::optional<std::uint64_t> long_size;
  std::size_t at = riff_header;
  while (bytes.size() - at >= chunk_header) {
    const auto size = number_at<std::uint32_t>(bytes, at + 4);
    const std::size_t body = at + chunk_header;
    const std::size_t there = bytes.size() - body;
    if (has_tag(bytes, at, "data")) {
      if (header.bits == 0)
        detail::refuse({&options}, fmt::format("byte {}: data without a chunk \"fmt \" before", at));
      header.data_at = body;
      header.size_is_open = size == not_said && !long_size;
      const std::uint64_t said = size == not_said ? long_size.value_or(there) : size;
      if (said > there) {
        detail::refuse({&options}, fmt::format("byte {}: {} bytes of samples announced, {} follow", at, said, there),
                       "the file is cut short: copy it again");
      }
      header.data_size = static_cast<std::size_t>(said);
      return header;
    }
    if (size > there) {
      detail::refuse({&options}, fmt::format("byte {}: a chunk of {} bytes announced, {} follow", at, size, there),
                     "the file is cut short: copy it again");
    }
    if (has_tag(bytes, at, "fmt ")) read_format(bytes.subspan(body, size), at, header, options);
    // The sizes of the file, of the data, and of others, 64 bits each.
    if (has_tag(bytes, at, "ds64") && size >= 16) long_size = number_at<std::uint64_t>(bytes, body + 8);
    at = std::min(body + size + (size & 1), bytes.size());
  }
  detail::refuse({&options}, fmt::format("byte {}: ends without a chunk \"data\"", at), "is it cut short?");
}

std::string kind_text(const Header& header) {
  if (header.kind == ieee_float) return "WAV of float32";
  return fmt::format("WAV of {}int{}", header.bits == 8 ? "u" : "", header.bits);
}

// Volts of the file's number 1 and 0.
void set_scale(WaveformView& about, const Header& header, const ReadOptions& options,
               std::vector<std::string>& assumed) {
  about.offset_v = options.offset_v.value_or(0);
  if (options.scale_v) {
    about.scale_v = *options.scale_v;
    return;
  }
  about.scale_v = header.kind == ieee_float ? 1 : std::exp2(1 - static_cast<double>(header.bits));
  // Unsigned codes lie about their middle.
  if (header.bits == 8) about.offset_v -= 128 * about.scale_v;
  assumed.push_back("full scale is 1 V, as no --scale is given");
}

}  // namespace

bool is_wav(Bytes bytes) {
  return (has_tag(bytes, 0, "RIFF") || has_tag(bytes, 0, "RF64")) && has_tag(bytes, 8, "WAVE");
}

std::unique_ptr<SampleStream> open_wav(Bytes bytes, const ReadOptions& options, Release release) {
  detail::require_usable(options);
  if (!is_wav(bytes)) detail::refuse({&options}, "does not begin as a WAV file does (\"RIFF\", size, \"WAVE\")");
  const Header header = read_header(bytes, options);
  const std::size_t channel = detail::chosen_channel(options, header.channels);
  if (header.data_size < header.frame_size) detail::refuse({&options}, "holds no samples");
  if (header.data_size % header.frame_size != 0 && !header.size_is_open) {
    detail::refuse({&options}, fmt::format("byte {}: {} bytes of samples, not a whole number of frames of {} bytes",
                                           header.data_at, header.data_size, header.frame_size));
  }
  if (header.rate_hz == 0 && !options.rate_hz) {
    detail::refuse({&options}, "its header says 0 samples per second", "add --rate with the samples per second");
  }
  std::vector<std::string> assumed{kind_text(header)};
  if (header.size_is_open) assumed.push_back("samples up to the end of the file, as its header leaves open");
  assumed.push_back(fmt::format("channel {} of {}", channel + 1, header.channels));
  detail::Samples samples{.file = bytes,
                          .at = header.data_at + channel * header.sample_size(),
                          .count = header.data_size / header.frame_size,
                          .stride = header.frame_size,
                          .about = {}};
  samples.about.rate_hz = options.rate_hz.value_or(header.rate_hz);
  set_scale(samples.about, header, options, assumed);
  assumed.push_back(rate_text(samples.about.rate_hz));
  if (options.rate_hz && *options.rate_hz != header.rate_hz) {
    assumed.back() += fmt::format(" as --rate says (the header: {})", rate_text(header.rate_hz));
  }
  if (header.kind == ieee_float)
    return detail::stream_of<float>(samples, options, std::move(assumed), std::move(release));
  switch (header.bits) {
    case 8: return detail::stream_of<std::uint8_t>(samples, options, std::move(assumed), std::move(release));
    case 16: return detail::stream_of<std::int16_t>(samples, options, std::move(assumed), std::move(release));
    case 24: return detail::stream_of<detail::Int24>(samples, options, std::move(assumed), std::move(release));
    default: return detail::stream_of<std::int32_t>(samples, options, std::move(assumed), std::move(release));
  }
}

}  // namespace eyelevel::signal
