// SPDX-License-Identifier: Apache-2.0
#include "core/signal/csv.hpp"

#include <fmt/format.h>

#include <charconv>
#include <cmath>
#include <limits>
#include <vector>

#include "core/base/error.hpp"

namespace eyelevel::signal {

namespace {

constexpr std::size_t most_headings = 64;
// Of a sample: a lost line puts some time off by half a sample or more, rounding to a printed digit by less.
constexpr double most_off = 0.4;
constexpr std::string_view blanks = " \t\r";

struct Place {
  const ReadOptions* options;
  std::size_t line = 0;  // counted from 1
  std::size_t column = 0;
};

[[noreturn]] void refuse(const Place& place, std::string message, std::string advice = {}) {
  base::ErrorRecord record;
  record.code = base::ErrorCode::bad_input;
  record.where = place.options->name;
  if (place.line > 0) record.where += fmt::format(":{}", place.line);
  if (place.column > 0) record.where += fmt::format(":{}", place.column);
  record.message = std::move(message);
  record.advice = std::move(advice);
  throw base::Error(std::move(record));
}

std::string_view trimmed(std::string_view text) {
  const std::size_t from = text.find_first_not_of(blanks);
  if (from == std::string_view::npos) return {};
  return text.substr(from, text.find_last_not_of(blanks) - from + 1);
}

std::optional<double> number_in(std::string_view field) {
  if (field.size() > 1 && field[0] == '+' && field[1] != '-') field.remove_prefix(1);
  double value = 0;
  const auto [end, error] = std::from_chars(field.data(), field.data() + field.size(), value);
  if (end != field.data() + field.size() || field.empty()) return std::nullopt;
  if (error == std::errc::result_out_of_range) return std::numeric_limits<double>::infinity();
  if (error != std::errc()) return std::nullopt;
  return value;
}

char separator_of(std::string_view line) {
  for (const char c : {';', ',', '\t'}) {
    if (line.find(c) != std::string_view::npos) return c;
  }
  return ' ';
}

// At most three fields are told apart: two are read, a third is too many. An empty last field does not count.
struct Fields {
  std::array<std::string_view, 3> text;
  std::size_t count = 0;
};

Fields fields_of(std::string_view line) {
  Fields fields;
  const char separator = separator_of(line);
  while (fields.count < 3) {
    std::size_t end = line.find(separator);
    fields.text[fields.count++] = trimmed(line.substr(0, end));
    if (end == std::string_view::npos) break;
    if (separator == ' ') end = line.find_first_not_of(' ', end) - 1;
    line.remove_prefix(end + 1);
    if (trimmed(line).empty()) break;
  }
  return fields;
}

class Reader {
 public:
  Reader(std::string_view text, const ReadOptions& options) : rest_(text), place_{&options} {}

  void read() {
    if (rest_.starts_with("\xef\xbb\xbf")) rest_.remove_prefix(3);
    if (trimmed(rest_).empty()) refuse(place_, "is empty", "expected lines of time,volts");
    while (!rest_.empty()) {
      ++place_.line;
      const std::size_t end = rest_.find('\n');
      const std::string_view line = trimmed(rest_.substr(0, end));
      rest_.remove_prefix(end == std::string_view::npos ? rest_.size() : end + 1);
      if (!line.empty() && line[0] != '#') read_line(line);
    }
    place_.line = 0;
    if (volts.empty()) refuse(place_, "holds no line of numbers", "expected lines of time,volts");
  }

  std::vector<double> times;
  std::vector<std::size_t> lines;  // of each time
  std::vector<float> volts;

 private:
  void read_line(std::string_view line) {
    const Fields fields = fields_of(line);
    const std::optional<double> first = number_in(fields.text[0]);
    if (!first && columns_ == 0) {
      if (++headings_ <= most_headings) return;
      refuse(place_, fmt::format("no numbers in the first {} lines: is no waveform", most_headings));
    }
    if (columns_ == 0) columns_ = fields.count;
    if (columns_ > 2) {
      refuse(place_, "has more than two columns, expected time,volts or one column",
             "if the comma is the decimal sign, write points; else keep one channel");
    }
    if (fields.count != columns_) {
      refuse(place_, fmt::format("has {} column{}, the lines before have {}", fields.count,
                                 fields.count == 1 ? "" : "s", columns_));
    }
    const double last = value_in(line, fields.text[columns_ - 1]);
    if (columns_ == 2) {
      times.push_back(value_in(line, fields.text[0]));
      lines.push_back(place_.line);
    }
    volts.push_back(scaled(last));
  }

