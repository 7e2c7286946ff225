// SPDX-License-Identifier: Apache-2.0
#include "core/record/store/run_names.hpp"

#include <fmt/format.h>

#include <numeric>

#include "core/base/error.hpp"
#include "core/record/journal/event_json.hpp"

namespace eyelevel::record {

std::string day_of(base::UtcTime time) { return utc_text(time).substr(0, 10); }

std::string run_name(std::string_view day, std::int64_t number) { return fmt::format("{}-{}", day, number); }

std::size_t distance(std::string_view a, std::string_view b) {
  std::vector<std::size_t> row(b.size() + 1);
  std::iota(row.begin(), row.end(), std::size_t{0});
  for (std::size_t i = 0; i < a.size(); ++i) {
    std::size_t diagonal = row[0];
    row[0] = i + 1;
    for (std::size_t j = 0; j < b.size(); ++j) {
      const std::size_t replaced = diagonal + (a[i] == b[j] ? 0 : 1);
      diagonal = row[j + 1];
      row[j + 1] = std::min({replaced, row[j] + 1, row[j + 1] + 1});
    }
  }
  return row.back();
}

void throw_unknown_run(std::string_view wanted, std::string_view store, const std::vector<RunSummary>& known) {
  base::ErrorRecord record;
  record.code = base::ErrorCode::not_found;
  record.where = fmt::format("store {}", store);
  record.message = fmt::format("there is no run \"{}\"", wanted);
  if (known.empty()) {
    record.advice = "the store holds no run yet; was another one meant?";
  } else {
    const auto nearest = std::min_element(known.begin(), known.end(), [&](const RunSummary& a, const RunSummary& b) {
      return distance(wanted, a.id) < distance(wanted, b.id);
    });
    record.advice = fmt::format("the nearest is {} ({}, {}); \"eyelevel records\" lists them all", nearest->id,
                                nearest->serial.empty() ? "no serial" : nearest->serial, nearest->sequence);
  }
  throw base::Error(std::move(record));
}

void take_into(RunSummary& summary, const event::Event& event) {
  if (const auto* begun = std::get_if<event::Begun>(&event.body)) {
    summary.begun = event.utc;
    summary.sequence = begun->sequence;
    summary.serial = begun->serial;
    summary.model = begun->model;
    summary.bench = begun->bench;
    summary.program = program_name();
    summary.proves = begun->proves;
  } else if (const auto* answered = std::get_if<event::Answered>(&event.body)) {
    if (summary.operator_name.empty()) summary.operator_name = answered->by;
  } else if (const auto* closed = std::get_if<event::Closed>(&event.body)) {
    summary.closed = event.utc;
    summary.ended = closed->ended;
    summary.judgement = closed->judgement;
  }
}

std::string program_name() { return "eyelevel " EYELEVEL_VERSION; }

}  // namespace eyelevel::record
