// SPDX-License-Identifier: Apache-2.0
#include "core/signal/npy.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <cmath>
#include <cstring>
#include <string>
#include <string_view>
#include <utility>

#include "core/base/error.hpp"
#include "core/signal/detail/refusal.hpp"
#include "core/signal/detail/samples.hpp"

namespace eyelevel::signal {

namespace {

constexpr std::string_view magic = "\x93NUMPY";
constexpr std::size_t preamble_size = 8;  // magic, major, minor
constexpr const char* kinds_read = "expected int8, int16, float32 or float64 ('|i1', '<i2', '<f4', '<f8')";

[[noreturn]] void refuse(const ReadOptions& options, std::string message, std::string advice = {}) {
  detail::refuse({&options}, std::move(message), std::move(advice));
}

struct Header {
  std::string kind;         // "|i1", "<f4", ...
  std::size_t count = 0;    // samples
  std::size_t data_at = 0;  // byte of the first sample
};

// Reads the header's dictionary: the text of a Python literal with the keys descr, fortran_order and shape. Nothing is
// evaluated; what is not of this form is refused with the byte where it departs.
class DictionaryReader {
 public:
  DictionaryReader(std::string_view text, std::size_t at_byte, const ReadOptions& options)
      : text_(text), at_byte_(at_byte), options_(options) {}

  void read(Header& into) {
    expect('{');
    while (!take('}')) {
      read_entry(into);
      if (!take(',')) {
        expect('}');
        break;
      }
    }
    skip_blanks();
    if (at_ != text_.size()) fail("nothing after the closing brace");
    if (into.kind.empty()) fail("the key 'descr'");
    if (!has_shape_) fail("the key 'shape'");
  }

 private:
  [[noreturn]] void fail(std::string_view wanted) const {
    refuse(options_,
           fmt::format("byte {}: the .npy header reads \"{}\", expected {}", at_byte_ + at_,
                       base::escaped(text_.substr(std::min(at_, text_.size())), 40), wanted),
           "write the array again with numpy.save");
  }
  void skip_blanks() {
    while (at_ < text_.size() && (text_[at_] == ' ' || text_[at_] == '\n' || text_[at_] == '\t')) ++at_;
  }
  bool take(char c) {
    skip_blanks();
    if (at_ >= text_.size() || text_[at_] != c) return false;
    ++at_;
    return true;
  }
  void expect(char c) {
    if (!take(c)) fail(fmt::format("'{}'", c));
  }
  bool take_word(std::string_view word) {
    skip_blanks();
    if (text_.substr(at_, word.size()) != word) return false;
    at_ += word.size();
    return true;
  }
  std::string quoted() {
    skip_blanks();
    if (at_ >= text_.size() || (text_[at_] != '\'' && text_[at_] != '"')) fail("a quoted word");
    const std::size_t end = text_.find(text_[at_], at_ + 1);
    if (end == std::string_view::npos) fail("a closing quote");
    std::string word(text_.substr(at_ + 1, end - at_ - 1));
    at_ = end + 1;
    return word;
  }
  void read_entry(Header& into) {
    const std::string key = quoted();
    expect(':');
    if (key == "descr") {
      skip_blanks();
      if (at_ < text_.size() && text_[at_] == '[') {
        refuse(options_, fmt::format("holds records of several fields; {}", kinds_read), "save one field as an array");
      }
      into.kind = quoted();
    } else if (key == "fortran_order") {
      if (!take_word("True") && !take_word("False")) fail("True or False");
    } else if (key == "shape") {
      into.count = read_shape();
    } else {
      fail(fmt::format("one of the keys 'descr', 'fortran_order', 'shape', not '{}'", base::escaped(key, 40)));
    }
  }
  std::size_t read_shape() {
    expect('(');
    const std::size_t from = at_;
    std::size_t count = 1;
    int beyond_one = 0;
    int dimensions = 0;
    while (!take(')')) {
      const std::size_t extent = natural();
      ++dimensions;
      beyond_one += extent != 1;
      if (extent == 0) refuse(options_, "holds no samples: an axis of its shape is 0");
      if (extent > SIZE_MAX / 8 / count) fail("a shape that fits into memory");
      count *= extent;
      if (!take(',')) {
        expect(')');
        break;
      }
    }
    if (dimensions == 0 || beyond_one > 1) {
      refuse(options_,
             fmt::format("holds an array of shape ({}; expected one row of samples", text_.substr(from, at_ - from)),
             "save one channel as an array of one dimension");
    }
    has_shape_ = true;
    return count;
  }
  std::size_t natural() {
    skip_blanks();
    std::size_t value = 0;
    const std::size_t from = at_;
    while (at_ < text_.size() && text_[at_] >= '0' && text_[at_] <= '9') {
      if (value > (SIZE_MAX - 9) / 10) fail("a shape that fits into memory");
      value = value * 10 + static_cast<std::size_t>(text_[at_++] - '0');
    }
    if (at_ == from) fail("a count of samples");
    return value;
  }

