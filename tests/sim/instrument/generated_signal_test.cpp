// SPDX-License-Identifier: Apache-2.0
#include "sim/instrument/generated_signal.hpp"

#include <catch2/catch.hpp>

#include <vector>

using namespace eyelevel::sim;

namespace {

using Shape = GeneratorSetting::Shape;

GeneratorSetting on(Shape shape) {
  return {.shape = shape, .frequency_hz = 1000, .peak_to_peak_v = 2, .offset_v = 3, .on = true};
}

}  // namespace

TEST_CASE("generated signal: each shape begins at its middle and rises", "[sim]") {
  // Eighths of a period of 1 ms, 1 V around 3 V.
  struct Row {
    Shape shape;
    double eighth_v, quarter_v, three_quarters_v;
  };
  for (const Row& row :
       {Row{Shape::sine, 3 + std::sqrt(0.5), 4, 2}, Row{Shape::triangle, 3.5, 4, 2}, Row{Shape::square, 4, 4, 2}}) {
    GeneratedSignal signal(1, 1);
    signal.set(on(row.shape), 10);
    CHECK(signal.voltage_v(10 + 125e-6) == Approx(row.eighth_v).margin(1e-6));
    CHECK(signal.voltage_v(10 + 250e-6 - 1e-9) == Approx(row.quarter_v).margin(1e-4));
    CHECK(signal.voltage_v(10 + 750e-6) == Approx(row.three_quarters_v).margin(1e-4));
    CHECK(signal.mean_v(10, 10.005, {}) == Approx(3).margin(1e-3));
  }
}

TEST_CASE("generated signal: the past stays as it was when the setting changes", "[sim]") {
  GeneratedSignal signal(1, 1);
  signal.set(on(Shape::square), 1);
  GeneratorSetting off = on(Shape::square);
  off.on = false;
  signal.set(off, 2);
  CHECK(signal.voltage_v(0.5) == 0);
  CHECK(signal.voltage_v(1.0001) == 4);
  CHECK(signal.voltage_v(2.0001) == 0);
  std::vector<float> volts(4);
  signal.render(1.9999, 20e3, volts, {});
  CHECK(volts == std::vector<float>{2, 2, 0, 0});
}

TEST_CASE("generated signal: its errors are factors of frequency and amplitude", "[sim]") {
  GeneratedSignal signal(1.25, 0.5);
  signal.set(on(Shape::sine), 0);
  CHECK(signal.voltage_v(200e-6) == Approx(3.5).margin(1e-9));  // a quarter of 0.8 ms
}
