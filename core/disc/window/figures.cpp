// SPDX-License-Identifier: Apache-2.0
#include "core/disc/window/figures.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <string>
#include <string_view>

#include "core/disc/circ/error_rate.hpp"
#include "core/disc/clock/recovery.hpp"
#include "core/disc/clock/survey.hpp"
#include "core/disc/detail/capture_advice.hpp"
#include "core/disc/detail/radius.hpp"
#include "core/disc/efm/code.hpp"
#include "core/disc/subcode/q.hpp"
#include "core/quantity/counted.hpp"

namespace eyelevel::disc::window {
namespace {

using quantity::counted;

class Figures {
 public:
  Figures(const signal::WaveformView& scale, const AnalysisOptions& options, const Tally& tally,
          const FrameChain& frames)
      : scale_(scale), options_(options), tally_(tally), frames_(frames) {
    // A block of the outline that spans few channel bits (the sample rate is wrong) need not hold a long run and says
    // nothing.
    constexpr double bits_least = 74;  // half a block of the usual length at 1x
    const auto block = static_cast<double>(clock::block_samples(scale.rate_hz));
    if (!tally.any_eye || block >= bits_least * tally.period) dimmed_ = tally.dimmed;
  }

  Analysis run() {
    out_.samples = tally_.samples;
    out_.duration_s = static_cast<double>(tally_.samples) / scale_.rate_hz;
    tell_samples();
    tell_envelope();
    if (!tally_.any_eye) {
      refuse();
      return std::move(out_);
    }
    out_.has_eye = true;
    tell_clock();
    tell_jitter();
    tell_instrument();
    tell_levels();
    list_run_lengths();
    tell_subcode();
    tell_place();
    tell_errors();
    tell_faults();
    return std::move(out_);
  }

 private:
  template <class... Args>
  void warn(fmt::format_string<Args...> text, Args&&... args) {
    out_.warnings.push_back(fmt::format(text, std::forward<Args>(args)...));
  }
  void advise(std::string sentence) {
    if (!sentence.empty()) out_.warnings.push_back(std::move(sentence));
  }
  double volts(double code) const { return code * scale_.scale_v + scale_.offset_v; }
  double ms_at(std::size_t sample) const { return 1e3 * static_cast<double>(sample) / scale_.rate_hz; }
  double share(double part) const { return part / static_cast<double>(tally_.samples); }

  void tell_samples() {
    if (tally_.replaced > 0) {
      warn("{} of {} without a number, replaced by the one before", tally_.replaced, counted(tally_.samples, "sample"));
      out_.disturbed = true;
    }
    if (tally_.replaced < tally_.samples) out_.level.mean_v = volts(share(tally_.sum));
    out_.clipped_share = share(static_cast<double>(tally_.at_rails));
    if (out_.clipped_share > 1e-5) {
      warn("clipped: {:.2g} % of the samples lie at an end of the screen", 100 * out_.clipped_share);
      out_.disturbed = true;
    }
  }

  void tell_envelope() {
    const double volts_per_code = std::abs(scale_.scale_v);
    const double speed = tally_.any_eye ? detail::speed_of(scale_.rate_hz / tally_.period, scale_.rate_hz).speed : 1;
    out_.envelope = tally_.envelope.figures(speed);
    if (out_.envelope.height_v) *out_.envelope.height_v *= volts_per_code;
    for (const Span& span : dimmed_.kept()) {
      out_.faults.push_back({1e-3 * ms_at(span.from), 1e-3 * (ms_at(span.to) - ms_at(span.from))});
    }
    out_.fault_count = dimmed_.count();
  }

  void tell_place() {
    const auto at = std::find_if(out_.subcode.begin(), out_.subcode.end(), [](const QBlock& q) {
      return subcode::is_usable(q) && !q.point && q.absolute && q.track != subcode::lead_out_track;
    });
    if (!out_.envelope.once_around || !out_.speed || at == out_.subcode.end()) return;
    const double time_s = static_cast<double>(subcode::sections_of(*at->absolute)) / subcode::sections_per_second;
    const auto place = detail::on_spiral(out_.envelope.once_around->hz / *out_.speed, time_s);
    if (!place) return;
    out_.radius_m = place->radius_m;
    out_.velocity_m_per_s = place->velocity_m_per_s;
  }

  void refuse() {
    warn("no eye: {}", tally_.refusal);
    advise(detail::too_low_a_rate(scale_.rate_hz));
    advise(detail::too_short_a_record(tally_.samples, scale_.rate_hz));
    if (tally_.refused_period > 0) {
      advise(detail::speed_of(scale_.rate_hz / tally_.refused_period, scale_.rate_hz).warning);
    }
  }

