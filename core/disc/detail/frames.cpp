// SPDX-License-Identifier: Apache-2.0
#include "core/disc/detail/frames.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

#include "core/disc/efm/code.hpp"

namespace eyelevel::disc::detail {
namespace {

using efm::frame_bits;
constexpr std::int64_t last_bit =
    efm::codeword_offset(efm::frame_symbols - 1) + efm::codeword_bits;  // of the last symbol
constexpr std::int64_t bridged_most = 8;  // frames without sync that are still read: the code repairs about as many

// Where a frame begins, and whether its sync was there.
struct Start {
  std::int64_t number, bit;
  bool has_sync;
  bool bridged = false, slipped = false;
};

bool stands_at(const std::vector<std::int64_t>& starts, std::int64_t bit) {
  return std::binary_search(starts.begin(), starts.end(), bit);
}

// Another one lies a whole number of frames, a few at most, before or after.
bool is_supported(const std::vector<std::int64_t>& starts, std::int64_t bit) {
  for (std::int64_t m = 1; m <= 3; ++m) {
    if (stands_at(starts, bit + m * frame_bits) || stands_at(starts, bit - m * frame_bits)) return true;
  }
  return false;
}

class Flywheel {
 public:
  explicit Flywheel(std::vector<std::int64_t> candidates) : candidates_(std::move(candidates)) {}

  std::vector<Start> run(std::int64_t first_bit) {
    std::size_t i = 0;
    while (i < candidates_.size() && !is_supported(candidates_, candidates_[i])) ++i;
    if (i == candidates_.size()) return {};
    extend_backwards(candidates_[i], first_bit);
    starts_.push_back({0, candidates_[i], true});
    for (++i; i < candidates_.size(); ++i) take(candidates_[i]);
    return std::move(starts_);
  }

 private:
  // The first sync or two may have fallen victim to the settling of the clock.
  void extend_backwards(std::int64_t bit, std::int64_t first_bit) {
    std::int64_t m = std::min<std::int64_t>(2, (bit - first_bit) / frame_bits);
    for (; m > 0; --m) starts_.push_back({-m, bit - m * frame_bits, false});
  }

  void take(std::int64_t bit) {
    const Start last = starts_.back();
    const std::int64_t distance = bit - last.bit;
    const std::int64_t count = (distance + frame_bits / 2) / frame_bits;
    const bool in_step = count > 0 && distance == count * frame_bits;
    if (!in_step && (count == 0 || !is_supported(candidates_, bit))) return;
    if (count <= bridged_most) {
      for (std::int64_t m = 1; m < count; ++m) {
        // After a slip the nearer end knows better where the frame lies.
        const bool from_left = 2 * m <= count;
        const std::int64_t there = from_left ? last.bit + m * frame_bits : bit - (count - m) * frame_bits;
        starts_.push_back({last.number + m, there, false, true});
      }
    }
    starts_.push_back({last.number + count, bit, true, false, !in_step || count > 2});
  }

  std::vector<std::int64_t> candidates_;
  std::vector<Start> starts_;
};

using FrameWords = std::array<std::uint64_t, 10>;  // 588 channel bits, the first one on top

template <int offset>
std::uint32_t group_at(const FrameWords& words) {
  constexpr std::size_t w = offset / 64, end = offset % 64 + efm::codeword_bits;
  if constexpr (end <= 64) return static_cast<std::uint32_t>(words[w] >> (64 - end));
  return static_cast<std::uint32_t>(words[w] << (end - 64) | words[w + 1] >> (128 - end));
}

// Each place in the frame is known when this is compiled.
template <int... i>
void read_symbols(const FrameWords& words, Frame& frame, std::integer_sequence<int, i...> /*of the F2-frame*/) {
  frame.control = efm::decode(group_at<efm::codeword_offset(0)>(words));
  const auto read = [&](int place, int symbol) {
    const bool is_byte = symbol >= 0 && symbol < 256;
    frame.symbols[static_cast<std::size_t>(place)] = static_cast<std::uint8_t>(is_byte ? symbol : 0);
    frame.invalid |= std::uint32_t{is_byte ? 0U : 1U} << place;
  };
  (read(i, efm::decode(group_at<efm::codeword_offset(i + 1)>(words))), ...);
}

// Reads edges of successive frames; all locked edges in one ascending row.
class Reader {
 public:
  Reader(const clock::Edges& edges, const clock::Lattice& lattice, std::size_t samples)
      : edges_(edges), lattice_(lattice), samples_(static_cast<double>(samples)) {
    edge_ = lattice.stretches.front().first;
  }

