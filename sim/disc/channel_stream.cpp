// SPDX-License-Identifier: Apache-2.0
#include "sim/disc/channel_stream.hpp"

#include <algorithm>
#include <cstddef>
#include <utility>

#include "core/disc/circ/encoder.hpp"

namespace eyelevel::sim {
namespace {

using namespace disc;

constexpr std::int64_t flag_sections = 150;            // P flag before a track, at least 2 s; 22.2
constexpr std::int64_t time_sections = 100 * 60 * 75;  // absolute time wraps after 99:59:74

constexpr std::int64_t floor_div(std::int64_t a, std::int64_t b) { return a / b - (a % b != 0 && (a < 0) != (b < 0)); }
constexpr std::int64_t floor_mod(std::int64_t a, std::int64_t b) { return a - b * floor_div(a, b); }

// SplitMix64 finaliser over seed and place.
std::uint64_t hashed(std::uint64_t seed, std::uint64_t place) {
  std::uint64_t z = seed + place * 0x9E3779B97F4A7C15U;
  z = (z ^ (z >> 30U)) * 0xBF58476D1CE4E5B9U;
  z = (z ^ (z >> 27U)) * 0x94D049BB133111EBU;
  return z ^ (z >> 31U);
}

// The F1-frames of the contents, as the CIRC encoder wants them.
class Source {
 public:
  explicit Source(const Contents& contents) : contents_(contents) {}

  std::uint8_t byte(std::int64_t frame, int index) const {
    if (is_silent(frame)) return 0;
    return static_cast<std::uint8_t>(word(frame, index / 8) >> (8 * (index % 8)));
  }

  circ::F1Frame frame(std::int64_t number) const {
    circ::F1Frame bytes{};
    if (is_silent(number)) return bytes;
    for (int w = 0; w < 3; ++w) {
      const std::uint64_t eight = word(number, w);
      for (int i = 0; i < 8; ++i) {
        const int at = 8 * w + i;
        bytes[static_cast<std::size_t>(at)] = static_cast<std::uint8_t>(eight >> (8 * i));
      }
    }
    return bytes;
  }

 private:
  std::uint64_t word(std::int64_t frame, int which) const {
    return hashed(contents_.seed, static_cast<std::uint64_t>(3 * frame + which));
  }

  // Digital silence where nothing is recorded: lead-in, pauses, lead-out. The stretch found last is remembered.
  bool is_silent(std::int64_t frame) const {
    if (frame < from_ || frame >= until_) find_stretch(floor_div(frame, efm::section_frames));
    return silent_;
  }

  void find_stretch(std::int64_t section) const {
    const Track* track = contents_.track_at(section);
    std::int64_t from = INT64_MIN / 1024, until = 0;  // lead-in
    if (track != nullptr) {
      silent_ = section < track->start;
      from = silent_ ? track->pause_start : track->start;
      until = silent_ ? track->start : track->end;
    } else {
      silent_ = true;
      if (section >= 0) {
        from = contents_.lead_out();
        until = INT64_MAX / 1024;
      }
    }
    from_ = from * efm::section_frames;
    until_ = until * efm::section_frames;
  }

