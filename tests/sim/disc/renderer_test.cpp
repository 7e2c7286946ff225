// SPDX-License-Identifier: Apache-2.0
// Truth: the sum of Gaussian steps in closed form (error function), computed here edge by edge.
#include "sim/disc/renderer.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <memory>
#include <vector>

#include "sim/disc/optics.hpp"

using namespace eyelevel::sim;
using eyelevel::base::Random;

namespace {

// Of full scale 2: ends of the Gaussian shared out 6e-5 a step, a changing rate 1e-4, tables below 2e-5.
constexpr double render_tolerance = 3e-4;

std::shared_ptr<const Contents> contents() {
  return std::make_shared<const Contents>(draw_contents({}, Random(1, "contents")));
}

double exact(const EdgeWindow& window, const EyeShape& shape, double bit) {
  double sum = window.land_before ? 1 : -1;
  bool land = window.land_before;
  for (const auto edge : window.edges) {
    land = !land;
    const double place = static_cast<double>(window.first_bit + edge) + (land ? 0.5 : -0.5) * shape.pit_lengthening_t;
    sum += (land ? 1 : -1) * (1 + std::erf((bit - place) / (shape.sigma_t * std::sqrt(2.0))));
  }
  return sum;
}

double largest_error(EyeRenderer& renderer, ChannelStream& stream, const Sampling& sampling, std::size_t count) {
  std::vector<float> rendered(count);
  renderer.render(stream, sampling, rendered);
  EdgeWindow window;
  stream.edges(static_cast<std::int64_t>(sampling.start_bit) - 20,
               static_cast<std::int64_t>(sampling.place(static_cast<double>(count))) + 20, window);
  double worst = 0;
  for (std::size_t i = 0; i < count; ++i)
    worst = std::max(worst, std::abs(static_cast<double>(rendered[i]) -
                                     exact(window, renderer.shape(), sampling.place(static_cast<double>(i)))));
  return worst;
}

}  // namespace

TEST_CASE("renderer: one edge is a Gaussian step from land to pit", "[sim]") {
  const EyeShape shape{.sigma_t = 1.2};
  EyeRenderer renderer(shape);
  const EdgeWindow window{.first_bit = 0, .until_bit = 100, .land_before = true, .edges = {50}};
  std::vector<float> out(400);
  renderer.render(window, {.start_bit = 30, .bits_per_sample = 0.1}, out);
  CHECK(out.front() == 1.0F);
  CHECK(out.back() == -1.0F);
  CHECK(double(out[200]) == Approx(0).margin(render_tolerance));
  for (const std::size_t i : {170U, 188U, 212U, 230U})
    CHECK(double(out[i]) ==
          Approx(-std::erf((30 + 0.1 * double(i) - 50) / (1.2 * std::sqrt(2.0)))).margin(render_tolerance));
}

TEST_CASE("renderer: a stream of music equals the exact sum of its edges at usual and odd sampling rates", "[sim]") {
  ChannelStream stream(contents());
  for (const double i3 : {0.4, 0.586, 0.9})
    for (const double bits_per_sample : {0.2161, 0.0867, 0.0432, 1.3}) {
      EyeRenderer renderer({.sigma_t = blur_of_i3_over_i11(i3), .pit_lengthening_t = 0.2});
      INFO("I3/I11 " << i3 << ", " << bits_per_sample << " T a sample");
      CHECK(largest_error(renderer, stream, {2000.0 * section_bits + 0.123, bits_per_sample, 0}, 1500) <
            render_tolerance);
    }
}

TEST_CASE("renderer: a changing rate puts every sample where it belongs", "[sim]") {
  ChannelStream stream(contents());
  EyeRenderer renderer({.sigma_t = 1.2});
  // An eccentric disc changes its rate by about 0.3 % in 30 ms; here by 1 % in 3000 samples, both ways.
  for (const double change : {0.216e-2 / 3000, -0.216e-2 / 3000})
    CHECK(largest_error(renderer, stream, {500.0 * section_bits, 0.216, change}, 3000) < render_tolerance);
}

TEST_CASE("renderer: pieces rendered one by one are the record rendered at once", "[sim]") {
  ChannelStream stream(contents());
  EyeRenderer renderer({.sigma_t = 1.25, .pit_lengthening_t = -0.1, .edge_jitter_t = 0.04, .jitter_seed = 9});
  const Sampling sampling{700.0 * section_bits + 0.5, 0.216, 0};
  std::vector<float> whole(20000), pieces(20000);
  renderer.render(stream, sampling, whole);
  EyeRenderer other(renderer.shape());
  for (std::size_t from = 0; from < pieces.size(); from += 777) {
    const std::size_t count = std::min<std::size_t>(777, pieces.size() - from);
    other.render(stream, {sampling.place(double(from)), sampling.bits_per_sample, 0},
                 std::span(pieces).subspan(from, count));
  }
  double worst = 0;
  for (std::size_t i = 0; i < whole.size(); ++i)
    worst = std::max(worst, std::abs(double(whole[i]) - double(pieces[i])));
  CHECK(worst < 1e-5);  // single precision
}

