// SPDX-License-Identifier: Apache-2.0
#include "core/record/journal/event_json.hpp"

#include <fmt/chrono.h>
#include <fmt/format.h>

#include <charconv>

#include "core/record/journal/field_codec.hpp"

namespace eyelevel::record {
namespace json = boost::json;
using base::Error;
using namespace codec;

namespace {

template <std::size_t I = 0>
void take_body(std::string_view kind, const json::value& in, event::Body& to) {
  if constexpr (I == std::variant_size_v<event::Body>) {
    wrong("event", fmt::format("a kind of event that this program knows, found \"{}\"", kind));
  } else {
    using T = std::variant_alternative_t<I, event::Body>;
    if (kind == Fields<T>::name) return take("body", in, to.emplace<T>());
    take_body<I + 1>(kind, in, to);
  }
}

}  // namespace

std::string_view kind_of(const event::Body& body) {
  return std::visit([](const auto& b) -> std::string_view { return Fields<std::decay_t<decltype(b)>>::name; }, body);
}

json::object to_json(const event::Event& event) {
  return {{"version", event_format_version},
          {"run", json_of(event.run)},
          {"number", event.number},
          {"time_s", json_of(event.time_s)},
          {"utc", json::string(utc_text(event.utc))},
          {"event", json::string_view(kind_of(event.body))},
          {"body", std::visit([](const auto& b) { return json_of(b); }, event.body)}};
}

event::Event event_from_json(const json::object& object) {
  event::Event event;
  try {
    int version = 0;
    take("version", needed(object, "version"), version);
    if (version != event_format_version) {
      wrong("version", fmt::format("{}, found {}; a newer program wrote this", event_format_version, version));
    }
    take("run", needed(object, "run"), event.run);
    take("number", needed(object, "number"), event.number);
    take("time_s", needed(object, "time_s"), event.time_s);
    std::string utc, kind;
    take("utc", needed(object, "utc"), utc);
    event.utc = utc_from_text(utc);
    take("event", needed(object, "event"), kind);
    take_body(kind, needed(object, "body"), event.body);
  } catch (Error& error) {
    error.within(fmt::format("event {} of run \"{}\"", event.number, event.run));
    throw;
  }
  return event;
}

SampleCount samples_of(const json::object& event) {
  SampleCount count;
  const json::value* body = event.if_contains("body");
  if (body == nullptr || !body->is_object()) return count;
  const json::value* form = body->get_object().if_contains("waveform");
  if (form == nullptr || !form->is_object()) return count;
  Read read{form->get_object()};
  read("samples", count.samples), read("type", count.type);
  return count;
}

std::string utc_text(base::UtcTime time) {
  using namespace std::chrono;
  const auto day = floor<days>(time);
  const year_month_day date(day);
  const hh_mm_ss clock(time - day);
  return fmt::format("{:04}-{:02}-{:02}T{:02}:{:02}:{:02}.{:03}Z", static_cast<int>(date.year()),
                     static_cast<unsigned>(date.month()), static_cast<unsigned>(date.day()), clock.hours().count(),
                     clock.minutes().count(), clock.seconds().count(), clock.subseconds().count());
}

base::UtcTime utc_from_text(std::string_view text) {
  using namespace std::chrono;
  const auto fail = [&] { wrong("utc", fmt::format("a time like 2030-01-07T08:00:00.000Z, found \"{}\"", text)); };
  const auto number = [&](std::size_t at, std::size_t length) {
    int value = 0;
    const char* end = text.data() + at + length;
    if (std::from_chars(text.data() + at, end, value).ptr != end || value < 0) fail();
    return value;
  };
  constexpr std::string_view form = "0000-00-00T00:00:00.000Z";
  if (text.size() != form.size()) fail();
  for (std::size_t i = 0; i < form.size(); ++i) {
    if (form[i] != '0' && form[i] != text[i]) fail();
  }
  const year_month_day date(year(number(0, 4)), month(static_cast<unsigned>(number(5, 2))),
                            day(static_cast<unsigned>(number(8, 2))));
  if (!date.ok() || number(11, 2) > 23 || number(14, 2) > 59 || number(17, 2) > 59) fail();
  return sys_days(date) + hours(number(11, 2)) + minutes(number(14, 2)) + seconds(number(17, 2)) +
         milliseconds(number(20, 3));
}

std::string_view name_of(metrology::Judgement judgement) {
  return Names<metrology::Judgement>::list.at(static_cast<std::size_t>(judgement));
}

}  // namespace eyelevel::record
