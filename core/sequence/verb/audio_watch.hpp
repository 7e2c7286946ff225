// SPDX-License-Identifier: Apache-2.0
// Decides from analysed captures whether a player really plays an audio track: blocks of the Q channel with a right
// CRC, ADR 1, an audio CONTROL, track 1 to 99 and INDEX 1 or more (ECMA-130 22.3), and the time on the disc running as
// fast as the clock over a second or more: a paused player jumps back each turn (0.11 to 0.28 s) and so never gets
// there. Pure; times are seconds on the run's Timeline.
#pragma once

#include <optional>
#include <string>

#include "core/disc/analysis.hpp"

namespace eyelevel::sequence {

class AudioWatch {
 public:
  enum class Verdict {
    no_eye,      // nothing that a disc gives
    look_again,  // an eye, but no block that says where (ADR 2 or 3 only, or damaged)
    not_audio,   // data, lead-in, pause before a track, lead-out
    confirm,     // an audio track; one more look, `confirm_s` or more later, will tell whether time runs
    playing,
  };
  struct Answer {
    Verdict verdict = Verdict::no_eye;
    std::string seen;  // "a data track, track 1", "playing an audio track, track 2, 00:31"
  };
  static constexpr double confirm_s = 1.0;

  // `start_s`: when the analysed record began.
  Answer look(const disc::Analysis& analysis, double start_s);

 private:
  struct Fix {
    double disc_s = 0;  // absolute time on the disc
    double at_s = 0;    // on the Timeline
  };
  std::optional<Fix> first_;
};

// A locked eye: the channel clock holds over the record. `eye_in_words`: "an eye of 1.21 V", "no eye".
bool is_locked(const disc::Analysis& analysis);
std::string eye_in_words(const disc::Analysis& analysis);

}  // namespace eyelevel::sequence