  void tell_clock() {
    out_.locked_share = std::clamp(share(tally_.locked), 0.0, 1.0);
    period_ = tally_.run_bits > 0 ? tally_.run_samples / tally_.run_bits : tally_.period;
    out_.channel_rate_hz = scale_.rate_hz / period_;
    detail::SpeedFound found = detail::speed_of(*out_.channel_rate_hz, scale_.rate_hz);
    out_.speed = found.speed;
    advise(std::move(found.warning));
    out_.frames = frames_.frames();
    out_.sync_lost = frames_.sync_lost();
  }

  void tell_jitter() {
    jitter_ = tally_.lengths.result();
    const double ns = period_ / scale_.rate_hz * 1e9;
    out_.runs = jitter_.runs;
    if (jitter_.all) out_.jitter_all_ns = *jitter_.all * ns;
    for (std::size_t n = efm::run_min; n <= efm::run_max; ++n) {
      if (jitter_.of_length[n]) out_.jitter_ns[n] = *jitter_.of_length[n] * ns;
      if (!jitter_.of_length[n]) warn("jitter of {}T is left empty: fewer than two runs of that length", n);
    }
    const auto edge = tally_.edges.result();
    if (!edge) return;
    out_.edge_jitter_ns = *edge * ns;
    out_.edge_jitter_loop_hz = clock::loop_bandwidth_hz(*out_.channel_rate_hz);
  }

  void tell_instrument() {
    const auto noise = tally_.levels.result().noise;
    if (!noise) return;
    // Where the noise is smaller than a step of the converter, its steps are what is left: 1 / sqrt(12) of one.
    const bool has_steps = !std::holds_alternative<std::span<const float>>(scale_.codes);
    const auto of_edge = tally_.instrument.of_edge(std::max(*noise, has_steps ? 1 / std::sqrt(12.0) : 0.0));
    if (!of_edge) return;
    out_.edge_jitter_of_instrument_ns = *of_edge / scale_.rate_hz * 1e9;
    out_.jitter_of_instrument_ns = std::sqrt(2.0) * *out_.edge_jitter_of_instrument_ns;  // a run has two edges
  }

  void tell_levels() {
    levels_ = tally_.levels.result();
    if (tally_.slice_count > 0) out_.slice_v = volts(tally_.slice_sum / tally_.slice_count);
    levels_told_ = levels_.high[efm::run_max] && levels_.low[efm::run_max] && levels_.high[efm::run_min] &&
                   levels_.low[efm::run_min];
    if (!levels_told_) {
      warn("there are no settled 11T or 3T runs of both kinds: levels are left empty");
      return;
    }
    constexpr double clipped_most = 0.2;  // of the settled samples; fewer pull the mean by less than the noise allows
    levels_told_ = levels_.clipped_high <= clipped_most && levels_.clipped_low <= clipped_most;
    if (!levels_told_) {
      warn("the longest runs are clipped by the screen: levels and what follows from them are left empty");
      return;
    }
    warn_when_flat();
    tell_eye(*levels_.high[efm::run_max], *levels_.low[efm::run_max], *levels_.high[efm::run_min],
             *levels_.low[efm::run_min]);
  }

  void tell_eye(const eye::Level& high11, const eye::Level& low11, const eye::Level& high3, const eye::Level& low3) {
    const double volts_per_code = std::abs(scale_.scale_v);
    if (levels_.noise) out_.level_noise_v = *levels_.noise * volts_per_code;
    out_.level_runs = high11.runs + low11.runs;
    if (high11.runs > 1 && low11.runs > 1) {
      out_.level_standard_error_v = std::hypot(high11.standard_error, low11.standard_error) * volts_per_code;
    }
    // From here on high and low are volts.
    const bool upright = scale_.scale_v > 0;
    const double high = volts((upright ? high11 : low11).mean), low = volts((upright ? low11 : high11).mean);
    const double i11 = high - low;
    if (!(i11 > 0)) {
      warn("the longest runs have no height: levels are left empty");
      return;
    }
    out_.level.i11_v = out_.level.peak_to_peak_v = i11;
    std::optional<double> i3_middle;
    if (are_lengths_known()) {
      i3_middle = 0.5 * (volts(high3.mean) + volts(low3.mean));
      out_.level.i3_v = std::abs(volts(high3.mean) - volts(low3.mean));
      out_.i3_over_i11 = *out_.level.i3_v / i11;
    }
    tell_light(high, low, i3_middle);
  }

