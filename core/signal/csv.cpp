// SPDX-License-Identifier: Apache-2.0
#include "core/signal/csv.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <cmath>
#include <limits>
#include <utility>
#include <vector>

#include "core/quantity/counted.hpp"
#include "core/signal/csv_heading.hpp"
#include "core/signal/csv_layout.hpp"
#include "core/signal/csv_times.hpp"
#include "core/signal/detail/refusal.hpp"

namespace eyelevel::signal {

namespace {

using detail::Place;
using detail::refuse;

// Lines whose times tell the usual step.
constexpr std::size_t lines_for_step = std::size_t{1} << 16;
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

struct Sample {
  double time_s = 0;  // 0 without a column of times
  float volts = 0;
};

// The options stay as long as the reader.
class LineReader {
 public:
  LineReader(CsvLayout layout, const Columns& columns, const ReadOptions& options, double scale_v, double time_factor)
      : layout_(std::move(layout)),
        options_(options),
        time_(columns.time),
        channel_(columns.channels[columns.chosen]),
        scale_v_(scale_v),
        offset_v_(options.offset_v.value_or(0)),
        time_factor_(time_factor) {}

  // `index` counts the samples from 0.
  Sample read(std::string_view line, std::size_t number, std::size_t index) {
    place_ = {&options_, number};
    const char decimal = layout_.dialect.decimal;
    fields_.split(line, layout_.dialect.separator);
    const std::size_t left = layout_.first_column();
    if (fields_.numbers(decimal) >> left != layout_.columns >> left) refuse_line(line);
    for (std::size_t i = left; i < fields_.count; ++i) {
      if ((layout_.columns >> i & 1) == 0 && !fields_.text[i].empty()) refuse_field(line, fields_.text[i]);
    }
    Sample sample;
    if (time_) sample.time_s = finite_in(line, *time_, index) * time_factor_;
    sample.volts = scaled(finite_in(line, channel_, index), index);
    return sample;
  }

  const CsvLayout& layout() const { return layout_; }

