// SPDX-License-Identifier: Apache-2.0
// Rehearsed units a minute of the ready level sequence on all processors, against the minute itself; and rendering of a
// simulated pad alone, on one. Run from the top of the tree.
#include <fmt/format.h>

#include <algorithm>
#include <memory>
#include <thread>

#include "core/base/random.hpp"
#include "sim/disc/renderer.hpp"
#include "tests/speed/speed.hpp"
#include "tests/support/ready_plan.hpp"

namespace eyelevel::speed {

namespace {

void rehearsed_units(Table& table) {
  const test::ReadyPlan ready("pickup-level");
  sim::RehearsalPlan plan = ready.plan(7, 60);
  const int threads = static_cast<int>(std::max(1U, std::thread::hardware_concurrency()));
  plan.threads = threads;
  std::vector<sim::UnitOutcome> units;
  const double took_s = shortest_s(2, [&] { units = ready.rehearse(plan); });
  plan.threads = 1;
  const double alone_s = shortest_s(2, [&] { ready.rehearse(plan); });
  plan.threads = threads;
  require(units.size() == 60 && std::all_of(units.begin(), units.end(), [](const auto& u) { return u.wrong.empty(); }),
          "rehearsals");
  table.add({.what = fmt::format("rehearsed units of the ready level sequence, {} threads", plan.threads),
             .against = "the minute",
             .figure = 60 * 60 / took_s,
             .unit = "units a minute",
             .target = 3000,
             .tolerated = 1000,
             .less_is_better = false,
             .detail = fmt::format("{:.1f} ms a unit; {:.2f} times as many as with one thread", took_s / 60 * 1e3,
                                   alone_s / took_s)});
}

void rendering(Table& table) {
  sim::EyeShape shape;
  shape.edge_jitter_t = 0.03;
  sim::EyeRenderer renderer(shape);
  const auto contents = std::make_shared<const sim::Contents>(sim::draw_contents({}, base::Random(1, "speed")));
  sim::ChannelStream stream(contents);
  std::vector<float> out(1 << 16), sum(1 << 16);
  sim::Sampling sampling{.start_bit = 10'000.0 * static_cast<double>(sim::section_bits)};
  constexpr int rounds = 30;
  const Pair best = shortest_of_both(
      3,
      [&] {
        for (int i = 0; i < rounds; ++i) {
          renderer.render(stream, sampling, out);
          sampling.start_bit = sampling.place(static_cast<double>(out.size()));
        }
      },
      [&] {
        for (int i = 0; i < rounds; ++i)
          for (std::size_t k = 0; k < out.size(); ++k) sum[k] += out[k];
      });
  require(*std::max_element(out.begin(), out.end()) > *std::min_element(out.begin(), out.end()), "rendering");
  const double n = static_cast<double>(rounds * out.size());
  table.add({.what = "rendering the eye of a simulated disc, one core",
             .against = "adding the same samples up",
             .figure = n / best.first_s / 1e6,
             .unit = "million samples a second",
             .target = 200,
             .tolerated = 67,
             .less_is_better = false,
             .detail = fmt::format("{:.0f} times as long as the addition", best.first_s / best.second_s)});
}

}  // namespace

void rehearsal_speed(Table& table) {
  rehearsed_units(table);
  rendering(table);
}

}  // namespace eyelevel::speed
