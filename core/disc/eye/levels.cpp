// SPDX-License-Identifier: Apache-2.0
#include "core/disc/eye/levels.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <optional>
#include <vector>

#include "core/disc/efm/code.hpp"

namespace eyelevel::disc::eye {
namespace {

// Half width of what is averaged in an 11T run, T. At 3 T from an edge (the usual rule) a spot of 1.25 T has settled to
// 0.8 % of the eye only, and the mean from there on is 0.14 % low; 4.5 T from the edges it is 0.01 %.
constexpr double settled_t = 1.0;
// Of how far runs lie from the slicing level; not all are asked where there are many.
std::optional<double> usual_of(std::span<const RunLevel> runs) {
  if (runs.empty()) return std::nullopt;
  constexpr std::size_t asked_most = 250;
  std::vector<float> some;
  for (std::size_t i = 0; i < runs.size(); i += 1 + runs.size() / asked_most) some.push_back(runs[i].above);
  const auto half = some.begin() + static_cast<std::ptrdiff_t>(some.size() / 2);
  std::nth_element(some.begin(), half, some.end());
  return static_cast<double>(*half);
}

std::optional<Level> level_of(double count, double mean, double scatter) {
  if (!(count > 0)) return std::nullopt;
  return Level{mean, count > 1 ? std::sqrt(scatter / (count - 1) / count) : 0, static_cast<std::size_t>(count)};
}

template <class T>
double through_six(const T* at, double u) {
  constexpr double denominators[6] = {-120, 24, -12, 12, -24, 120};
  double value = 0;
  for (int j = 0; j < 6; ++j) {
    double product = 1;
    for (int i = 0; i < 6; ++i) product *= i == j ? 1.0 : u - (i - 2);
    value += product / denominators[j] * static_cast<double>(at[j - 2]);
  }
  return value;
}

// Levels at the centres by Lagrange's polynomial, less `reference`: through four samples where they lie close, through
// six down to two samples to a channel bit; exact to 0.1 % of the eye.
template <class T>
void find_centres(std::span<const T> x, const Runs& runs, float reference, float* out) {
  if (runs.period.front() >= 3.0F) return kernels::centres(x, runs, reference, out);
  for (std::size_t k = 0; k < runs.size(); ++k) {
    const double middle = runs.middle(k);
    const auto base = static_cast<std::size_t>(std::clamp(middle, 2.0, static_cast<double>(x.size()) - 4));
    out[k] = static_cast<float>(through_six(x.data() + base, middle - static_cast<double>(base))) - reference;
  }
}

// Around the centres of these there are not enough samples.
template <class T>
bool lacks_samples(std::span<const T> x, const Runs& runs, std::size_t k) {
  return !(runs.middle(k) >= 2) || runs.middle(k) + 4 > static_cast<double>(x.size());
}

// Adds up those that is_stray(index) does not name; answers how many it named.
template <class IsStray>
std::size_t add_others(std::span<const RunLevel> runs, Moments& moments, IsStray is_stray) {
  const std::int64_t before = moments.count();
  for (std::size_t i = 0; i < runs.size(); ++i) {
    if (!is_stray(i)) moments.add(static_cast<double>(runs[i].level));
  }
  return runs.size() - static_cast<std::size_t>(moments.count() - before);
}

// Leaves out what lies further than `slack` from the usual and from those around it: a spot that the envelope was too
// coarse for.
std::size_t add_longest(std::span<const RunLevel> runs, double usual, double slack, Moments& moments) {
  constexpr std::size_t reach = 4;
  return add_others(runs, moments, [&](std::size_t i) {
    const auto above = static_cast<double>(runs[i].above);
    if (!(std::abs(above - usual) > slack)) return false;
    const std::size_t from = i < reach ? 0 : i - reach, to = std::min(runs.size(), i + reach + 1);
    return std::abs(above - *usual_of(runs.subspan(from, to - from))) > slack;
  });
}

// Leaves out what lies further than `slack` from the usual: samples with a wrong bit.
std::size_t add_shortest(std::span<const RunLevel> runs, double slack, Moments& moments) {
  const double usual = *usual_of(runs);
  return add_others(runs, moments,
                    [&](std::size_t i) { return std::abs(static_cast<double>(runs[i].above) - usual) > slack; });
}

}  // namespace

void LevelSums::take(const signal::CodesView& codes, const Runs& runs) {
  std::visit([&](const auto& x) { take_runs(x, runs); }, codes);
}

void LevelSums::end_part() {
  constexpr double part = 0.1;  // of the eye: further off is a stray
  const auto low = usual_of(low_.longest), high = usual_of(high_.longest);
  const double slack = low && high ? part * std::abs(*high - *low) : std::numeric_limits<double>::infinity();
  for (Side* side : {&low_, &high_}) {
    const auto usual = side == &low_ ? low : high;
    if (usual) left_out_ += add_longest(side->longest, *usual, slack, side->of_longest);
    if (!side->shortest.empty()) left_out_ += add_shortest(side->shortest, slack, side->of_shortest);
    side->longest.clear();
    side->shortest.clear();
  }
}

template <class T>
void LevelSums::take_runs(std::span<const T> x, const Runs& runs) {
  constexpr std::size_t around = 6;  // samples that the polynomials go through
  if (runs.size() == 0 || x.size() < around) return;
  if (!reference_) reference_ = runs.level.front();
  std::array<float, Runs::most> found;
  std::array<std::uint8_t, Runs::most> known;
  const std::span<float> centres(found.data(), runs.size());
  const std::span<std::uint8_t> lengths(known.data(), runs.size());
  find_centres(x, runs, *reference_, centres.data());
  std::ranges::copy(runs.length, lengths.begin());
  for (std::size_t k = 0; k < runs.size() && lacks_samples(x, runs, k); ++k) lengths[k] = 0;
  for (std::size_t k = runs.size(); k > 0 && lacks_samples(x, runs, k - 1); --k) lengths[k - 1] = 0;
  kernels::add_by_length(centres, lengths, runs.first_high, others_);
  take_shortest(centres, lengths, runs);
  for (auto at = std::ranges::find(runs.length, efm::run_max); at != runs.length.end();
       at = std::find(at + 1, runs.length.end(), efm::run_max)) {
    const Run run = runs[static_cast<std::size_t>(at - runs.length.begin())];
    take_longest(x, run, run.high ? high_ : low_);
  }
}

void LevelSums::take_shortest(std::span<const float> centres, std::span<const std::uint8_t> lengths, const Runs& runs) {
  for (const std::size_t first : {0U, 1U}) {
    // First which, then what: a processor that does not have to guess the kind of each run is twice as fast.
    std::array<std::uint16_t, Runs::most / 2 + 1> chosen;
    std::size_t count = 0;
    for (std::size_t k = first; k < lengths.size(); k += 2) {
      chosen[count] = static_cast<std::uint16_t>(k);
      count += lengths[k] == efm::run_min ? 1 : 0;
    }
    std::vector<RunLevel>& shortest = (runs.high(first) ? high_ : low_).shortest;
    const std::size_t before = shortest.size();
    shortest.resize(before + count);
    for (std::size_t c = 0; c < count; ++c) {
      const std::size_t k = chosen[c];
      const float level = centres[k] + *reference_;
      shortest[before + c] = {level, level - runs.level[k]};
    }
  }
}

template <class T>
void LevelSums::take_longest(std::span<const T> x, const Run& run, Side& side) {
  const double half = settled_t * static_cast<double>(run.period), middle = run.middle();
  const double left = std::max(0.0, middle - half);
  const auto before = static_cast<std::ptrdiff_t>(left);
  const auto from = static_cast<std::size_t>(before + (static_cast<double>(before) < left ? 1 : 0));
  const auto to = std::min(static_cast<std::size_t>(static_cast<std::ptrdiff_t>(middle + half)) + 1, x.size());
  if (to <= from) return;
  double sum = 0, squares = 0, clipped = 0;
  const auto reference = static_cast<double>(x[from]);
  for (std::size_t i = from; i < to; ++i) {
    const auto value = static_cast<double>(x[i]);
    const double off = value - reference;
    sum += off;
    squares += off * off;
    clipped += (run.high ? value >= rails_.high : value <= rails_.low) ? 1 : 0;
  }
  const auto n = static_cast<double>(to - from);
  side.settled += n;
  side.clipped += clipped;
  const auto level = static_cast<float>(reference + sum / n);
  side.longest.push_back({level, level - run.level});
  squares_ += std::max(0.0, squares - sum * sum / n);
  freedom_ += n - 1;
}

std::optional<Level> LevelSums::level(const Side& side, const std::array<Sums, 12>& others, std::size_t length) const {
  if (length == efm::run_min || length == efm::run_max) {
    const Moments& moments = length == efm::run_min ? side.of_shortest : side.of_longest;
    return level_of(static_cast<double>(moments.count()), moments.mean(), moments.scatter());
  }
  const Sums& sums = others[length];
  return level_of(sums.count, static_cast<double>(reference_.value_or(0)) + sums.sum / sums.count, sums.scatter());
}

EyeLevels LevelSums::result() const {
  EyeLevels levels;
  for (std::size_t n = efm::run_min; n <= efm::run_max; ++n) {
    levels.low[n] = level(low_, others_[0], n);
    levels.high[n] = level(high_, others_[1], n);
  }
  levels.left_out = left_out_;
  if (high_.settled > 0) levels.clipped_high = high_.clipped / high_.settled;
  if (low_.settled > 0) levels.clipped_low = low_.clipped / low_.settled;
  if (freedom_ > 0) levels.noise = std::sqrt(squares_ / freedom_);
  return levels;
}

}  // namespace eyelevel::disc::eye
