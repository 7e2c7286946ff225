// SPDX-License-Identifier: Apache-2.0
// Records that are longer than a window, and records that come in blocks. Truth is that of tests/support/eye_renderer.
#include <catch2/catch.hpp>

#include <numeric>
#include <set>
#include <span>

#include "core/disc/analysis.hpp"
#include "core/disc/eye/runs.hpp"
#include "tests/core/disc/warnings.hpp"
#include "tests/support/eye_renderer.hpp"

using namespace eyelevel;
using namespace eyelevel::disc;

namespace {

Analysis in_blocks(const signal::Waveform& wave, std::size_t block) {
  StreamAnalyser analyser(wave.view());
  std::span<const std::int8_t> rest(std::get<std::vector<std::int8_t>>(wave.codes));
  while (rest.size() > block) {
    analyser.take(rest.first(block));
    rest = rest.subspan(block);
  }
  return analyser.finish(rest);
}

void check_same(const Analysis& a, const Analysis& b) {
  CHECK(a.samples == b.samples);
  CHECK(a.locked_share == b.locked_share);
  CHECK(a.level.i11_v == b.level.i11_v);
  CHECK(a.level.i3_v == b.level.i3_v);
  CHECK(a.level.mean_v == b.level.mean_v);
  CHECK(a.asymmetry == b.asymmetry);
  CHECK(a.jitter_all_ns == b.jitter_all_ns);
  CHECK(a.channel_rate_hz == b.channel_rate_hz);
  CHECK(a.runs == b.runs);
  CHECK(a.frames == b.frames);
  CHECK(a.subcode.size() == b.subcode.size());
  CHECK(a.c1->words == b.c1->words);
  CHECK(a.warnings == b.warnings);
}

}  // namespace

TEST_CASE("stream: blocks of any size give the same figures to the last bit", "[disc]") {
  support::EyeSettings settings;
  settings.duration_s = 0.2;
  settings.edge_jitter_t = 0.03;
  const signal::Waveform wave = support::render(settings).on_screen(0.4, 2.4);
  const Analysis whole = analyse(wave.view());
  REQUIRE(whole.has_eye);
  for (const std::size_t block : {4096U, 99991U, 1000000U, 2500000U}) {
    CAPTURE(block);
    check_same(whole, in_blocks(wave, block));
  }
}

TEST_CASE("stream: a record of four windows is read without a seam", "[disc]") {
  support::EyeSettings settings;
  settings.duration_s = 0.2;
  const support::Eye eye = support::render(settings);
  const Analysis a = analyse(eye.view());
  REQUIRE(a.warnings.size() == 1);
  CHECK(warns_of(a, "no dark level was given"));
  CHECK_FALSE(a.disturbed);
  CHECK(a.frames == eye.truth.frames);
  CHECK(static_cast<int>(a.subcode.size()) == eye.truth.sections);
  for (std::size_t i = 1; i < a.subcode.size(); ++i) {
    CHECK(a.subcode[i].crc);
    CHECK(a.subcode[i].start_s - a.subcode[i - 1].start_s == Approx(98 * 588 / 4321800.0).epsilon(1e-4));
  }
  CHECK(a.c1->words == a.frames - 1);
  CHECK(a.c1->e11 + a.c1->e21 + a.c1->e31 == 0);
  CHECK(*a.level.i11_v == Approx(eye.truth.i11_v).epsilon(0.001));
  CHECK(*a.level.mean_v == Approx(eye.truth.mean_v).margin(1e-4));
  CHECK(a.locked_share > 0.999);
}

TEST_CASE("stream: runs for a picture come once each, errors lie in stretches of time that add up", "[disc]") {
  support::EyeSettings settings;
  settings.duration_s = 0.25;
  settings.light = [](double t) { return std::abs(t - 0.155) < 115e-6 ? 0.05 : 1.0; };  // a spot: wrong words there
  std::int64_t runs = 0;
  AnalysisOptions options;
  options.on_runs = [&](const signal::CodesView&, std::span<const eye::Run> some) {
    runs += static_cast<std::int64_t>(some.size());
  };
  const Analysis a = analyse(support::render(settings).view(), options);
  CHECK(runs == std::accumulate(a.runs.begin(), a.runs.end(), std::int64_t{0}));
  CHECK(a.errors_over_time.stretch_s == 0.1);
  REQUIRE(a.errors_over_time.stretches.size() == 3);
  std::int64_t words = 0, wrong = 0;
  for (const auto& stretch : a.errors_over_time.stretches) {
    words += stretch.words;
    wrong += stretch.wrong;
  }
  CHECK(words == a.c1->words);
  CHECK(wrong == wrong_words(*a.c1));
  CHECK(wrong > 0);
  CHECK(a.errors_over_time.stretches[1].wrong == wrong);
  CHECK(a.errors_over_time.stretches[0].words == Approx(735).margin(3));  // 7350 a second
}

TEST_CASE("stream: a fault across the border of two windows is one fault", "[disc]") {
  support::EyeSettings settings;
  settings.duration_s = 0.16;
  settings.light = [](double t) { return std::abs(t - 0.05) < 115e-6 ? 0.05 : 1.0; };
  const Analysis a = analyse(support::render(settings).view());
  CHECK(a.disturbed);
  CHECK(a.sync_lost <= 1);
  int told = 0;
  for (const std::string& warning : a.warnings) told += warning.find("weak or lost") != std::string::npos ? 1 : 0;
  CHECK(told == 1);
  // The frames keep their time: every block after the fault has the place that it had without.
  for (const QBlock& q : a.subcode) CHECK((!q.crc || q.track == 2));
}

TEST_CASE("stream: light that is gone for two windows leaves the rest readable and is told", "[disc]") {
  support::EyeSettings settings;
  settings.duration_s = 0.3;
  settings.light = [](double t) { return t > 0.09 && t < 0.21 ? 0.01 : 1.0; };
  const support::Eye eye = support::render(settings);
  const Analysis a = analyse(eye.view());
  CHECK(a.has_eye);
  CHECK(a.disturbed);
  CHECK(a.locked_share == Approx(0.6).margin(0.03));
  CHECK(*a.level.i11_v == Approx(2.0 - 0.7).epsilon(0.001));
  CHECK(a.sync_lost >= 1);
  // 22.0 blocks in the record, of which 8.8 in the dark; the numbers say how many are missing between.
  std::set<int> seen;
  for (const QBlock& q : a.subcode) {
    if (q.crc) seen.insert(q.absolute->frame + 75 * q.absolute->second);
  }
  CHECK(seen.size() >= 11);
  CHECK(*seen.rbegin() - *seen.begin() >= 19);
}

TEST_CASE("stream: windows of a few frames, as a fast oscilloscope gives them, join without a seam", "[disc]") {
  support::EyeSettings settings;
  settings.rate_hz = 1e9;
  settings.duration_s = 0.006;  // six windows of 1 ms, seven frames each
  const support::Eye eye = support::render(settings);
  const Analysis a = analyse(eye.on_screen(0.4, 2.4).view());
  CHECK_FALSE(a.disturbed);
  CHECK(a.frames == eye.truth.frames);
  CHECK(a.c1->words == a.frames - 1);
  CHECK(wrong_words(*a.c1) == 0);
  CHECK(*a.level.i11_v == Approx(eye.truth.i11_v).epsilon(0.002));
  CHECK(a.locked_share > 0.99);
}
