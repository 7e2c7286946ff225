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
  // What the jitter of three edges has made of the pair counts 588 / 22 times in the distance to the next one.
  const double target = pair * efm::frame_bits / sync_pair, slack = 0.4 * pair;
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

constexpr double slow_gain = 0.06, period_gain = 0.00019;  // of an error, into phase and period

// The loop, following edges one way from the anchor on: time then counts forwards or backwards.
template <bool forwards>
class Loop {
 public:
  Loop(const Edges& edges, const Anchor& anchor, Lattice& lattice)
      : at_(edges.at.data()), bit_(lattice.bit.data()), late_(lattice.late.data()), edge_(anchor.edge) {
    // Both runs of the sync last 11T, so their difference tells how far rising edges are late and falling ones early.
    const std::size_t k = anchor.edge;
    parity_ = static_cast<double>(edges.rises(k) ? 1 : -1);
    side_ = way * parity_ * 0.25 * (edges.run(k + 1) - edges.run(k));
    phase_ = way * edges.at[k] - parity_ * side_;
    period_ = anchor.period;
    inverse_ = 1 / period_;
    bit_[k] = 0;
    late_[k] = 0;
  }

  // Numbers the next edge.
  void step() {
    parity_ = -parity_;
    const std::size_t k = forwards ? edge_ + 1 : edge_ - 1;
    const double due = (way * at_[k] - phase_) - parity_ * side_;
    const double bits = rounded(due * inverse_);
    const double error = due - bits * period_;
    const auto count = static_cast<std::int64_t>(bits);
    bit_[k] = forwards ? bit_[edge_] + count : bit_[edge_] - count;
    late_[k] = static_cast<float>(way * error * inverse_);
    edge_ = k;
    phase_ += bits * period_;
    if (bits >= efm::run_min && bits <= efm::run_max && hurry_ == 0) {
      phase_ += slow_gain * error;
      bad_ = std::max(0, bad_ - 1);
      // Rising edges half a bit late and falling ones half a bit early look like a lattice, too: never go near that.
      side_ = std::clamp(side_ + 0.01 * parity_ * error, -0.35 * period_, 0.35 * period_);
      period_ += period_gain * error;
    } else {
      step_after_gap(bits, error);
    }
    if ((++steps_ & 15) == 0) inverse_ = 1 / period_;  // rounding needs it to a few parts in a thousand only
  }
  bool lost() const { return bad_ > 80; }
  std::size_t edge() const { return edge_; }

 private:
  static constexpr double way = forwards ? 1 : -1;
  static constexpr double quick_gain = 0.2;
  static constexpr int hurry_length = 24;  // edges after a gap during which the phase is taken up quickly

  void step_after_gap(double bits, double error) {
    const bool legal = bits >= efm::run_min && bits <= efm::run_max;
    if (bits > efm::run_max) hurry_ = hurry_length;
    bad_ = legal ? std::max(0, bad_ - 1) : bad_ + 4;
    phase_ += (hurry_ > 0 ? quick_gain : slow_gain) * error;
    if (hurry_ > 0) --hurry_;
    if (!legal) return;
    period_ += period_gain * error;
    if (hurry_ == 0) side_ += 0.01 * parity_ * error;
    side_ = std::clamp(side_, -0.35 * period_, 0.35 * period_);
  }

  const double* at_;
  std::int64_t* bit_;
  float* late_;
  std::size_t edge_;
  double parity_;  // 1 for a rising edge, -1 for a falling one
  double phase_, period_, inverse_;
  double side_ = 0;  // rising edges come that much later than the lattice, falling ones earlier
  int hurry_ = hurry_length;
  int bad_ = 0;
  unsigned steps_ = 0;
};

