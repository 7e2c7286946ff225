// SPDX-License-Identifier: Apache-2.0
// What a simulated oscilloscope adds to a capture of 10 000 points in REAL,32 over the memory transport, against
// copying the same bytes; rehearsals make a hundred of these for each unit.
#include <fmt/format.h>

#include <boost/asio/io_context.hpp>

#include <cstring>
#include <vector>

#include "core/base/timeline.hpp"
#include "instruments/transport/memory/client.hpp"
#include "instruments/transport/session.hpp"
#include "sim/instrument/oscilloscope.hpp"
#include "tests/speed/speed.hpp"

namespace eyelevel::speed {
namespace {

constexpr int captures = 200;
constexpr std::size_t points = 10'000;

// Costs next to nothing, so that the instrument is what is measured.
class Sawtooth final : public sim::SignalSource {
 public:
  void render(double, double, std::span<float> volts, const sim::Load&) override {
    for (std::size_t i = 0; i < volts.size(); ++i) volts[i] = static_cast<float>(i & 127U) * 0.01F;
  }
  double mean_v(double, double, const sim::Load&) override { return 0.5; }
};

task<> open(base::Timeline& timeline, std::shared_ptr<transport::Device> scope,
            std::unique_ptr<transport::Session>& session) {
  session = std::make_unique<transport::Session>(
      timeline, co_await transport::memory::connect(std::move(scope), "MEMORY0::scope::INSTR"));
  co_await session->write("FORM REAL,32;:FORM:BORD SWAP;:SWE:POIN 10000;TINT 5E-8", std::chrono::seconds(1));
}

task<> capture(transport::Session& session, transport::Buffer& answer) {
  for (int i = 0; i < captures; ++i) {
    co_await session.query(":INIT;*OPC?", answer, std::chrono::seconds(1));
    co_await session.query(":FETC:ARR:VOLT? (@1)", answer, std::chrono::seconds(1));
  }
}

}  // namespace

void instrument_speed(Table& table) {
  boost::asio::io_context loop;
  const auto timeline = base::simulated_timeline(loop);
  auto scope = std::make_shared<sim::SimulatedOscilloscope>(*timeline, sim::ScopeClass{}, base::Random(1));
  scope->connect(1, std::make_shared<Sawtooth>(), {.factor = 1});
  std::unique_ptr<transport::Session> session;
  timeline->run(open(*timeline, scope, session));
  transport::Buffer answer;
  std::vector<char> copy(4 * points);
  const auto times = shortest_of_both(
      5, [&] { timeline->run(capture(*session, answer)); },
      [&] {
        for (int i = 0; i < captures; ++i) {
          std::memcpy(copy.data(), answer.data(), copy.size());
          copy[0] = static_cast<char>(copy[1] + i);
        }
      });
  require(answer.size() == 4 * points + 7, "the capture");
  const double each_s = times.first_s / captures;
  table.add({.what = "simulated capture of 10 000 points, triggered, converted and fetched",
             .against = "the seconds of a minute on one core",
             .figure = 60 / each_s / 100,
             .unit = "units of 100 captures a minute",
             .target = 10'000,
             .tolerated = 3'300,
             .less_is_better = false,
             .detail = fmt::format("{:.0f} us a capture; copying the bytes once takes {:.1f} us", each_s * 1e6,
                                   times.second_s / captures * 1e6)});
  session.reset();
}

}  // namespace eyelevel::speed
