// SPDX-License-Identifier: Apache-2.0
#include "core/signal/converter_step.hpp"

#include <catch2/catch.hpp>
#include <cmath>

using namespace eyelevel::signal;

TEST_CASE("converter step: of integer codes it is the volts of one code", "[signal]") {
  Waveform w;
  w.codes = std::vector<std::int8_t>{-3, 4, 100};
  w.scale_v = -0.01;
  CHECK(converter_step_v(w.view()) == Approx(0.01));
}

TEST_CASE("converter step: of float volts it is the distance of neighbouring codes, found in a moving signal",
          "[signal]") {
  // Stimulus: a sine over 200 codes of 9.8 mV about 1.6 V, in float volts; truth: 9.8 mV; float rounding at 2.6 V is
  // 0.24 uV, so the difference of two values is right to 0.5 uV.
  constexpr double step_v = 0.0098;
  std::vector<float> volts;
  for (int i = 0; i < 10000; ++i)
    volts.push_back(static_cast<float>(1.6 + step_v * std::round(100 * std::sin(0.0137 * i))));
  Waveform w;
  w.codes = volts;
  CHECK(converter_step_v(w.view()) == Approx(step_v).margin(0.5e-6));
}

TEST_CASE("converter step: a record that does not move has none", "[signal]") {
  Waveform w;
  w.codes = std::vector<float>(100, 1.25F);
  CHECK(converter_step_v(w.view()) == 0);
  w.codes = std::vector<float>{};
  CHECK(converter_step_v(w.view()) == 0);
}
