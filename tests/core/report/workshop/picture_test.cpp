// SPDX-License-Identifier: Apache-2.0
#include "core/report/workshop/picture.hpp"

#include <catch2/catch.hpp>

#include "tests/core/report/workshop/played.hpp"

using namespace eyelevel;
using namespace eyelevel::report::workshop;
using report::Format;

namespace {

Workshop drifting() {
  test::Play play;
  play.readings = 240;
  play.check_unit = "LF2-CHECK";
  play.drifting = "bench 2";
  play.drift = 0.95;
  play.drift_from = 120;
  return workshop_of({}, test::played(play), {"level_pressed", "LF2-CHECK", {}});
}

}  // namespace

TEST_CASE("picture: the charts come as PNG, SVG and PDF, the same bytes each time", "[report]") {
  const Workshop seen = drifting();
  CHECK(chart_picture(Format::png, seen).substr(1, 3) == "PNG");
  CHECK_THAT(chart_picture(Format::svg, seen).substr(0, 100), Catch::Contains("<?xml"));
  CHECK(chart_picture(Format::pdf, seen).substr(0, 4) == "%PDF");
  CHECK(chart_picture(Format::png, seen) == chart_picture(Format::png, drifting()));
}

TEST_CASE("picture: a workshop without a series long enough still gives a page that says so", "[report]") {
  const std::string svg = chart_picture(Format::svg, workshop_of({}, {}, {}));
  CHECK(svg.size() > 1000);
}
