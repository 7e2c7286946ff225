// SPDX-License-Identifier: Apache-2.0
#include "core/metrology/type_b.hpp"

#include <catch2/catch.hpp>

#include "core/base/error.hpp"
#include "tests/support/measurement_data.hpp"

using namespace eyelevel;
using metrology::Shape;
using test::example;
using test::number;

TEST_CASE("type B: divisors are those of the GUM and of the scope's resolution", "[metrology]") {
  // GUM 4.3.3, 4.3.7, 4.3.9; examples.json "scope_vertical_resolution": 0.2 V/div, 8 divisions, 8 bit.
  const auto scope = example("scope_vertical_resolution");
  const auto computed = scope.at("computed");
  const double per_division_v = number(scope.at("inputs").at("v_per_div"));
  CHECK(metrology::quantisation("code", number(computed.at("step_v"))).effect ==
        Approx(number(computed.at("u_code_v"))).epsilon(1e-8));
  CHECK(metrology::rectangular("edge", 0.25, per_division_v).effect ==
        Approx(number(computed.at("u_read_to_nearest_half_div_v"))).epsilon(1e-8));
  CHECK(metrology::rectangular("edge", 0.5, per_division_v).effect ==
        Approx(number(computed.at("u_within_half_div_v"))).epsilon(1e-8));
  const auto eye = metrology::height_by_eye("screen", per_division_v);
  CHECK(eye.effect == Approx(number(computed.at("u_height_two_edges_nearest_half_div_v"))).epsilon(1e-8));
  CHECK(eye.shape == Shape::triangular);
  CHECK(metrology::triangular("t", 1).effect == Approx(1 / std::sqrt(6.0)));
  CHECK(metrology::arcsine("ripple", 2, -3).effect == Approx(-6 / std::sqrt(2.0)));
  CHECK(metrology::from_certificate("meter", 0.004, 2).effect == Approx(0.002));
  CHECK(metrology::from_certificate("meter", 0.004, 2).shape == Shape::normal);
}

TEST_CASE("type B: a multimeter's accuracy on its range", "[metrology]") {
  // examples.json "multimeter_spec": 1.2345 V on the 2 V range, 0.05 % of reading + 0.01 % of range; exact.
  const auto spec = example("multimeter_spec");
  const auto in = spec.at("inputs");
  const auto computed = spec.at("computed");
  metrology::MeterAccuracy accuracy{number(in.at("reading_v")), number(in.at("range_v")),
                                    number(in.at("pct_reading")) / 100, number(in.at("pct_range")) / 100,
                                    number(in.at("resolution_v"))};
  CHECK(metrology::half_width_of(accuracy) == Approx(number(computed.at("half_width_v"))).epsilon(1e-9));
  const auto lines = metrology::multimeter("meter", accuracy);
  REQUIRE(lines.size() == 2);
  CHECK(lines[0].effect == Approx(number(computed.at("u_spec_v"))).epsilon(1e-8));
  CHECK(lines[1].effect == Approx(number(computed.at("u_resolution_v"))).epsilon(1e-8));
  CHECK(lines[0].source != lines[1].source);
  CHECK(metrology::combine(lines).standard_uncertainty == Approx(number(computed.at("u_v"))).epsilon(1e-8));
  accuracy.range = 20;
  CHECK(metrology::half_width_of(accuracy) ==
        Approx(number(computed.at("same_reading_on_20_v_range_half_width"))).epsilon(1e-9));
  accuracy.reading = -accuracy.reading;
  CHECK(metrology::half_width_of(accuracy) ==
        Approx(number(computed.at("same_reading_on_20_v_range_half_width"))).epsilon(1e-9));
}

TEST_CASE("type B: how well an uncertainty is known becomes degrees of freedom", "[metrology]") {
  CHECK(metrology::degrees_of_freedom_from_share(0.25) == Approx(8));  // GUM G.4.2, example
  CHECK(metrology::degrees_of_freedom_from_share(2) == 1);
  CHECK_THROWS_AS(metrology::degrees_of_freedom_from_share(0), base::Error);
}

TEST_CASE("type B: widths that are none are refused by source", "[metrology]") {
  CHECK_THROWS_WITH(metrology::rectangular("gain", -1), Catch::Contains("\"gain\": half-width is -1"));
  CHECK_THROWS_WITH(metrology::triangular("gain", std::numeric_limits<double>::quiet_NaN()), Catch::Contains("nan"));
  CHECK_THROWS_AS(metrology::from_certificate("meter", 1, 0), base::Error);
  CHECK_THROWS_AS(metrology::rectangular("gain", 1, std::numeric_limits<double>::infinity()), base::Error);
}
