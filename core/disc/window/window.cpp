// SPDX-License-Identifier: Apache-2.0
#include "core/disc/window/window.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <cmath>
#include <cstdint>
#include <numeric>
#include <optional>
#include <span>

#include "core/disc/circ/layout.hpp"
#include "core/disc/clock/balance.hpp"
#include "core/disc/clock/kernels.hpp"
#include "core/disc/clock/recovery.hpp"
#include "core/disc/clock/slicer.hpp"
#include "core/disc/clock/smooth.hpp"
#include "core/disc/clock/survey.hpp"
#include "core/disc/detail/capture_advice.hpp"
#include "core/disc/efm/code.hpp"
#include "core/disc/eye/runs.hpp"

namespace eyelevel::disc::window {
namespace {

// Of the height of the window before: where a whole window is dim, that is the usual height, and slowly forgotten.
constexpr double usual_part = 0.9;

signal::CodesView codes_of(const Lock& lock, const signal::CodesView& raw) {
  return lock.smooth ? signal::CodesView(std::span<const float>(*lock.smooth)) : raw;
}

// Channel bits that were numbered.
std::int64_t bits_of(const clock::Lattice& lattice) {
  std::int64_t sum = 0;
  for (const clock::Stretch& s : lattice.stretches) sum += lattice.bit[s.last] - lattice.bit[s.first];
  return sum;
}

// What is sliced, and where the level is usual.
struct Slicing {
  clock::Part part;
  std::optional<double> raised;
};

void lock_on(const signal::CodesView& codes, const clock::Survey& survey, const Slicing& how, Lock& lock) {
  lock.smooth.reset();
  lock.survey = survey;
  lock.hysteresis = clock::hysteresis_for(survey);
  lock.level = clock::middle_level(codes, survey, how.raised);
  lock.edges = clock::slice(codes, survey, lock.level, lock.hysteresis, how.part, std::move(lock.edges));
  lock.lattice = clock::recover(lock.edges, std::move(lock.lattice));
}

// The channel bit is that of the lock there is, or of the usual speeds where noise hides it.
void lock_on_smoothed(const signal::CodesView& codes, double rate_hz, const Slicing& how, Lock& lock) {
  const double bit_1x = rate_hz / detail::channel_rate_1x_hz;
  std::vector<double> periods = {bit_1x, bit_1x / 2, bit_1x / 4};
  if (lock.lattice.found()) periods = {lock.lattice.period};
  for (const double period : periods) {
    const std::size_t width = clock::smoothing_width(period);
    if (width == 1) return;
    std::vector<float> smooth = clock::smoothed(codes, width);
    clock::Survey survey = clock::survey(std::span<const float>(smooth), rate_hz, lock.survey.amplitude * usual_part);
    survey.noise = lock.survey.noise / std::sqrt(static_cast<double>(width));
    Lock better;
    lock_on(std::span<const float>(smooth), survey, how, better);
    if (!better.lattice.found() || 10 * bits_of(better.lattice) < 9 * bits_of(lock.lattice)) continue;
    better.smooth = std::move(smooth);
    lock = std::move(better);
    return;
  }
}

// Of all 14-bit groups one in 64 is a symbol by chance; where syncs stand, nearly all must be.
bool are_code(const std::vector<detail::Frame>& frames) {
  std::size_t synced = 0, bad = 0;
  for (const detail::Frame& frame : frames) {
    if (!frame.has_sync) continue;
    ++synced;
    bad += std::popcount(frame.invalid) > circ::f2_symbols / 4 ? 1 : 0;
  }
  return synced > 0 && 2 * bad < synced;
}

// Of the runs that are not left out.
double samples_of(const eye::Runs& runs) {
  double samples = runs.end.back() - runs.start.front();
  const std::size_t n = runs.size();
  for (std::size_t k = clock::next_run(runs.length, 0, 0, n); k < n; k = clock::next_run(runs.length, 0, k + 1, n)) {
    samples -= runs.end[k] - runs.start[k];
  }
  return samples;
}

// One look at one window.
class Look {
 public:
  Look(const signal::CodesView& codes, const Place& place, double rate_hz, const Usual& usual, Tally& tally, Lock& lock)
      : codes_(codes), place_(place), rate_hz_(rate_hz), usual_(usual), tally_(tally), lock_(lock) {}