  // Empty when the frame does not lie wholly inside the record.
  bool read(const Start& start, Frame& frame) {
    find(start.bit);
    if (edge_ >= edges_.size()) return false;
    frame.number = start.number;
    frame.bit = start.bit;
    frame.has_sync = start.has_sync;
    frame.bridged = start.bridged;
    frame.slipped = start.slipped;
    const auto ahead = static_cast<double>(lattice_.bit[edge_] - start.bit);
    frame.start = edges_.at[edge_] - ahead * lattice_.period;
    if (frame.start < 0 || frame.start + static_cast<double>(last_bit) * lattice_.period > samples_) return false;
    read_symbols(words_from(start.bit), frame, std::make_integer_sequence<int, circ::f2_symbols>());
    return true;
  }

 private:
  // Goes on to the first locked edge that is not before this channel bit.
  void find(std::int64_t bit) {
    for (; stretch_ < lattice_.stretches.size(); ++stretch_) {
      const clock::Stretch& s = lattice_.stretches[stretch_];
      edge_ = std::max(edge_, s.first);
      while (edge_ > s.first && edge_ <= s.last && lattice_.bit[edge_ - 1] >= bit) --edge_;  // after a slip
      while (edge_ <= s.last && lattice_.bit[edge_] < bit) ++edge_;
      if (edge_ <= s.last) return;
    }
    edge_ = edges_.size();
  }

  // The edges of a frame as bits, as far as the lock goes; leaves edge_ behind the last one.
  FrameWords words_from(std::int64_t first_bit) {
    FrameWords words{};
    std::uint64_t word = 0;
    std::size_t filled = 0;
    std::size_t end = lattice_.stretches[stretch_].last + 1;
    for (std::size_t next = stretch_ + 1; next < lattice_.stretches.size() && lattice_.stretches[next].first == end;
         ++next)
      end = lattice_.stretches[next].last + 1;
    for (; edge_ < end; ++edge_) {
      const auto bit = static_cast<std::uint64_t>(lattice_.bit[edge_] - first_bit);
      if (bit >= frame_bits) break;
      // No branch: one in fourteen edges begins a word, which no processor foresees.
      const auto at = static_cast<std::size_t>(bit / 64);
      word = (at == filled ? word : 0) | std::uint64_t{1} << (63 - bit % 64);
      words[at] = word;
      filled = at;
    }
    return words;
  }

  const clock::Edges& edges_;
  const clock::Lattice& lattice_;
  double samples_;
  std::size_t edge_ = 0;
  std::size_t stretch_ = 0;
};

}  // namespace

std::vector<Frame> find_frames(const clock::Edges& edges, const clock::Lattice& lattice, std::size_t samples) {
  if (!lattice.found()) return {};
  std::vector<std::int64_t> candidates;
  for (const clock::Stretch& stretch : lattice.stretches) {
    for (const std::size_t k : clock::find_syncs(lattice, stretch)) candidates.push_back(lattice.bit[k]);
  }
  const std::size_t first_edge = lattice.stretches.front().first;
  const auto lead = static_cast<std::int64_t>(edges.at[first_edge] / lattice.period);
  std::vector<Start> starts =
      Flywheel(std::move(candidates)).run(lattice.bit[first_edge] - std::min<std::int64_t>(lead, efm::run_max));
  if (starts.empty()) return {};
  for (int m = 0; m < 2; ++m) {
    const Start last = starts.back();
    starts.push_back({last.number + 1, last.bit + frame_bits, false});
  }
  Reader reader(edges, lattice, samples);
  std::vector<Frame> frames;
  frames.reserve(starts.size());
  for (const Start& start : starts) {
    if (!reader.read(start, frames.emplace_back())) frames.pop_back();
  }
  return frames;
}

}  // namespace eyelevel::disc::detail
