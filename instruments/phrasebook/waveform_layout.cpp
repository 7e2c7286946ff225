// SPDX-License-Identifier: Apache-2.0
#include "instruments/phrasebook/waveform_layout.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstring>
#include <optional>
#include <type_traits>
#include <utility>

#include "core/base/error.hpp"
#include "core/quantity/text.hpp"
#include "core/quantity/trimmed.hpp"
#include "core/yaml/fields.hpp"
#include "instruments/scpi/error.hpp"
#include "instruments/scpi/message/number.hpp"

namespace eyelevel::phrasebook {
namespace {

constexpr std::size_t most_fields = 64;
constexpr std::size_t most_header_bytes = 4096;

using quantity::trimmed;
using yaml::Type;

struct Place {
  std::string_view key;
  std::string WaveformLayout::* place;
  bool required;
  std::string_view help;
};

constexpr std::array places{
    Place{"field of points", &WaveformLayout::points, true, "how many points the record has"},
    Place{"field of interval", &WaveformLayout::interval, true, "seconds from point to point"},
    Place{"field of step", &WaveformLayout::step, true, "volts from code to code"},
    Place{"field of reference code", &WaveformLayout::reference_code, false, "code that stands for the origin"},
    Place{"field of origin code", &WaveformLayout::origin_code, false, "taken from the code as well"},
    Place{"field of origin volts", &WaveformLayout::origin_volts, false, "volts of the origin"},
};

// The fields between commas and semicolons; both may stand in quotes.
std::vector<std::string_view> fields_of(std::string_view header) {
  std::vector<std::string_view> fields;
  std::size_t begin = 0;
  char quote = '\0';
  for (std::size_t i = 0; i <= header.size(); ++i) {
    const bool at_end = i == header.size();
    const char c = at_end ? '\0' : header[i];
    if (!at_end && quote != '\0') {
      if (c == quote) quote = '\0';
    } else if (!at_end && (c == '"' || c == '\'')) {
      quote = c;
    } else if (at_end || c == ',' || c == ';') {
      if (fields.size() == most_fields) break;
      fields.push_back(trimmed(header.substr(begin, i - begin)));
      begin = i + 1;
    }
  }
  return fields;
}

bool same_word(std::string_view a, std::string_view b) {
  const auto upper = [](char c) { return c >= 'a' && c <= 'z' ? static_cast<char>(c - 'a' + 'A') : c; };
  return std::equal(a.begin(), a.end(), b.begin(), b.end(), [&](char x, char y) { return upper(x) == upper(y); });
}

[[noreturn]] void refuse(std::string_view header, std::string message) {
  base::ErrorRecord record;
  record.code = base::ErrorCode::bad_answer;
  record.message = std::move(message);
  record.received = std::string(header.substr(0, most_header_bytes));
  record.advice = "is this the right phrasebook for the instrument?";
  throw base::Error(std::move(record));
}

class HeaderReader {
 public:
  HeaderReader(std::string_view header, WaveformLayout::Header form)
      : header_(header), form_(form), fields_(fields_of(header)) {}

  double value(std::string_view what, const std::string& place) const {
    if (place.empty()) return 0;
    const std::string_view text =
        form_ == WaveformLayout::Header::numbered ? by_number(what, place) : by_key(what, place);
    std::optional<double> value;
    try {
      std::size_t used = 0;
      const double number = scpi::parse_nrf(text, used);
      if (used > 0 && used == text.size() && std::isfinite(number)) value = number;
    } catch (const scpi::CommandError&) {
      value.reset();  // told below, as whatever else is no number
    }
    if (!value)
      refuse(header_,
             fmt::format("waveform header: {} (field {}) is no number: '{}'", what, place, base::escaped(text, 60)));
    return *value;
  }

 private:
  std::string_view by_number(std::string_view what, const std::string& place) const {
    const auto number = quantity::parse_count(place);
    if (!number || *number < 1 || *number > static_cast<long long>(fields_.size()))
      refuse(header_, fmt::format("waveform header: {} is field {}, but only {} came", what, place, fields_.size()));
    return fields_[static_cast<std::size_t>(*number - 1)];
  }

  std::string_view by_key(std::string_view what, const std::string& place) const {
    for (const std::string_view field : fields_) {
      const std::size_t space = field.find(' ');
      if (space != std::string_view::npos && same_word(field.substr(0, space), place))
        return trimmed(field.substr(space));
    }
    refuse(header_, fmt::format("waveform header: {} has the key {}, which did not come", what, place));
  }

