// SPDX-License-Identifier: Apache-2.0
#include <complex>

#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;

namespace {

std::string capture(int keep, int tries, const std::string& more = {}) {
  return test::around(
      fmt::format("  - capture: rf\n    each: 500 us long\n    keep: {} settled\n    try: at most {}\n    within: 60 "
                  "s\n    name it: pressed\n{}",
                  keep, tries, more));
}

std::vector<double> starts(const test::MemoryJournal& journal) {
  std::vector<double> all;
  for (const auto& c : journal.of<event::Captured>()) all.push_back(c.waveform->start_s);
  return all;
}

}  // namespace

TEST_CASE("capture: 64 settled are spread unevenly over three turns or more, 25 a second or more", "[sequence]") {
  test::FakeBench bench;
  const auto result = bench.run(capture(64, 200));
  REQUIRE_FALSE(result.error);
  const auto at = starts(bench.journal);
  REQUIRE(at.size() == 64);
  CHECK(at.back() - at.front() > 0.84);  // three turns of the slowest disc, measurement.md 4: 3.57 Hz
  CHECK(64 / (at.back() - at.front()) > 25);
  double least = 1, most = 0;
  for (std::size_t i = 1; i < at.size(); ++i) {
    least = std::min(least, at[i] - at[i - 1]);
    most = std::max(most, at[i] - at[i - 1]);
  }
  CHECK(most > 2 * least);
}

TEST_CASE("capture: an instrument that takes one turn for each capture does not see one side of the disc only",
          "[sequence]") {
  constexpr double turn_s = 0.2, swing_v = 0.1, mean_v = 1.2;
  test::FakeBench bench;
  bench.calls.each = std::chrono::milliseconds(200);
  bench.unit.level_v = [&](double t_s) { return mean_v + swing_v * std::sin(2 * 3.141592653589793 * t_s / turn_s); };
  REQUIRE_FALSE(bench.run(capture(64, 100)).error);
  std::complex<double> resultant = 0;
  for (const double t_s : starts(bench.journal)) resultant += std::polar(1.0, 2 * 3.141592653589793 * t_s / turn_s);
  // Rayleigh test of moments on a circle: for n even ones, n R^2 is exponential with mean 1; 0.1 % lie above 6.9.
  CHECK(std::norm(resultant) / 64 < 6.9);
}

TEST_CASE("capture: a few still reach over three turns", "[sequence]") {
  test::FakeBench bench;
  REQUIRE_FALSE(bench.run(capture(8, 20)).error);
  const auto at = starts(bench.journal);
  CHECK(at.back() - at.front() > 0.6);
}

TEST_CASE("capture: each try is recorded with why it was not kept, and the count is noted", "[sequence]") {
  test::FakeBench bench;
  int n = 0;
  bench.unit.blur_t = [&](double) { return ++n % 5 == 0 ? 1.7 : 1.25; };  // out of focus: I3 falls before I11
  const auto result = bench.run(capture(16, 40));
  REQUIRE_FALSE(result.error);
  int kept = 0, focus = 0;
  for (const auto& c : bench.journal.of<event::Captured>()) {
    kept += c.not_kept.empty();
    focus += c.not_kept == "focus";
    CHECK(c.name == "pressed");
    CHECK(c.signal == "rf");
  }
  CHECK(kept == 16);
  CHECK(focus >= 3);
  CHECK(bench.journal.of<event::Noted>().at(0).text ==
        fmt::format("16 of {} kept; not kept: {} focus", 16 + focus, focus));
  CHECK(bench.journal.of<event::Noted>().size() == 1);  // a fifth rejected is allowed
}

TEST_CASE("capture: clipped captures are not kept, and the advice is about the screen", "[sequence]") {
  test::FakeBench bench;
  bench.unit.level_v = [](double) {
    return 3.0;
  };  // from 0.1 V to 3.1 V on a screen from 0.6 V to 2.6 V, with its headroom 2.9 V
  const auto result = bench.run(capture(16, 20));
  REQUIRE(result.error);
  CHECK(result.error->code == base::ErrorCode::wait_ran_out);
  CHECK(result.error->message ==
        "only 0 of 16 settled captures came about in 20 tries (0 of 20 kept; not kept: 20 clipped); nothing is judged "
        "from them");
  CHECK(result.error->advice == "let `screen` show more volts above and below the signal");
}

TEST_CASE("capture: without an eye nothing is kept", "[sequence]") {
  test::FakeBench bench;
  bench.unit.has_eye = [](double) { return false; };
  const auto result = bench.run(capture(4, 10));
  REQUIRE(result.error);
  CHECK(result.error->advice == "does the disc play, or does it search or pause?");
  CHECK(bench.journal.of<event::Captured>().size() == 10);
}

TEST_CASE("capture: beyond the stated share rejected the run cannot pass, and the share can be stated", "[sequence]") {
  const auto judged = [](const std::string& share) {
    test::FakeBench bench;
    int n = 0;
    bench.unit.blur_t = [&](double) { return ++n % 2 == 0 ? 1.7 : 1.25; };
    return bench.run(capture(16, 60, share + "  - measure: eye level of pressed\n    must meet: level\n")).judgement;
  };
  CHECK(judged("") == metrology::Judgement::undecided);
  CHECK(judged("    reject at most: 60 %\n") == metrology::Judgement::pass);
}

TEST_CASE("capture: its time runs out with what was kept so far, which is still recorded", "[sequence]") {
  test::FakeBench bench;
  std::string text = capture(200, 400);
  text.replace(text.find("within: 60 s"), 12, "within: 1 s");
  const auto result = bench.run(text);
  REQUIRE(result.error);
  CHECK(result.error->code == base::ErrorCode::wait_ran_out);
  const auto recorded = bench.journal.of<event::Captured>().size();
  CHECK(recorded > 10);
  CHECK(result.error->message ==
        fmt::format("did not come about within 1 s; {} of 200 settled captures ({} of {} kept)", recorded, recorded,
                    recorded));
}
