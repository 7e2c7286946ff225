// SPDX-License-Identifier: Apache-2.0
#include "core/disc/clock/recovery.hpp"

#include <algorithm>
#include <cmath>

#include "core/disc/efm/code.hpp"

namespace eyelevel::disc::clock {
namespace {

constexpr double sync_pair = 2 * efm::run_max;  // T from the first to the third edge of a sync

// Both runs of a sync last 11T; a slicing level that is off makes one longer and the other shorter.
bool is_pair(double first, double second) { return std::abs(first - second) < 0.12 * (first + second); }

// Edges of one direction lie whole channel bits apart, whatever the slicing level. 0.25 by chance, 0 without jitter.
double misfit(std::span<const double> at, std::size_t from, std::size_t to, double period) {
  double sum = 0;
  for (std::size_t k = from; k + 2 <= to; ++k) {
    const double bits = (at[k + 2] - at[k]) / period;
    sum += std::abs(bits - std::nearbyint(bits));
  }
  return sum / static_cast<double>(to - from - 1);
}

std::optional<Anchor> anchor_at(std::span<const double> at, std::size_t k) {
  const double first = at[k + 1] - at[k], second = at[k + 2] - at[k + 1], pair = first + second;
  if (!is_pair(first, second)) return std::nullopt;
  const double longest = 1.09 * pair / 2, shortest = 0.145 * pair / 2;  // 12T and 1.6T
  const double target = pair * efm::frame_bits / sync_pair, slack = 0.12 * pair;
  for (std::size_t j = k + 2; j + 2 < at.size(); ++j) {
    const double run = at[j + 1] - at[j], span = at[j] - at[k];
    if (run > longest || run < shortest || span > target + slack) return std::nullopt;
    if (span < target - slack) continue;
    const double next = at[j + 2] - at[j + 1];
    if (!is_pair(run, next) || std::abs(run + next - pair) > 0.06 * pair) continue;
    const double period = span / efm::frame_bits;
    const auto runs = static_cast<double>(j - k);
    const bool of_the_code = runs > efm::frame_bits / 7.0 && runs < efm::frame_bits / 3.4;
    if (of_the_code && misfit(at, k, j, period) < 0.20) return Anchor{k, period};
  }
  return std::nullopt;
}

// To the nearest whole number, below 2^51: what lies beyond the mantissa is cut off. (nearbyint is a call on old
// processors.)
double rounded(double value) {
  constexpr double cut = 6755399441055744.0;  // 1.5 x 2^52
  return (value + cut) - cut;
}

// The loop. `way` is 1 forwards, -1 backwards (time then counts down).
class Loop {
 public:
  Loop(const Edges& edges, const Anchor& anchor, double way) : edges_(edges), way_(way) {
    // Both runs of the sync last 11T, so their difference tells how far rising edges are late and falling ones early.
    const std::size_t k = anchor.edge;
    side_ = way * (edges.rises(k) ? 0.25 : -0.25) * (edges.run(k + 1) - edges.run(k));
    phase_ = way * edges.at[k] - (edges.rises(k) ? side_ : -side_);
    period_ = anchor.period;
    inverse_ = 1 / period_;
  }

  // Whole channel bits from the edge before to edge k.
  std::int64_t step(std::size_t k) {
    const double side = edges_.rises(k) ? side_ : -side_;
    const double due = way_ * edges_.at[k] - phase_ - side;
    const double bits = rounded(due * inverse_);
    const double error = due - bits * period_;
    late_ = static_cast<float>(error * inverse_);
    const bool legal = bits >= efm::run_min && bits <= efm::run_max;
    if (!legal) hurry_ = bits > efm::run_max ? hurry_length : hurry_;
    bad_ = legal ? std::max(0, bad_ - 1) : bad_ + 4;
    const double gain = hurry_ > 0 ? 0.2 : 0.06;
    if (hurry_ > 0) --hurry_;
    phase_ += bits * period_ + gain * error;
    period_ += legal ? 0.00019 * error : 0;
    // Rising edges half a bit late and falling ones half a bit early look like a lattice, too: never go near that.
    if (legal && hurry_ == 0) side_ += edges_.rises(k) ? 0.01 * error : -0.01 * error;
    side_ = std::clamp(side_, -0.35 * period_, 0.35 * period_);
    if ((++steps_ & 15) == 0) inverse_ = 1 / period_;  // rounding needs it to a few parts in a thousand only
    return static_cast<std::int64_t>(bits);
  }
  bool lost() const { return bad_ > 80; }
  // How far the last edge came after its place on the lattice, channel bits.
  float late() const { return late_; }

