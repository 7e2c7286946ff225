// SPDX-License-Identifier: Apache-2.0
// One waveform from samples to numbers: each step is a file of clock/, eye/, detail/, subcode/ and circ/; here they are
// put in order, turned into volts and nanoseconds, and refused where there is nothing to measure.
#include <algorithm>
#include <array>
#include <bit>
#include <cmath>
#include <cstdint>
#include <limits>

#include <fmt/format.h>

#include "core/disc/analysis.hpp"
#include "core/disc/circ/error_rate.hpp"
#include "core/disc/circ/layout.hpp"
#include "core/disc/clock/balance.hpp"
#include "core/disc/clock/recovery.hpp"
#include "core/disc/clock/slicer.hpp"
#include "core/disc/clock/smooth.hpp"
#include "core/disc/clock/survey.hpp"
#include "core/disc/detail/capture_advice.hpp"
#include "core/disc/detail/decoded.hpp"
#include "core/disc/detail/frames.hpp"
#include "core/disc/detail/sections.hpp"
#include "core/disc/efm/code.hpp"
#include "core/disc/eye/jitter.hpp"
#include "core/disc/eye/levels.hpp"
#include "core/disc/eye/runs.hpp"

namespace eyelevel::disc {
namespace {

constexpr std::size_t samples_least = 256;

class Analyser {
 public:
  Analyser(const signal::WaveformView& waveform, const AnalysisOptions& options) : wave_(waveform), options_(options) {
    out_.samples = waveform.size();
  }