// From the anchor on both ways until the clock is lost or an edge of [first, last] is reached. Each step waits for the
// one before; two ways at once cost hardly more than one.
Stretch follow(const Edges& edges, const Anchor& anchor, std::size_t first, std::size_t last, Lattice& lattice) {
  Loop<true> ahead(edges, anchor, lattice);
  Loop<false> back(edges, anchor, lattice);
  const auto goes_on = [&] { return ahead.edge() != last && !ahead.lost(); };
  const auto goes_back = [&] { return back.edge() != first && !back.lost(); };
  while (goes_on() && goes_back()) {
    ahead.step();
    back.step();
  }
  while (goes_on()) ahead.step();
  while (goes_back()) back.step();
  return {back.edge(), ahead.edge()};
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
      lattice.late[k] += static_cast<float>(grow);
    } else if (right_may) {
      bit[k + 1] += grow;
      lattice.late[k + 1] -= static_cast<float>(grow);
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

// All stretches, in order.
void find_stretches(const Edges& edges, Lattice& lattice) {
  std::vector<Stretch> open = {{0, edges.size()}};  // edges [first, last) where none was found yet
  while (!open.empty()) {
    const auto [from, to] = open.back();
    open.pop_back();
    if (from + 2 >= to) continue;
    const std::span<const double> at(edges.at.data(), to);
    const std::size_t middle = from + (to - from) / 2;
    auto anchor = find_anchor(at, middle, to);
    if (!anchor) anchor = find_anchor(at, from, middle);
    if (!anchor) continue;
    Stretch stretch = follow(edges, *anchor, from, to - 1, lattice);
    trim(lattice.bit, anchor->edge, stretch);
    mend(lattice, stretch);
    lattice.stretches.push_back(stretch);
    open.push_back({from, stretch.first});
    open.push_back({stretch.last + 1, to});
  }
  std::sort(lattice.stretches.begin(), lattice.stretches.end(),
            [](const Stretch& a, const Stretch& b) { return a.first < b.first; });
}

// Numbers each stretch on from the one before by time, so that frames keep their numbers over a gap.
void join(const Edges& edges, Lattice& lattice) {
  double time = 0, bits = 0;
  for (std::size_t i = 0; i < lattice.stretches.size(); ++i) {
    const Stretch& s = lattice.stretches[i];
    time += edges.at[s.last] - edges.at[s.first];
    bits += static_cast<double>(lattice.bit[s.last] - lattice.bit[s.first]);
    if (i == 0 || !(bits > 0)) continue;
    const std::size_t before = lattice.stretches[i - 1].last;
    const double gap = (edges.at[s.first] - edges.at[before]) / (time / bits);
    const std::int64_t moved =
        lattice.bit[before] + std::max<std::int64_t>(1, std::llround(gap)) - lattice.bit[s.first];
    for (std::size_t k = s.first; k <= s.last; ++k) lattice.bit[k] += moved;
  }
  lattice.period = bits > 0 ? time / bits : 0;
}

}  // namespace

double loop_bandwidth_hz(double channel_rate_hz) {
  // Second-order loop with damping 1: the error falls to 0.707 at 1.554 of the natural frequency (from
  // |s^2 / (s + w)^2| = 0.707, so w^2 / (1 + w^2) = 0.707).
  constexpr double bits_per_edge = 4.7;  // EFM with random data
  const double natural = std::sqrt(bits_per_edge * period_gain), pi = std::acos(-1.0);
  return 1.554 * natural / (2 * pi) * channel_rate_hz / bits_per_edge;
}

std::optional<Anchor> find_anchor(std::span<const double> at, std::size_t from, std::size_t to) {
  for (std::size_t k = from; k < to && k + 2 < at.size(); ++k) {
    if (const auto anchor = anchor_at(at, k)) return anchor;
  }
  return std::nullopt;
}

Lattice recover(const Edges& edges, Lattice reuse) {
  Lattice lattice = std::move(reuse);
  lattice.stretches.clear();
  lattice.bit.resize(edges.size());
  lattice.late.resize(edges.size());
  find_stretches(edges, lattice);
  join(edges, lattice);
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