 private:
  // The first field that is none of the numbers there should be, or else their count.
  [[noreturn]] void refuse_line(std::string_view line) {
    for (std::size_t i = layout_.first_column(); i < fields_.count; ++i) {
      const std::string_view field = fields_.text[i];
      if (!field.empty() && !number_in(field, layout_.dialect.decimal)) refuse_field(line, field);
    }
    const std::size_t before = layout_.column_count();
    const auto here = static_cast<std::size_t>(std::popcount(fields_.numbers(layout_.dialect.decimal)));
    refuse(place_,
           fmt::format("has {} of numbers, the lines before have {}", quantity::counted(here, "column"), before),
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

  double finite_in(std::string_view line, std::size_t column, std::size_t index) {
    if (std::isfinite(fields_.value[column])) return fields_.value[column];
    const std::string_view field = fields_.text[column];
    place_.column = static_cast<std::size_t>(field.data() - line.data()) + 1;
    refuse(place_,
           fmt::format("sample {} (counted from 0) is \"{}\", not a finite number", index, base::escaped(field, 40)));
  }

  float scaled(double value, std::size_t index) const {
    const double volt = value * scale_v_ + offset_v_;
    if (std::abs(volt) <= static_cast<double>(std::numeric_limits<float>::max())) return static_cast<float>(volt);
    refuse(place_, fmt::format("sample {} (counted from 0) is {}, not a voltage", index, volt));
  }

  CsvLayout layout_;
  const ReadOptions& options_;
  Place place_{&options_};
  std::optional<std::size_t> time_;
  std::size_t channel_;
  double scale_v_, offset_v_, time_factor_;
  CsvFields fields_;
};

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
  if (lines > 0) assumed.push_back(quantity::counted(lines, "header line"));
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

// With a column of times the text is read three times: the ends of lines for how many there are, the first lines for
// the usual step, then all for the samples. What is wrong with the file as a whole is said only where no line is.
class CsvStream final : public SampleStream {
 public:
  CsvStream(std::size_t size, const CsvLayout& layout, const CsvHeading& heading, const Columns& columns,
            const ReadOptions& options, Release release)
      : SampleStream(std::move(release)),
        size_(size),
        options_(options),
        reader_(layout, columns, options_, scale_of(heading.columns[columns.channels[columns.chosen]], options),
                columns.time ? heading.columns[*columns.time].factor : 1),
        lines_(layout.body, layout.first_line) {
    about_.codes = std::span<const float>();
    if (columns.time) {
      find_times();
      about_.rate_hz = rate_of_times();
    } else if (options.rate_hz || heading.interval_s) {
      about_.rate_hz = options.rate_hz ? *options.rate_hz : 1 / *heading.interval_s;
    } else {
      read_all();
      refuse({&options_},
             fmt::format("has {} of numbers with a decimal {} and no times",
                         quantity::counted(columns.channels.size(), "column"),
                         layout.dialect.decimal == '.' ? "point" : "comma"),
             "add --rate with the samples per second");
    }
    assumed_ = assumptions(layout, heading, columns, options, about_.rate_hz);
    start();
  }

  CodesView next(std::size_t most) override {
    most = std::min(most, block_most);
    volts_.clear();
    for (std::string_view line; volts_.size() < most && next_line(line);) {
      const Sample sample = read(line);
      if (!times_ || times_->are_even()) volts_.push_back(sample.volts);
    }
    // Once the times are not even, blocks do not fill, and the text has ended here.
    if (volts_.size() < most && times_) times_->require_even(options_);
    return std::span<const float>(volts_);
  }

 private:
  void start() {
    lines_ = CsvLines(reader_.layout().body, reader_.layout().first_line);
    index_ = 0;
    if (span_) times_.emplace(*span_);
  }

  bool next_line(std::string_view& line) {
    while (lines_.next(line)) {
      pass(size_ - lines_.rest().size());
      if (!line.empty() && line[0] != '#') return true;
    }
    return false;
  }

  Sample read(std::string_view line) {
    const Sample sample = reader_.read(line, lines_.number(), index_++);
    if (times_) times_->take(sample.time_s, lines_.number());
    return sample;
  }

  // Refuses the first line that is broken and times that are not even.
  void read_all() {
    start();
    for (std::string_view line; next_line(line);) read(line);
    if (times_) times_->require_even(options_);
  }

  void find_times() {
    CsvTimeSpan span;
    std::string_view line, last;
    std::size_t last_number = 0;
    for (start(); next_line(line); ++span.count) {
      last = line;
      last_number = lines_.number();
    }
    std::vector<double> times_s;
    for (start(); times_s.size() < lines_for_step && next_line(line);) times_s.push_back(read(line).time_s);
    if (span.count < 2) refuse({&options_}, "has one sample: two or more times are needed to know the rate");
    span.first_s = times_s.front();
    span.usual_step_s = usual_step_in(times_s);
    try {
      span.last_s = reader_.read(last, last_number, span.count - 1).time_s;
    } catch (const base::Error&) {
      read_all();  // a line before it may be broken, too, and is named then
      throw;
    }
    span_ = span;
  }

  double rate_of_times() {
    const double step_s = span_->step_s();
    if (!(step_s > 0) || !std::isfinite(step_s) || !std::isfinite(1 / step_s)) read_all();  // which refuses them
    const double rate_hz = 1 / step_s;
    if (!options_.rate_hz) return rate_hz;
    if (std::abs(*options_.rate_hz / rate_hz - 1) > rates_agree) {
      read_all();
      refuse({&options_},
             fmt::format("times give {:.6g} samples per second, --rate says {:.6g}", rate_hz, *options_.rate_hz),
             "leave out --rate, or the column of times");
    }
    return *options_.rate_hz;
  }

  std::size_t size_;  // of the file; the lines end with it
  ReadOptions options_;
  LineReader reader_;
  CsvLines lines_;
  std::size_t index_ = 0;  // of the next sample
  std::optional<CsvTimeSpan> span_;
  std::optional<CsvTimes> times_;
  std::vector<float> volts_;
};

}  // namespace

std::unique_ptr<SampleStream> open_csv(std::string_view text, const ReadOptions& options, Release release) {
  detail::require_usable(options);
  const CsvLayout layout = find_csv_layout(text, options);
  const CsvHeading heading = read_csv_heading(layout);
  const Columns columns = choose_columns(layout, heading, options);
  return std::make_unique<CsvStream>(text.size(), layout, heading, columns, options, std::move(release));
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
