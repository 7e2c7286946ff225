// SPDX-License-Identifier: Apache-2.0
#include "core/disc/detail/capture_advice.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "core/disc/efm/code.hpp"
#include "core/signal/stored.hpp"

namespace eyelevel::disc::detail {

namespace {

constexpr double fastest = 64;                   // no drive turns discs faster
constexpr double speed_tolerance = 0.15;         // still called that speed
constexpr double off_speed_worth_a_word = 0.06;  // players hold theirs within 5 %
constexpr double frames_for_a_clock = 3;         // a pair of syncs, wherever the record begins

using signal::rate_text;

}  // namespace

SpeedFound speed_of(double channel_rate_hz, double rate_hz) {
  const double ratio = channel_rate_hz / channel_rate_1x_hz;
  const double nearest = std::exp2(std::clamp(std::nearbyint(std::log2(ratio)), 0.0, std::log2(fastest)));
  const double off = ratio / nearest - 1;
  if (std::abs(off) < off_speed_worth_a_word) return {nearest, {}};
  std::string rates = fmt::format("With {} it would be {}x", rate_text(rate_hz * nearest / ratio), nearest);
  if (nearest > 1) rates += fmt::format(", with {} 1x", rate_text(rate_hz / ratio));
  if (std::abs(off) < speed_tolerance) {
    return {nearest,
            fmt::format("the channel clock is {:.1f} % {} that of {}x: the disc turns too {}, or the sample rate "
                        "was not {}. {}",
                        100 * std::abs(off), off > 0 ? "above" : "below", nearest, off > 0 ? "fast" : "slow",
                        rate_text(rate_hz), rates)};
  }
  return {ratio,
          fmt::format("the channel rate is {:.3g} times that of 1x: none of the usual speeds. Was the sample rate "
                      "really {}? {}",
                      ratio, rate_text(rate_hz), rates)};
}

std::string too_low_a_rate(double rate_hz) {
  if (rate_hz >= rate_least_hz) return {};
  return fmt::format(
      "the sample rate of {} is too low: a disc at 1x wants {} or more ({} samples per channel bit), 20 MSa/s would do",
      rate_text(rate_hz), rate_text(std::ceil(rate_least_hz / 1e5) * 1e5), samples_per_bit_least);
}

std::string too_short_a_record(std::size_t samples, double rate_hz) {
  const double clock_s = frames_for_a_clock * efm::frame_bits / channel_rate_1x_hz;
  const double held_s = static_cast<double>(samples) / rate_hz;
  if (held_s >= clock_s) return {};
  const double block_s = surely_a_block_s(channel_rate_1x_hz);
  return fmt::format(
      "the record of {:.3g} ms is too short to hold the two frame syncs that a clock wants: {:.3g} ms ({:.0f} samples) "
      "would do for the eye at 1x, {:.3g} ms ({:.0f} samples) for a whole subcode block, too",
      1e3 * held_s, 1e3 * clock_s, std::ceil(clock_s * rate_hz), 1e3 * block_s, std::ceil(block_s * rate_hz));
}

double surely_a_block_s(double channel_rate_hz) {
  // At worst the record begins just after a block did.
  return 2.0 * efm::section_frames * efm::frame_bits / channel_rate_hz;
}

}  // namespace eyelevel::disc::detail
