// SPDX-License-Identifier: Apache-2.0
#include "core/diagnosis/names.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <set>
#include <string>

using namespace eyelevel::diagnosis;

namespace {

std::string lower(std::string_view text) {
  std::string all(text);
  std::transform(all.begin(), all.end(), all.begin(), [](unsigned char c) { return std::tolower(c); });
  return all;
}

bool says(std::string_view text, std::string_view words) { return lower(text).find(words) != std::string::npos; }

const Check& check_called(std::string_view id) {
  const auto found = find_evidence(id);
  REQUIRE(found);
  REQUIRE(evidences()[*found].check);
  return *evidences()[*found].check;
}

}  // namespace

TEST_CASE("names: 25 causes, 13 evidences and 16 checks, each with a name of its own", "[diagnosis]") {
  std::set<std::string_view> ids;
  for (const Cause& cause : causes()) ids.insert(cause.id);
  CHECK(ids.size() == 25);
  ids.clear();
  for (const Evidence& evidence : evidences()) ids.insert(evidence.id);
  CHECK(ids.size() == 29);
  CHECK(std::count_if(evidences().begin(), evidences().end(), [](const Evidence& e) { return e.check; }) == 16);
}

TEST_CASE("names: no check asks for anything while it would endanger", "[diagnosis]") {
  for (const Evidence& evidence : evidences()) {
    if (!evidence.check) continue;
    CAPTURE(evidence.id);
    const std::string_view how = evidence.check->how;
    CHECK_FALSE(says(how, "look into"));
    CHECK_FALSE(says(how, "interlock"));
    CHECK_FALSE(says(how, "turn the level up"));
    if (says(how, "clean the") || says(how, "clip") || says(how, "ohmmeter") || says(how, "spindle sideways"))
      CHECK((says(how, "player off") || says(how, "unplugged")));
  }
  CHECK(says(check_called("threshold").how, "power off"));
  CHECK(says(check_called("threshold").how, "never turn up"));
  CHECK(says(check_called("wiper_sweep").how, "never across the laser"));
  CHECK(says(check_called("one_ground").how, "leave every protective earth"));
}

TEST_CASE("names: what a check needs must be known before it is asked for", "[diagnosis]") {
  CHECK_FALSE(check_called("one_ground").is_safe({}));
  CHECK_FALSE(check_called("one_ground").is_safe({.has_isolated_mains = false}));
  CHECK(check_called("one_ground").is_safe({.has_isolated_mains = true}));
  CHECK_FALSE(check_called("threshold").is_safe({.has_trimmer = true}));
  CHECK(check_called("threshold").is_safe({.knows_series_resistor = true, .has_trimmer = true}));
  CHECK_FALSE(check_called("wiper_sweep").is_safe({}));
  for (const std::string_view id : {"focus_sweep", "loop_gain", "traverse"}) {
    CHECK_FALSE(check_called(id).is_safe({}));
    CHECK(check_called(id).is_safe({.has_service_data = true}));
  }
}