  // Runs that scatter by s have edges that scatter by s / sqrt(2) about their clock. At a quarter of T one edge in 200
  // lies nearer to another channel bit than to its own (normal distribution), and soon many more: what is called 3T is
  // then partly something else. Where there is no clock at all, edges lie anywhere and s is 0.41 T.
  bool are_lengths_known() {
    constexpr double scatter_most = 0.25;
    if (!jitter_.all || *jitter_.all <= scatter_most) return true;
    warn(
        "run lengths scatter by {:.0f} % of a channel bit, so that short runs cannot be told from each other: I3, "
        "I3/I11 and asymmetry are left empty",
        100 * *jitter_.all);
    out_.disturbed = true;
    return false;
  }

  // What depends on which side is light.
  void tell_light(double high, double low, std::optional<double> i3_middle) {
    const double i11 = high - low, middle = 0.5 * (high + low);
    const bool more_is_lower = options_.dark_v && *options_.dark_v > middle;
    const double light = more_is_lower ? -1 : 1;
    const double top = more_is_lower ? low : high, bottom = more_is_lower ? high : low;
    out_.level.top_v = top;
    out_.level.bottom_v = bottom;
    if (i3_middle) out_.asymmetry = light * (middle - *i3_middle) / i11;
    if (out_.level.mean_v) out_.beta = light * (top + bottom - 2 * *out_.level.mean_v) / i11;
    if (options_.a_c_coupled) {
      warn("a.c. coupled: the light level is lost, I11/Itop is left empty");
    } else if (!options_.dark_v) {
      warn("no dark level was given: more volts are taken for more light, I11/Itop is left empty");
    } else if (*options_.dark_v > low && *options_.dark_v < high) {
      warn("the dark level {:.4g} V lies inside the signal ({:.4g} V to {:.4g} V): I11/Itop is left empty",
           *options_.dark_v, low, high);
    } else {
      out_.i11_over_top = i11 / std::abs(top - *options_.dark_v);
    }
  }

  // An undistorted 4T run ends at 0.9 of the way from the middle to 11T at most.
  void warn_when_flat() {
    constexpr std::size_t n3 = efm::run_min, n4 = efm::run_min + 1, n11 = efm::run_max;
    if (!levels_.high[n4] || !levels_.low[n4]) return;
    constexpr double flat = 0.97;
    const double middle = 0.5 * (levels_.high[n3]->mean + levels_.low[n3]->mean);
    const auto is_flat = [&](const eye::Level& i4, const eye::Level& i11) {
      return std::abs(i4.mean - middle) > flat * std::abs(i11.mean - middle);
    };
    const bool high = is_flat(*levels_.high[n4], *levels_.high[n11]),
               low = is_flat(*levels_.low[n4], *levels_.low[n11]);
    if (!high && !low) return;
    warn("the signal is flat at its {} end: 4T runs come as far as 11T runs; something on the way is at its limit",
         high && low                    ? "upper and lower"
         : high == (scale_.scale_v > 0) ? "upper"
                                        : "lower");
  }

  void list_run_lengths() {
    const bool upright = scale_.scale_v > 0;
    const bool more_is_lower =
        options_.dark_v && out_.level.top_v && out_.level.bottom_v && *out_.level.top_v < *out_.level.bottom_v;
    for (std::size_t n = efm::run_min; n <= efm::run_max; ++n) {
      for (const bool is_land : {false, true}) {
        const bool high = (is_land != more_is_lower) == upright;
        add_run_lengths(static_cast<int>(n), is_land, (high ? jitter_.high : jitter_.low)[n],
                        (high ? levels_.high : levels_.low)[n]);
      }
    }
  }

  void add_run_lengths(int t, bool is_land, const eye::RunGroup& group, const std::optional<eye::Level>& level) {
    const double ns = period_ / scale_.rate_hz * 1e9;
    RunLengths& row = out_.run_lengths.emplace_back();
    row.t = t;
    row.is_land = is_land;
    row.count = group.count;
    if (levels_told_ && level) row.level_v = volts(level->mean);
    if (group.length_error) row.length_error_ns = *group.length_error * ns;
    if (!group.jitter) return;
    row.jitter_ns = *group.jitter * ns;
    row.jitter_percent_t = *group.jitter * 100;
  }

