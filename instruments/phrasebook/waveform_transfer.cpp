// SPDX-License-Identifier: Apache-2.0
#include "instruments/phrasebook/waveform_transfer.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <utility>

#include "core/base/error.hpp"
#include "core/quantity/text.hpp"
#include "instruments/phrasebook/samples.hpp"

namespace eyelevel::phrasebook {
namespace {

using scpi::ProgramBuilder;
using scpi::ResponseReader;

// What an instrument may round away of a number that it was told: six digits, as it prints them.
constexpr double rounding = 1e-4;

std::string seconds(double value) { return quantity::print({value, quantity::time}, 6); }

}  // namespace

task<> WaveformTransfer::agree(Deadline deadline) {
  const bool floats = !phrases_.layout.is_used();
  const bool has_order = !phrases_.byte_order.empty();
  const std::string& wanted = floats ? phrases_.floats : phrases_.codes;
  ProgramBuilder tell;
  tell.command(phrases_.data_format).word(wanted);
  if (floats) tell.integer(32);
  if (has_order) tell.command(phrases_.byte_order).word(phrases_.low_byte_first);
  co_await talk_.tell(tell, deadline);
  co_await talk_.pause(phrases_.layout.pause, deadline);
  ProgramBuilder ask;
  ask.query(phrases_.data_format);
  if (has_order) ask.query(phrases_.byte_order);
  std::string format;
  std::int64_t bits = 32;
  std::string order;
  co_await talk_.ask(
      std::move(ask),
      [&](ResponseReader& answer) {
        format = answer.character();
        if (floats) bits = answer.integer(0, 64);
        if (!has_order) return;
        answer.next_unit();
        order = answer.character();
      },
      deadline);
  const std::string advice = "is this the right phrasebook for the instrument?";
  if (!means(format, wanted) || bits != 32)
    talk_.not_taken("data format", floats ? wanted + ",32" : wanted,
                    floats ? fmt::format("{},{}", format, bits) : format, advice);
  if (has_order && !means(order, phrases_.low_byte_first))
    talk_.not_taken("byte order", phrases_.low_byte_first, order, advice);
}

task<> WaveformTransfer::fetch(Record record, signal::Waveform& into, Deadline deadline) {
  if (phrases_.layout.is_used()) {
    co_await fetch_codes(record, into, deadline);
  } else {
    co_await fetch_volts(record, into, deadline);
  }
}

task<> WaveformTransfer::fetch_volts(const Record& record, signal::Waveform& into, Deadline deadline) {
  ProgramBuilder ask;
  ask.query(phrases_.fetch).channel(record.channel);
  std::vector<float> volts_read;
  if (auto* floats = std::get_if<std::vector<float>>(&spare_)) volts_read = std::move(*floats);
  std::size_t bytes = 0;
  std::optional<std::size_t> bad;
  co_await talk_.ask(
      std::move(ask),
      [&](ResponseReader& answer) {
        const std::string_view block = answer.block();
        bytes = block.size();
        bad = floats_from(block, volts_read);
      },
      deadline);
  if (bytes != static_cast<std::size_t>(record.points) * sizeof(float))
    talk_.refuse(base::ErrorCode::bad_answer,
                 fmt::format("expected {} samples of 4 bytes, {} bytes came", record.points, bytes),
                 "is this the right phrasebook for the instrument?");
  if (bad)
    talk_.refuse(base::ErrorCode::bad_answer,
                 fmt::format("sample {} of {} is no voltage ({:g})", *bad + 1, record.points,
                             static_cast<double>(volts_read[*bad])),
                 "capture again; if it stays, look at the instrument's own screen");
  into.codes = std::move(volts_read);
}

task<> WaveformTransfer::fetch_codes(const Record& record, signal::Waveform& into, Deadline deadline) {
  const WaveformLayout& layout = phrases_.layout;
  ProgramBuilder ask_header;
  ask_header.query(phrases_.waveform_header);
  WaveformScale scale;
  const auto read_header = [&](std::string_view header) { scale = read_scale(record, header); };
  co_await talk_.ask_alone(ask_header, read_header, deadline);
  signal::Codes codes = codes_for(layout, record.points, std::exchange(spare_, {}));
  const std::int64_t most = layout.points_per_read > 0 ? layout.points_per_read : record.points;
  for (std::int64_t done = 0; done < record.points;) {
    const std::int64_t count = std::min(most, record.points - done);
    co_await fetch_part(done, count, codes, deadline);
    done += count;
  }
  into.codes = std::move(codes);
  set_scale(scale, layout, into);
}

// The scale, of the record that was asked for.
WaveformScale WaveformTransfer::read_scale(const Record& record, std::string_view header) const {
  WaveformScale scale;
  try {
    scale = scale_from(header, phrases_.layout);
  } catch (const base::Error& error) {
    talk_.refuse(error.record().code, error.record().message, error.record().advice);
  }
  const std::string advice = "is this the right phrasebook for the instrument?";
  if (scale.points != record.points)
    talk_.refuse(base::ErrorCode::bad_answer,
                 fmt::format("expected {} points, the waveform header says {}", record.points, scale.points), advice);
  if (!(std::abs(scale.interval_s - record.interval_s) <= rounding * record.interval_s))
    talk_.refuse(base::ErrorCode::bad_answer,
                 fmt::format("expected an interval of {}, the waveform header says {}", seconds(record.interval_s),
                             seconds(scale.interval_s)),
                 advice);
  return scale;
}

task<> WaveformTransfer::fetch_part(std::int64_t first, std::int64_t count, signal::Codes& codes, Deadline deadline) {
  const WaveformLayout& layout = phrases_.layout;
  ProgramBuilder ask;
  if (!phrases_.first_point.empty()) {
    const std::int64_t from = layout.first_point + first;
    ask.command(phrases_.first_point).integer(from);
    ask.command(phrases_.last_point).integer(from + count - 1);
  }
  ask.query(phrases_.fetch);
  std::size_t bytes = 0;
  const auto expected = static_cast<std::size_t>(count) * static_cast<std::size_t>(layout.bits / 8);
  co_await talk_.ask(
      std::move(ask),
      [&](ResponseReader& answer) {
        const std::string_view block = answer.block();
        bytes = block.size();
        if (bytes == expected) append_codes(block, layout, codes);
      },
      deadline);
  if (bytes != expected)
    talk_.refuse(base::ErrorCode::bad_answer,
                 fmt::format("expected {} codes of {} bytes from point {} on, {} bytes came", count, layout.bits / 8,
                             layout.first_point + first, bytes),
                 "is this the right phrasebook for the instrument?");
}

}  // namespace eyelevel::phrasebook