  double value_in(std::string_view line, std::string_view field) {
    const std::optional<double> value = number_in(field);
    if (value && std::isfinite(*value)) return *value;
    place_.column = static_cast<std::size_t>(field.data() - line.data()) + 1;
    if (value) {
      refuse(place_, fmt::format("sample {} (counted from 0) is \"{}\", not a finite number", volts.size(), field));
    }
    refuse(place_, fmt::format("\"{}\" is not a number", base::escaped(field, 40)),
           field.find(',') != std::string_view::npos ? "write a decimal point, not a comma" : "");
  }

  float scaled(double value) const {
    const double volt = value * place_.options->scale_v.value_or(1) + place_.options->offset_v.value_or(0);
    if (std::abs(volt) <= static_cast<double>(std::numeric_limits<float>::max())) return static_cast<float>(volt);
    refuse(place_, fmt::format("sample {} (counted from 0) is {}, not a voltage", volts.size(), volt));
  }

  std::string_view rest_;
  Place place_;
  std::size_t columns_ = 0;
  std::size_t headings_ = 0;
};

double rate_from(const std::vector<double>& times, const std::vector<std::size_t>& lines, const ReadOptions& options) {
  Place place{&options};
  if (times.size() < 2) refuse(place, "has one sample: two or more times are needed to know the rate");
  const double step = (times.back() - times.front()) / static_cast<double>(times.size() - 1);
  if (!(step > 0) || !std::isfinite(1 / step)) {
    refuse(place, fmt::format("times run from {} s to {} s, expected to rise", times.front(), times.back()));
  }
  for (std::size_t i = 0; i < times.size(); ++i) {
    const double off = (times[i] - times.front()) / step - static_cast<double>(i);
    if (std::abs(off) > most_off) {
      place.line = lines[i];
      refuse(place, fmt::format("time {} s lies {:.2f} samples off even spacing of {} s", times[i], off, step),
             "samples must be evenly spaced; were lines lost?");
    }
  }
  const double rate_hz = 1 / step;
  if (!options.rate_hz) return rate_hz;
  if (std::abs(*options.rate_hz / rate_hz - 1) > 0.01) {
    refuse(place, fmt::format("times give {:.6g} samples per second, --rate says {:.6g}", rate_hz, *options.rate_hz),
           "leave out --rate, or the column of times");
  }
  return *options.rate_hz;
}

void require_usable(const ReadOptions& options) {
  const Place place{&options};
  if (options.rate_hz && (!(*options.rate_hz > 0) || !std::isfinite(*options.rate_hz))) {
    refuse(place, fmt::format("sample rate {} Hz, expected above 0", *options.rate_hz));
  }
  if (options.scale_v && (!std::isfinite(*options.scale_v) || *options.scale_v == 0)) {
    refuse(place, fmt::format("scale {} V, expected a number other than 0", *options.scale_v));
  }
  if (options.offset_v && !std::isfinite(*options.offset_v)) {
    refuse(place, fmt::format("offset {} V, expected a number", *options.offset_v));
  }
}

}  // namespace

StoredWaveform read_csv(std::string_view text, const ReadOptions& options) {
  require_usable(options);
  Reader reader(text, options);
  reader.read();
  Waveform waveform;
  if (!reader.times.empty()) {
    waveform.rate_hz = rate_from(reader.times, reader.lines, options);
  } else if (options.rate_hz) {
    waveform.rate_hz = *options.rate_hz;
  } else {
    refuse({&options}, "has one column and no times", "add --rate with the samples per second");
  }
  waveform.codes = std::move(reader.volts);
  return StoredWaveform(std::move(waveform));
}

std::string write_csv(const WaveformView& waveform) {
  std::string text = "time_s,volts\n";
  for (std::size_t i = 0; i < waveform.size(); ++i) {
    fmt::format_to(std::back_inserter(text), "{:.12g},{:.9g}\n", static_cast<double>(i) / waveform.rate_hz,
                   waveform.volts(i));
  }
  return text;
}

}  // namespace eyelevel::signal
