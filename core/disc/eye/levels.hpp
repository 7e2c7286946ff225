// SPDX-License-Identifier: Apache-2.0
// Levels of the eye by nominal run length: the settled level of the longest runs (11T), and the level at the centre of
// the others. ECMA-130 2nd ed. 12.1, figure 6. Each level is the mean over runs of the level at the run's centre. All
// in codes; which side is light is not known here.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include "core/disc/eye/moments.hpp"
#include "core/disc/eye/run_kernels.hpp"
#include "core/disc/eye/runs.hpp"
#include "core/signal/waveform.hpp"

namespace eyelevel::disc::eye {

struct Level {
  double mean = 0;
  double standard_error = 0;  // of the mean, from the scatter between runs; 0 for a single run
  std::size_t runs = 0;
};

struct EyeLevels {
  // By nominal length, 3 to 11.
  std::array<std::optional<Level>, 12> low{}, high{};
  std::optional<double> noise;               // standard deviation of a settled sample about its run's level
  std::size_t left_out = 0;                  // 11T runs far from the others around them, 3T runs far from the usual
  double clipped_high = 0, clipped_low = 0;  // share of the settled samples at or beyond the rails
};

// Of runs; `above` is how far each level lies from the slicing level, which follows a moving baseline.
struct RunLevels {
  std::vector<float> level, above;
};

// Codes at the ends of the converter.
struct Rails {
  double low = 0, high = 0;
};

// Takes a record part by part.
class LevelSums {
 public:
  explicit LevelSums(const Rails& rails) : rails_(rails) {}

  // Runs of these samples.
  void take(const signal::CodesView& codes, const Runs& runs);
  // After the last run of a part of the record: 11T and 3T runs far from the others are left out.
  void end_part();
  EyeLevels result() const;

 private:
  struct Side {
    double settled = 0, clipped = 0;
    RunLevels longest, shortest;  // of one part
    Moments of_longest;
    Sums of_shortest;  // less the reference
  };
  template <class T>
  void take_runs(std::span<const T> x, const Runs& runs);
  template <class T>
  void take_longest(std::span<const T> x, const Run& run, Side& side);
  void take_shortest(const Runs& runs, std::span<const float> centres, std::span<const std::uint8_t> lengths);
  void add_longest(Side& side, double usual, double slack);
  void add_shortest(Side& side, double slack);
  std::optional<Level> level(const Side& side, const std::array<Sums, 12>& others, std::size_t length) const;

  Rails rails_;
  Side low_, high_;
  std::optional<float> reference_;  // other levels are summed up about it, so that floats lose nothing
  SumsByLength others_{};
  double squares_ = 0, freedom_ = 0;  // of settled samples about the level of their run
  std::size_t left_out_ = 0;
};

}  // namespace eyelevel::disc::eye
