// SPDX-License-Identifier: Apache-2.0
#include "core/disc/clock/loop.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>

#include "core/disc/efm/code.hpp"

namespace eyelevel::disc::clock {
namespace {

// To the nearest whole number, below 2^51: what lies beyond the mantissa is cut off. (nearbyint is a call on old
// processors.)
template <class Value>
Value rounded(Value value) {
  constexpr double cut = 6755399441055744.0;  // 1.5 x 2^52
  return (value + cut) - cut;
}

bool is_legal(std::int32_t bits) { return bits >= efm::run_min && bits <= efm::run_max; }

// What the loop knows after an edge.
struct State {
  double at = 0;      // of the edge
  double bit = 0;     // channel bits from the anchor, a whole number
  double phase = 0;   // where the lattice says that the edge should lie
  double period = 0;  // samples to a channel bit
  double shift = 0;   // how much later than the lattice the next edge comes, the one after as much earlier
};

// Rising edges half a bit late and falling ones half a bit early look like a lattice, too: never go near that.
constexpr double shift_most = 0.35;  // channel bits
double kept_small(double shift, double period) { return std::clamp(shift, -shift_most * period, shift_most * period); }

// The loop one way, forwards (1) or backwards (-1).
class Loop {
 public:
  Loop(const Edges& edges, const Anchor& anchor, int way, Lattice& lattice)
      : edges_(edges), lattice_(lattice), way_(way), edge_(anchor.edge) {
    // Both runs of the sync last 11T, so their difference tells how far rising edges are late and falling ones early.
    const std::size_t k = anchor.edge;
    const double late = 0.25 * (edges.run(k + 1) - edges.run(k));
    state_ = {edges.at[k], 0, edges.at[k] - late, anchor.period, kept_small(-late, anchor.period)};
    lattice_.bit[k] = 0;
    lattice_.late[k] = 0;
  }

  void step() {
    const std::size_t k = way_ > 0 ? edge_ + 1 : edge_ - 1;
    const double at = edges_.at[k];
    // The run by itself tells its length nearly always, as below; here it is put right where it does not.
    double bits = rounded((at - state_.at - 2 * state_.shift) / state_.period);
    double error = (at - state_.shift) - (state_.phase + bits * state_.period);
    const double more = rounded(error / state_.period);
    bits += more;
    error -= more * state_.period;
    state_.at = at;
    state_.bit += bits;
    state_.phase += bits * state_.period;
    const auto count = way_ * static_cast<std::int32_t>(bits);
    lattice_.bit[k] = static_cast<std::int32_t>(state_.bit);
    lattice_.late[k] = static_cast<float>(error / state_.period);
    lattice_.length[way_ > 0 ? edge_ : k] = static_cast<std::uint8_t>(std::clamp(count, 0, 255));
    edge_ = k;
    correct(count, error);
    state_.shift = kept_small(-state_.shift, state_.period);
  }
  bool lost() const { return bad_ > 80; }
  bool calm() const { return hurry_ == 0 && bad_ == 0; }
  std::size_t edge() const { return edge_; }
  const State& state() const { return state_; }
  // Another has numbered the edges up to this one.
  void go_on_from(std::size_t edge, const State& state) {
    edge_ = edge;
    state_ = state;
  }

 private:
  static constexpr double quick_gain = 0.2;
  static constexpr int hurry_length = 24;  // edges after a gap during which the phase is taken up quickly

  void correct(std::int32_t count, double error) {
    if (count > efm::run_max) hurry_ = hurry_length;
    bad_ = is_legal(count) ? std::max(0, bad_ - 1) : bad_ + 4;
    state_.phase += (hurry_ > 0 ? quick_gain : slow_gain) * error;
    if (hurry_ > 0) --hurry_;
    if (!is_legal(count)) return;
    state_.period += way_ * period_gain * error;
    if (hurry_ == 0) state_.shift += shift_gain * error;
  }

  const Edges& edges_;
  Lattice& lattice_;
  int way_;
  std::size_t edge_;
  State state_;
  int hurry_ = hurry_length;
  int bad_ = 0;
};

// Both ways at once, some edges at a time, while nothing special happens.
constexpr std::size_t some = 32;
using Two = double __attribute__((vector_size(16)));  // ahead, back
using TwoFloats = float __attribute__((vector_size(8)));
using TwoInts = std::int32_t __attribute__((vector_size(8)));
constexpr Two period_gains = {period_gain, -period_gain};

// Two States. They stay in registers from step to step.
struct Pair {
  Two at, bit, phase, period, shift;

