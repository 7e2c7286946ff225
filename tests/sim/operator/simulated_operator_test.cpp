// SPDX-License-Identifier: Apache-2.0
// Times of a careful person (practice values, 5 and 95 % points): answer 2 to 6 s, disc 8 to 20 s.
#include "sim/operator/simulated_operator.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

#include "tests/support/run_task.hpp"

using namespace eyelevel;
using namespace eyelevel::sim;

namespace {

std::shared_ptr<const Disc> disc(DiscKind kind, std::string identity) {
  static const auto contents =
      std::make_shared<const Contents>(draw_contents({}, base::Random(5, "operator test contents")));
  Disc made;
  made.kind = kind;
  made.contents = contents;
  made.identity = std::move(identity);
  return std::make_shared<const Disc>(made);
}

struct Bench {
  test::Simulated simulated;
  Player player;
  SimulatedOperator person;

  explicit Bench(std::uint64_t seed = 1, OperatorTraits traits = {},
                 const PlayerParameters& unit = ideal_player(ModelTraits{}))
      : player(unit),
        person(player, *simulated.timeline,
               {disc(DiscKind::pressed, "WD-1"), disc(DiscKind::recordable, "WD-2"), disc(DiscKind::pressed, "WD-3")},
               seed, std::move(traits)) {}

  double now_s() const { return base::to_seconds(simulated.timeline->now()); }
  bench::Answer ask(const std::string& text) {
    bench::Answer answer;
    simulated.run([](SimulatedOperator& who, const std::string& prompt, bench::Answer& into) -> task<> {
      into = co_await who.ask({.text = prompt});
    }(person, text, answer));
    return answer;
  }
};

}  // namespace

TEST_CASE("operator: asked for the pressed disc and track 2, switches on, inserts it and the player plays track 2",
          "[operator]") {
  Bench bench;
  const auto answer = bench.ask("Insert the pressed test disc and start track 2");
  CHECK(answer.text == "done");
  CHECK(answer.by == "simulated operator");
  REQUIRE(bench.player.disc() != nullptr);
  CHECK(bench.player.disc()->identity == "WD-1");
  const double later_s = bench.now_s() + 20;
  CHECK(bench.player.state_at(later_s) == PlayerState::playing);
  CHECK(bench.player.track_at(later_s) == 2);
}

TEST_CASE("operator: takes the disc whose identity the prompt names, and the kind it names", "[operator]") {
  Bench bench;
  bench.ask("Insert disc WD-3");
  CHECK(bench.player.disc()->identity == "WD-3");
  bench.ask("Change to the recordable disc");
  CHECK(bench.player.disc()->identity == "WD-2");
  const double before_s = bench.now_s();
  bench.ask("Insert the recordable disc");  // it is in already
  CHECK(bench.now_s() - before_s < 15);
  CHECK(bench.ask("Insert the rewritable disc").text.find("no such disc") == 0);
  CHECK(bench.ask("Start track 99").text.find("no track 99") != std::string::npos);
  bench.ask("Remove the disc");
  CHECK(bench.player.disc() == nullptr);
  CHECK(bench.ask("Start track 1").text.find("no disc") != std::string::npos);
}

TEST_CASE("operator: asked to remove the disc, leaves the player on and dark, also when it was off", "[operator]") {
  Bench fresh;
  fresh.ask("Remove the disc");
  CHECK(fresh.player.is_on());
  CHECK(fresh.player.state_at(fresh.now_s()) == PlayerState::no_disc);

  Bench playing;
  playing.ask("Insert the pressed test disc and start track 2");
  playing.ask("Remove the disc");
  CHECK(playing.player.state_at(playing.now_s()) == PlayerState::no_disc);

  Bench off;
  off.ask("Insert the pressed test disc and start track 2");
  off.ask("Switch the player off and remove the disc");
  CHECK_FALSE(off.player.is_on());
  CHECK(off.player.disc() == nullptr);
}

TEST_CASE("operator: tries again when the disc is not recognised, and says so when that does not help", "[operator]") {
  // At 1.35 times the light a load fails half the time, so three loads in a row one time in eight.
  int pressed_again = 0;
  for (std::uint64_t seed = 0; seed < 60; ++seed) {
    auto unit = ideal_player({});
    unit.seed = seed;
    unit.trimmer_start_deg = trimmer_deg_for_light(unit, 1.35);
    Bench bench(seed, {}, unit);
    INFO("seed " << seed);
    CHECK(bench.ask("Insert disc WD-1 and start track 2").text == "done");
    const auto& done = bench.person.done();
    pressed_again += std::count_if(done.begin(), done.end(),
                                   [](const auto& deed) { return deed.kind == DeedKind::start_track; }) > 1;
  }
  CHECK(pressed_again >= 1);

  auto dim = ideal_player({});
  dim.film_transmission = 0.1;
  Bench dark(1, {}, dim);
  CHECK(dark.ask("Insert disc WD-1 and start track 2").text == "the player does not recognise the disc");
}