  void take_in(const eye::Rails& rails) {
    const Span core = inside(place_.core);
    tally_.samples += core.to - core.from;
    clean_ = clock::with_finite_samples(codes_);
    if (clean_) {
      tally_.replaced += clock::no_numbers(part(core));
      codes_ = std::span<const float>(*clean_);
    }
    survey_ = clock::survey(codes_, rate_hz_, usual_part * usual_.height);
    for (std::size_t block = core.from / survey_.block; block * survey_.block < core.to; ++block) {
      tally_.sum += survey_.block_sum[block];
      tally_.envelope.take(survey_.block_low[block], survey_.block_high[block]);
    }
    if (survey_.low > rails.low && survey_.high < rails.high) return;
    const clock::AtRails at = clock::at_rails(part(core), rails.low, rails.high);
    tally_.at_rails += at.low + at.high;
  }

  WindowFrames find_eye() {
    if (!(survey_.amplitude > 0)) return refused("the signal does not move");
    const Slicing how{to_be_sliced(), usual_.raised};
    lock_on(codes_, survey_, how, lock_);
    constexpr double noisy = 0.015;  // of the eye; below, single samples do well
    if (survey_.noise > noisy * survey_.amplitude) lock_on_smoothed(codes_, rate_hz_, how, lock_);
    if (!lock_.lattice.found()) return refused("no channel clock can be found (no pair of frame syncs 588 T apart)");
    constexpr double beating = 0.25;
    if (lock_.survey.share_between() > beating) {
      return refused(
          fmt::format("the height of the signal comes and goes ({:.0f} % of the time between closed and open), as "
                      "when the tracks are crossed",
                      100 * lock_.survey.share_between()),
          lock_.lattice.period);
    }
    local_ = clock::balance(codes_of(lock_, codes_), lock_.hysteresis, lock_.lattice, lock_.edges);
    if (lock_.smooth) back_to_the_samples();
    WindowFrames frames{detail::find_frames(lock_.edges, lock_.lattice, survey_.samples),
                        efm::frame_bits * lock_.lattice.period};
    if (!are_code(frames.list)) {
      return refused("what looks like frames does not hold symbols of the channel code", lock_.lattice.period);
    }
    has_eye_ = true;
    return frames;
  }
  bool has_eye() const { return has_eye_; }
  Usual usual() const {
    // Some edges tell it well enough.
    constexpr std::size_t of_so_many = 255;  // odd: rising and falling edges
    double above = 0, asked = 0;
    for (std::size_t k = 0; k < lock_.edges.size(); k += of_so_many) {
      above += static_cast<double>(lock_.edges.level[k]) - lock_.level.at(lock_.edges.at[k]);
      asked += 1;
    }
    return {survey_.amplitude, lock_.level.raised + above / asked};
  }

  void measure(const Looker::OnRuns& on_runs) {
    if (!tally_.any_eye) tally_.period = lock_.lattice.period;
    tally_.any_eye = true;
    measure_runs(on_runs);
    measure_edges();
    note_dimmed();
  }

 private:
  // The core and so much beside it that the clock has settled, and that syncs stand behind a gap that is bridged.
  clock::Part to_be_sliced() const {
    constexpr double beside_s = 12 / 7350.0;  // frames at 1x
    const auto beside = static_cast<std::size_t>(beside_s * rate_hz_);
    const Span core = inside(place_.core);
    return {core.from - std::min(core.from, beside), core.to + beside};
  }
  // From samples of the record to samples of the window.
  Span inside(Span span) const { return {span.from - place_.start, span.to - place_.start}; }
  // The first and the last window of a record reach to its ends.
  signal::CodesView part(Span span) const {
    return std::visit([&](const auto& x) -> signal::CodesView { return x.subspan(span.from, span.to - span.from); },
                      codes_);
  }

  // The clock was found on the smoothed record; edges are measured on the samples as they came.
  void back_to_the_samples() {
    const std::vector<double> smoothed_at = lock_.edges.at;
    clock::reslice_on(codes_, clock::hysteresis_for(survey_), lock_.edges);
    for (std::size_t k = 0; k < smoothed_at.size(); ++k) {
      lock_.lattice.late[k] += static_cast<float>((lock_.edges.at[k] - smoothed_at[k]) / lock_.lattice.period);
    }
  }

