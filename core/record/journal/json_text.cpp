// SPDX-License-Identifier: Apache-2.0
#include "core/record/journal/json_text.hpp"

#include <boost/json/array.hpp>
#include <boost/json/basic_parser_impl.hpp>
#include <boost/json/object.hpp>
#include <boost/json/serialize.hpp>
#include <boost/json/string.hpp>
#include <boost/json/value_stack.hpp>

#include <fmt/format.h>

#include <charconv>
#include <cmath>

#include "core/base/error.hpp"

namespace eyelevel::record {
namespace json = boost::json;

namespace {

// Builds a value as Boost's own parser does, but takes a number from its digits.
struct Builder {
  static constexpr std::size_t max_object_size = json::object::max_size();
  static constexpr std::size_t max_array_size = json::array::max_size();
  static constexpr std::size_t max_key_size = json::string::max_size();
  static constexpr std::size_t max_string_size = json::string::max_size();

  json::value_stack stack;
  std::string digits;

  bool on_document_begin(json::error_code&) { return true; }
  bool on_document_end(json::error_code&) { return true; }
  bool on_object_begin(json::error_code&) { return true; }
  bool on_object_end(std::size_t n, json::error_code&) { return stack.push_object(n), true; }
  bool on_array_begin(json::error_code&) { return true; }
  bool on_array_end(std::size_t n, json::error_code&) { return stack.push_array(n), true; }
  bool on_key_part(json::string_view s, std::size_t, json::error_code&) { return stack.push_chars(s), true; }
  bool on_key(json::string_view s, std::size_t, json::error_code&) { return stack.push_key(s), true; }
  bool on_string_part(json::string_view s, std::size_t, json::error_code&) { return stack.push_chars(s), true; }
  bool on_string(json::string_view s, std::size_t, json::error_code&) { return stack.push_string(s), true; }
  bool on_number_part(json::string_view s, json::error_code&) { return digits.append(s.data(), s.size()), true; }
  bool on_int64(std::int64_t i, json::string_view, json::error_code&) { return digits.clear(), push(i); }
  bool on_uint64(std::uint64_t u, json::string_view, json::error_code&) { return digits.clear(), push(u); }
  bool on_double(double nearly, json::string_view s, json::error_code&) {
    digits.append(s.data(), s.size());
    double exact = nearly;
    std::from_chars(digits.data(), digits.data() + digits.size(), exact);
    digits.clear();
    return push(exact);
  }
  bool on_bool(bool b, json::error_code&) { return stack.push_bool(b), true; }
  bool on_null(json::error_code&) { return stack.push_null(), true; }
  bool on_comment_part(json::string_view, json::error_code&) { return true; }
  bool on_comment(json::string_view, json::error_code&) { return true; }

 private:
  bool push(std::int64_t i) { return stack.push_int64(i), true; }
  bool push(std::uint64_t u) { return stack.push_uint64(u), true; }
  bool push(double d) { return stack.push_double(d), true; }
};

void write_number(double d, std::string& out) {
  if (!std::isfinite(d)) {
    out += "null";
  } else {
    fmt::format_to(std::back_inserter(out), "{}", d);
  }
}

class Writer {
 public:
  Writer(std::string& out, Layout layout) : out_(out), indented_(layout == Layout::indented) {}

  void write(const json::value& value) {
    if (const auto* object = value.if_object()) {
      list('{', '}', *object, [this](const json::key_value_pair& entry) {
        out_ += json::serialize(json::string_view(entry.key()));
        out_ += indented_ ? ": " : ":";
        write(entry.value());
      });
    } else if (const auto* array = value.if_array()) {
      list('[', ']', *array, [this](const json::value& item) { write(item); });
    } else if (const auto* number = value.if_double()) {
      write_number(*number, out_);
    } else {
      out_ += json::serialize(value);
    }
  }

 private:
  template <class List, class Each>
  void list(char open, char close, const List& items, Each each) {
    out_ += open;
    ++depth_;
    bool first = true;
    for (const auto& item : items) {
      if (!first) out_ += ',';
      first = false;
      new_line();
      each(item);
    }
    --depth_;
    if (!first) new_line();
    out_ += close;
  }
  void new_line() {
    if (indented_) out_.append("\n").append(2 * depth_, ' ');
  }

  std::string& out_;
  bool indented_;
  std::size_t depth_ = 0;
};

// Length of the well-formed UTF-8 sequence at the start of `text` (Unicode 15, table 3-7), 0 if there is none.
std::size_t sequence_length(std::string_view text) {
  const auto byte = [&](std::size_t i) { return i < text.size() ? static_cast<unsigned char>(text[i]) : 0U; };
  const auto within = [&](std::size_t i, unsigned low, unsigned high) { return byte(i) >= low && byte(i) <= high; };
  const auto tail = [&](std::size_t i) { return within(i, 0x80, 0xBF); };
  const unsigned lead = byte(0);
  if (lead < 0x80) return 1;
  if (lead >= 0xC2 && lead <= 0xDF) return tail(1) ? 2 : 0;
  if (lead >= 0xE0 && lead <= 0xEF) {
    const bool second = within(1, lead == 0xE0 ? 0xA0 : 0x80, lead == 0xED ? 0x9F : 0xBF);
    return second && tail(2) ? 3 : 0;
  }
  if (lead >= 0xF0 && lead <= 0xF4) {
    const bool second = within(1, lead == 0xF0 ? 0x90 : 0x80, lead == 0xF4 ? 0x8F : 0xBF);
    return second && tail(2) && tail(3) ? 4 : 0;
  }
  return 0;
}

}  // namespace

std::string text_of(const json::value& value, Layout layout) {
  std::string out;
  Writer(out, layout).write(value);
  return out;
}

json::value parse_json(std::string_view text, std::string_view what) {
  json::basic_parser<Builder> parser{json::parse_options{}};
  json::error_code error;
  const std::size_t used = parser.write_some(false, text.data(), text.size(), error);
  if (!error && used < text.size()) error = json::error::extra_data;
  if (error || !parser.done()) {
    throw base::Error(base::ErrorCode::bad_input,
                      fmt::format("{}: this is no JSON: {}", what, error ? error.message() : "it ends too early"));
  }
  return parser.handler().stack.release();
}

std::string clean_utf8(std::string_view text) {
  std::string out;
  out.reserve(text.size());
  while (!text.empty()) {
    const std::size_t length = sequence_length(text);
    out += length > 0 ? text.substr(0, length) : std::string_view("\xEF\xBF\xBD");
    text.remove_prefix(std::max<std::size_t>(length, 1));
  }
  return out;
}

}  // namespace eyelevel::record
