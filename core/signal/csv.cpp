// SPDX-License-Identifier: Apache-2.0
#include "core/signal/csv.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <cmath>
#include <limits>
#include <vector>

#include "core/signal/csv_heading.hpp"
#include "core/signal/csv_layout.hpp"
#include "core/signal/detail/refusal.hpp"

namespace eyelevel::signal {

namespace {

using detail::Place;
using detail::refuse;

// Of a sample: a lost line puts some time off by half a sample or more, rounding to a printed digit by less.
constexpr double most_off = 0.4;
// Of the usual step: in a few lines the mean hides a lost one, which makes a step of two.
constexpr double most_leap = 0.75;
constexpr double rates_agree = 0.01;

// The columns that are read, by their place in the line.
struct Columns {
  std::optional<std::size_t> time;
  std::vector<std::size_t> channels;
  std::size_t chosen = 0;    // of the channels, counted from 0
  bool is_numbered = false;  // the first column counts the samples
};

std::vector<std::size_t> columns_of(const CsvLayout& layout) {
  std::vector<std::size_t> columns;
  for (std::size_t i = 0; i < CsvFields::most; ++i) {
    if ((layout.columns >> i & 1) != 0) columns.push_back(i);
  }
  return columns;
}

// How a column goes on over the first lines.
struct Course {
  bool rises = true;
  bool counts = true;  // whole numbers, each one more than the last
};

Course course_of(const CsvLayout& layout, std::size_t column) {
  constexpr std::size_t lines_looked_at = 256;
  Course course;
  CsvLines lines(layout.body, layout.first_line);
  CsvFields fields;
  std::optional<double> before;
  std::string_view line;
  for (std::size_t i = 0; i < lines_looked_at && lines.next(line); ++i) {
    fields.split(line, layout.dialect.separator);
    if (column >= fields.count) continue;
    const auto value = number_in(fields.text[column], layout.dialect.decimal);
    if (!value) continue;
    course.rises = course.rises && !(before && !(*value > *before));
    course.counts = course.counts && *value == std::floor(*value) && !(before && *value != *before + 1);
    before = value;
  }
  return course;
}

// Takes the time, and what only counts the samples, out of the columns.
void set_time_apart(Columns& columns, const CsvLayout& layout, const CsvHeading& heading, bool rate_is_known) {
  std::vector<std::size_t>& all = columns.channels;
  const auto named = std::find_if(all.begin(), all.end(), [&](std::size_t column) {
    return heading.columns[column].quantity == CsvQuantity::time;
  });
  const bool has_unit = named != all.end() && !heading.columns[*named].text.empty();
  const CsvQuantity first = heading.columns[all[0]].quantity;
  const Course course = course_of(layout, all[0]);
  if (!has_unit && heading.interval_s && course.counts && first != CsvQuantity::voltage) {
    columns.is_numbered = true;
    all.erase(all.begin());
  } else if (named != all.end()) {
    columns.time = *named;
    // What stands before the time counts the samples, unless nothing stands behind it.
    all.erase(named + 1 == all.end() ? named : all.begin(), named + 1);
  } else if (first == CsvQuantity::unknown && (course.rises || !rate_is_known)) {
    columns.time = all[0];
    all.erase(all.begin());
  }
}

Columns choose_columns(const CsvLayout& layout, const CsvHeading& heading, const ReadOptions& options) {
  Columns columns;
  columns.channels = columns_of(layout);
  if (columns.channels.size() > 1) {
    set_time_apart(columns, layout, heading, options.rate_hz.has_value() || heading.interval_s.has_value());
  }
  columns.chosen = detail::chosen_channel(options, columns.channels.size());
  return columns;
}

class BodyReader {
 public:
  BodyReader(const CsvLayout& layout, const Columns& columns, const ReadOptions& options, double scale_v,
             double time_factor)
      : layout_(layout),
        place_{&options},
        time_(columns.time),
        channel_(columns.channels[columns.chosen]),
        scale_v_(scale_v),
        offset_v_(options.offset_v.value_or(0)),
        time_factor_(time_factor) {}

  void read() {
    CsvLines lines(layout_.body, layout_.first_line);
    for (std::string_view line; lines.next(line);) {
      if (line.empty() || line[0] == '#') continue;
      place_.line = lines.number();
      read_line(line);
    }
  }

  std::size_t line_of(std::size_t sample) const {
    CsvLines lines(layout_.body, layout_.first_line);
    for (std::string_view line; lines.next(line);) {
      if (line.empty() || line[0] == '#') continue;
      if (sample-- == 0) break;
    }
    return lines.number();
  }

  std::vector<double> times_s;
  std::vector<float> volts;

