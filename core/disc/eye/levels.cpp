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
std::optional<double> usual_of(std::span<const float> above) {
  if (above.empty()) return std::nullopt;
  constexpr std::size_t asked_most = 250;
  std::vector<float> some;
  for (std::size_t i = 0; i < above.size(); i += 1 + above.size() / asked_most) some.push_back(above[i]);
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

}  // namespace

void LevelSums::take(const signal::CodesView& codes, const Runs& runs) {
  std::visit([&](const auto& x) { take_runs(x, runs); }, codes);
}

void LevelSums::end_part() {
  constexpr double part = 0.1;  // of the eye: further off is a stray
  const auto low = usual_of(low_.longest.above), high = usual_of(high_.longest.above);
  const double slack = low && high ? part * std::abs(*high - *low) : std::numeric_limits<double>::infinity();
  for (Side* side : {&low_, &high_}) {
    const auto usual = side == &low_ ? low : high;
    if (usual) add_longest(*side, *usual, slack);
    if (!side->shortest.level.empty()) add_shortest(*side, slack);
    for (RunLevels* runs : {&side->longest, &side->shortest}) {
      runs->level.clear();
      runs->above.clear();
    }
  }
}

// Leaves out what lies further than `slack` from the usual and from those around it: a spot that the envelope was too
// coarse for.
void LevelSums::add_longest(Side& side, double usual, double slack) {
  constexpr std::size_t reach = 4;
  const std::span<const float> above(side.longest.above);
  for (std::size_t i = 0; i < above.size(); ++i) {
    const auto its = static_cast<double>(above[i]);
    bool is_stray = std::abs(its - usual) > slack;
    if (is_stray) {
      const std::size_t from = i < reach ? 0 : i - reach, to = std::min(above.size(), i + reach + 1);
      is_stray = std::abs(its - *usual_of(above.subspan(from, to - from))) > slack;
    }
    if (is_stray) {
      ++left_out_;
    } else {
      side.of_longest.add(static_cast<double>(side.longest.level[i]));
    }
  }
}

// Leaves out what lies further than `slack` from the usual: samples with a wrong bit.
void LevelSums::add_shortest(Side& side, double slack) {
  const std::span<const float> above(side.shortest.above), level(side.shortest.level);
  const auto usual = static_cast<float>(*usual_of(above)), most = static_cast<float>(slack);
  const double before = side.of_shortest.count;
  std::array<std::uint8_t, Runs::most> counts;
  std::array<float, Runs::most> centres;
  for (std::size_t first = 0; first < above.size(); first += Runs::most) {
    const std::size_t n = std::min(Runs::most, above.size() - first);
    for (std::size_t i = 0; i < n; ++i) {
      counts[i] = std::abs(above[first + i] - usual) <= most ? 1 : 0;
      centres[i] = level[first + i] - *reference_;
    }
    kernels::add_all({centres.data(), n}, {counts.data(), n}, side.of_shortest);
  }
  left_out_ += above.size() - static_cast<std::size_t>(side.of_shortest.count - before);
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
  take_shortest(runs, centres, lengths);
  const std::size_t n = runs.size();
  for (std::size_t k = clock::next_run(runs.length, efm::run_max, 0, n); k < n;
       k = clock::next_run(runs.length, efm::run_max, k + 1, n)) {
    take_longest(x, runs[k], runs.high(k) ? high_ : low_);
  }
}

void LevelSums::take_shortest(const Runs& runs, std::span<const float> centres, std::span<const std::uint8_t> lengths) {
  kernels::LevelsOfBoth found;
  kernels::pick_levels(runs, centres, lengths, efm::run_min, *reference_, found);
  for (const kernels::LevelRows* rows : {&found.even, &found.odd}) {
    RunLevels& shortest = (runs.first_high == (rows == &found.even) ? high_ : low_).shortest;
    shortest.level.insert(shortest.level.end(), rows->level.data(), rows->level.data() + rows->count);
    shortest.above.insert(shortest.above.end(), rows->above.data(), rows->above.data() + rows->count);
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
  // Bytes are added up as whole numbers: each sum waits for the one before, and theirs is the shorter wait.
  using Value = std::conditional_t<sizeof(T) == 1, std::int32_t, double>;
  Value sums = 0, sums_of_squares = 0;
  const T reference = x[from];
  const double rail = run.high ? rails_.high : -rails_.low, sign = run.high ? 1 : -1;
  std::int32_t clipped = 0;
  for (std::size_t i = from; i < to; ++i) {
    const Value off = static_cast<Value>(x[i]) - static_cast<Value>(reference);
    sums += off;
    sums_of_squares += off * off;
    clipped += sign * static_cast<double>(x[i]) >= rail ? 1 : 0;
  }
  const auto n = static_cast<double>(to - from), sum = static_cast<double>(sums);
  side.settled += n;
  side.clipped += static_cast<double>(clipped);
  const auto level = static_cast<float>(static_cast<double>(reference) + sum / n);
  side.longest.level.push_back(level);
  side.longest.above.push_back(level - run.level);
  squares_ += std::max(0.0, static_cast<double>(sums_of_squares) - sum * sum / n);
  freedom_ += n - 1;
}

std::optional<Level> LevelSums::level(const Side& side, const std::array<Sums, 12>& others, std::size_t length) const {
  if (length == efm::run_max) {
    const Moments& moments = side.of_longest;
    return level_of(static_cast<double>(moments.count()), moments.mean(), moments.scatter());
  }
  const Sums& sums = length == efm::run_min ? side.of_shortest : others[length];
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