  std::string_view text_;
  std::size_t at_ = 0;
  std::size_t at_byte_;
  const ReadOptions& options_;
  bool has_shape_ = false;
};

Header read_header(std::span<const std::byte> bytes, const ReadOptions& options) {
  const auto byte_at = [&](std::size_t i) { return std::to_integer<std::size_t>(bytes[i]); };
  if (!is_npy(bytes)) refuse(options, "byte 0: is no .npy file, it does not begin with \\x93NUMPY");
  if (bytes.size() < preamble_size) refuse(options, fmt::format("is cut off after {} bytes", bytes.size()));
  const std::size_t version = byte_at(6);
  if (version < 1 || version > 3) {
    refuse(options, fmt::format("byte 6: .npy version {}.{}, expected 1, 2 or 3", version, byte_at(7)));
  }
  const std::size_t length_size = version == 1 ? 2 : 4;
  const std::size_t text_at = preamble_size + length_size;
  if (bytes.size() < text_at)
    refuse(options, fmt::format("is cut off after {} bytes, inside its header", bytes.size()));
  std::size_t length = 0;
  for (std::size_t i = 0; i < length_size; ++i) length |= byte_at(preamble_size + i) << (8 * i);
  if (length > bytes.size() - text_at) {
    refuse(options, fmt::format("byte {}: header of {} bytes announced, {} bytes follow", preamble_size, length,
                                bytes.size() - text_at));
  }
  Header header;
  header.data_at = text_at + length;
  DictionaryReader({reinterpret_cast<const char*>(bytes.data()) + text_at, length}, text_at, options).read(header);
  return header;
}

std::size_t sample_size(const Header& header, const ReadOptions& options) {
  const std::string_view kind = header.kind;
  const bool ordered = !kind.empty() && (kind[0] == '<' || kind[0] == '>' || kind[0] == '=');
  if (kind == "|i1" || kind == "i1" || (ordered && kind.substr(1) == "i1")) return 1;
  if (ordered && kind.substr(1) == "i2") return 2;
  if (ordered && kind.substr(1) == "f4") return 4;
  if (ordered && kind.substr(1) == "f8") return 8;
  if (kind == "|O") refuse(options, fmt::format("holds Python objects, which are never opened; {}", kinds_read));
  refuse(options, fmt::format("holds samples of kind '{}'; {}", base::escaped(kind, 40), kinds_read),
         "convert the array with astype before saving it");
}

WaveformView scale_of(std::size_t size, const ReadOptions& options) {
  if (!options.rate_hz) {
    refuse(options, "an .npy file does not carry its sample rate", "add --rate with the samples per second");
  }
  if (size <= 2 && !options.scale_v) {
    refuse(options, fmt::format("holds int{} codes and nothing says what a code is worth", 8 * size),
           "add --scale with the volts per code, and --offset with the volts of code 0");
  }
  WaveformView about;
  about.rate_hz = *options.rate_hz;
  about.scale_v = options.scale_v.value_or(1);
  about.offset_v = options.offset_v.value_or(0);
  return about;
}

}  // namespace

bool is_npy(std::span<const std::byte> bytes) {
  return bytes.size() >= magic.size() && std::memcmp(bytes.data(), magic.data(), magic.size()) == 0;
}

std::unique_ptr<SampleStream> open_npy(std::span<const std::byte> bytes, const ReadOptions& options, Release release) {
  detail::require_usable(options);
  detail::chosen_channel(options, 1);
  const Header header = read_header(bytes, options);
  const std::size_t size = sample_size(header, options);
  const std::size_t there = bytes.size() - header.data_at;
  if (there != header.count * size) {
    refuse(options,
           fmt::format("byte {}: {} samples of {} bytes need {} bytes, {} follow the header", header.data_at,
                       header.count, size, header.count * size, there),
           there < header.count * size ? "the file is cut short: copy it again" : "save one array per file");
  }
  const detail::Samples samples{
      .file = bytes, .at = header.data_at, .count = header.count, .stride = size, .about = scale_of(size, options)};
  const auto stream = [&]<class Sample>(Sample) {
    return header.kind[0] == '>' ? detail::stream_of<Sample, std::endian::big>(samples, options, {}, std::move(release))
                                 : detail::stream_of<Sample>(samples, options, {}, std::move(release));
  };
  switch (size) {
    case 1: return detail::stream_of<std::int8_t>(samples, options, {}, std::move(release));
    case 2: return stream(std::int16_t{});
    case 4: return stream(float{});
    default: return stream(double{});
  }
}

std::vector<std::byte> write_npy(const WaveformView& waveform) {
  constexpr std::size_t alignment = 64;
  return std::visit(
      [](const auto& codes) {
        using Code = std::remove_cv_t<typename std::remove_cvref_t<decltype(codes)>::element_type>;
        constexpr const char* kind = std::is_floating_point_v<Code> ? "<f4" : sizeof(Code) == 1 ? "|i1" : "<i2";
        std::string text =
            fmt::format("{{'descr': '{}', 'fortran_order': False, 'shape': ({},), }}", kind, codes.size());
        const std::size_t before = preamble_size + 2;
        const std::size_t whole = (before + text.size() + 1 + alignment - 1) / alignment * alignment;
        text.resize(whole - before - 1, ' ');
        text += '\n';
        std::vector<std::byte> out(whole + codes.size_bytes());
        std::memcpy(out.data(), magic.data(), magic.size());
        out[6] = std::byte{1};
        out[8] = static_cast<std::byte>(text.size() & 0xff);
        out[9] = static_cast<std::byte>(text.size() >> 8);
        std::memcpy(out.data() + before, text.data(), text.size());
        if (!codes.empty()) std::memcpy(out.data() + whole, codes.data(), codes.size_bytes());
        return out;
      },
      waveform.codes);
}

}  // namespace eyelevel::signal