 private:
  void read_line(std::string_view line) {
    const char decimal = layout_.dialect.decimal;
    fields_.split(line, layout_.dialect.separator);
    const std::size_t left = layout_.first_column();
    if (fields_.numbers(decimal) >> left != layout_.columns >> left) refuse_line(line);
    for (std::size_t i = left; i < fields_.count; ++i) {
      if ((layout_.columns >> i & 1) == 0 && !fields_.text[i].empty()) refuse_field(line, fields_.text[i]);
    }
    if (time_) times_s.push_back(finite_in(line, fields_.text[*time_]) * time_factor_);
    volts.push_back(scaled(finite_in(line, fields_.text[channel_])));
  }

  // The first field that is none of the numbers there should be, or else their count.
  [[noreturn]] void refuse_line(std::string_view line) {
    for (std::size_t i = layout_.first_column(); i < fields_.count; ++i) {
      const std::string_view field = fields_.text[i];
      if (!field.empty() && !number_in(field, layout_.dialect.decimal)) refuse_field(line, field);
    }
    const std::size_t before = layout_.column_count();
    const auto here = static_cast<std::size_t>(std::popcount(fields_.numbers(layout_.dialect.decimal)));
    refuse(place_,
           fmt::format("has {} column{} of numbers, the lines before have {}", here, here == 1 ? "" : "s", before),
           here > before && layout_.dialect.separator == ',' ? "is the comma the decimal sign here?" : "");
  }

  [[noreturn]] void refuse_field(std::string_view line, std::string_view field) {
    place_.column = static_cast<std::size_t>(field.data() - line.data()) + 1;
    const char wrong = layout_.dialect.decimal == '.' ? ',' : '.';
    refuse(place_, fmt::format("\"{}\" is not a number", base::escaped(field, 40)),
           field.find(wrong) == std::string_view::npos
               ? ""
               : fmt::format("the lines before are written with a decimal {}", wrong == ',' ? "point" : "comma"));
  }

  double finite_in(std::string_view line, std::string_view field) {
    const double value = *number_in(field, layout_.dialect.decimal);
    if (std::isfinite(value)) return value;
    place_.column = static_cast<std::size_t>(field.data() - line.data()) + 1;
    refuse(place_, fmt::format("sample {} (counted from 0) is \"{}\", not a finite number", volts.size(),
                               base::escaped(field, 40)));
  }

  float scaled(double value) const {
    const double volt = value * scale_v_ + offset_v_;
    if (std::abs(volt) <= static_cast<double>(std::numeric_limits<float>::max())) return static_cast<float>(volt);
    refuse(place_, fmt::format("sample {} (counted from 0) is {}, not a voltage", volts.size(), volt));
  }