 private:
  static constexpr int hurry_length = 24;  // edges after a gap during which the phase is taken up quickly
  const Edges& edges_;
  double way_;
  double phase_, period_, inverse_;
  double side_ = 0;  // rising edges come that much later than the lattice, falling ones earlier
  int hurry_ = hurry_length;
  int bad_ = 0;
  float late_ = 0;
  unsigned steps_ = 0;
};

// From the anchor on until the clock is lost; gives the last edge that was still numbered.
std::size_t follow(const Edges& edges, const Anchor& anchor, bool forwards, std::size_t limit, Lattice& lattice) {
  Loop loop(edges, anchor, forwards ? 1 : -1);
  std::size_t k = anchor.edge;
  while (k != limit && !loop.lost()) {
    const std::size_t next = forwards ? k + 1 : k - 1;
    const std::int64_t bits = loop.step(next);
    lattice.bit[next] = forwards ? lattice.bit[k] + bits : lattice.bit[k] - bits;
    lattice.late[next] = forwards ? loop.late() : -loop.late();
    k = next;
  }
  return k;
}

// A run of 2T is one of 3T, and of 12T one of 11T: the edge that lies further off its place that way moves by one bit,
// where its other run allows it.
void mend(Lattice& lattice, const Stretch& s) {
  constexpr float clearly = 0.2F;
  auto& bit = lattice.bit;
  for (std::size_t k = s.first; k < s.last; ++k) {
    const std::int64_t length = bit[k + 1] - bit[k];
    const int grow = length == efm::run_min - 1 ? 1 : length == efm::run_max + 1 ? -1 : 0;
    if (grow == 0) continue;
    const float left = -static_cast<float>(grow) * lattice.late[k],
                right = static_cast<float>(grow) * lattice.late[k + 1];
    const auto is_legal = [](std::int64_t bits) { return bits >= efm::run_min && bits <= efm::run_max; };
    const bool left_may = left > clearly && k > s.first && is_legal(bit[k] - bit[k - 1] - grow);
    const bool right_may = right > clearly && k + 1 < s.last && is_legal(bit[k + 2] - bit[k + 1] - grow);
    if (left_may && (left >= right || !right_may)) {
      bit[k] -= grow;
    } else if (right_may) {
      bit[k + 1] += grow;
    }
  }
}

bool is_sync(const std::vector<std::int64_t>& bit, std::size_t k) {
  return bit[k + 1] - bit[k] == efm::run_max && bit[k + 2] - bit[k + 1] == efm::run_max;
}

// Cuts off what has no frame sync for some frames: there the clock lies otherwise than the channel bits, or there is
// none.
void trim(const std::vector<std::int64_t>& bit, std::size_t anchor, Stretch& s) {
  constexpr std::int64_t patience = 6 * efm::frame_bits;
  std::size_t good = anchor, k = anchor;
  for (; k + 2 <= s.last && bit[k] - bit[good] <= patience; ++k) {
    if (is_sync(bit, k)) good = k;
  }
  if (k + 2 <= s.last) {
    while (k > good && bit[k] - bit[good] >= efm::frame_bits) --k;
    s.last = k;
  }
  good = k = anchor;
  for (; k > s.first && bit[good] - bit[k] <= patience; --k) {
    if (k + 2 <= s.last && is_sync(bit, k)) good = k;
  }
  if (k > s.first) {
    while (k < good && bit[good] - bit[k] > efm::frame_bits) ++k;
    s.first = k;
  }
}

}  // namespace

std::optional<Anchor> find_anchor(std::span<const double> at, std::size_t from) {
  for (std::size_t k = from; k + 2 < at.size(); ++k) {
    if (const auto anchor = anchor_at(at, k)) return anchor;
  }
  return std::nullopt;
}

Lattice recover(const Edges& edges, Lattice reuse) {
  Lattice lattice = std::move(reuse);
  lattice.stretches.clear();
  lattice.period = 0;
  lattice.bit.resize(edges.size());
  lattice.late.resize(edges.size());
  double time = 0, bits = 0;
  std::size_t from = 0;
  while (const auto anchor = find_anchor(edges.at, from)) {
    Stretch stretch;
    stretch.first = follow(edges, *anchor, false, from, lattice);
    stretch.last = follow(edges, *anchor, true, edges.size() - 1, lattice);
    trim(lattice.bit, anchor->edge, stretch);
    mend(lattice, stretch);
    if (!lattice.stretches.empty()) {
      // Count on from the stretch before by time, so that frames keep their numbers over a gap.
      const std::size_t before = lattice.stretches.back().last;
      const double gap = (edges.at[stretch.first] - edges.at[before]) / anchor->period;
      const std::int64_t moved =
          lattice.bit[before] + std::max<std::int64_t>(1, std::llround(gap)) - lattice.bit[stretch.first];
      for (std::size_t k = stretch.first; k <= stretch.last; ++k) lattice.bit[k] += moved;
    }
    time += edges.at[stretch.last] - edges.at[stretch.first];
    bits += static_cast<double>(lattice.bit[stretch.last] - lattice.bit[stretch.first]);
    lattice.stretches.push_back(stretch);
    from = stretch.last + 1;
    if (from + 2 >= edges.size()) break;
  }
  if (bits > 0) lattice.period = time / bits;
  set_lengths(lattice);
  return lattice;
}

void set_lengths(Lattice& lattice) {
  lattice.length.assign(lattice.bit.size(), 0);
  for (const Stretch& s : lattice.stretches) {
    for (std::size_t k = s.first; k < s.last; ++k) {
      const std::int64_t bits = lattice.bit[k + 1] - lattice.bit[k];
      lattice.length[k] =
          bits >= efm::run_min && bits <= efm::run_max ? static_cast<std::uint8_t>(bits) : std::uint8_t{0};
    }
  }
}

}  // namespace eyelevel::disc::clock
