// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/measure/chain.hpp"

#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;
using sequence::Share;

namespace {

const sequence::SignalPlace rf{"rf", "scope", "oscilloscope", 1, 0, 0};
const sequence::SignalPlace dc{"dc", "meter", "multimeter", 0, 0, 0};

std::vector<std::string> sources(const std::vector<metrology::Contribution>& budget) {
  std::vector<std::string> all;
  for (const auto& c : budget) all.push_back(c.source);
  return all;
}

}  // namespace

TEST_CASE("chain: of an oscilloscope, from bench file and model sheet", "[sequence]") {
  const auto model = test::model_sheet();
  const auto chain = sequence::chain_of(test::bench_file(), &model, rf, {});
  CHECK(chain.gain == 0.015);
  CHECK(chain.input_ohm == 10e6);
  CHECK(chain.source_ohm == 1000);
  CHECK(chain.source_half_ohm == 200);
  CHECK(chain.assumed.empty());
  CHECK(chain.unloaded(1.0) == Approx(1.0001));
}

TEST_CASE("chain: an alternating value has compensation and no offset, a direct one offset and no compensation",
          "[sequence]") {
  const auto model = test::model_sheet();
  const auto chain = sequence::chain_of(test::bench_file(), &model, rf, {});
  std::vector<metrology::Contribution> alternating, direct;
  sequence::add_chain(alternating, chain, 1, Share::alternating);
  sequence::add_chain(direct, chain, 1, Share::direct);
  const std::string load = "source resistance of the pad, seen by scope channel 1";
  CHECK(sources(alternating) == std::vector<std::string>{"gain of scope channel 1",
                                                         "divider of the probe on scope channel 1",
                                                         "compensation of the probe on scope channel 1", load});
  CHECK(sources(direct) == std::vector<std::string>{"gain of scope channel 1",
                                                    "divider of the probe on scope channel 1",
                                                    "offset of scope channel 1", load});
  for (const auto& c : alternating) CHECK(c.shape == metrology::Shape::rectangular);
}

TEST_CASE("chain: of a multimeter, its offset is a share of the range taken", "[sequence]") {
  const auto chain = sequence::chain_of(test::bench_file(), nullptr, dc, {{}, bench::DcSetting{10, 0.1}});
  CHECK(chain.offset_v == Approx(0.001));
  CHECK(chain.gain == 0.0005);
  CHECK(chain.assumed.size() == 1);
}

TEST_CASE("chain: what a channel's probe is when the bench file does not say it is stated", "[sequence]") {
  auto bench = test::bench_file();
  bench.instruments[0].channels.clear();
  const auto model = test::model_sheet();
  bench::ChannelSetting x10;
  x10.probe_factor = 10;
  const auto chain = sequence::chain_of(bench, &model, rf, {x10, {}});
  CHECK(chain.input_ohm == 10e6);
  CHECK(chain.assumed ==
        std::vector<std::string>{"the bench file does not describe scope channel 1: its probe is taken as exact"});
}

TEST_CASE("conversion: a still signal keeps q/sqrt(12), noise of half a step leaves next to nothing", "[sequence]") {
  const double q = 0.01;
  CHECK(sequence::conversion_v(q, 0) == Approx(q / std::sqrt(12.0)));  // GUM 4.3.7
  CHECK(sequence::conversion_v(q, q / 2) < 0.01 * q);                  // holds if noise >= q/2
  CHECK(sequence::conversion_v(0, 1) == 0);
}

TEST_CASE("conversion: what is stated covers the error of averaged codes at every place within a step", "[sequence]") {
  const double q = 1;
  for (const double sd : {0.0, 0.1, 0.25, 0.4}) {
    CAPTURE(sd);
    double squares = 0;
    constexpr int places = 200, draws = 4000;
    base::Random random(7, "noise");
    std::vector<double> noise;
    for (int i = 0; i < draws; ++i) noise.push_back(random.normal(0, sd));
    for (int i = 0; i < places; ++i) {
      const double at = (i + 0.5) / places;
      double sum = 0;
      for (const double n : noise) sum += std::nearbyint(at + n) - (at + n);
      squares += sum / draws * (sum / draws);
    }
    // Beside the noise of the finite draws themselves, uncertainty of a mean of values within +-q/2.
    CHECK(std::sqrt(squares / places) < sequence::conversion_v(q, sd) + q / std::sqrt(12.0 * draws) * 2);
  }
}

TEST_CASE("chain: of a value below zero, each half-width stays above it and what is shared keeps its sign",
          "[sequence]") {
  const auto model = test::model_sheet();
  const auto chain = sequence::chain_of(test::bench_file(), &model, rf, {});
  std::vector<metrology::Contribution> above, below;
  sequence::add_chain(above, chain, 1, Share::direct);
  sequence::add_chain(below, chain, -1, Share::direct);
  REQUIRE(below.size() == above.size());
  for (std::size_t i = 0; i < above.size(); ++i) {
    const bool is_of_the_value = above[i].source.find("offset") == std::string::npos;
    CHECK(below[i].effect == (is_of_the_value ? -above[i].effect : above[i].effect));
  }
}
