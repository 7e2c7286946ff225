// SPDX-License-Identifier: Apache-2.0
#include "sim/instrument/front_end.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <utility>

#include "sim/disc/kernels.hpp"

namespace eyelevel::sim {
namespace {

constexpr std::size_t chunk_samples = 8192;  // a multiple of the noise's lanes
constexpr double coupling_corner_hz = 5;
constexpr double levels = 255;

// Noise for an 8-bit converter: sums of four random bytes. Mean 0, standard deviation 1, steps of 0.007, ends at 3.45;
// nearly normal.
class Noise {
 public:
  explicit Noise(base::Random& random) {
    for (auto& state : states_) state = static_cast<std::uint32_t>(random.bits() >> 32U) | 1U;
  }

  // In whole rounds.
  void add(std::span<float> values, float amplitude) {
    constexpr float sd = 147.801F;  // sqrt(4 (256^2 - 1) / 12)
    kernels::add_noise_of_4(states_, values, amplitude / sd);
  }

 private:
  std::array<std::uint32_t, kernels::noise_lanes> states_;
};

}  // namespace

FrontEnd::FrontEnd(const ScopeClass& scope_class, base::Random random)
    : class_(scope_class),
      random_(random),
      gain_(1 + random_.uniform(-class_.gain_relative, class_.gain_relative)),
      offset_in_v_(random_.uniform(-class_.offset_in_v, class_.offset_in_v)),
      offset_of_range_(random_.uniform(-class_.offset_of_range, class_.offset_of_range)),
      chunk_(chunk_samples) {}

void FrontEnd::connect(std::shared_ptr<SignalSource> source, const ProbeWiring& probe) {
  source_ = std::move(source);
  probe_ = probe;
}

void FrontEnd::Shelf::run(std::span<float> volts) {
  std::array<float, 512> below;
  for (std::size_t done = 0; done < volts.size(); done += below.size()) {
    const auto part = volts.subspan(done, std::min(below.size(), volts.size() - done));
    std::ranges::copy(part, below.begin());
    kernels::run(pole, std::span(below.data(), part.size()));
    for (std::size_t i = 0; i < part.size(); ++i) part[i] = high * part[i] + (low - high) * below[i];
  }
}

double FrontEnd::mean_before(double start_s, double length_s) const {
  const double from_s = std::max(0.0, start_s - length_s);
  const double until_s = std::max(start_s, from_s + 1e-6);
  if (start_s <= 0) {
    float first = 0;
    source_->render(0, 1e6, std::span(&first, 1), {probe_.resistance_ohm, probe_.capacitance_f});
    return first;
  }
  return source_->mean_v(from_s, std::min(until_s, start_s), {probe_.resistance_ohm, probe_.capacitance_f});
}

double FrontEnd::hum_v_at(double time_s) const {
  return probe_.hum_v * std::sin(2 * std::numbers::pi * probe_.hum_hz * time_s);
}

// A line between two points a millisecond or less apart is the sine to 1.3 % of its height.
void FrontEnd::add_hum(double start_s, double interval_s, std::span<float> volts) const {
  if (probe_.hum_v == 0) return;
  constexpr double piece_s = 1e-3;
  const auto piece = static_cast<std::size_t>(std::max(1.0, piece_s / interval_s));
  for (std::size_t i = 0; i < volts.size(); i += piece) {
    const auto part = volts.subspan(i, std::min(piece, volts.size() - i));
    const double from_s = start_s + static_cast<double>(i) * interval_s;
    const double first_v = hum_v_at(from_s);
    const double step_v =
        (hum_v_at(from_s + static_cast<double>(part.size()) * interval_s) - first_v) / static_cast<double>(part.size());
    for (std::size_t j = 0; j < part.size(); ++j)
      part[j] += static_cast<float>(first_v + step_v * static_cast<double>(j));
  }
}

FrontEnd::Shelf FrontEnd::shelf(double corner_hz, double low, double high, double before_v, double interval_s) const {
  const auto step = static_cast<float>(1 - std::exp(-2 * std::numbers::pi * corner_hz * interval_s));
  return {static_cast<float>(low),
          static_cast<float>(high),
          {.keep = 1 - step, .now = step, .output = static_cast<float>(before_v)}};
}

// Filters for one record, with the state that they had when it began.
void FrontEnd::prepare(const InputSetting& setting, const Span& span) {
  shelves_.clear();
  if (!source_ || setting.coupling == InputCoupling::ground) return;
  const double to_input = (1 + probe_.divider_error) / probe_.factor;
  if (probe_.compensation != 1) {
    // The divider's resistors and capacitors disagree: corner of 9 Mohm with the tip's capacitance.
    const double corner_hz = 1 / (2 * std::numbers::pi * 0.9 * probe_.resistance_ohm * probe_.capacitance_f);
    const double mean_v = mean_before(span.start_s, 5 / (2 * std::numbers::pi * corner_hz));
    const double before_v = to_input * (mean_v + hum_v_at(span.start_s));
    shelves_.push_back(shelf(corner_hz, 1, probe_.compensation, before_v, span.interval_s));
  }
  if (setting.coupling == InputCoupling::ac) {
    const double before_v = to_input * mean_before(span.start_s, 3 / (2 * std::numbers::pi * coupling_corner_hz));
    shelves_.push_back(shelf(coupling_corner_hz, 0, 1, before_v, span.interval_s));
  }
  const double bandwidth_hz = setting.filter ? std::min(setting.filter_hz, class_.bandwidth_hz) : class_.bandwidth_hz;
  // A pole above the sample rate is not to be seen in the samples.
  if (bandwidth_hz < 0.5 / span.interval_s) {
    float first = 0;
    source_->render(span.start_s, 1 / span.interval_s, std::span(&first, 1),
                    {probe_.resistance_ohm, probe_.capacitance_f});
    const double before_v =
        setting.coupling == InputCoupling::ac ? 0 : to_input * (static_cast<double>(first) + hum_v_at(span.start_s));
    shelves_.push_back(shelf(bandwidth_hz, 1, 0, before_v, span.interval_s));
  }
}

// Volts at the input connector, before the instrument's own errors.
void FrontEnd::fill(const InputSetting& setting, const Span& span, std::size_t first, std::span<float> volts_in) {
  if (!source_ || setting.coupling == InputCoupling::ground) {
    std::fill(volts_in.begin(), volts_in.end(), 0.0F);
    return;
  }
  source_->render(span.start_s + static_cast<double>(first) * span.interval_s, 1 / span.interval_s, volts_in,
                  {probe_.resistance_ohm, probe_.capacitance_f});
  add_hum(span.start_s + static_cast<double>(first) * span.interval_s, span.interval_s, volts_in);
  const auto to_input = static_cast<float>((1 + probe_.divider_error) / probe_.factor);
  for (float& v : volts_in) v *= to_input;
  for (auto& filter : shelves_) filter.run(volts_in);
}

void FrontEnd::digitise(const InputSetting& setting, const Span& span, std::span<std::int8_t> codes) {
  prepare(setting, span);
  const double step_in_v = setting.range_in_v / levels;
  const double offset_v = offset_in_v_ + offset_of_range_ * setting.range_in_v - setting.offset_in_v;
  const auto gain = static_cast<float>(gain_ / step_in_v);
  const auto offset = static_cast<float>(offset_v / step_in_v);
  const auto noise =
      static_cast<float>(std::hypot(class_.noise_in_v, class_.noise_of_range * setting.range_in_v) / step_in_v);
  Noise source(random_);
  for (std::size_t first = 0; first < codes.size(); first += chunk_samples) {
    const std::size_t count = std::min(chunk_samples, codes.size() - first);
    const std::span volts(chunk_.data(), count);
    fill(setting, span, first, volts);
    for (float& v : volts) v = v * gain + offset;
    // The last samples of a chunk that is not full take more noise than they need: the buffer is a multiple of the
    // lanes.
    const std::size_t rounds = (count + kernels::noise_lanes - 1) / kernels::noise_lanes;
    if (noise > 0) source.add(std::span(chunk_.data(), rounds * kernels::noise_lanes), noise);
    kernels::to_codes(volts, codes.subspan(first, count));
  }
}

void FrontEnd::analog(const InputSetting& setting, const Span& span, std::span<float> volts_in) {
  prepare(setting, span);
  fill(setting, span, 0, volts_in);
  const auto gain = static_cast<float>(gain_);
  const auto offset = static_cast<float>(offset_in_v_ + offset_of_range_ * setting.range_in_v);
  for (float& v : volts_in) v = v * gain + offset;
}

}  // namespace eyelevel::sim