  void tell_subcode() {
    if (!options_.subcode_wanted) return;
    out_.subcode = frames_.sections().blocks();
    out_.subcode_blocks = frames_.sections().count();
    out_.pre_emphasis = frames_.sections().pre_emphasis();
    out_.content = frames_.sections().content();
    out_.contents = frames_.sections().contents();
    if (out_.subcode.size() < static_cast<std::size_t>(out_.subcode_blocks)) {
      warn("of {} subcode blocks the first {} are listed", out_.subcode_blocks, out_.subcode.size());
    }
    if (frames_.sections().readable() > 0) return;
    warn(
        "no complete subcode block was read in {:.3g} ms (one takes {:.3g} ms, a record of {:.3g} ms surely holds "
        "one): "
        "what is played is unknown",
        1e3 * out_.duration_s, 1e3 * efm::section_frames * efm::frame_bits / *out_.channel_rate_hz,
        1e3 * detail::surely_a_block_s(*out_.channel_rate_hz));
  }

  void tell_errors() {
    if (!options_.errors_wanted) return;
    detail::Decoded decoded = frames_.decoded();
    out_.c1 = decoded.c1;
    out_.c2 = decoded.c2;
    out_.errors_over_time = frames_.errors_over_time();
    out_.sectors = std::move(decoded.sectors);
    out_.sound = decoded.sound;
    if (out_.c1->words == 0) {
      warn("no two successive frames: errors cannot be counted");
      return;
    }
    const std::int64_t wrong = wrong_words(*out_.c1);
    const double words_per_s = *out_.channel_rate_hz / efm::frame_bits;
    const auto words = static_cast<double>(out_.c1->words);
    out_.bler_per_s = static_cast<double>(wrong) / words * words_per_s;
    const circ::Interval interval = circ::poisson_interval(wrong);
    out_.bler_interval_per_s = {interval.low / words * words_per_s, interval.high / words * words_per_s};
    if (out_.c1->e31 > 0) warn("{} of {} C1 words could not be corrected", out_.c1->e31, out_.c1->words);
    if (out_.c1->e21_beside_e31 > 0) {
      warn("{} of {} corrections of two symbols stand beside words that could not be corrected and may be wrong",
           out_.c1->e21_beside_e31, out_.c1->e21);
    }
  }

  // What happened inside the record: spots, scratches, lost focus, slips.
  void tell_faults() {
    for (const Span& span : tally_.without_eye.kept()) {
      const bool first = &span == &tally_.without_eye.kept().front();  // only of this one the reason is kept
      warn("no eye from {:.2f} ms to {:.2f} ms{}", ms_at(span.from), ms_at(span.to),
           first ? ": " + tally_.refusal : std::string());
    }
    for (const Span& span : dimmed_.kept()) {
      warn("the signal is weak or lost from {:.2f} ms to {:.2f} ms (spot, scratch or lost focus)", ms_at(span.from),
           ms_at(span.to));
    }
    tell_more(tally_.without_eye, "without an eye");
    tell_more(dimmed_, "where the signal is weak");
    if (out_.sync_lost > 0) warn("frame sync was lost {}", counted(out_.sync_lost, "time"));
    if (frames_.syncs_missed() > 0) warn("not seen and bridged: {}", counted(frames_.syncs_missed(), "frame sync"));
    constexpr std::size_t illegal_most = 4;  // a little noise is no fault
    const bool illegal = tally_.illegal > illegal_most;
    if (illegal) warn("{} runs inside the record are shorter than 3T or longer than 11T", tally_.illegal);
    if (tally_.gaps > 0) warn("{} without an edge for more than 15T", counted(tally_.gaps, "gap"));
    if (out_.sync_lost > 0 || tally_.gaps > 0 || illegal) out_.disturbed = true;
  }

  void tell_more(const Stretches& stretches, std::string_view what) {
    if (stretches.count() > 0) out_.disturbed = true;
    const std::size_t told = stretches.kept().size();
    if (stretches.count() > told) warn("and {} {}", counted(stretches.count() - told, "more place"), what);
  }

  const signal::WaveformView& scale_;
  const AnalysisOptions& options_;
  const Tally& tally_;
  const FrameChain& frames_;
  Stretches dimmed_;
  Analysis out_;
  eye::Jitter jitter_;
  eye::EyeLevels levels_;
  bool levels_told_ = false;
  double period_ = 0;  // mean channel bit, samples
};

}  // namespace

Analysis figures(const signal::WaveformView& scale, const AnalysisOptions& options, const Tally& tally,
                 const FrameChain& frames) {
  return Figures(scale, options, tally, frames).run();
}

}  // namespace eyelevel::disc::window
