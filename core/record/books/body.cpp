// SPDX-License-Identifier: Apache-2.0
#include "core/record/books/body.hpp"

#include <fmt/format.h>

#include "core/record/books/names.hpp"
#include "core/record/journal/event_json.hpp"

namespace eyelevel::record {
namespace json = boost::json;
using namespace codec;

std::string place_of(const BookEntry& entry) {
  return fmt::format("entry {} of the books ({}, {})", entry.number, shown(entry.kind), shown(entry.subject));
}

json::object form_of(const BookEntry& entry) {
  try {
    const json::value form = parse_json(entry.body, "what it says");
    if (!form.is_object()) wrong("body", "a mapping");
    int version = 0;
    take("version", needed(form.get_object(), "version"), version);
    if (version != body_format_version)
      wrong("version", fmt::format("{}, found {}; a newer eyelevel wrote this", body_format_version, version));
    return form.get_object();
  } catch (Error& error) {
    error.within(place_of(entry));
    throw;
  }
}

json::object to_json(const BookEntry& entry) {
  return {{"number", entry.number},
          {"utc", json::string(utc_text(entry.utc))},
          {"placed_utc", json::string(utc_text(entry.placed))},
          {"kind", json_of(entry.kind)},
          {"subject", json_of(entry.subject)},
          {"concerns", json_of(entry.concerns)},
          {"by", json_of(entry.by)},
          {"because", json_of(entry.because)},
          {"body", form_of(entry)}};
}

BookEntry entry_from_json(const json::object& object) {
  BookEntry entry;
  std::string utc, placed;
  take("utc", needed(object, "utc"), utc);
  take("placed_utc", needed(object, "placed_utc"), placed);
  entry.utc = utc_from_text(utc);
  entry.placed = utc_from_text(placed);
  take("kind", needed(object, "kind"), entry.kind);
  take("subject", needed(object, "subject"), entry.subject);
  take("concerns", needed(object, "concerns"), entry.concerns);
  take("by", needed(object, "by"), entry.by);
  take("because", needed(object, "because"), entry.because);
  entry.body = text_of(needed(object, "body"));
  form_of(entry);  // refused where this program does not understand it
  return entry;
}

}  // namespace eyelevel::record
