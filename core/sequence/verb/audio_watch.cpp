// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/verb/audio_watch.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "core/disc/subcode/q.hpp"

namespace eyelevel::sequence {

namespace {

// Share of a record with the clock locked that counts as an eye: the loop itself needs some of a short record to pull
// in.
constexpr double locked_share_min = 0.8;
// How far the time on the disc may be from the clock: when a capture began is known only to the length of a transfer.
constexpr double off_s = 0.25;
constexpr double off_share = 0.05;

double seconds_of(const disc::MinSecFrame& time) {
  return static_cast<double>(disc::subcode::sections_of(time)) / disc::subcode::sections_per_second;
}

// The last block of the record that says where on the disc it is.
const disc::QBlock* last_position(const disc::Analysis& analysis) {
  const auto it = std::find_if(analysis.subcode.rbegin(), analysis.subcode.rend(),
                               [](const disc::QBlock& q) { return q.adr == 1 && disc::subcode::is_usable(q); });
  return it == analysis.subcode.rend() ? nullptr : &*it;
}

// An audio track itself: no lead-in, no lead-out, no pause before a track.
bool is_in_audio_track(const disc::QBlock& q) {
  return q.track >= 1 && q.track <= 99 && q.index.value_or(0) >= 1 && q.relative && q.absolute &&
         disc::subcode::content_of(q) == disc::Content::audio;
}

}  // namespace

bool is_locked(const disc::Analysis& analysis) { return analysis.has_eye && analysis.locked_share >= locked_share_min; }

std::string eye_in_words(const disc::Analysis& analysis) {
  if (!is_locked(analysis)) return "no eye";
  if (!analysis.level.peak_to_peak_v) return "an eye";
  return fmt::format("an eye of {:.3g} V", *analysis.level.peak_to_peak_v);
}

AudioWatch::Answer AudioWatch::look(const disc::Analysis& analysis, double start_s) {
  if (!is_locked(analysis)) {
    first_.reset();
    return {Verdict::no_eye, "no eye"};
  }
  const disc::QBlock* q = last_position(analysis);
  if (!q) return {Verdict::look_again, eye_in_words(analysis) + ", no readable position on the disc"};
  if (!is_in_audio_track(*q)) {
    first_.reset();
    return {Verdict::not_audio, disc::subcode::phrase(*q)};
  }
  const Fix now{seconds_of(*q->absolute), start_s + q->start_s};
  const std::string where = fmt::format("track {}, {:02}:{:02}", q->track, q->relative->minute, q->relative->second);
  if (!first_) {
    first_ = now;
    return {Verdict::confirm, "an audio track, " + where};
  }
  const double clock_s = now.at_s - first_->at_s;
  if (clock_s < confirm_s) return {Verdict::confirm, "an audio track, " + where};
  const double moved_s = now.disc_s - first_->disc_s;
  const double expected_s = clock_s * analysis.speed.value_or(1);
  first_ = now;
  if (std::abs(moved_s - expected_s) > off_s + off_share * expected_s)
    return {Verdict::confirm,
            fmt::format("an audio track, {}, but the disc moved on by {:.2f} s in {:.2f} s (pause or search)", where,
                        moved_s, clock_s)};
  return {Verdict::playing, disc::subcode::phrase(*q)};
}

}  // namespace eyelevel::sequence
