// SPDX-License-Identifier: Apache-2.0
// Runs one by one as the rows that measures take: between two that lie to the same side comes one that is left out.
#pragma once

#include <cstdint>
#include <span>
#include <vector>

#include "core/disc/eye/runs.hpp"

namespace eyelevel::support {

class RunRow {
 public:
  explicit RunRow(std::span<const disc::eye::Run> runs) {
    for (const disc::eye::Run& run : runs) {
      if (start_.empty()) first_high_ = run.high;
      const bool in_turn = (start_.size() % 2 == 0) == (run.high == first_high_);
      if (!in_turn) add({run.start, run.start, run.period, run.level}, 0);
      add(run, static_cast<std::uint8_t>(run.length));
    }
  }

  // Calls take(runs) with as many at a time as measures take.
  template <class Take>
  void give(Take take) const {
    for (std::size_t first = 0; first < start_.size(); first += disc::eye::Runs::most) {
      const std::size_t n = std::min(disc::eye::Runs::most, start_.size() - first);
      const auto part = [&](const auto& row) { return std::span(row).subspan(first, n); };
      take(disc::eye::Runs{part(start_), part(end_), part(length_), part(period_), part(level_), part(late_),
                           first_high_});
    }
  }

 private:
  void add(const disc::eye::Run& run, std::uint8_t length) {
    start_.push_back(run.start);
    end_.push_back(run.end);
    length_.push_back(length);
    period_.push_back(run.period);
    level_.push_back(run.level);
    late_.push_back(run.late);
  }

  std::vector<double> start_, end_;
  std::vector<std::uint8_t> length_;
  std::vector<float> period_, level_, late_;
  bool first_high_ = true;
};

}  // namespace eyelevel::support