  Pair(const State& ahead, const State& back)
      : at{ahead.at, back.at},
        bit{ahead.bit, back.bit},
        phase{ahead.phase, back.phase},
        period{ahead.period, back.period},
        shift{ahead.shift, back.shift} {}
  State state(int way) const { return {at[way], bit[way], phase[way], period[way], shift[way]}; }
};

// Where the next edges lie and what is said of them.
struct Row {
  const double *next_ahead, *next_back;
  std::int32_t *bit_ahead, *bit_back;
  float *late_ahead, *late_back;
};

// Some edges each way; answers how late or early the one is that is furthest off, in channel bits. The steps are those
// of Loop but for their order: each waits for the one before, so what an error changes is added as late as can be.
[[gnu::always_inline]] inline double number_some(Row row, Pair& pair) {
  Two at = pair.at, bit = pair.bit, phase = pair.phase, period = pair.period, shift = pair.shift;
  const Two inverse = 1 / period;
  Two twice_shift = 2 * shift, error = {0, 0}, latest = {0, 0};
  for (std::size_t i = 0; i < some; ++i) {
    const Two next = {*++row.next_ahead, *--row.next_back};
    // The run by itself tells its length nearly always: the processor need not wait for what the edge before has
    // changed.
    const Two bits = rounded((next - at - twice_shift) * inverse);
    twice_shift = -twice_shift;
    at = next;
    bit += bits;
    const Two place = phase + bits * period, gains = slow_gain + bits * period_gains;
    phase = place + gains * error;
    const Two found = (next - shift - place) - (gains - shift_gain) * error;
    period += period_gains * error;
    shift = shift_gain * error - shift;
    error = found;
    const Two late = error * inverse, off = __builtin_elementwise_abs(late);
    latest = off > latest ? off : latest;
    const TwoInts bit_now = __builtin_convertvector(bit, TwoInts);
    const TwoFloats late_now = __builtin_convertvector(late, TwoFloats);
    *++row.bit_ahead = bit_now[0];
    *--row.bit_back = bit_now[1];
    *++row.late_ahead = late_now[0];
    *--row.late_back = late_now[1];
  }
  period += period_gains * error;
  shift -= shift_gain * error;
  const Two most = shift_most * period;
  shift = shift > most ? most : shift < -most ? -most : shift;
  pair.at = at;
  pair.bit = bit;
  pair.phase = phase + slow_gain * error;
  pair.period = period;
  pair.shift = shift;
  return std::max(latest[0], latest[1]);
}

// Of some runs; answers whether all are of the code.
bool write_lengths(const std::int32_t* bit, std::uint8_t* length) {
  unsigned illegal = 0;
  for (std::size_t i = 0; i < some; ++i) {
    const auto bits = static_cast<std::uint32_t>(bit[i + 1] - bit[i]);
    illegal |= static_cast<unsigned>(bits - efm::run_min > efm::run_max - efm::run_min);
    length[i] = static_cast<std::uint8_t>(bits);
  }
  return illegal == 0;
}

// As far as nothing special happens and both ways have some edges left. What is written beyond says nothing.
void follow_both(const Edges& edges, std::size_t first, std::size_t last, Loop& ahead, Loop& back, Lattice& lattice) {
  Pair pair(ahead.state(), back.state());
  std::size_t a = ahead.edge(), b = back.edge();
  while (last - a >= some && b - first >= some) {
    Pair next = pair;
    const double latest = number_some(
        {&edges.at[a], &edges.at[b], &lattice.bit[a], &lattice.bit[b], &lattice.late[a], &lattice.late[b]}, next);
    const bool legal_ahead = write_lengths(&lattice.bit[a], &lattice.length[a]);
    const bool legal_back = write_lengths(&lattice.bit[b - some], &lattice.length[b - some]);
    if (!(latest < 0.5) || !legal_ahead || !legal_back) break;
    pair = next;
    a += some;
    b -= some;
  }
  ahead.go_on_from(a, pair.state(0));
  back.go_on_from(b, pair.state(1));
}

}  // namespace

Stretch follow(const Edges& edges, const Anchor& anchor, std::size_t first, std::size_t last, Lattice& lattice) {
  Loop ahead(edges, anchor, 1, lattice), back(edges, anchor, -1, lattice);
  const auto goes_on = [&] { return ahead.edge() != last && !ahead.lost(); };
  const auto goes_back = [&] { return back.edge() != first && !back.lost(); };
  while (goes_on() || goes_back()) {
    if (ahead.calm() && back.calm()) follow_both(edges, first, last, ahead, back, lattice);
    for (std::size_t i = 0; i < some; ++i) {
      if (goes_on()) ahead.step();
      if (goes_back()) back.step();
    }
  }
  return {back.edge(), ahead.edge()};
}

}  // namespace eyelevel::disc::clock
