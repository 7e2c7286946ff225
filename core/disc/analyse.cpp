// SPDX-License-Identifier: Apache-2.0
// A record from samples to figures: cut into windows, each looked at by itself, their sums and frames put together.
// The steps are files of window/, clock/, eye/, detail/, subcode/ and circ/.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <limits>
#include <memory>
#include <type_traits>
#include <variant>

#include "core/base/error.hpp"
#include "core/disc/analysis.hpp"
#include "core/disc/clock/survey.hpp"
#include "core/disc/detail/capture_advice.hpp"
#include "core/disc/window/cutter.hpp"
#include "core/disc/window/figures.hpp"
#include "core/disc/window/frame_chain.hpp"
#include "core/quantity/counted.hpp"

namespace eyelevel::disc {
namespace {

constexpr std::size_t samples_least = 256;

// Codes at the ends of the converter or of the screen, whichever come first.
eye::Rails rails_of(const signal::WaveformView& scale) {
  constexpr double none = std::numeric_limits<double>::infinity();
  eye::Rails rails{-none, none};
  if (std::holds_alternative<std::span<const std::int8_t>>(scale.codes)) rails = {-128, 127};
  if (std::holds_alternative<std::span<const std::int16_t>>(scale.codes)) rails = {-32768, 32767};
  if (!scale.screen) return rails;
  // Half a part in a thousand of the screen: a scaled code need not meet the end to the last digit.
  const double slack = 5e-4 * std::abs((scale.screen->high_v - scale.screen->low_v) / scale.scale_v);
  const double a = (scale.screen->low_v - scale.offset_v) / scale.scale_v;
  const double b = (scale.screen->high_v - scale.offset_v) / scale.scale_v;
  if (std::isnan(a) || std::isnan(b)) return rails;
  return {std::max(rails.low, std::min(a, b) + slack), std::min(rails.high, std::max(a, b) - slack)};
}

double block_s(const signal::WaveformView& scale) {
  return static_cast<double>(clock::block_samples(scale.rate_hz)) / scale.rate_hz;
}

// Why nothing can be measured whatever the samples are; empty if it can.
std::string unusable(const signal::WaveformView& scale) {
  if (!(scale.rate_hz > 0) || !std::isfinite(scale.rate_hz)) {
    return fmt::format("the sample rate must be above 0 Hz, it is {} Hz: nothing was measured", scale.rate_hz);
  }
  if (scale.scale_v == 0 || !std::isfinite(scale.scale_v) || !std::isfinite(scale.offset_v)) {
    return fmt::format("scale {} V and offset {} V are no scale: nothing was measured", scale.scale_v, scale.offset_v);
  }
  return {};
}

}  // namespace

// What is known of a record while its samples come.
class StreamAnalyser::Work {
 public:
  Work(const signal::WaveformView& scale, const AnalysisOptions& options)
      : scale_(scale),
        options_(options),
        unusable_(unusable(scale)),
        tally_(rails_of(scale), block_s(scale)),
        looker_(scale.rate_hz, rails_of(scale), options.on_runs),
        frames_(scale.rate_hz, options) {
    scale_.codes = std::visit([](auto codes) -> signal::CodesView { return decltype(codes)(); }, scale.codes);
    if (!unusable_.empty()) return;
    const window::Lengths lengths = window::lengths_at(scale.rate_hz);
    std::visit([&]<class T>(std::span<const T>) { cutter_ = window::Cutter<T>(lengths); }, scale.codes);
  }

  void take(const signal::CodesView& block, bool last) {
    if (block.index() != scale_.codes.index()) {
      throw base::Error(base::ErrorCode::defect, "blocks of one waveform must all have the same type of codes");
    }
    std::visit([&](const auto& codes) { samples_ += codes.size(); }, block);
    if (!unusable_.empty()) return;
    std::visit(
        [&]<class T>(std::span<const T> codes) {
          auto& cutter = std::get<window::Cutter<T>>(cutter_);
          const auto visit = [&](std::span<const T> samples, const window::Place& place) { look(samples, place); };
          last ? cutter.finish(codes, visit) : cutter.take(codes, visit);
        },
        block);
  }

  Analysis result() {
    Analysis out;
    out.samples = samples_;
    if (!unusable_.empty()) {
      out.warnings.push_back(unusable_);
    } else if (samples_ < samples_least) {
      out.warnings.push_back(fmt::format("{} {} too few for an eye; at least {} are needed",
                                         quantity::counted(samples_, "sample"), samples_ == 1 ? "is" : "are",
                                         samples_least));
      out.warnings.push_back(detail::too_short_a_record(samples_, scale_.rate_hz));
    } else {
      frames_.end();
      return window::figures(scale_, options_, tally_, frames_);
    }
    if (scale_.rate_hz > 0 && std::isfinite(scale_.rate_hz)) {
      out.duration_s = static_cast<double>(samples_) / scale_.rate_hz;
    }
    return out;
  }

 private:
  void look(const signal::CodesView& samples, const window::Place& place) {
    if (place.core.to < samples_least) return;
    frames_.take(looker_.look(samples, place, tally_), place);
  }

  signal::WaveformView scale_;
  AnalysisOptions options_;
  std::string unusable_;
  std::size_t samples_ = 0;
  window::Tally tally_;
  window::Looker looker_;
  window::FrameChain frames_;
  std::variant<window::Cutter<std::int8_t>, window::Cutter<std::int16_t>, window::Cutter<float>> cutter_{
      window::Cutter<std::int8_t>({})};
};

StreamAnalyser::StreamAnalyser(const signal::WaveformView& scale, const AnalysisOptions& options)
    : work_(std::make_unique<Work>(scale, options)) {}
StreamAnalyser::~StreamAnalyser() = default;
StreamAnalyser::StreamAnalyser(StreamAnalyser&&) noexcept = default;
StreamAnalyser& StreamAnalyser::operator=(StreamAnalyser&&) noexcept = default;

void StreamAnalyser::take(const signal::CodesView& block) { work_->take(block, false); }

Analysis StreamAnalyser::finish(const signal::CodesView& last) {
  work_->take(last, true);
  return work_->result();
}

Analysis analyse(const signal::WaveformView& waveform, const AnalysisOptions& options) {
  return StreamAnalyser(waveform, options).finish(waveform.codes);
}

}  // namespace eyelevel::disc