  std::string_view header_;
  WaveformLayout::Header form_;
  std::vector<std::string_view> fields_;
};

void read_places(const yaml::Node& root, WaveformLayout& layout, yaml::Mistakes& mistakes) {
  for (const Place& place : places) {
    const yaml::Node* node = root.find(place.key);
    if (node == nullptr) {
      if (place.required)
        mistakes.add(root.mark, fmt::format("'{}' is missing beside 'header fields'", place.key),
                     fmt::format("write {}: 5, or the key that stands there", place.key));
      continue;
    }
    const auto number = quantity::parse_count(node->text);
    const bool fine = layout.header == WaveformLayout::Header::numbered
                          ? number && *number >= 1 && *number <= static_cast<long long>(most_fields)
                          : !node->text.empty() && node->text.find_first_of(" ,;\"'") == std::string::npos;
    if (!fine) {
      mistakes.add(node->mark, fmt::format("'{}': '{}' is no place in such a header", place.key, node->text),
                   layout.header == WaveformLayout::Header::numbered ? "write the number of the field, from 1"
                                                                     : "write the key that stands before the value");
      continue;
    }
    layout.*(place.place) = node->text;
  }
}

template <class Code>
void append(std::string_view bytes, bool is_signed, bool low_first, std::vector<Code>& into) {
  using Bits = std::make_unsigned_t<Code>;
  constexpr Bits sign = static_cast<Bits>(Bits{1} << (8 * sizeof(Code) - 1));
  const Bits flip = is_signed ? Bits{0} : sign;
  const std::size_t count = bytes.size() / sizeof(Code);
  const std::size_t before = into.size();
  into.resize(before + count);
  for (std::size_t i = 0; i < count; ++i) {
    Bits bits = 0;
    for (std::size_t k = 0; k < sizeof(Code); ++k) {
      const std::size_t place = low_first ? k : sizeof(Code) - 1 - k;
      const auto byte = static_cast<unsigned char>(bytes[i * sizeof(Code) + k]);
      bits = static_cast<Bits>(bits | static_cast<Bits>(byte << (8 * place)));
    }
    into[before + i] = static_cast<Code>(bits ^ flip);
  }
}

template <class Code>
std::vector<Code> emptied(std::int64_t points, signal::Codes& spare) {
  std::vector<Code> codes;
  if (auto* same = std::get_if<std::vector<Code>>(&spare)) codes = std::move(*same);
  codes.clear();
  codes.reserve(static_cast<std::size_t>(points));
  return codes;
}

}  // namespace

const std::vector<yaml::Key>& layout_keys() {
  static const std::vector<yaml::Key> keys = [] {
    std::vector<yaml::Key> all{{.name = "header fields",
                                .type = Type::word,
                                .help = "how the fields of a waveform header are found: by number or by key",
                                .example = "numbered",
                                .choices = {"numbered", "keyed"}}};
    for (const Place& place : places)
      all.push_back({.name = std::string(place.key),
                     .type = Type::text,
                     .help = "where in the waveform header: " + std::string(place.help),
                     .example = "5"});
    const std::vector<yaml::Key> rest{
        {.name = "codes are",
         .type = Type::word,
         .help = "what the integers of a block are",
         .example = "unsigned",
         .choices = {"signed", "unsigned"}},
        {.name = "bits per code", .type = Type::count, .help = "8 or 16", .example = "8"},
        {.name = "bytes come",
         .type = Type::word,
         .help = "order of the bytes of a code where it cannot be set",
         .example = "low first",
         .choices = {"low first", "high first"}},
        {.name = "points per read",
         .type = Type::count,
         .help = "most points that one block may carry; left out: all of them",
         .example = "250000"},
        {.name = "first point is", .type = Type::count, .help = "0 or 1: how points are counted", .example = "1"},
        {.name = "points at most",
         .type = Type::count,
         .help = "of a record, where the instrument cannot be asked",
         .example = "1000000"},
        {.name = "rate at most",
         .type = Type::quantity,
         .dimension = quantity::sample_rate,
         .help = "where the instrument cannot be asked",
         .example = "500 MSa/s"},
        {.name = "pause after settings",
         .type = Type::quantity,
         .dimension = quantity::time,
         .help = "what the instrument needs before it reads back what it was told",
         .example = "20 ms"}};
    all.insert(all.end(), rest.begin(), rest.end());
    return all;
  }();
  return keys;
}

WaveformLayout read_layout(const yaml::Node& root, yaml::Mistakes& mistakes) {
  WaveformLayout layout;
  const yaml::Fields fields(root);
  const auto mistake = [&](std::string_view key, std::string found, std::string fix) {
    mistakes.add(root.find(key)->mark, fmt::format("'{}': {}", key, found), std::move(fix));
  };
  const double pause_s = fields.quantity("pause after settings", quantity::time).value_or(0);
  if (!(pause_s >= 0 && pause_s <= 10)) {
    mistake("pause after settings", "expected 0 s to 10 s", "write pause after settings: 20 ms");
  } else {
    layout.pause = base::from_seconds(pause_s);
  }
  layout.points_most = fields.count("points at most").value_or(0);
  layout.rate_hz_most = fields.quantity("rate at most", quantity::sample_rate).value_or(0);
  const auto form = fields.text("header fields");
  if (!form) return layout;
  layout.header = *form == "keyed" ? WaveformLayout::Header::keyed : WaveformLayout::Header::numbered;
  read_places(root, layout, mistakes);
  for (const std::string_view key : {"codes are", "bits per code"})
    if (!fields.has(key))
      mistakes.add(root.mark, fmt::format("'{}' is missing beside 'header fields'", key),
                   key == "codes are" ? "write codes are: unsigned" : "write bits per code: 8");
  layout.is_signed = fields.text("codes are").value_or("signed") == "signed";
  const auto bits = fields.count("bits per code").value_or(8);
  if (bits != 8 && bits != 16) mistake("bits per code", fmt::format("{} bits are not known", bits), "write 8 or 16");
  layout.bits = bits == 16 ? 16 : 8;
  layout.low_byte_first = fields.text("bytes come").value_or("low first") == "low first";
  layout.points_per_read = fields.count("points per read").value_or(0);
  layout.first_point = fields.count("first point is").value_or(1);
  if (layout.first_point > 1) mistake("first point is", "expected 0 or 1", "write how the handbook counts points");
  return layout;
}

WaveformScale scale_from(std::string_view header, const WaveformLayout& layout) {
  if (header.size() > most_header_bytes)
    refuse(header, fmt::format("a waveform header of {} bytes; {} are the most", header.size(), most_header_bytes));
  const HeaderReader reader(header, layout.header);
  WaveformScale scale;
  const double points = reader.value("points", layout.points);
  scale.interval_s = reader.value("interval", layout.interval);
  scale.step_v = reader.value("step", layout.step);
  scale.code_of_origin =
      reader.value("reference code", layout.reference_code) + reader.value("origin code", layout.origin_code);
  scale.origin_v = reader.value("origin volts", layout.origin_volts);
  if (!(points >= 0 && points <= 1e9)) refuse(header, fmt::format("waveform header: {:g} points", points));
  scale.points = std::llround(points);
  if (!(scale.interval_s > 0)) refuse(header, fmt::format("waveform header: an interval of {:g} s", scale.interval_s));
  if (scale.step_v == 0) refuse(header, "waveform header: a step of 0 V");
  return scale;
}

signal::Codes codes_for(const WaveformLayout& layout, std::int64_t points, signal::Codes spare) {
  if (layout.bits == 16) return emptied<std::int16_t>(points, spare);
  return emptied<std::int8_t>(points, spare);
}

void append_codes(std::string_view bytes, const WaveformLayout& layout, signal::Codes& into) {
  if (layout.bits == 16) {
    append(bytes, layout.is_signed, layout.low_byte_first, std::get<std::vector<std::int16_t>>(into));
  } else {
    append(bytes, layout.is_signed, true, std::get<std::vector<std::int8_t>>(into));
  }
}

void set_scale(const WaveformScale& scale, const WaveformLayout& layout, signal::Waveform& into) {
  // Unsigned codes were moved down by half their span.
  const double moved = layout.is_signed ? 0 : layout.bits == 16 ? 32768 : 128;
  into.scale_v = scale.step_v;
  into.offset_v = scale.origin_v + (moved - scale.code_of_origin) * scale.step_v;
}

}  // namespace eyelevel::phrasebook
