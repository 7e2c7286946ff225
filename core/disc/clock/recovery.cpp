// SPDX-License-Identifier: Apache-2.0
#include "core/disc/clock/recovery.hpp"

#include <algorithm>
#include <cmath>
#include <cstring>

#include "core/disc/clock/loop.hpp"
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

// The edge of run k that lies further off its place moves by one bit, where its other run allows it.
void mend_run(Lattice& lattice, const Stretch& s, std::size_t k) {
  constexpr float clearly = 0.2F;
  auto& length = lattice.length;
  const int grow = length[k] == efm::run_min - 1 ? 1 : length[k] == efm::run_max + 1 ? -1 : 0;
  if (grow == 0) return;
  const float left = -static_cast<float>(grow) * lattice.late[k],
              right = static_cast<float>(grow) * lattice.late[k + 1];
  const auto is_legal = [](int bits) { return bits >= efm::run_min && bits <= efm::run_max; };
  const bool left_may = left > clearly && k > s.first && is_legal(length[k - 1] - grow);
  const bool right_may = right > clearly && k + 1 < s.last && is_legal(length[k + 1] - grow);
  const bool takes_left = left_may && (left >= right || !right_may);
  if (!takes_left && !right_may) return;
  const std::size_t edge = takes_left ? k : k + 1;
  const int moved = takes_left ? -grow : grow;
  lattice.bit[edge] += moved;
  lattice.late[edge] -= static_cast<float>(moved);
  length[edge - 1] = static_cast<std::uint8_t>(length[edge - 1] + moved);
  length[edge] = static_cast<std::uint8_t>(length[edge] - moved);
}

// A run of 2T is one of 3T, and of 12T one of 11T.
void mend(Lattice& lattice, const Stretch& s) {
  constexpr std::size_t some = 64;  // hardly ever there is one among them
  for (std::size_t from = s.first; from < s.last; from += some) {
    const std::size_t end = std::min(from + some, s.last);
    unsigned any = 0;
    for (std::size_t k = from; k < end; ++k) {
      const std::uint8_t length = lattice.length[k];
      any |= static_cast<unsigned>(length == efm::run_min - 1) | static_cast<unsigned>(length == efm::run_max + 1);
    }
    for (std::size_t k = from; k < end && any != 0; ++k) mend_run(lattice, s, k);
  }
}

// Cuts off what has no frame sync for some frames: there the clock lies otherwise than the channel bits, or there is
// none.
void trim(const Lattice& lattice, std::size_t anchor, Stretch& s) {
  constexpr std::int32_t patience = 6 * efm::frame_bits;
  const auto& bit = lattice.bit;
  const std::vector<std::size_t> syncs = find_syncs(lattice, s);
  const auto later = std::lower_bound(syncs.begin(), syncs.end(), anchor);
  std::size_t good = anchor;
  for (auto sync = later; sync != syncs.end() && bit[*sync] - bit[good] <= patience; ++sync) good = *sync;
  if (s.last >= good + 2 && bit[s.last - 2] - bit[good] > patience) {
    s.last = good;
    while (bit[s.last + 1] - bit[good] < efm::frame_bits) ++s.last;
  }
  good = anchor;
  for (auto sync = later; sync != syncs.begin() && bit[good] - bit[*(sync - 1)] <= patience; --sync) good = *(sync - 1);
  if (bit[good] - bit[s.first] > patience) {
    s.first = good;
    while (bit[good] - bit[s.first - 1] <= efm::frame_bits) --s.first;
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
    trim(lattice, anchor->edge, stretch);
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
    const std::int32_t moved =
        lattice.bit[before] + std::max(1, static_cast<std::int32_t>(std::lround(gap))) - lattice.bit[s.first];
    for (std::size_t k = s.first; k <= s.last; ++k) lattice.bit[k] += moved;
  }
  lattice.period = bits > 0 ? time / bits : 0;
}

// The loop has put down any length, also where a stretch was cut off.
void keep_legal(Lattice& lattice) {
  const auto at = [&](std::size_t edge) { return lattice.length.begin() + static_cast<std::ptrdiff_t>(edge); };
  auto done = lattice.length.begin();
  for (const Stretch& s : lattice.stretches) {
    std::fill(done, at(s.first), std::uint8_t{0});
    done = at(s.last);
    // Each is written: vectors have no use for a store that may be left out.
    std::transform(at(s.first), done, at(s.first),
                   [](std::uint8_t n) { return n >= efm::run_min && n <= efm::run_max ? n : std::uint8_t{0}; });
  }
  std::fill(done, lattice.length.end(), std::uint8_t{0});
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
  // The next one may be larger; what is reserved and not used costs nothing.
  lattice.bit.reserve(edges.at.capacity());
  lattice.late.reserve(edges.at.capacity());
  lattice.length.reserve(edges.at.capacity());
  lattice.bit.resize(edges.size());
  lattice.late.resize(edges.size());
  lattice.length.resize(edges.size());
  find_stretches(edges, lattice);
  join(edges, lattice);
  keep_legal(lattice);
  return lattice;
}

std::size_t next_run(std::span<const std::uint8_t> lengths, int length, std::size_t from, std::size_t to) {
  if (from >= to) return to;
  const void* at = std::memchr(lengths.data() + from, length, to - from);
  return at == nullptr ? to : static_cast<std::size_t>(static_cast<const std::uint8_t*>(at) - lengths.data());
}

std::vector<std::size_t> find_syncs(const Lattice& lattice, const Stretch& s) {
  std::vector<std::size_t> syncs;
  for (std::size_t k = next_run(lattice.length, efm::run_max, s.first, s.last); k + 1 < s.last;
       k = next_run(lattice.length, efm::run_max, k + 1, s.last)) {
    if (lattice.length[k + 1] == efm::run_max) syncs.push_back(k);
  }
  return syncs;
}

}  // namespace eyelevel::disc::clock
