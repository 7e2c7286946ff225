// SPDX-License-Identifier: Apache-2.0
// An event as JSON and back, without loss: the form in which the store and the export keep it. Format version 1; a
// field that is absent keeps the value of a fresh event, so fields may be added without a new version. Samples of a
// capture do not stand here (chunks.hpp): its JSON tells how many there are and their scale. Raw bytes (sent, received)
// are written as one character per byte, U+0000 to U+00FF. Infinite and undefined numbers are the words "infinity",
// "-infinity" and "nan".
#pragma once

#include <boost/json/object.hpp>

#include <cstdint>
#include <string>
#include <string_view>

#include "core/event/event.hpp"

namespace eyelevel::record {

inline constexpr int event_format_version = 1;

// "begun", "captured", ...: one word for each type of event.
std::string_view kind_of(const event::Body& body);

// { "version", "run", "number", "time_s", "utc", "event", "body" }
boost::json::object to_json(const event::Event& event);

// Throws Error(bad_input) naming the run, the event and the field that is wrong. A capture comes back with a waveform
// that has its scale but no samples: they are all left out.
event::Event event_from_json(const boost::json::object& object);

// Samples that the JSON of a capture speaks of, and their type ("int8", "int16", "float32"); 0 for other events.
struct SampleCount {
  std::uint64_t samples = 0;
  std::string type;
};
SampleCount samples_of(const boost::json::object& event);

// "2030-01-07T08:00:00.000Z" (RFC 3339) and back; reading throws Error(bad_input).
std::string utc_text(base::UtcTime time);
base::UtcTime utc_from_text(std::string_view text);

std::string_view name_of(metrology::Judgement judgement);

}  // namespace eyelevel::record