  WindowFrames refused(std::string why, double period = 0) {
    tally_.without_eye.add(place_.core);
    if (tally_.refusal.empty()) {
      tally_.refusal = std::move(why);
      tally_.refused_period = period;
    }
    return {};
  }

  void measure_runs(const Looker::OnRuns& on_runs) {
    const Span core = inside(place_.core);
    eye::UsableRuns runs(lock_.edges, lock_.lattice, local_, lock_.survey, static_cast<double>(core.from),
                         static_cast<double>(core.to));
    for (auto some = runs.next(); some.size() > 0; some = runs.next()) {
      tally_.run_samples += samples_of(some);
      tally_.run_bits += std::accumulate(some.length.begin(), some.length.end(), 0);
      tally_.lengths.take(some);
      tally_.edges.take(some);
      tally_.levels.take(codes_, some);
      tally_.instrument.take(codes_, some);
      if (on_runs) tell(on_runs, some);
    }
    tally_.levels.end_part();
  }

  void tell(const Looker::OnRuns& on_runs, const eye::Runs& runs) const {
    std::vector<eye::Run> used;
    for (std::size_t k = 0; k < runs.size(); ++k) {
      if (runs.length[k] != 0) used.push_back(runs[k]);
    }
    on_runs(codes_, used);
  }

  void measure_edges() {
    const clock::Lattice& lattice = lock_.lattice;
    const clock::Edges& edges = lock_.edges;
    const Span core = inside(place_.core);
    // The first core begins before the first sample: an edge may lie there by interpolation.
    const std::size_t first = core.from == 0 ? 0 : edges.from(static_cast<double>(core.from));
    const std::size_t end = edges.from(static_cast<double>(core.to));
    for (const clock::Stretch& s : lattice.stretches) {
      const std::size_t from = std::max(s.first, first), to = std::min(s.last, end);
      if (from >= to) continue;
      double locked = edges.at[to] - edges.at[from];
      double levels = clock::kernels::block_sums(std::span(edges.level).subspan(from, to - from)).sum;
      std::size_t illegal = 0;
      for (std::size_t k = clock::next_run(lattice.length, 0, from, to); k < to;
           k = clock::next_run(lattice.length, 0, k + 1, to)) {
        constexpr std::int64_t gap = 15;
        const std::int64_t bits = lattice.bit[k + 1] - lattice.bit[k];
        tally_.gaps += bits < 0 || bits > gap ? 1 : 0;
        locked -= edges.run(k);
        levels -= static_cast<double>(edges.level[k]);
        ++illegal;
      }
      tally_.illegal += illegal;
      tally_.locked += locked;
      tally_.slice_sum += levels;
      tally_.slice_count += static_cast<double>(to - from - illegal);
    }
  }

  void note_dimmed() {
    const std::vector<std::uint8_t>& dimmed = lock_.survey.block_dimmed;
    const std::size_t block = lock_.survey.block;
    for (std::size_t i = 0; i < dimmed.size(); ++i) {
      const std::size_t from = place_.start + i * block, to = std::min(from + block, place_.start + survey_.samples);
      if (dimmed[i] != 0 && from >= place_.core.from && to <= place_.core.to) tally_.dimmed.add({from, to});
    }
  }

  signal::CodesView codes_;
  const Place& place_;
  double rate_hz_;
  const Usual& usual_;
  Tally& tally_;
  std::optional<std::vector<float>> clean_;
  clock::Survey survey_;
  Lock& lock_;
  clock::LocalClock local_;
  bool has_eye_ = false;
};

}  // namespace

WindowFrames Looker::look(const signal::CodesView& codes, const Place& place, Tally& tally) {
  Look look(codes, place, rate_hz_, usual_, tally, lock_);
  look.take_in(rails_);
  WindowFrames frames = look.find_eye();
  if (!look.has_eye()) return {};
  look.measure(on_runs_);
  usual_ = look.usual();
  return frames;
}

}  // namespace eyelevel::disc::window
