// SPDX-License-Identifier: Apache-2.0
#include "core/bench/deed.hpp"

#include <catch2/catch.hpp>

using namespace eyelevel::bench;

namespace {

std::vector<DeedKind> kinds(std::string_view prompt) {
  std::vector<DeedKind> kinds;
  for (const Deed& deed : deeds_asked_for(prompt)) kinds.push_back(deed.kind);
  return kinds;
}
using enum DeedKind;
using Kinds = std::vector<DeedKind>;

}  // namespace

TEST_CASE("deed: the prompt of the ready level sequence asks to insert a disc and to start its track", "[bench]") {
  const auto deeds = deeds_asked_for("Insert the pressed test disc and start track 2");
  REQUIRE(deeds.size() == 2);
  CHECK(deeds[0].kind == insert_disc);
  CHECK(deeds[0].what == "insert the pressed test disc");
  CHECK(deeds[1].kind == start_track);
  CHECK(deeds[1].track == 2);
}

TEST_CASE("deed: a turn of the trimmer is read with its angle and its direction", "[bench]") {
  struct Row {
    const char* prompt;
    double clockwise_deg;
  };
  for (const Row& row :
       {Row{"Turn the trimmer clockwise by 5 degrees", 5},
        Row{"Turn the trimmer counter-clockwise by 3.5 degrees.", -3.5},
        Row{"turn the laser trimmer 12\xC2\xB0 anticlockwise", -12}, Row{"Turn the trimmer 7deg anti clockwise", -7},
        Row{"Turn the trimmer on the main board a little clockwise", a_little_deg}}) {
    INFO(row.prompt);
    const auto deeds = deeds_asked_for(row.prompt);
    REQUIRE(deeds.size() == 1);
    CHECK(deeds[0].kind == turn_trimmer);
    CHECK(deeds[0].clockwise_deg == row.clockwise_deg);
    CHECK_FALSE(deeds[0].live);
  }
  CHECK(deeds_asked_for("Turn the trimmer clockwise by 2 degrees while the disc plays")[0].live);
  CHECK(deeds_asked_for("Turn the trimmer clockwise by 2 degrees with the player off")[0].off_meanwhile);
}

TEST_CASE("deed: switching off and on is told from turning the trimmer", "[bench]") {
  CHECK(kinds("Switch the player off, turn the trimmer clockwise by 3 degrees, then switch it on and start track 2") ==
        Kinds{switch_off, turn_trimmer, switch_on, start_track});
  CHECK(kinds("With the player off, turn the trimmer a little clockwise") == Kinds{switch_off, turn_trimmer});
  CHECK(kinds("Turn the player off and on again") == Kinds{switch_off, switch_on});
  CHECK(kinds("Switch the player on without a disc") == Kinds{remove_disc, switch_on});
}

TEST_CASE("deed: discs and keys", "[bench]") {
  CHECK(kinds("Remove the disc") == Kinds{remove_disc});
  CHECK(kinds("Take the disc out") == Kinds{remove_disc});
  CHECK(kinds("Change to the recordable disc; play track 14") == Kinds{insert_disc, start_track});
  CHECK(deeds_asked_for("Change to the recordable disc; play track 14")[1].track == 14);
  CHECK(kinds("Pause the disc") == Kinds{DeedKind::pause});
  CHECK(kinds("Stop the disc") == Kinds{stop});
  CHECK(kinds("Press play") == Kinds{start_track});
}

TEST_CASE("deed: what is not the player's asks for nothing", "[bench]") {
  for (const char* prompt :
       {"", "Remove the probe", "Connect the meter to the pad", "Is the disc clean?", "\xFF\xFE\x00 12 \xC2",
        "Put the probe to x10", "Note the number on the label", ", and ; then :", "track 1e999"}) {
    INFO(prompt);
    CHECK(kinds(prompt).empty());
  }
}

TEST_CASE("deed: a track that no disc can have is taken for the first", "[bench]") {
  CHECK(deeds_asked_for("Start track 1000000000000")[0].track == 1);
  CHECK(deeds_asked_for("Start track -3")[0].track == 1);
}

TEST_CASE("deed: a lead is moved from place to place", "[bench]") {
  struct Row {
    const char* prompt;
    const char* lead;
    const char* place;
  };
  for (const Row& row :
       {Row{"Hook the probe to the calibrator of the oscilloscope", "probe", "calibrator"},
        Row{"Short the tip of the probe to its ground clip", "probe", "ground"},
        Row{"Put the probe back on the pad", "probe", "pad"},
        Row{"Hook the probe to the output of the function generator", "probe", "generator"},
        Row{"Hook the counter to the calibrator of the oscilloscope as well", "counter", "calibrator"}}) {
    INFO(row.prompt);
    const auto deeds = deeds_asked_for(row.prompt);
    REQUIRE(deeds.size() == 1);
    CHECK(deeds[0].kind == move_lead);
    CHECK(deeds[0].lead == row.lead);
    CHECK(deeds[0].place == row.place);
  }
}
