// SPDX-License-Identifier: Apache-2.0
#include "instruments/plugin/process/codec.hpp"

#include <fmt/format.h>

#include <array>
#include <bit>
#include <boost/json.hpp>
#include <cmath>
#include <cstring>
#include <initializer_list>

#include "core/base/error.hpp"
#include "instruments/plugin/declare.hpp"

namespace eyelevel::plugin::process {

namespace json = boost::json;
using registers::Answer;
using registers::OutsideReading;
using registers::Question;

namespace {

json::value value_json(const registers::OutsideValue& value) {
  return std::visit([](const auto& v) { return json::value(v); }, value);
}

json::object result_json(const OutsideReading& reading) {
  json::object object{{"value", reading.value},
                      {"unit", reading.unit},
                      {"standard_uncertainty", reading.standard_uncertainty},
                      {"count", reading.count}};
  if (std::isfinite(reading.degrees_of_freedom)) object["degrees_of_freedom"] = reading.degrees_of_freedom;
  return object;
}

json::object result_json(const registers::OutsideWaveform& waveform) {
  return {{"rate_hz", waveform.rate_hz},
          {"noise_v", waveform.noise_v},
          {"count", waveform.count},
          {"samples", waveform.volts.size()},
          {"volts_f32_base64", base64(waveform.volts)}};
}

json::array result_json(const registers::OutsideCaptures& captures) {
  const auto number = [](const std::optional<double>& value) { return value ? json::value(*value) : json::value(); };
  json::array all;
  all.reserve(captures.size());
  for (const registers::OutsideCapture& c : captures)
    all.push_back(json::object{{"from_s", c.from_s},
                               {"level_v", number(c.level_v)},
                               {"i3_v", number(c.i3_v)},
                               {"top_v", number(c.top_v)},
                               {"bottom_v", number(c.bottom_v)},
                               {"mean_v", number(c.mean_v)},
                               {"i3_over_i11", number(c.i3_over_i11)},
                               {"asymmetry", number(c.asymmetry)}});
  return all;
}

// Reads one object of a stranger: every key is asked for by name, what is left over is refused.
class Reader {
 public:
  Reader(const json::object& object, std::string_view line, const std::string& from, std::string what)
      : object_(object), line_(line), from_(from), what_(std::move(what)) {}

  [[noreturn]] void refuse(const std::string& what) const {
    base::ErrorRecord record;
    record.code = base::ErrorCode::bad_answer;
    record.where = from_;
    record.message = fmt::format("the answer makes no sense: {}{}", what_.empty() ? "" : what_ + ": ", what);
    record.received = std::string(line_.substr(0, 400));
    record.advice = "tell whoever wrote the plugin; `eyelevel plugins --try FOLDER` shows it, too";
    throw base::Error(std::move(record));
  }

  const json::value* find(std::string_view key) const { return object_.if_contains(key); }

  std::string text(std::string_view key, bool required = true) const {
    const json::value* value = need(key, required);
    if (!value) return {};
    if (!value->is_string()) refuse(fmt::format("'{}' is no text", key));
    return std::string(value->as_string());
  }

  std::optional<double> number(std::string_view key, bool required = true) const {
    const json::value* value = need(key, required);
    if (!value) return std::nullopt;
    return as_number(*value, key);
  }

  double as_number(const json::value& value, std::string_view key) const {
    const double number = value.is_double()   ? value.get_double()
                          : value.is_int64()  ? static_cast<double>(value.get_int64())
                          : value.is_uint64() ? static_cast<double>(value.get_uint64())
                                              : std::nan("");
    if (!std::isfinite(number)) refuse(fmt::format("'{}' is no number", one_line(key, 40)));
    return number;
  }

  std::optional<std::int64_t> whole(std::string_view key, bool required = true) const {
    const json::value* value = need(key, required);
    if (!value) return std::nullopt;
    if (!value->is_int64()) refuse(fmt::format("'{}' is no whole number", key));
    return value->get_int64();
  }

  bool yes(std::string_view key) const {
    const json::value* value = find(key);
    if (!value) return false;
    if (!value->is_bool()) refuse(fmt::format("'{}' is neither true nor false", key));
    return value->get_bool();
  }

