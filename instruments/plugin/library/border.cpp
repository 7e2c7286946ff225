// SPDX-License-Identifier: Apache-2.0
#include "instruments/plugin/library/border.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstring>
#include <limits>
#include <utility>

#include "core/base/error.hpp"
#include "instruments/plugin/declare.hpp"

namespace eyelevel::plugin::library {

namespace {

constexpr std::size_t text_most = 1001;  // of a declared text, one more than any may have
constexpr uint32_t size_most = 65536;

[[noreturn]] void refuse(const std::string& from, std::string what) {
  base::ErrorRecord record;
  record.code = base::ErrorCode::bad_answer;
  record.where = from;
  record.message = std::move(what);
  record.advice = "build the plugin against this version's eyelevel_plugin.h";
  throw base::Error(std::move(record));
}

// Its size stands first in each struct; one that is smaller than ours lacks fields, a larger one has more than we know.
template <class Struct>
const Struct& sized(const Struct* given, const std::string& from, std::string_view what) {
  if (!given) refuse(from, fmt::format("{} is missing", what));
  if (given->size < sizeof(Struct) || given->size > size_most)
    refuse(from, fmt::format("{} says that it has {} bytes; version {} has {}", what, given->size, EYELEVEL_PLUGIN_ABI,
                             sizeof(Struct)));
  return *given;
}

std::string text(const char* given) { return given ? std::string(given, ::strnlen(given, text_most)) : std::string(); }

template <std::size_t N>
std::string field(const char (&given)[N]) {
  return one_line({given, ::strnlen(given, N)}, N);
}

std::string type_name(uint32_t type) {
  switch (type) {
    case EYELEVEL_TEXT: return "text";
    case EYELEVEL_WORD: return "word";
    case EYELEVEL_COUNT: return "count";
    case EYELEVEL_QUANTITY: return "quantity";
    case EYELEVEL_YES_OR_NO: return "yes or no";
    case EYELEVEL_READING: return "reading";
    case EYELEVEL_WAVEFORM: return "waveform";
    case EYELEVEL_CAPTURES: return "captures";
    default: return fmt::format("number {}", type);
  }
}

ParameterSaid parameter_of(const eyelevel_parameter* given, const std::string& from) {
  const eyelevel_parameter& p = sized(given, from, "a parameter");
  ParameterSaid said{.name = text(p.name),
                     .type = type_name(p.type),
                     .unit = text(p.unit),
                     .required = p.required != 0,
                     .help = text(p.help),
                     .example = text(p.example),
                     .choices = {}};
  for (std::size_t i = 0; p.choices && p.choices[i] && i < text_most; ++i) said.choices.push_back(text(p.choices[i]));
  return said;
}

std::string kind_name(uint32_t kind) {
  switch (kind) {
    case EYELEVEL_VERB: return "verb";
    case EYELEVEL_MEASURE: return "measure";
    case EYELEVEL_DRIVER: return "driver";
    case EYELEVEL_TRANSPORT: return "transport";
    default: return fmt::format("number {}", kind);
  }
}

std::shared_ptr<const eyelevel_transport> transport_of(const eyelevel_transport* given, const std::string& from) {
  const eyelevel_transport& t = sized(given, from, "a transport");
  if (!t.open || !t.write || !t.read || !t.clear || !t.close) refuse(from, "a transport lacks a function");
  return std::make_shared<const eyelevel_transport>(t);
}

PartFound part_of(const eyelevel_part* given, const std::string& from) {
  const eyelevel_part& p = sized(given, from, "a part");
  PartSaid said{.kind = kind_name(p.kind),
                .name = text(p.name),
                .about = text(p.about),
                .example = text(p.example),
                .gives = text(p.gives),
                .takes = p.takes == 0 ? std::string() : type_name(p.takes),
                .instrument = text(p.instrument),
                .parameters = {}};
  if (p.parameter_count > parameters_most || (p.parameter_count > 0 && !p.parameters))
    refuse(from, fmt::format("a part has {} parameters; at most {} are taken", p.parameter_count, parameters_most));
  for (uint32_t i = 0; i < p.parameter_count; ++i) said.parameters.push_back(parameter_of(p.parameters[i], from));
  PartFound found{.part = declared(said, from)};
  if (found.part.kind == registers::PartKind::transport)
    found.transport = transport_of(p.transport, from);
  else if (!p.call)
    refuse(from, fmt::format("'{}' has no function to call", said.name));
  found.call = p.call;
  return found;
}

uint32_t number_of(registers::PartKind kind) {
  switch (kind) {
    case registers::PartKind::verb: return EYELEVEL_VERB;
    case registers::PartKind::measure: return EYELEVEL_MEASURE;
    case registers::PartKind::driver: return EYELEVEL_DRIVER;
    case registers::PartKind::transport: return EYELEVEL_TRANSPORT;
  }
  return EYELEVEL_VERB;
}

template <class Struct>
std::unique_ptr<Struct> made() {
  auto one = std::make_unique<Struct>();
  one->size = sizeof(Struct);
  return one;
}

double or_nan(const std::optional<double>& value) { return value.value_or(std::numeric_limits<double>::quiet_NaN()); }

}  // namespace

std::vector<PartFound> parts_of(const eyelevel_plugin* plugin, const std::string& from) {
  if (!plugin) refuse(from, fmt::format("it does not serve version {} of the border", EYELEVEL_PLUGIN_ABI));
  const eyelevel_plugin& p = sized(plugin, from, "the plugin");
  if (p.abi != EYELEVEL_PLUGIN_ABI)
    refuse(from, fmt::format("it is made for version {} of the border, this program has version {}", p.abi,
                             EYELEVEL_PLUGIN_ABI));
  if (p.part_count > parts_most || (p.part_count > 0 && !p.parts))
    refuse(from, fmt::format("it has {} parts; at most {} are taken", p.part_count, parts_most));
  std::vector<PartFound> parts;
  for (uint32_t i = 0; i < p.part_count; ++i) parts.push_back(part_of(p.parts[i], from));
  return parts;
}

CQuestion::CQuestion(registers::Question question, base::Duration within) : held_(std::move(question)) {
  for (const auto& [key, value] : held_.values) add(key, value);
  for (const auto& [key, result] : held_.results) add(key, result);
  for (const auto& one : given_) list_.push_back(one.get());
  const auto ms = std::chrono::duration_cast<std::chrono::milliseconds>(within).count();
  question_ = {.size = sizeof(eyelevel_question),
               .kind = number_of(held_.kind),
               .name = held_.name.c_str(),
               .ask = held_.ask.c_str(),
               .given = list_.data(),
               .given_count = static_cast<uint32_t>(list_.size()),
               .within_ms = static_cast<uint32_t>(std::clamp<std::int64_t>(ms, 1, 3'600'000))};
}

void CQuestion::add(const std::string& key, const registers::OutsideValue& value) {
  auto given = made<eyelevel_given>();
  given->key = key.c_str();
  given->text = "";
  if (const auto* number = std::get_if<double>(&value)) {
    given->type = EYELEVEL_QUANTITY;
    given->number = *number;
  } else if (const auto* whole = std::get_if<long long>(&value)) {
    given->type = EYELEVEL_COUNT;
    given->whole = *whole;
  } else if (const auto* yes = std::get_if<bool>(&value)) {
    given->type = EYELEVEL_YES_OR_NO;
    given->whole = *yes ? 1 : 0;
  } else {
    given->type = EYELEVEL_TEXT;
    given->text = std::get<std::string>(value).c_str();
  }
  given_.push_back(std::move(given));
}

void CQuestion::add(const std::string& key, const registers::OutsideResult& result) {
  auto given = made<eyelevel_given>();
  given->key = key.c_str();
  given->text = "";
  if (const auto* reading = std::get_if<registers::OutsideReading>(&result)) {
    auto one = made<eyelevel_reading>();
    std::strncpy(one->unit, reading->unit.c_str(), sizeof one->unit - 1);
    one->value = reading->value;
    one->standard_uncertainty = reading->standard_uncertainty;
    one->degrees_of_freedom = std::isfinite(reading->degrees_of_freedom) ? reading->degrees_of_freedom : 0;
    one->count = reading->count;
    given->type = EYELEVEL_READING;
    given->reading = readings_.emplace_back(std::move(one)).get();
  } else if (const auto* waveform = std::get_if<registers::OutsideWaveform>(&result)) {
    auto one = made<eyelevel_waveform>();
    one->volts = waveform->volts.data();
    one->samples = waveform->volts.size();
    one->rate_hz = waveform->rate_hz;
    one->noise_v = waveform->noise_v;
    one->count = waveform->count;
    given->type = EYELEVEL_WAVEFORM;
    given->waveform = waveforms_.emplace_back(std::move(one)).get();
  } else {
    std::vector<const eyelevel_capture*> list;
    for (const auto& c : std::get<registers::OutsideCaptures>(result)) {
      auto one = made<eyelevel_capture>();
      one->from_s = c.from_s;
      one->level_v = or_nan(c.level_v);
      one->i3_v = or_nan(c.i3_v);
      one->top_v = or_nan(c.top_v);
      one->bottom_v = or_nan(c.bottom_v);
      one->mean_v = or_nan(c.mean_v);
      one->i3_over_i11 = or_nan(c.i3_over_i11);
      one->asymmetry = or_nan(c.asymmetry);
      list.push_back(captures_.emplace_back(std::move(one)).get());
    }
    given->type = EYELEVEL_CAPTURES;
    given->capture_count = list.size();
    given->captures = capture_lists_.emplace_back(std::move(list)).data();
  }
  given_.push_back(std::move(given));
}

eyelevel_answer empty_answer() {
  eyelevel_answer answer{};
  answer.size = sizeof answer;
  answer.reading.size = sizeof answer.reading;
  return answer;
}

registers::Answer answer_of(const eyelevel_answer& answer, int32_t outcome, const std::string& from) {
  if (outcome == EYELEVEL_FAILED || outcome == EYELEVEL_TIMED_OUT) {
    base::ErrorRecord record;
    record.code = outcome == EYELEVEL_FAILED ? base::ErrorCode::instrument_error : base::ErrorCode::time_out;
    record.where = from;
    record.message = "it says: " + field(answer.message);
    record.advice = field(answer.advice);
    throw base::Error(std::move(record));
  }
  if (outcome != EYELEVEL_DONE) refuse(from, fmt::format("it returned {}, which means nothing", outcome));
  if (answer.size != sizeof answer || answer.reading.size != sizeof answer.reading)
    refuse(from, fmt::format("it lies about sizes: the answer has {} bytes, it says {}", sizeof answer, answer.size));
  if (answer.number_count > std::size(answer.numbers))
    refuse(from, fmt::format("it says that it answers with {} numbers; there is room for {}", answer.number_count,
                             std::size(answer.numbers)));
  registers::Answer out;
  if (answer.has_reading != 0) {
    const eyelevel_reading& r = answer.reading;
    out.reading = registers::OutsideReading{
        .value = r.value, .unit = field(r.unit), .standard_uncertainty = r.standard_uncertainty, .count = r.count};
    if (r.degrees_of_freedom != 0) out.reading->degrees_of_freedom = r.degrees_of_freedom;
  }
  if (std::string note = field(answer.note); !note.empty()) out.notes.push_back(std::move(note));
  out.text = field(answer.text);
  for (uint32_t i = 0; i < answer.number_count; ++i) {
    if (!std::isfinite(answer.numbers[i].value)) refuse(from, "it answers with what is no number");
    out.numbers.emplace(field(answer.numbers[i].name), answer.numbers[i].value);
  }
  return out;
}

}  // namespace eyelevel::plugin::library
