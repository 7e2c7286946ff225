// SPDX-License-Identifier: Apache-2.0
#include "core/disc/efm/merging.hpp"

#include <cassert>
#include <cstddef>
#include <cstdlib>

namespace eyelevel::disc::efm {
namespace {

// One word after the merging bits: what decides about them, worked out once.
struct Word {
  int bits = 0;
  int lead = 0;       // ZEROs before the first ONE
  int trail = 0;      // ZEROs after the last ONE
  int first_run = 0;  // between the first two ONEs, 0 if there is but one
  int last_run = 0;   // between the last two ONEs, 0 if there is but one
  int sum = 0;        // digital sum of the word when the bit before it is +1
  int turn = 1;       // -1 if the word has an odd number of edges
  int ones = 0;
  std::array<std::uint8_t, 8> offsets{};
};

constexpr Word make_word(std::uint32_t pattern, int bits) {
  Word word{.bits = bits};
  int level = 1, last = -1;
  for (int i = 0; i < bits; ++i) {
    if (pattern >> (bits - 1 - i) & 1U) {
      level = -level;
      if (word.ones == 0) word.lead = i;
      if (word.ones == 1) word.first_run = i - last;
      if (word.ones >= 1) word.last_run = i - last;
      word.offsets[static_cast<std::size_t>(word.ones++)] = static_cast<std::uint8_t>(i);
      last = i;
    }
    word.sum += level;
  }
  word.trail = bits - 1 - last;
  word.turn = level;
  return word;
}

constexpr std::size_t word_sync = symbol_s1 + 1;

const std::array<Word, word_sync + 1>& words() {
  static const auto table = [] {
    std::array<Word, word_sync + 1> made{};
    for (std::size_t byte = 0; byte < 256; ++byte)
      made[byte] = make_word(codeword(static_cast<std::uint8_t>(byte)), codeword_bits);
    made[symbol_s0] = make_word(s0_codeword, codeword_bits);
    made[symbol_s1] = make_word(s1_codeword, codeword_bits);
    made[word_sync] = make_word(sync_pattern, sync_bits);
    return made;
  }();
  return table;
}

struct Position {
  MergingState state;
  int trail = 0;     // ZEROs since the last ONE
  int last_run = 0;  // the complete run before it
  int edges = 0;
};

constexpr int no_one = 3;  // merging bits 000; 0 to 2 is the place of the ONE

constexpr bool is_legal_run(int run) { return run >= run_min && run <= run_max; }
// The sync pattern is the only place where two 11T runs follow each other.
constexpr bool looks_like_sync(int run, int next) { return run == run_max && next == run_max; }

// The run that ends with the first ONE of the word, or 0 where the choice is not legal.
int run_into_word(const Position& at, const Word& word, int one) {
  int before = at.last_run;
  int run = at.trail + merging_bits + word.lead + 1;
  if (one != no_one) {
    const int ended = at.trail + one + 1;
    if (!is_legal_run(ended) || looks_like_sync(before, ended)) return 0;
    before = ended;
    run = merging_bits - 1 - one + word.lead + 1;
  }
  if (!is_legal_run(run) || looks_like_sync(before, run) || looks_like_sync(run, word.first_run)) return 0;
  return run;
}

MergingState state_after(const MergingState& state, const Word& word, int one) {
  const int turned = one == no_one ? state.level : -state.level;
  const int merging = one == no_one ? merging_bits * state.level : (2 * one - merging_bits) * state.level;
  return {.level = turned * word.turn, .digital_sum = state.digital_sum + merging + turned * word.sum};
}

// The legal choice nearest to zero; with `parity` only those with (1) or without (0) an edge; -1 if there is none.
int choose(const Position& at, const Word& word, int parity = -1) {
  int best = -1, best_sum = 0;
  for (int one = 0; one <= no_one; ++one) {
    if (parity >= 0 && (one != no_one) != (parity == 1)) continue;
    if (run_into_word(at, word, one) == 0) continue;
    const int sum = std::abs(state_after(at.state, word, one).digital_sum);
    if (best < 0 || sum < best_sum) {
      best = one;
      best_sum = sum;
    }
  }
  return best;
}

using Edges = std::span<std::uint16_t, frame_edges_max>;

void put_word(Position& at, const Word& word, int start, Edges edges) {
  for (int i = 0; i < word.ones; ++i)
    edges[static_cast<std::size_t>(at.edges++)] =
        static_cast<std::uint16_t>(start + word.offsets[static_cast<std::size_t>(i)]);
}

// Merging bits with their ONE at `one`, then the word.
void step(Position& at, const Word& word, int one, int start, Edges edges) {
  const int run = run_into_word(at, word, one);
  if (one != no_one) edges[static_cast<std::size_t>(at.edges++)] = static_cast<std::uint16_t>(start + one);
  put_word(at, word, start + merging_bits, edges);
  at.last_run = word.ones > 1 ? word.last_run : run;
  at.trail = word.trail;
  at.state = state_after(at.state, word, one);
}

// The merging bits before the next sync pattern, which belongs to the next frame.
void close(Position& at, int one, Edges edges) {
  if (one == no_one) {
    at.state.digital_sum += merging_bits * at.state.level;
    return;
  }
  edges[static_cast<std::size_t>(at.edges++)] = static_cast<std::uint16_t>(merging_offset(frame_symbols) + one);
  at.state.digital_sum += (2 * one - merging_bits) * at.state.level;
  at.state.level = -at.state.level;
}

using Trace = std::array<Position, frame_symbols + 1>;  // before each choice

const Word& word_for(const FrameSymbols& symbols, int choice) {
  return words()[choice == frame_symbols ? word_sync : std::size_t{symbols[static_cast<std::size_t>(choice)]}];
}

// Encodes from choice `first` on; the first choice may be forced.
Position run_from(int first, int forced, const FrameSymbols& symbols, Trace& trace, Edges edges) {
  Position at = trace[static_cast<std::size_t>(first)];
  for (int choice = first; choice <= frame_symbols; ++choice) {
    trace[static_cast<std::size_t>(choice)] = at;
    const Word& word = word_for(symbols, choice);
    const int one = choice == first && forced >= 0 ? forced : choose(at, word);
    assert(one >= 0);  // no dead end is reachable: shown over all states by the tests
    if (choice == frame_symbols) {
      close(at, one, edges);
    } else {
      step(at, word, one, merging_offset(choice), edges);
    }
  }
  return at;
}

}  // namespace

int encode_frame(const FrameSymbols& symbols, MergingState& state, Edges edges, Parity parity) {
  for ([[maybe_unused]] const auto symbol : symbols) assert(symbol <= symbol_s1);
  const Word& sync = words()[word_sync];
  Trace trace{};
  Position& start = trace[0];
  put_word(start, sync, 0, edges);
  start.state = {.level = state.level * sync.turn, .digital_sum = state.digital_sum + state.level * sync.sum};
  start.trail = sync.trail;
  start.last_run = sync.last_run;

  Position end = run_from(0, -1, symbols, trace, edges);
  const Trace nearest = trace;
  const auto obeys = [parity](int count) {
    return parity == Parity::any || (count % 2 == 0) == (parity == Parity::even);
  };
  for (int choice = frame_symbols; !obeys(end.edges) && choice >= 0; --choice) {
    const Position& at = nearest[static_cast<std::size_t>(choice)];
    const Word& word = word_for(symbols, choice);
    const int other = choose(at, word, choose(at, word) == no_one ? 1 : 0);
    if (other < 0) continue;
    trace[static_cast<std::size_t>(choice)] = at;
    end = run_from(choice, other, symbols, trace, edges);
  }
  state = end.state;
  return end.edges;
}

}  // namespace eyelevel::disc::efm