  const json::array* list(std::string_view key, bool required, std::size_t most) const {
    const json::value* value = need(key, required);
    if (!value) return nullptr;
    if (!value->is_array()) refuse(fmt::format("'{}' is no list", key));
    if (value->get_array().size() > most)
      refuse(fmt::format("'{}' has {} entries; at most {} are taken", key, value->get_array().size(), most));
    return &value->get_array();
  }

  const json::object& object(const json::value& value, std::string_view what) const {
    if (!value.is_object()) refuse(fmt::format("{} is no object", what));
    return value.get_object();
  }

  void only(std::initializer_list<std::string_view> known) const {
    for (const auto& entry : object_)
      if (std::find(known.begin(), known.end(), std::string_view(entry.key())) == known.end())
        refuse(fmt::format("'{}' is not known here", one_line(entry.key(), 40)));
  }

  Reader inside(const json::value& value, std::string what) const {
    return {object(value, what), line_, from_, std::move(what)};
  }

 private:
  const json::value* need(std::string_view key, bool required) const {
    const json::value* value = find(key);
    if (!value && required) refuse(fmt::format("'{}' is missing", key));
    return value;
  }

  const json::object& object_;
  std::string_view line_;
  const std::string& from_;
  std::string what_;
};

json::value parse(std::string_view line, const std::string& from) {
  static const json::object nothing;
  const Reader at(nothing, line, from, {});
  if (line.size() > line_most) at.refuse(fmt::format("a line of more than {} bytes", line_most));
  json::parse_options how;
  how.max_depth = 8;
  json::error_code error;
  json::value value = json::parse(line, error, {}, how);
  if (error) at.refuse(fmt::format("it is no JSON ({})", error.message()));
  if (!value.is_object()) at.refuse("it is no object");
  return value;
}

void require_id(const Reader& reader, std::int64_t id) {
  const auto said = *reader.whole("id");
  if (said != id) reader.refuse(fmt::format("it answers question {}, but question {} was asked", said, id));
}

// The plugin's own words for why it cannot.
void throw_if_error(const Reader& reader, const std::string& from) {
  const json::value* error = reader.find("error");
  if (!error) return;
  const Reader inside = reader.inside(*error, "error");
  inside.only({"message", "advice"});
  base::ErrorRecord record;
  record.code = base::ErrorCode::instrument_error;
  record.where = from;
  record.message = "it says: " + one_line(inside.text("message"), note_most);
  record.advice = one_line(inside.text("advice", false), note_most);
  throw base::Error(std::move(record));
}

std::vector<std::string> texts(const Reader& reader, std::string_view key, std::size_t most) {
  std::vector<std::string> all;
  const json::array* list = reader.list(key, false, most);
  if (!list) return all;
  for (const json::value& value : *list) {
    if (!value.is_string()) reader.refuse(fmt::format("'{}' holds what is no text", key));
    all.push_back(one_line(value.get_string(), note_most));
  }
  return all;
}

OutsideReading reading_of(const Reader& reader) {
  reader.only({"value", "unit", "standard_uncertainty", "degrees_of_freedom", "count"});
  OutsideReading reading;
  reading.value = *reader.number("value");
  reading.unit = one_line(reader.text("unit"), 20);
  reading.standard_uncertainty = *reader.number("standard_uncertainty");
  if (const auto degrees = reader.number("degrees_of_freedom", false)) reading.degrees_of_freedom = *degrees;
  reading.count = reader.whole("count", false).value_or(1);
  return reading;
}

ParameterSaid parameter_of(const Reader& reader) {
  reader.only({"name", "type", "unit", "required", "help", "example", "choices"});
  ParameterSaid said;
  said.name = reader.text("name");
  if (reader.find("type")) said.type = reader.text("type");
  said.unit = reader.text("unit", false);
  said.required = reader.yes("required");
  said.help = reader.text("help");
  said.example = reader.text("example");
  said.choices = texts(reader, "choices", 50);
  return said;
}

PartSaid part_of(const Reader& reader) {
  reader.only({"kind", "name", "about", "example", "gives", "takes", "instrument", "parameters"});
  PartSaid said;
  said.kind = reader.text("kind");
  said.name = reader.text("name");
  said.about = reader.text("about");
  said.example = reader.text("example");
  said.gives = reader.text("gives", false);
  said.takes = reader.text("takes", false);
  said.instrument = reader.text("instrument", false);
  if (const json::array* list = reader.list("parameters", false, parameters_most))
    for (const json::value& value : *list)
      said.parameters.push_back(parameter_of(reader.inside(value, "a parameter of " + one_line(said.name, 40))));
  return said;
}

}  // namespace

std::string base64(const std::vector<float>& samples) {
  static_assert(std::endian::native == std::endian::little, "samples go out as they lie in memory");
  constexpr std::string_view letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  std::vector<unsigned char> bytes(samples.size() * sizeof(float));
  if (!bytes.empty()) std::memcpy(bytes.data(), samples.data(), bytes.size());
  std::string out;
  out.reserve((bytes.size() + 2) / 3 * 4);
  for (std::size_t i = 0; i < bytes.size(); i += 3) {
    const std::size_t left = bytes.size() - i;
    const auto at = [&](std::size_t k) { return k < left ? static_cast<std::uint32_t>(bytes[i + k]) : 0U; };
    const std::uint32_t three = at(0) << 16U | at(1) << 8U | at(2);
    for (std::uint32_t k = 0; k < 4; ++k) out += k <= left ? letters[(three >> (18U - 6U * k)) & 63U] : '=';
  }
  return out;
}

std::string hello_line(std::int64_t id) {
  return json::serialize(json::object{{"id", id}, {"ask", "hello"}, {"protocol", protocol}}) + "\n";
}

std::string question_line(std::int64_t id, const Question& question) {
  json::object object{{"id", id}, {"ask", registers::name_of(question.kind)}, {"name", question.name}};
  if (!question.ask.empty()) object["do"] = question.ask;
  json::object values;
  for (const auto& [key, value] : question.values) values[key] = value_json(value);
  object["values"] = std::move(values);
  json::object results;
  for (const auto& [key, result] : question.results)
    results[key] = std::visit([](const auto& r) { return json::value(result_json(r)); }, result);
  object["results"] = std::move(results);
  return json::serialize(object) + "\n";
}

Hello parse_hello(std::string_view line, std::int64_t id, const std::string& from) {
  const json::value value = parse(line, from);
  const Reader reader(value.get_object(), line, from, {});
  require_id(reader, id);
  throw_if_error(reader, from);
  reader.only({"id", "protocol", "name", "parts"});
  const auto spoken = *reader.whole("protocol");
  if (spoken != protocol)
    reader.refuse(fmt::format("it speaks protocol {}, this program speaks protocol {}", spoken, protocol));
  Hello hello;
  hello.name = one_line(reader.text("name"), 60);
  for (const json::value& part : *reader.list("parts", true, parts_most))
    hello.parts.push_back(declared(part_of(reader.inside(part, "a part")), from));
  return hello;
}

Answer parse_answer(std::string_view line, std::int64_t id, const std::string& from) {
  const json::value value = parse(line, from);
  const Reader reader(value.get_object(), line, from, {});
  require_id(reader, id);
  throw_if_error(reader, from);
  reader.only({"id", "reading", "notes", "numbers", "text"});
  Answer answer;
  if (const json::value* reading = reader.find("reading"))
    answer.reading = reading_of(reader.inside(*reading, "reading"));
  answer.notes = texts(reader, "notes", notes_most);
  answer.text = one_line(reader.text("text", false), note_most);
  if (const json::value* numbers = reader.find("numbers")) {
    const auto& object = reader.object(*numbers, "'numbers'");
    if (object.size() > numbers_most) reader.refuse(fmt::format("'numbers' holds more than {}", numbers_most));
    for (const auto& entry : object)
      answer.numbers.emplace(one_line(entry.key(), 40), reader.as_number(entry.value(), entry.key()));
  }
  return answer;
}

}  // namespace eyelevel::plugin::process
