// SPDX-License-Identifier: Apache-2.0
#include "core/disc/eye/instrument_jitter.hpp"

#include <cmath>
#include <cstdint>

namespace eyelevel::disc::eye {

void InstrumentJitter::take(const signal::CodesView& codes, const Runs& runs) {
  std::visit([&](const auto& x) { take_runs(x, runs); }, codes);
}

template <class T>
void InstrumentJitter::take_runs(std::span<const T> x, const Runs& runs) {
  constexpr std::size_t of_so_many = 31;  // odd: rising and falling edges in turn
  for (; next_ < runs.size(); next_ += of_so_many) {
    if (runs.length[next_] == 0) continue;
    const Run run = runs[next_];
    const auto base = static_cast<std::ptrdiff_t>(run.start);
    if (base < 1 || base + 2 >= static_cast<std::ptrdiff_t>(x.size())) continue;
    const T* at = x.data() + base;
    const double u = run.start - static_cast<double>(base);
    const auto z = static_cast<double>(at[-1]), a = static_cast<double>(at[0]), b = static_cast<double>(at[1]),
               c = static_cast<double>(at[2]);
    count_ += 1;
    // Half way between the middle two, of the cubic through all four.
    slope_ += (run.high ? 1 : -1) * (27 * (b - a) - (c - z)) / 24;
    // Both samples have their noise, weighted as the crossing lies between them.
    weight_ += (1 - u) * (1 - u) + u * u;
    // A parabola through the samples lies u (1 - u) / 2 of their second difference off the straight line.
    const double bend = 0.5 * (c - b - a + z), off = 0.5 * u * (1 - u) * bend;
    bend_ += off * off;
  }
  next_ -= runs.size();
}

std::optional<double> InstrumentJitter::of_edge(double noise) const {
  const double slope = slope_ / count_;
  if (!(slope > 0)) return std::nullopt;
  return std::sqrt((weight_ * noise * noise + bend_) / count_) / slope;
}

}  // namespace eyelevel::disc::eye
