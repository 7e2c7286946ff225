// SPDX-License-Identifier: Apache-2.0
// Blocks as ECMA-130 22.3 has them; times as a playing, paused or searching player shows them.
#include "core/sequence/verb/audio_watch.hpp"

#include <catch2/catch.hpp>

#include "core/disc/subcode/q.hpp"

using namespace eyelevel;
using sequence::AudioWatch;
using Verdict = AudioWatch::Verdict;

namespace {

disc::Analysis eye() {
  disc::Analysis a;
  a.has_eye = true;
  a.locked_share = 1;
  a.level.peak_to_peak_v = 1.2;
  a.speed = 1;
  return a;
}

disc::QBlock block(int control, int track, int index, std::int64_t sections) {
  disc::subcode::ProgramPosition p;
  p.control = control;
  p.track = track;
  p.index = index;
  p.relative = disc::subcode::time_of(31 * 75 + sections);
  p.absolute = disc::subcode::time_of(20000 + sections);
  disc::QBlock q = disc::subcode::parse_q(disc::subcode::build_program_q(p));
  return q;
}

disc::Analysis with(disc::QBlock q) {
  auto a = eye();
  a.subcode = {q};
  return a;
}

}  // namespace

TEST_CASE("audio watch: an audio track counts when the time on the disc has run for a second", "[sequence]") {
  AudioWatch watch;
  const auto first = watch.look(with(block(0, 2, 1, 0)), 10.0);
  CHECK(first.verdict == Verdict::confirm);
  CHECK(first.seen == "an audio track, track 2, 00:31");
  CHECK(watch.look(with(block(0, 2, 1, 40)), 10.5).verdict == Verdict::confirm);  // too early to tell
  const auto last = watch.look(with(block(0, 2, 1, 79)), 11.05);
  CHECK(last.verdict == Verdict::playing);
  CHECK(last.seen == "playing an audio track, track 2, 00:32");
}

TEST_CASE("audio watch: a paused player, which jumps back each turn, is never taken for a playing one", "[sequence]") {
  AudioWatch watch;
  // Jumps within a turn of at most 0.28 s, that is 21 sections.
  const int places[] = {0, 12, 3, 20, 7, 15, 21, 1};
  for (int i = 0; i < 8; ++i) {
    CAPTURE(i);
    CHECK(watch.look(with(block(0, 2, 1, places[i])), 10 + 1.05 * i).verdict == Verdict::confirm);
  }
}

TEST_CASE("audio watch: a search that ends begins the count anew", "[sequence]") {
  AudioWatch watch;
  watch.look(with(block(0, 2, 1, 0)), 0);
  const auto jumped = watch.look(with(block(0, 2, 1, 3000)), 1.05);
  CHECK(jumped.verdict == Verdict::confirm);
  CHECK(jumped.seen.find("pause or search") != std::string::npos);
  CHECK(watch.look(with(block(0, 2, 1, 3079)), 2.1).verdict == Verdict::playing);
}

TEST_CASE("audio watch: data, pause, contents and lead-out are no audio track, and it says which", "[sequence]") {
  AudioWatch watch;
  CHECK(watch.look(with(block(4, 1, 1, 0)), 0).verdict == Verdict::not_audio);
  CHECK(watch.look(with(block(4, 1, 1, 0)), 0).seen.find("data") != std::string::npos);
  CHECK(watch.look(with(block(0, 3, 0, 0)), 0).verdict == Verdict::not_audio);
  CHECK(watch.look(with(block(0, 3, 0, 0)), 0).seen.find("pause") != std::string::npos);
  CHECK(watch.look(with(block(0, disc::subcode::lead_out_track, 1, 0)), 0).verdict == Verdict::not_audio);
  disc::subcode::ContentsItem item;
  item.point = 2;
  const auto contents = disc::subcode::parse_q(disc::subcode::build_contents_q(item));
  CHECK(watch.look(with(contents), 0).verdict == Verdict::not_audio);
}

TEST_CASE("audio watch: what is between two looks at one track starts it anew", "[sequence]") {
  AudioWatch watch;
  watch.look(with(block(0, 2, 1, 0)), 0);
  watch.look(with(block(4, 1, 1, 0)), 0.5);
  CHECK(watch.look(with(block(0, 2, 1, 79)), 1.05).verdict == Verdict::confirm);
}

TEST_CASE("audio watch: a record with only ADR 2 or 3, or a wrong CRC, is looked at again", "[sequence]") {
  AudioWatch watch;
  const auto catalogue = disc::subcode::parse_q(disc::subcode::build_catalogue_q(0, "1234567890123", 10));
  CHECK(watch.look(with(catalogue), 0).verdict == Verdict::look_again);
  auto damaged = block(0, 2, 1, 0);
  damaged.crc = false;
  CHECK(watch.look(with(damaged), 0).verdict == Verdict::look_again);
  CHECK(watch.look(eye(), 0).verdict == Verdict::look_again);
}

TEST_CASE("audio watch: no eye, or a clock that does not hold, is no eye", "[sequence]") {
  AudioWatch watch;
  auto loose = with(block(0, 2, 1, 0));
  loose.locked_share = 0.4;
  CHECK(watch.look(loose, 0).verdict == Verdict::no_eye);
  CHECK(watch.look({}, 0).verdict == Verdict::no_eye);
  CHECK(sequence::eye_in_words({}) == "no eye");
  CHECK(sequence::eye_in_words(eye()) == "an eye of 1.2 V");
}