TEST_CASE("renderer: edge jitter has the standard deviation asked for and hangs on the bit", "[sim]") {
  // Edges 11T apart with a steep step: a crossing is one edge alone.
  EdgeWindow window{.first_bit = 0, .until_bit = 220100, .land_before = true, .edges = {}};
  for (int i = 1; i < 20000; ++i) window.edges.push_back(11 * i);
  constexpr double jitter = 0.05;
  EyeRenderer renderer({.sigma_t = 0.5, .edge_jitter_t = jitter, .jitter_seed = 3});
  std::vector<float> out(1000000);
  constexpr double step = 0.2;
  renderer.render(window, {0, step, 0}, out);
  std::vector<double> offsets;
  for (std::size_t i = 1; i < out.size(); ++i) {
    if ((out[i - 1] < 0) == (out[i] < 0)) continue;
    const double a = out[i - 1], b = out[i];
    const double crossing = step * (double(i) - 1 + a / (a - b));
    offsets.push_back(crossing - 11 * std::round(crossing / 11));
  }
  REQUIRE(offsets.size() > 18000);
  double sum = 0, squares = 0, neighbours = 0;
  int beyond = 0;
  for (std::size_t i = 0; i < offsets.size(); ++i) {
    sum += offsets[i];
    squares += offsets[i] * offsets[i];
    if (i > 0) neighbours += offsets[i] * offsets[i - 1];
    beyond += std::abs(offsets[i]) > 3 * jitter;
  }
  const auto n = static_cast<double>(offsets.size());
  const double sd = std::sqrt(squares / n);
  CHECK(sum / n == Approx(0).margin(4 * jitter / std::sqrt(n)));
  CHECK(sd == Approx(jitter).margin(4 * jitter / std::sqrt(2 * n) + 0.0005));  // crossings by straight lines: 0.0005
  CHECK(neighbours / n / (sd * sd) == Approx(0).margin(4 / std::sqrt(n)));
  CHECK(beyond / n == Approx(0.0027).margin(4 * std::sqrt(0.0027 / n)));
}

TEST_CASE("renderer: no samples and no edges are no trouble", "[sim]") {
  ChannelStream stream(contents());
  EyeRenderer renderer({});
  renderer.render(stream, {}, {});
  std::vector<float> out(100);
  renderer.render(EdgeWindow{.first_bit = 0, .until_bit = 1000, .land_before = false, .edges = {}}, {100, 0.2, 0}, out);
  CHECK(std::ranges::all_of(out, [](float v) { return v == -1.0F; }));
}

TEST_CASE("noise: normal to four standard deviations, white, of the size asked for", "[sim]") {
  constexpr std::size_t n = 4000000;
  constexpr double sigma = 0.25;
  std::vector<float> x(n, 0.0F);
  Random random(1, "noise");
  add_noise(x, sigma, random);
  std::array<double, 4> moments{};
  std::array<int, 5> beyond{};
  for (const float v : x) {
    const double z = double(v) / sigma;
    moments[0] += z / n;
    moments[1] += z * z / n;
    moments[2] += z * z * z / n;
    moments[3] += z * z * z * z / n;
    for (std::size_t k = 1; k < beyond.size(); ++k) beyond[k] += std::abs(z) > double(k);
  }
  const double root = std::sqrt(double(n));
  CHECK(moments[0] == Approx(0).margin(4 / root));
  CHECK(moments[1] ==
        Approx(1).margin(0.005));  // the two fixed tables meet with a correlation of up to 4/sqrt(65536) / sqrt(61)
  CHECK(moments[2] == Approx(0).margin(0.03));
  CHECK(moments[3] == Approx(3).margin(0.06));
  // Shares of the normal law; beyond 3 and 4 the tables of 2 x 65 536 numbers count as that many draws.
  CHECK(beyond[1] / double(n) == Approx(0.317311).margin(0.004));
  CHECK(beyond[2] / double(n) == Approx(0.045500).margin(0.0016));
  CHECK(beyond[3] / double(n) == Approx(0.0026998).margin(0.0004));
  CHECK(beyond[4] / double(n) == Approx(6.334e-5).margin(3e-5));
  for (const std::size_t lag : {1U, 2U, 3U, 7U, 23U, 100U, 511U, 1024U, 2048U}) {
    double product = 0;
    for (std::size_t i = lag; i < n; ++i) product += double(x[i]) * double(x[i - lag]) / (sigma * sigma);
    INFO("lag " << lag);
    CHECK(product / double(n - lag) == Approx(0).margin(0.012));  // tables: 4 / sqrt(2 x 65 536)
  }
}

TEST_CASE("noise: means of long records scatter as means of independent numbers", "[sim]") {
  // The level of a record is an average: noise that repeats would make it look better or worse than it is.
  constexpr std::size_t length = 20000, records = 400;
  Random random(2, "noise");
  double squares = 0;
  for (std::size_t r = 0; r < records; ++r) {
    std::vector<float> x(length, 0.0F);
    add_noise(x, 1, random);
    double mean = 0;
    for (const float v : x) mean += double(v) / length;
    squares += mean * mean * length / records;
  }
  CHECK(squares == Approx(1).margin(4 * std::sqrt(2.0 / records) + 0.1));
}

TEST_CASE("noise: the same stream gives the same noise, and it is added to what is there", "[sim]") {
  std::vector<float> a(3000, 1.0F), b(3000, 0.0F);
  Random first(7, "noise"), second(7, "noise");
  add_noise(a, 0.01, first);
  add_noise(b, 0.01, second);
  for (std::size_t i = 0; i < a.size(); ++i) CHECK(double(a[i]) - 1 == Approx(double(b[i])).margin(2e-7));
}
