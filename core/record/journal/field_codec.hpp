// SPDX-License-Identifier: Apache-2.0
// Structs with a table of their fields (Fields<T>, event_fields.hpp) as JSON and back: what events and the entries of
// the books have in common. A field that is absent keeps its value; one of a wrong type is Error(bad_input) naming it.
#pragma once

#include <boost/json/array.hpp>
#include <boost/json/object.hpp>
#include <boost/json/string.hpp>
#include <boost/json/value.hpp>

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <concepts>
#include <limits>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <type_traits>
#include <vector>

#include "core/record/journal/event_fields.hpp"
#include "core/record/journal/json_text.hpp"

namespace eyelevel::record::codec {
namespace json = boost::json;
using base::Error;
using base::ErrorCode;

template <class T>
concept Described = requires { sizeof(Fields<T>); };

template <class E>
struct Names;
template <>
struct Names<metrology::Judgement> {
  static constexpr std::array<std::string_view, 3> list{"pass", "fail", "undecided"};
};
template <>
struct Names<metrology::Shape> {
  static constexpr std::array<std::string_view, 4> list{"normal", "rectangular", "triangular", "arcsine"};
};

[[noreturn]] inline void wrong(std::string_view key, std::string_view expected) {
  throw Error(ErrorCode::bad_input, fmt::format("\"{}\": expected {}", key, expected));
}

// ---- writing

inline json::value json_of(const std::string& text) { return json::string(clean_utf8(text)); }
inline json::value json_of(char c) { return json::string(1, c); }
json::value json_of(std::integral auto i) { return i; }
inline json::value json_of(double d) {
  if (std::isfinite(d)) return d;
  return std::isnan(d) ? "nan" : d > 0 ? "infinity" : "-infinity";
}
inline json::value json_of(ErrorCode code) { return json::string_view(base::name_of(code)); }
template <class E>
  requires std::is_enum_v<E> && requires { Names<E>::list; }
json::value json_of(E value) {
  return json::string_view(Names<E>::list.at(static_cast<std::size_t>(value)));
}
template <Described T>
json::value json_of(const T& value);
template <class T>
json::value json_of(const std::optional<T>& value) {
  return value ? json_of(*value) : json::value(nullptr);
}
template <class T>
json::value json_of(const std::vector<T>& list) {
  json::array out;
  for (const T& item : list) out.push_back(json_of(item));
  return out;
}

inline std::string_view type_name(const signal::Codes& codes) {
  constexpr std::array<std::string_view, 3> names{"int8", "int16", "float32"};
  return names.at(codes.index());
}

struct Write {
  json::object out;

  template <class T>
  void operator()(json::string_view key, const T& value) {
    out[key] = json_of(value);
  }
  void bytes(json::string_view key, const std::string& raw) {
    std::string utf8;
    for (const char c : raw) {
      const auto byte = static_cast<unsigned char>(c);
      if (byte < 0x80) {
        utf8 += c;
      } else {
        utf8 += static_cast<char>(0xC0 | (byte >> 6));
        utf8 += static_cast<char>(0x80 | (byte & 0x3F));
      }
    }
    out[key] = json::string(utf8);
  }
  void waveform(json::string_view key, const std::shared_ptr<const signal::Waveform>& w, std::uint64_t left_out) {
    if (!w) {
      out[key] = nullptr;
      return;
    }
    json::object form{{"type", json::string_view(type_name(w->codes))},
                      {"samples", w->size() + left_out},
                      {"rate_hz", json_of(w->rate_hz)},
                      {"scale_v", json_of(w->scale_v)},
                      {"offset_v", json_of(w->offset_v)},
                      {"start_s", json_of(w->start_s)},
                      {"screen", nullptr}};
    if (w->screen) {
      form["screen"] = json::object{{"low_v", json_of(w->screen->low_v)}, {"high_v", json_of(w->screen->high_v)}};
    }
    out[key] = std::move(form);
  }
};

template <Described T>
json::value json_of(const T& value) {
  Write write;
  Fields<T>::walk(write, value);
  return std::move(write.out);
}

// ---- reading

inline void take(std::string_view key, const json::value& in, std::string& to) {
  const auto* text = in.if_string();
  if (text == nullptr) wrong(key, "a text");
  to.assign(text->data(), text->size());
}
inline void take(std::string_view key, const json::value& in, char& to) {
  const auto* text = in.if_string();
  if (text == nullptr || text->size() != 1) wrong(key, "one letter");
  to = text->front();
}
inline void take(std::string_view key, const json::value& in, bool& to) {
  if (!in.is_bool()) wrong(key, "true or false");
  to = in.get_bool();
}
template <std::integral T>
void take(std::string_view key, const json::value& in, T& to) {
  json::error_code error;
  const T number = in.to_number<T>(error);
  if (error) wrong(key, "a whole number");
  to = number;
}
inline void take(std::string_view key, const json::value& in, double& to) {
  constexpr double infinity = std::numeric_limits<double>::infinity();
  if (const auto* text = in.if_string()) {
    if (*text != "infinity" && *text != "-infinity" && *text != "nan") wrong(key, "a number");
    to = *text == "nan" ? std::numeric_limits<double>::quiet_NaN() : *text == "infinity" ? infinity : -infinity;
    return;
  }
  if (!in.is_number()) wrong(key, "a number");
  to = in.to_number<double>();
}
inline void take(std::string_view key, const json::value& in, ErrorCode& to) {
  std::string name;
  take(key, in, name);
  for (int code = 0; code <= static_cast<int>(ErrorCode::defect); ++code) {
    if (base::name_of(static_cast<ErrorCode>(code)) == name) {
      to = static_cast<ErrorCode>(code);
      return;
    }
  }
  wrong(key, "the code of an error");
}
template <class E>
  requires std::is_enum_v<E> && requires { Names<E>::list; }
void take(std::string_view key, const json::value& in, E& to) {
  std::string name;
  take(key, in, name);
  const auto& list = Names<E>::list;
  const auto found = std::find(list.begin(), list.end(), name);
  if (found == list.end()) wrong(key, fmt::format("one of {}", fmt::join(list, ", ")));
  to = static_cast<E>(found - list.begin());
}
template <Described T>
void take(std::string_view key, const json::value& in, T& to);
template <class T>
void take(std::string_view key, const json::value& in, std::optional<T>& to) {
  to.reset();
  if (!in.is_null()) take(key, in, to.emplace());
}
template <class T>
void take(std::string_view key, const json::value& in, std::vector<T>& to) {
  const auto* list = in.if_array();
  if (list == nullptr) wrong(key, "a list");
  to.clear();
  for (const json::value& item : *list) take(key, item, to.emplace_back());
}

struct Read {
  const json::object& in;