  const CsvLayout& layout_;
  Place place_;
  std::optional<std::size_t> time_;
  std::size_t channel_;
  double scale_v_, offset_v_, time_factor_;
  CsvFields fields_;
};

constexpr const char* uneven_advice =
    "samples must be evenly spaced: were lines lost? If the times are only rounded, keep the volts and give --rate";

double usual_step(const std::vector<double>& times) {
  std::vector<double> steps(times.size() - 1);
  for (std::size_t i = 0; i < steps.size(); ++i) steps[i] = times[i + 1] - times[i];
  const auto middle = steps.begin() + static_cast<std::ptrdiff_t>((steps.size() - 1) / 2);
  std::nth_element(steps.begin(), middle, steps.end());
  return *middle;
}

// Names the line at which the spacing departs most from the usual one.
[[noreturn]] void refuse_uneven(const BodyReader& body, double usual, const ReadOptions& options) {
  const std::vector<double>& times = body.times_s;
  std::size_t worst = 1;
  const auto departure = [&](std::size_t i) { return std::abs(times[i] - times[i - 1] - usual); };
  for (std::size_t i = 2; i < times.size(); ++i) {
    if (departure(i) > departure(worst)) worst = i;
  }
  refuse({&options, body.line_of(worst)},
         fmt::format("time {:.9g} s comes {:.6g} s after the one before, expected {:.6g} s as between most others",
                     times[worst], times[worst] - times[worst - 1], usual),
         uneven_advice);
}

double rate_from(const BodyReader& body, const ReadOptions& options) {
  const std::vector<double>& times = body.times_s;
  Place place{&options};
  if (times.size() < 2) refuse(place, "has one sample: two or more times are needed to know the rate");
  for (std::size_t i = 1; i < times.size(); ++i) {
    if (times[i] >= times[i - 1]) continue;
    place.line = body.line_of(i);
    refuse(place, fmt::format("time goes backwards: {:.9g} s after {:.9g} s, expected to rise", times[i], times[i - 1]),
           "one record per file; were two joined?");
  }
  const double step = (times.back() - times.front()) / static_cast<double>(times.size() - 1);
  if (!(step > 0) || !std::isfinite(step) || !std::isfinite(1 / step)) {
    place.line = body.line_of(1);
    refuse(place, fmt::format("times run from {} s to {} s, expected to rise", times.front(), times.back()),
           "if this column is no time, keep the column of volts and give --rate");
  }
  const double usual = usual_step(times);
  for (std::size_t i = 1; i < times.size(); ++i) {
    const double off = (times[i] - times.front()) / step - static_cast<double>(i);
    const bool leaps = std::abs(times[i] - times[i - 1] - usual) > most_leap * usual;
    if (leaps || !(std::abs(off) <= most_off)) refuse_uneven(body, usual, options);
  }
  const double rate_hz = 1 / step;
  if (!options.rate_hz) return rate_hz;
  if (std::abs(*options.rate_hz / rate_hz - 1) > rates_agree) {
    refuse(place, fmt::format("times give {:.6g} samples per second, --rate says {:.6g}", rate_hz, *options.rate_hz),
           "leave out --rate, or the column of times");
  }
  return *options.rate_hz;
}

std::string separated(const CsvLayout& layout) {
  if (layout.column_count() == 1) return "one column";
  switch (layout.dialect.separator) {
    case ';': return "semicolon-separated";
    case '\t': return "tab-separated";
    case ',': return "comma-separated";
    default: return "separated by blanks";
  }
}

std::vector<std::string> assumptions(const CsvLayout& layout, const CsvHeading& heading, const Columns& columns,
                                     const ReadOptions& options, double rate_hz) {
  std::vector<std::string> assumed{separated(layout),
                                   fmt::format("decimal {}", layout.dialect.decimal == '.' ? "point" : "comma")};
  const std::size_t lines = layout.headings.size();
  if (lines > 0) assumed.push_back(fmt::format("{} header line{}", lines, lines == 1 ? "" : "s"));
  if (columns.time) {
    const CsvUnit& unit = heading.columns[*columns.time];
    assumed.push_back(unit.text.empty() ? "time in s, as no unit is named" : "time in " + unit.text);
  } else if (!options.rate_hz) {
    assumed.push_back("sample interval from the heading");
  }
  if (columns.is_numbered) assumed.push_back("first column counts the samples");
  const CsvUnit& unit = heading.columns[columns.channels[columns.chosen]];
  std::string in = "in V, as no unit is named";
  if (options.scale_v)
    in = fmt::format("at {:.6g} V for 1, as --scale says", *options.scale_v);
  else if (unit.quantity == CsvQuantity::voltage && !unit.text.empty())
    in = "in " + unit.text;
  assumed.push_back(fmt::format("channel {} of {} {}", columns.chosen + 1, columns.channels.size(), in));
  assumed.push_back(rate_text(rate_hz));
  return assumed;
}

// Volts per number in the column.
double scale_of(const CsvUnit& unit, const ReadOptions& options) {
  if (options.scale_v) return *options.scale_v;
  if (unit.quantity == CsvQuantity::voltage || unit.quantity == CsvQuantity::unknown) return unit.factor;
  refuse({&options}, fmt::format("the column is in {}, expected V, mV or uV", unit.text.empty() ? "s" : unit.text),
         "choose another with --channel, or add --scale with the volts for 1");
}

}  // namespace

StoredWaveform read_csv(std::string_view text, const ReadOptions& options) {
  detail::require_usable(options);
  const CsvLayout layout = find_csv_layout(text, options);
  const CsvHeading heading = read_csv_heading(layout);
  const Columns columns = choose_columns(layout, heading, options);
  const double scale_v = scale_of(heading.columns[columns.channels[columns.chosen]], options);
  BodyReader body(layout, columns, options, scale_v, columns.time ? heading.columns[*columns.time].factor : 1);
  body.read();
  if (!columns.time && !options.rate_hz && !heading.interval_s) {
    refuse({&options},
           fmt::format("has {} column{} of numbers with a decimal {} and no times", columns.channels.size(),
                       columns.channels.size() == 1 ? "" : "s", layout.dialect.decimal == '.' ? "point" : "comma"),
           "add --rate with the samples per second");
  }
  Waveform waveform;
  if (columns.time) {
    waveform.rate_hz = rate_from(body, options);
  } else {
    waveform.rate_hz = options.rate_hz ? *options.rate_hz : 1 / *heading.interval_s;
  }
  waveform.codes = std::move(body.volts);
  const double rate_hz = waveform.rate_hz;
  return StoredWaveform(std::move(waveform), assumptions(layout, heading, columns, options, rate_hz));
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
