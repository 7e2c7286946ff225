// SPDX-License-Identifier: Apache-2.0
#include "core/disc/picture/run_spread.hpp"

#include "core/disc/efm/code.hpp"

namespace eyelevel::disc::picture {

void RunSpreadCounter::take(std::span<const eye::Run> runs) {
  for (const eye::Run& run : runs) {
    if (run.length < static_cast<int>(efm::run_min) || run.length > static_cast<int>(efm::run_max)) continue;
    const double off = (run.end - run.start) / static_cast<double>(run.period) - run.length;
    if (!(off >= -1 && off < 1)) continue;
    auto& groups = run.high == high_is_land_ ? spreads_.lands : spreads_.pits;
    const auto step = static_cast<std::size_t>((off + 1) * static_cast<double>(LengthSpread::steps_per_bit));
    if (step < LengthSpread::steps) ++groups[static_cast<std::size_t>(run.length)].counts[step];
  }
}

}  // namespace eyelevel::disc::picture