  Analysis run() {
    if (!is_usable()) return std::move(out_);
    out_.duration_s = wave_.duration_s();
    look_over();
    if (find_eye()) {
      out_.has_eye = true;
      measure_clock();
      measure_jitter();
      measure_levels();
      list_run_lengths();
      read_subcode();
      count_errors();
      note_faults();
    }
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
  double volts(double code) const { return code * wave_.scale_v + wave_.offset_v; }
  double ms_at(double sample) const { return 1e3 * sample / wave_.rate_hz; }

  bool is_usable() {
    if (!(wave_.rate_hz > 0) || !std::isfinite(wave_.rate_hz)) {
      warn("the sample rate must be above 0 Hz, it is {} Hz: nothing was measured", wave_.rate_hz);
      return false;
    }
    if (wave_.scale_v == 0 || !std::isfinite(wave_.scale_v) || !std::isfinite(wave_.offset_v)) {
      warn("scale {} V and offset {} V are no scale: nothing was measured", wave_.scale_v, wave_.offset_v);
      out_.duration_s = wave_.duration_s();
      return false;
    }
    if (wave_.size() < samples_least) {
      warn("{} samples are too few for an eye; at least {} are needed", wave_.size(), samples_least);
      advise(detail::too_short_a_record(wave_.size(), wave_.rate_hz));
      out_.duration_s = wave_.duration_s();
      return false;
    }
    return true;
  }

  // Mean, extremes and samples at the ends of the converter.
  void look_over() {
    std::size_t replaced = 0;
    codes_ = wave_.codes;
    clean_ = clock::with_finite_samples(wave_.codes, replaced);
    if (clean_) {
      codes_ = std::span<const float>(*clean_);
      warn("{} of {} samples are no numbers; each was replaced by the one before", replaced, wave_.size());
      out_.disturbed = true;
    }
    survey_ = clock::survey(codes_, wave_.rate_hz);
    if (replaced < wave_.size()) out_.level.mean_v = volts(survey_.mean);
    find_rails();
    if (survey_.low > rails_.low && survey_.high < rails_.high) return;
    const clock::AtRails at = clock::at_rails(codes_, rails_.low, rails_.high);
    out_.clipped_share = static_cast<double>(at.low + at.high) / static_cast<double>(wave_.size());
    if (out_.clipped_share > 1e-5) {
      warn("clipped: {:.2g} % of the samples lie at an end of the screen", 100 * out_.clipped_share);
      out_.disturbed = true;
    }
  }

  void find_rails() {
    constexpr double none = std::numeric_limits<double>::infinity();
    rails_ = {-none, none};
    if (std::holds_alternative<std::span<const std::int8_t>>(codes_)) rails_ = {-128, 127};
    if (std::holds_alternative<std::span<const std::int16_t>>(codes_)) rails_ = {-32768, 32767};
    if (!wave_.screen) return;
    // Half a part in a thousand of the screen: a scaled code need not meet the end to the last digit.
    const double slack = 5e-4 * std::abs((wave_.screen->high_v - wave_.screen->low_v) / wave_.scale_v);
    const double a = (wave_.screen->low_v - wave_.offset_v) / wave_.scale_v;
    const double b = (wave_.screen->high_v - wave_.offset_v) / wave_.scale_v;
    if (std::isnan(a) || std::isnan(b)) return;
    rails_.low = std::max(rails_.low, std::min(a, b) + slack);
    rails_.high = std::min(rails_.high, std::max(a, b) - slack);
  }

  bool refuse(std::string why) {
    warn("no eye: {}", why);
    advise(detail::too_low_a_rate(wave_.rate_hz));
    advise(detail::too_short_a_record(wave_.size(), wave_.rate_hz));
    if (lock_.lattice.found()) advise(detail::speed_of(wave_.rate_hz / lock_.lattice.period, wave_.rate_hz).warning);
    return false;
  }

  bool find_eye() {
    if (!(survey_.amplitude > 0)) return refuse("the signal does not move");
    lock_ = lock_on(codes_, survey_);
    constexpr double noisy = 0.015;  // of the eye; below, single samples do well
    if (survey_.noise > noisy * survey_.amplitude) lock_on_smoothed();
    if (!lock_.lattice.found()) return refuse("no channel clock can be found (no pair of frame syncs 588 T apart)");
    constexpr double beating = 0.25;
    if (lock_.survey.share_between() > beating) {
      return refuse(
          fmt::format("the height of the signal comes and goes ({:.0f} % of the time between closed and open), as "
                      "when the tracks are crossed",
                      100 * lock_.survey.share_between()));
    }
    balance_ = clock::balance(lock_.codes(codes_), lock_.hysteresis, lock_.lattice, lock_.edges);
    if (lock_.smooth) clock::reslice_on(codes_, balance_.level, clock::hysteresis_for(survey_), lock_.edges);
    frames_ = detail::find_frames(lock_.edges, lock_.lattice, wave_.size());
    if (!frames_are_code()) return refuse("what looks like frames does not hold symbols of the channel code");
    runs_ = eye::usable_runs(lock_.edges, lock_.lattice, balance_, lock_.survey);
    return true;
  }

  // Edges and channel bits of the record, as it came or smoothed.
  struct Lock {
    std::optional<std::vector<float>> smooth;
    clock::Survey survey;
    double hysteresis = 0;
    clock::LevelTrack level;
    clock::Edges edges;
    clock::Lattice lattice;

    signal::CodesView codes(const signal::CodesView& raw) const {
      return smooth ? signal::CodesView(std::span<const float>(*smooth)) : raw;
    }
    // Channel bits that were numbered.
    std::int64_t bits() const {
      std::int64_t sum = 0;
      for (const clock::Stretch& s : lattice.stretches) sum += lattice.bit[s.last] - lattice.bit[s.first];
      return sum;
    }
  };

  static Lock lock_on(const signal::CodesView& codes, const clock::Survey& survey) {
    Lock lock;
    lock.survey = survey;
    lock.hysteresis = clock::hysteresis_for(survey);
    lock.level = clock::middle_level(codes, survey);
    lock.edges = clock::slice(codes, survey, lock.level, lock.hysteresis);
    lock.lattice = clock::recover(lock.edges);
    return lock;
  }

  // The channel bit is that of the lock there is, or of the usual speeds where noise hides it.
  void lock_on_smoothed() {
    const double bit_1x = wave_.rate_hz / detail::channel_rate_1x_hz;
    std::vector<double> periods = {bit_1x, bit_1x / 2, bit_1x / 4};
    if (lock_.lattice.found()) periods = {lock_.lattice.period};
    for (const double period : periods) {
      const std::size_t width = clock::smoothing_width(period);
      if (width == 1) return;
      std::vector<float> smooth = clock::smoothed(codes_, width);
      clock::Survey survey = clock::survey(std::span<const float>(smooth), wave_.rate_hz);
      survey.noise = survey_.noise / std::sqrt(static_cast<double>(width));
      Lock lock = lock_on(std::span<const float>(smooth), survey);
      if (!lock.lattice.found() || 10 * lock.bits() < 9 * lock_.bits()) continue;
      lock.smooth = std::move(smooth);
      lock_ = std::move(lock);
      return;
    }
  }

  // Of all 14-bit groups one in 64 is a symbol by chance; where syncs stand, nearly all must be.
  bool frames_are_code() const {
    std::size_t synced = 0, bad = 0;
    for (const detail::Frame& frame : frames_.list) {
      if (!frame.has_sync) continue;
      ++synced;
      bad += std::popcount(frame.invalid) > circ::f2_symbols / 4 ? 1 : 0;
    }
    return synced > 0 && 2 * bad < synced;
  }

  void measure_clock() {
    double locked = 0;
    const auto legal = clock::legal_runs(lock_.lattice, lock_.edges.size());
    for (std::size_t k = 0; k + 1 < lock_.edges.size(); ++k) locked += legal[k] != 0 ? lock_.edges.run(k) : 0;
    out_.locked_share = std::clamp(locked / static_cast<double>(wave_.size()), 0.0, 1.0);
    // Over runs that are surely right: in a gap the number of bits is a guess.
    double time = 0, bits = 0;
    for (const eye::Run& run : runs_) {
      time += run.end - run.start;
      bits += run.length;
    }
    period_ = bits > 0 ? time / bits : lock_.lattice.period;
    out_.channel_rate_hz = wave_.rate_hz / period_;
    detail::SpeedFound found = detail::speed_of(*out_.channel_rate_hz, wave_.rate_hz);
    out_.speed = found.speed;
    advise(std::move(found.warning));
    out_.frames = static_cast<std::int64_t>(frames_.list.size());
    out_.sync_lost = frames_.sync_lost;
  }

  void measure_levels() {
    const eye::EyeLevels levels = eye::eye_levels(codes_, runs_, rails_, run_counts());
    if (balance_.slice) out_.slice_v = volts(*balance_.slice);
    if (!levels.i11_high || !levels.i11_low || !levels.i3_high || !levels.i3_low) {
      warn("there are no settled 11T or 3T runs of both kinds: levels are left empty");
      return;
    }
    constexpr double clipped_most = 0.2;  // of the settled samples; fewer pull the mean by less than the noise allows
    const bool clipped = levels.clipped_high > clipped_most || levels.clipped_low > clipped_most;
    if (clipped) {
      warn("the longest runs are clipped by the screen: levels and what follows from them are left empty");
      return;
    }
    warn_when_flat(levels);
    levels_low_ = levels.low;
    levels_high_ = levels.high;
    if (levels.noise) out_.level_noise_v = *levels.noise * std::abs(wave_.scale_v);
    out_.level_runs = levels.i11_high->runs + levels.i11_low->runs;
    if (levels.i11_high->runs > 1 && levels.i11_low->runs > 1) {
      out_.level_standard_error_v =
          std::hypot(levels.i11_high->standard_error, levels.i11_low->standard_error) * std::abs(wave_.scale_v);
    }
    // From here on high and low are volts.
    const bool upright = wave_.scale_v > 0;
    const double high = volts((upright ? levels.i11_high : levels.i11_low)->mean);
    const double low = volts((upright ? levels.i11_low : levels.i11_high)->mean);
    const double i11 = high - low;
    if (!(i11 > 0)) {
      warn("the longest runs have no height: levels are left empty");
      return;
    }
    out_.level.i11_v = out_.level.peak_to_peak_v = i11;
    const double i3_middle = 0.5 * (volts(levels.i3_high->mean) + volts(levels.i3_low->mean));
    out_.level.i3_v = std::abs(volts(levels.i3_high->mean) - volts(levels.i3_low->mean));
    out_.i3_over_i11 = *out_.level.i3_v / i11;
    measure_light(high, low, i3_middle);
  }

  // What depends on which side is light.
  void measure_light(double high, double low, double i3_middle) {
    const double i11 = high - low, middle = 0.5 * (high + low);
    const bool more_is_lower = options_.dark_v && *options_.dark_v > middle;
    const double light = more_is_lower ? -1 : 1;
    const double top = more_is_lower ? low : high, bottom = more_is_lower ? high : low;
    out_.level.top_v = top;
    out_.level.bottom_v = bottom;
    out_.asymmetry = light * (middle - i3_middle) / i11;
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
  void warn_when_flat(const eye::EyeLevels& levels) {
    if (!levels.i4_high || !levels.i4_low) return;
    constexpr double flat = 0.97;
    const double middle = 0.5 * (levels.i3_high->mean + levels.i3_low->mean);
    const auto is_flat = [&](const eye::Level& i4, const eye::Level& i11) {
      return std::abs(i4.mean - middle) > flat * std::abs(i11.mean - middle);
    };
    const bool high = is_flat(*levels.i4_high, *levels.i11_high), low = is_flat(*levels.i4_low, *levels.i11_low);
    if (!high && !low) return;
    warn("the signal is flat at its {} end: 4T runs come as far as 11T runs; something on the way is at its limit",
         high && low                   ? "upper and lower"
         : high == (wave_.scale_v > 0) ? "upper"
                                       : "lower");
  }

  void measure_jitter() {
    jitter_ = eye::run_length_jitter(runs_);
    const eye::Jitter& jitter = jitter_;
    const double ns = period_ / wave_.rate_hz * 1e9;
    out_.runs = jitter.runs;
    if (jitter.all) out_.jitter_all_ns = *jitter.all * ns;
    for (std::size_t n = efm::run_min; n <= efm::run_max; ++n) {
      if (jitter.of_length[n]) out_.jitter_ns[n] = *jitter.of_length[n] * ns;
      if (!jitter.of_length[n]) warn("jitter of {}T is left empty: fewer than two runs of that length", n);
    }
  }

  eye::RunCounts run_counts() const {
    eye::RunCounts counts;
    for (std::size_t n = efm::run_min; n <= efm::run_max; ++n) {
      counts.low[n] = jitter_.low[n].count;
      counts.high[n] = jitter_.high[n].count;
    }
    return counts;
  }

  void list_run_lengths() {
    const bool upright = wave_.scale_v > 0;
    const bool more_is_lower =
        options_.dark_v && out_.level.top_v && out_.level.bottom_v && *out_.level.top_v < *out_.level.bottom_v;
    for (std::size_t n = efm::run_min; n <= efm::run_max; ++n) {
      for (const bool is_land : {false, true}) {
        const bool high = (is_land != more_is_lower) == upright;
        add_run_lengths(static_cast<int>(n), is_land, (high ? jitter_.high : jitter_.low)[n],
                        (high ? levels_high_ : levels_low_)[n]);
      }
    }
  }

  void add_run_lengths(int t, bool is_land, const eye::RunGroup& group, const std::optional<double>& level) {
    const double ns = period_ / wave_.rate_hz * 1e9;
    RunLengths& row = out_.run_lengths.emplace_back();
    row.t = t;
    row.is_land = is_land;
    row.count = group.count;
    if (level) row.level_v = volts(*level);
    if (group.length_error) row.length_error_ns = *group.length_error * ns;
    if (!group.jitter) return;
    row.jitter_ns = *group.jitter * ns;
    row.jitter_percent_t = *group.jitter * 100;
  }

  void read_subcode() {
    if (!options_.subcode_wanted) return;
    out_.subcode = detail::find_sections(frames_, wave_.rate_hz);
    out_.content = detail::content_of(out_.subcode);
    const bool any = std::any_of(out_.subcode.begin(), out_.subcode.end(), [](const QBlock& q) { return q.crc; });
    if (!any) {
      warn(
          "no complete subcode block was read in {:.3g} ms (one takes {:.3g} ms, a record of {:.3g} ms surely holds "
          "one): "
          "what is played is unknown",
          1e3 * out_.duration_s, 1e3 * efm::section_frames * efm::frame_bits / *out_.channel_rate_hz,
          1e3 * detail::surely_a_block_s(*out_.channel_rate_hz));
    }
  }

  void count_errors() {
    if (!options_.errors_wanted) return;
    const bool sound_wanted = options_.sound_wanted && options_.subcode_wanted;
    detail::Decoded decoded = detail::decode_frames(frames_.list, options_.strategy, out_.content, sound_wanted);
    out_.c1 = decoded.c1;
    out_.c2 = decoded.c2;
    out_.sectors = std::move(decoded.sectors);
    out_.sound = std::move(decoded.sound);
    if (out_.c1->words == 0) {
      warn("no two successive frames: errors cannot be counted");
      return;
    }
    const std::int64_t wrong = out_.c1->e11 + out_.c1->e21 + out_.c1->e31;
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
  void note_faults() {
    const std::vector<std::uint8_t>& dimmed = lock_.survey.block_dimmed;
    for (std::size_t i = 0; i < dimmed.size();) {
      if (dimmed[i] == 0) {
        ++i;
        continue;
      }
      std::size_t end = i;
      while (end < dimmed.size() && dimmed[end] != 0) ++end;
      note_dimmed(i, end);
      i = end;
    }
    if (faults_ > faults_told) warn("and {} more places where the signal is weak", faults_ - faults_told);
    if (frames_.sync_lost > 0) warn("frame sync was lost {} times", frames_.sync_lost);
    if (frames_.syncs_missed > 0) warn("{} frame syncs were not seen and bridged", frames_.syncs_missed);
    const std::size_t illegal = illegal_runs(efm::run_min, efm::run_max);
    constexpr std::size_t illegal_most = 4;  // a little noise is no fault
    if (illegal > illegal_most) warn("{} runs inside the record are shorter than 3T or longer than 11T", illegal);
    const std::size_t gaps = illegal_runs(0, 15);
    if (gaps > 0) warn("{} gaps of more than 15T without an edge", gaps);
    if (frames_.sync_lost > 0 || faults_ > 0 || gaps > 0 || illegal > illegal_most) out_.disturbed = true;
  }

  // Runs inside the locks of the clock that are shorter or longer than this, in channel bits.
  std::size_t illegal_runs(std::int64_t least, std::int64_t most) const {
    std::size_t illegal = 0;
    for (const clock::Stretch& s : lock_.lattice.stretches) {
      for (std::size_t k = s.first; k < s.last; ++k) {
        const std::int64_t bits = lock_.lattice.bit[k + 1] - lock_.lattice.bit[k];
        illegal += bits < least || bits > most ? 1 : 0;
      }
    }
    return illegal;
  }

  void note_dimmed(std::size_t from, std::size_t to) {
    if (++faults_ > faults_told) return;
    const double start = static_cast<double>(from * survey_.block);
    const double end = std::min(static_cast<double>(to * survey_.block), static_cast<double>(wave_.size()));
    warn("the signal is weak or lost from {:.2f} ms to {:.2f} ms (spot, scratch or lost focus)", ms_at(start),
         ms_at(end));
  }

  static constexpr std::size_t faults_told = 8;

  const signal::WaveformView& wave_;
  const AnalysisOptions& options_;
  Analysis out_;
  signal::CodesView codes_;
  std::optional<std::vector<float>> clean_;
  clock::Survey survey_;
  eye::Rails rails_;
  Lock lock_;
  clock::Balance balance_;
  detail::Frames frames_;
  std::vector<eye::Run> runs_;
  eye::Jitter jitter_;
  std::array<std::optional<double>, 12> levels_low_{}, levels_high_{};  // codes; empty where levels are left empty
  double period_ = 0;                                                   // mean channel bit, samples
  std::size_t faults_ = 0;
};

}  // namespace

Analysis analyse(const signal::WaveformView& waveform, const AnalysisOptions& options) {
  return Analyser(waveform, options).run();
}

}  // namespace eyelevel::disc