TEST_CASE("operator: turns the trimmer with the player off and brings the same track back", "[operator]") {
  Bench bench;
  bench.ask("Insert the pressed test disc and start track 3");
  bench.ask("Wait until it plays");
  bench.ask("Wait until it plays");
  bench.ask("Wait until it plays");
  bench.ask("Wait until it plays");
  const double before_deg = bench.player.trimmer().screw_deg();
  bench.ask("Turn the trimmer clockwise by 10 degrees");
  CHECK(bench.player.turns_while_on() == 0);
  CHECK(bench.player.trimmer().screw_deg() < before_deg);
  CHECK(bench.player.is_on());
  CHECK(bench.player.track_at(bench.now_s() + 20) == 3);

  bench.ask("Turn the trimmer clockwise by 5 degrees while it plays");
  CHECK(bench.player.turns_while_on() == 1);
  bench.ask("Switch the player off and turn the trimmer counter-clockwise by 5 degrees");
  CHECK(bench.player.turns_while_on() == 1);
  CHECK_FALSE(bench.player.is_on());
}

TEST_CASE("operator: turns come out with the hand's error of 1.5 degrees and 15 %", "[operator]") {
  Bench bench(7);
  constexpr int turns = 300;
  double sum = 0, squares = 0;
  for (int i = 0; i < turns; ++i) {
    bench.ask(i % 2 == 0 ? "Turn the trimmer clockwise by 20 degrees"
                         : "Turn the trimmer counter-clockwise by 20 degrees");
    const double error_deg = std::abs(bench.person.done().back().clockwise_deg) - 20;
    sum += error_deg;
    squares += error_deg * error_deg;
  }
  constexpr double sd_deg = 1.5 + 0.15 * 20;
  CHECK(sum / turns == Approx(0).margin(4 * sd_deg / std::sqrt(turns)));
  CHECK(std::sqrt(squares / turns) == Approx(sd_deg).epsilon(4 / std::sqrt(2.0 * turns)));
}

TEST_CASE("operator: answers take the time of a person, and hasty people are quicker", "[operator]") {
  const auto mean_answer_s = [](bool careful) {
    OperatorTraits traits;
    traits.careful = careful;
    Bench bench(3, traits);
    constexpr int prompts = 400;
    for (int i = 0; i < prompts; ++i) CHECK(bench.ask("Look at the label").text == "done");
    return bench.now_s() / prompts;
  };
  // Mean of a log-normal with 5 and 95 % points 2 and 6 s: 3.66 s; 0.5 and 3 s: 1.42 s; five sigma of the mean of 400.
  CHECK(mean_answer_s(true) == Approx(3.66).margin(0.32));
  CHECK(mean_answer_s(false) == Approx(1.42).margin(0.21));
}

TEST_CASE("operator: makes no mistake unless asked for, and then makes it", "[operator]") {
  OperatorTraits liar;
  liar.mistakes.untrue_done = 1;
  Bench idle(1, liar);
  CHECK(idle.ask("Insert the pressed test disc").text == "done");
  CHECK(idle.player.disc() == nullptr);

  OperatorTraits mixed_up;
  mixed_up.mistakes.wrong_disc = 1;
  Bench wrong(1, mixed_up);
  wrong.ask("Insert disc WD-1");
  CHECK(wrong.player.disc()->identity != "WD-1");

  OperatorTraits backwards;
  backwards.mistakes.wrong_direction = 1;
  Bench turned(1, backwards);
  turned.ask("Turn the trimmer clockwise by 30 degrees");
  CHECK(turned.person.done().back().clockwise_deg < 0);

  OperatorTraits away;
  away.mistakes.absent = 1;
  Bench gone(1, away);
  gone.ask("Look");
  CHECK(gone.now_s() > 6);

  CHECK(usual_mistakes(true).wrong_disc < usual_mistakes(false).wrong_disc);
}

TEST_CASE("operator: the same seed does the same at the same moments", "[operator]") {
  const auto story = [](std::uint64_t seed) {
    Bench bench(seed);
    bench.ask("Insert the pressed test disc and start track 2");
    bench.ask("Turn the trimmer clockwise by 10 degrees");
    std::vector<double> numbers;
    for (const auto& done : bench.person.done()) {
      numbers.push_back(done.time_s);
      numbers.push_back(done.clockwise_deg);
    }
    return numbers;
  };
  CHECK(story(4) == story(4));
  CHECK(story(4) != story(5));
}

TEST_CASE("operator: who forgets to start leaves the disc in, and who presses pause stands still", "[operator]") {
  OperatorTraits forgetful;
  forgetful.mistakes.start_forgotten = 1;
  Bench left(1, forgetful);
  CHECK(left.ask("Insert the pressed test disc and start track 2").text == "done");
  CHECK(left.player.disc() != nullptr);
  CHECK(left.player.state_at(left.now_s() + 60) != PlayerState::playing);

  OperatorTraits pausing;
  pausing.mistakes.paused = 1;
  Bench still(1, pausing);
  still.ask("Insert the pressed test disc and start track 2");
  CHECK(still.player.state_at(still.now_s() + 60) == PlayerState::paused);
}

TEST_CASE("operator: who turns the wrong trimmer leaves the laser as it was", "[operator]") {
  OperatorTraits traits;
  traits.mistakes.wrong_trimmer = 1;
  Bench bench(1, traits);
  const double before_deg = bench.player.trimmer().wiper_deg();
  CHECK(bench.ask("Turn the laser trimmer clockwise by 20 degrees").text == "done");
  CHECK(bench.player.trimmer().wiper_deg() == before_deg);
}