  template <class T>
  void operator()(json::string_view key, T& value) {
    if (const json::value* found = in.if_contains(key)) take(key, *found, value);
  }
  void bytes(json::string_view key, std::string& raw) {
    std::string utf8;
    (*this)(key, utf8);
    raw.clear();
    for (std::size_t i = 0; i < utf8.size(); ++i) {
      const auto lead = static_cast<unsigned char>(utf8[i]);
      if (lead < 0x80) {
        raw += utf8[i];
      } else if ((lead == 0xC2 || lead == 0xC3) && i + 1 < utf8.size()) {
        raw += static_cast<char>(((lead & 0x03) << 6) | (static_cast<unsigned char>(utf8[++i]) & 0x3F));
      } else {
        wrong(key, "characters from U+0000 to U+00FF, one for each byte");
      }
    }
  }
  void waveform(json::string_view key, std::shared_ptr<const signal::Waveform>& to, std::uint64_t& left_out) {
    to.reset();
    left_out = 0;
    const json::value* found = in.if_contains(key);
    if (found == nullptr || found->is_null()) return;
    if (!found->is_object()) wrong(key, "a mapping");
    Read form{found->get_object()};
    signal::Waveform waveform;
    std::string type;
    form("type", type);
    if (type == "int16") {
      waveform.codes.emplace<std::vector<std::int16_t>>();
    } else if (type == "float32") {
      waveform.codes.emplace<std::vector<float>>();
    } else if (type != "int8") {
      wrong("type", "one of int8, int16, float32");
    }
    form("samples", left_out), form("rate_hz", waveform.rate_hz), form("scale_v", waveform.scale_v),
        form("offset_v", waveform.offset_v);
    form("start_s", waveform.start_s);
    const json::value* screen = form.in.if_contains("screen");
    if (screen != nullptr && !screen->is_null()) {
      if (!screen->is_object()) wrong("screen", "a mapping");
      Read ends{screen->get_object()};
      waveform.screen.emplace();
      ends("low_v", waveform.screen->low_v), ends("high_v", waveform.screen->high_v);
    }
    to = std::make_shared<const signal::Waveform>(std::move(waveform));
  }
};

template <Described T>
void take(std::string_view key, const json::value& in, T& to) {
  const auto* object = in.if_object();
  if (object == nullptr) wrong(key, "a mapping");
  Read read{*object};
  Fields<T>::walk(read, to);
}

inline const json::value& needed(const json::object& object, std::string_view key) {
  const json::value* found = object.if_contains(key);
  if (found == nullptr) wrong(key, "it to be there");
  return *found;
}

}  // namespace eyelevel::record::codec