  const Contents& contents_;
  mutable std::int64_t from_ = 0, until_ = 0;
  mutable bool silent_ = true;
};

subcode::QBytes contents_q(const Contents& contents, std::int64_t section) {
  const std::int64_t running = section + contents.lead_in_sections;
  const auto tracks = static_cast<std::int64_t>(contents.tracks.size());
  const std::int64_t item = floor_mod(floor_div(running, 3), tracks + 3);  // each item three times in succession
  subcode::ContentsItem q;
  q.running = subcode::time_of(floor_mod(running, time_sections));
  if (item < tracks) {
    const Track& track = contents.tracks[static_cast<std::size_t>(item)];
    q.control = track.control;
    q.point = track.number;
    q.p_time = subcode::time_of(track.start);
    return subcode::build_contents_q(q);
  }
  if (tracks > 0) q.control = contents.tracks.front().control;
  q.point = 0xA0 + static_cast<int>(item - tracks);
  if (q.point == 0xA0 && tracks > 0) q.p_time.minute = contents.tracks.front().number;
  if (q.point == 0xA1 && tracks > 0) q.p_time.minute = contents.tracks.back().number;
  if (q.point == 0xA2) q.p_time = subcode::time_of(contents.lead_out());
  return subcode::build_contents_q(q);
}

// Modes 2 and 3 take one section of any hundred where the disc has these numbers; 22.3.2.
constexpr std::int64_t catalogue_place = 37, recording_code_place = 87;

}  // namespace

ChannelStream::ChannelStream(std::shared_ptr<const Contents> contents)
    : contents_(std::move(contents)), cache_(cached_groups) {}

subcode::QBytes ChannelStream::q(std::int64_t section) const {
  if (section < 0) return contents_q(*contents_, section);
  const MinSecFrame absolute = subcode::time_of(section % time_sections);
  const Track* track = contents_->track_at(section);
  if (track == nullptr) {
    const int control = contents_->tracks.empty() ? 0 : contents_->tracks.back().control;
    return subcode::build_program_q({.control = control,
                                     .track = subcode::lead_out_track,
                                     .index = 1,
                                     .relative = subcode::time_of((section - contents_->lead_out()) % time_sections),
                                     .absolute = absolute});
  }
  if (section % 100 == catalogue_place && !contents_->catalogue.empty())
    return subcode::build_catalogue_q(track->control, contents_->catalogue, absolute.frame);
  const bool pause = section < track->start;
  if (section % 100 == recording_code_place && !pause && !track->recording_code.empty())
    return subcode::build_recording_code_q(track->control, track->recording_code, absolute.frame);
  const std::int64_t relative = pause ? track->start - 1 - section : section - track->start;
  return subcode::build_program_q({.control = track->control,
                                   .track = track->number,
                                   .index = pause ? 0 : 1,
                                   .relative = subcode::time_of(relative),
                                   .absolute = absolute});
}

bool ChannelStream::p(std::int64_t section) const {
  if (section < 0) return false;
  const std::int64_t lead_out = contents_->lead_out();
  if (section >= lead_out) {
    const std::int64_t after = section - lead_out;
    // Two seconds of ZERO, then 2 Hz: half a period is 18.75 sections.
    return after >= flag_sections && (after - flag_sections) * 4 / subcode::sections_per_second % 2 == 0;
  }
  if (section >= lead_out - flag_sections) return true;
  // The flag stands before a track as long as the pause, two seconds at least, and in its first section.
  const Track* track = contents_->track_at(section);
  if (section <= track->start) return true;
  const Track* next = contents_->track(track->number + 1);
  return next != nullptr && section >= std::min(next->pause_start, next->start - flag_sections);
}

circ::F1Frame ChannelStream::f1_frame(std::int64_t frame) const { return Source(*contents_).frame(frame); }

efm::FrameSymbols ChannelStream::symbols(std::int64_t frame) const {
  const Source source(*contents_);
  const std::int64_t section = floor_div(frame, efm::section_frames);
  const auto in_section = static_cast<int>(floor_mod(frame, efm::section_frames));
  efm::FrameSymbols symbols{};
  symbols[0] = in_section == 0   ? efm::symbol_s0
               : in_section == 1 ? efm::symbol_s1
                                 : subcode::control_byte(q(section), p(section), in_section);
  const auto f2 = circ::f2_of(circ::c1_word_at(source, frame), circ::c1_word_at(source, frame - 1));
  std::ranges::copy(f2, symbols.begin() + 1);
  return symbols;
}

const ChannelStream::Group& ChannelStream::group(std::int64_t number) {
  Group& group = cache_[static_cast<std::size_t>(floor_mod(number, cached_groups))];
  if (group.number == number) return group;

  const std::int64_t first_frame = number * group_frames;
  const std::int64_t section = floor_div(first_frame, efm::section_frames);
  if (section_ != section) {
    section_q_ = q(section);
    section_p_ = p(section);
    section_ = section;
  }
  const Source source(*contents_);
  circ::C1Word before = circ::c1_word_at(source, first_frame - 1);
  efm::MergingState state;
  group.number = number;
  group.count = 0;
  for (int i = 0; i < group_frames; ++i) {
    const auto in_section = static_cast<int>(floor_mod(first_frame + i, efm::section_frames));
    const circ::C1Word word = circ::c1_word_at(source, first_frame + i);
    efm::FrameSymbols symbols{};
    symbols[0] = in_section == 0   ? efm::symbol_s0
                 : in_section == 1 ? efm::symbol_s1
                                   : subcode::control_byte(section_q_, section_p_, in_section);
    std::ranges::copy(circ::f2_of(word, before), symbols.begin() + 1);
    before = word;

    std::array<std::uint16_t, efm::frame_edges_max> edges{};
    const bool last = i == group_frames - 1;
    efm::Parity parity = efm::Parity::any;
    if (last) parity = group.count % 2 == 0 ? efm::Parity::odd : efm::Parity::even;  // odd in all
    const int count = efm::encode_frame(symbols, state, edges, parity);
    for (int k = 0; k < count; ++k)
      group.edges[static_cast<std::size_t>(group.count++)] =
          static_cast<std::uint16_t>(i * efm::frame_bits + edges[static_cast<std::size_t>(k)]);
  }
  return group;
}

void ChannelStream::edges(std::int64_t first_bit, std::int64_t until_bit, EdgeWindow& window) {
  constexpr std::int64_t group_bits = group_frames * efm::frame_bits;
  window.first_bit = first_bit;
  window.until_bit = until_bit;
  window.edges.clear();
  window.land_before = true;
  for (std::int64_t number = floor_div(first_bit, group_bits); number * group_bits < until_bit; ++number) {
    const Group& found = group(number);
    const auto begin = found.edges.begin(), end = begin + found.count;
    const std::int64_t from = first_bit - number * group_bits, until = until_bit - number * group_bits;
    const auto first = from <= 0 ? begin : std::lower_bound(begin, end, from);
    const auto last = until >= group_bits ? end : std::lower_bound(begin, end, until);
    // Every group has an odd number of edges; those with an even number begin after a land.
    if (window.edges.empty()) window.land_before = ((first - begin) + number) % 2 == 0;
    for (auto edge = first; edge != last; ++edge) window.edges.push_back(static_cast<std::int32_t>(*edge - from));
  }
}

}  // namespace eyelevel::sim
