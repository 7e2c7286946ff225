// SPDX-License-Identifier: Apache-2.0
// What an entry says, from its struct to JSON text and back. A kind of entry is a struct with a Fields<T> (name of the
// kind, names of its fields) and the version of its form; a field that is absent keeps the value of a fresh struct, so
// that fields may be added without a new version.
#pragma once

#include <string>
#include <string_view>
#include <utility>

#include "core/base/error.hpp"
#include "core/record/books/entry.hpp"
#include "core/record/journal/field_codec.hpp"

namespace eyelevel::record {

inline constexpr int body_format_version = 1;

// Who says it, when and why.
struct Said {
  base::UtcTime utc{};
  std::string by;
  std::string because = {};
};

template <class T>
BookEntry entry_of(const T& body, std::string subject, std::string concerns, const Said& said) {
  boost::json::object form{{"version", body_format_version}};
  boost::json::value fields = codec::json_of(body);
  for (auto& field : fields.get_object()) form[field.key()] = std::move(field.value());
  return {0,       said.utc,     {},           Fields<T>::name, std::move(subject), std::move(concerns),
          said.by, said.because, text_of(form)};
}

template <class T>
bool is_a(const BookEntry& entry) {
  return entry.kind == Fields<T>::name;
}

// The form of an entry's body. Throws Error(bad_input): damaged, or of a newer program.
boost::json::object form_of(const BookEntry& entry);
// "entry 12 of the books (unit taken in, LF2-00417)"
std::string place_of(const BookEntry& entry);

// Of an entry of that kind. Throws Error(bad_input) as form_of, or naming the field that is wrong.
template <class T>
T body_of(const BookEntry& entry) {
  T body;
  try {
    codec::take("body", form_of(entry), body);
  } catch (base::Error& error) {
    if (error.record().where.empty()) error.within(place_of(entry));
    throw;
  }
  return body;
}

// { number, utc, placed_utc, kind, subject, concerns, by, because, body }
boost::json::object to_json(const BookEntry& entry);
// Throws Error(bad_input) naming the field that is wrong or of a newer program.
BookEntry entry_from_json(const boost::json::object& object);

}  // namespace eyelevel::record
