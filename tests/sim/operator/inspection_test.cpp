// SPDX-License-Identifier: Apache-2.0
#include "sim/operator/inspection.hpp"

#include <catch2/catch.hpp>

using namespace eyelevel;
using namespace eyelevel::sim;

namespace {

std::vector<std::shared_ptr<const Disc>> box() {
  std::vector<std::shared_ptr<const Disc>> discs;
  for (const auto& [kind, light] : {std::pair{DiscKind::pressed, 1.0}, {DiscKind::recordable, 0.73}}) {
    Disc disc;
    disc.kind = kind;
    disc.light = light;
    discs.push_back(std::make_shared<const Disc>(disc));
  }
  return discs;
}

std::optional<std::string> found(const PlayerParameters& unit, const std::string& name,
                                 std::vector<std::string> choices) {
  return found_by_looking({.text = "?", .kind = bench::AnswerKind::one_of, .choices = std::move(choices), .name = name},
                          Player(unit), box(), 0);
}

PlayerParameters good() { return ideal_player(ModelTraits{}); }

const std::vector<std::string> current{"ok", "low", "high", "none", "not known"},
    trimmer{"follows", "flat", "jumpy", "not known"}, discs{"alike", "one", "pressed", "weak", "not known"},
    lens{"no", "helps", "not known"};

}  // namespace

TEST_CASE("inspection: a good player is found to be good", "[operator]") {
  CHECK(found(good(), "", current) == "ok");
  CHECK(found(good(), "", trimmer) == "follows");
  CHECK(found(good(), "", discs) == "alike");
  CHECK(found(good(), "", {"one", "several", "fails"}) == "one");
  CHECK(found(good(), "clean lens", lens) == "no");
}

TEST_CASE("inspection: a worn laser with a loop takes more current, and at its limit does not follow the trimmer",
          "[operator]") {
  PlayerParameters worn = good();
  worn.laser.threshold_wear = 1.5;
  CHECK(found(worn, "", current) == "high");
  CHECK(found(worn, "threshold", {"normal", "raised"}) == "raised");
  worn.drive.current_limit_ma = 55;
  CHECK(found(worn, "", trimmer) == "flat");
}

TEST_CASE("inspection: cleaning helps where there is dirt", "[operator]") {
  PlayerParameters dirty = good();
  dirty.film_transmission = 0.85;
  CHECK(found(dirty, "clean lens", lens) == "helps");
}

TEST_CASE("inspection: with the light far up pressed discs fail, far down weak ones do", "[operator]") {
  PlayerParameters unit = good();
  unit.trimmer_start_deg = trimmer_deg_for_light(unit, 1.5);
  CHECK(found(unit, "", discs) == "pressed");
  unit.trimmer_start_deg = trimmer_deg_for_light(unit, 0.5);
  CHECK(found(unit, "", discs) == "weak");
}

TEST_CASE("inspection: an open wiper is felt as jumps", "[operator]") {
  PlayerParameters open = good();
  open.trimmer.open_from_deg = open.trimmer_start_deg - 5;
  open.trimmer.open_until_deg = open.trimmer_start_deg + 5;
  CHECK(found(open, "", trimmer) == "jumpy");
  CHECK(found(open, "", current) == "none");
  CHECK(found(open, "wiper sweep", {"smooth", "jumps"}) == "jumps");
}

TEST_CASE("inspection: what is not simulated, or not asked with choices, is not answered", "[operator]") {
  CHECK_FALSE(found(good(), "spindle feel", {"good", "bad"}));
  CHECK_FALSE(
      found_by_looking({.text = "?", .kind = bench::AnswerKind::text, .name = "clean lens"}, Player(good()), box(), 0));
}
