// SPDX-License-Identifier: Apache-2.0
// An invented run of the level sequence with captures of a known eye: random bytes through the channel code, edges
// blurred with a Gaussian of 1.25 T, noise, eight bits at 20 MSa/s. The level bobs from capture to capture by a known
// amount. Truth is in the constants.
#pragma once

#include <algorithm>
#include <cmath>
#include <memory>
#include <string>
#include <vector>

#include "core/base/random.hpp"
#include "core/disc/efm/merging.hpp"
#include "core/event/event.hpp"
#include "core/record/store/store.hpp"

namespace eyelevel::test {

inline constexpr double eye_rate_hz = 20e6;
inline constexpr double eye_channel_rate_hz = 4.3218e6;
inline constexpr double eye_bottom_v = 1.00;
inline constexpr double eye_level_v = 1.20;

inline std::vector<double> channel_edges(base::Random& random, std::size_t bits) {
  std::vector<double> edges;
  disc::efm::MergingState state;
  for (std::size_t frame = 0; frame * disc::efm::frame_bits < bits; ++frame) {
    disc::efm::FrameSymbols symbols;
    for (auto& symbol : symbols) symbol = static_cast<std::uint16_t>(random.below(256));
    std::array<std::uint16_t, disc::efm::frame_edges_max> places{};
    const int count = disc::efm::encode_frame(symbols, state, places);
    for (int i = 0; i < count; ++i) {
      edges.push_back(static_cast<double>(frame * disc::efm::frame_bits) + places[static_cast<std::size_t>(i)]);
    }
  }
  return edges;
}

// `level_v` between settled 11T runs, centred between bottom and bottom + eye_level_v.
inline signal::Waveform eye_waveform(base::Random& random, double level_v, std::size_t samples = 10000) {
  const double bits_per_sample = eye_channel_rate_hz / eye_rate_hz;
  const auto edges =
      channel_edges(random, static_cast<std::size_t>(static_cast<double>(samples) * bits_per_sample) + 60);
  const double first_bit = 20 + random.uniform();
  constexpr double blur_bits = 1.25, reach_bits = 6;
  const double centre_v = eye_bottom_v + eye_level_v / 2;
  signal::Waveform w;
  w.rate_hz = eye_rate_hz;
  w.scale_v = 2.0 / 256;
  w.offset_v = 1.6;
  w.screen = signal::Screen{0.6, 2.6};
  std::vector<std::int8_t> codes(samples);
  std::size_t passed = 0;
  for (std::size_t i = 0; i < samples; ++i) {
    const double bit = first_bit + static_cast<double>(i) * bits_per_sample;
    while (passed < edges.size() && edges[passed] < bit - reach_bits) ++passed;
    // Each edge turns the level over; the blurred steps add up.
    double level = passed % 2 == 0 ? -1 : 1;
    double direction = -level;
    for (std::size_t e = passed; e < edges.size() && edges[e] < bit + reach_bits; ++e, direction = -direction) {
      level += direction * (1 + std::erf((bit - edges[e]) / (blur_bits * std::sqrt(2.0))));
    }
    const double volts = centre_v + 0.5 * level_v * level + random.normal(0, 0.012);
    codes[i] = static_cast<std::int8_t>(std::clamp(std::round((volts - w.offset_v) / w.scale_v), -128.0, 127.0));
  }
  w.codes = std::move(codes);
  return w;
}

// What a run may differ in.
struct EyeRun {
  double level_v = eye_level_v;
  int captures = 71;
  int not_kept_every = 10;  // every tenth is not kept for focus, and smaller
  metrology::Judgement judgement = metrology::Judgement::pass;
  bool closed = true;
  bool broken = false;
};

inline metrology::Reading eye_reading(const EyeRun& wish, int kept) {
  metrology::Reading r;
  r.name = "level_pressed";
  r.value = wish.level_v + 0.0034;
  r.unit = "V";
  r.interval = {0.0105, 0.0206, 0.95, 120};
  r.count = kept;
  r.tried = wish.captures;
  r.limit = metrology::Limit{1.08, 1.32};
  r.judgement = wish.judgement;
  r.measure = "eye level";
  r.of = "rf";
  r.inputs = {"pressed"};
  return r;
}

// Stores the run and gives its id.
inline std::string store_eye_run(record::Store& store, const EyeRun& wish) {
  using namespace event;
  using namespace std::chrono;
  const base::UtcTime begin = sys_days(year(2030) / January / 7) + 8h;
  const std::string run = store.reserve_run(begin);
  std::vector<Event> events;
  double now_s = 0;
  const auto add = [&](Body body) {
    const auto number = static_cast<std::int64_t>(events.size()) + 1;
    events.push_back({run, number, now_s, begin + milliseconds(std::llround(now_s * 1e3)), std::move(body)});
  };
  add(Begun{"pickup-level",
            "RF level of a pickup on a pressed disc",
            "sequences/ready/pickup-level.yaml",
            "",
            {},
            {},
            "bench 1",
            "LF2-00417",
            "LF-2",
            {"invisible laser radiation when the cover is open", "pickup is destroyed by static"},
            7,
            {},
            BenchProof{"2030-01-05-2", "2030-01-05T09:30:00.000Z", metrology::Judgement::pass, false}});
  add(Connected{
      {"scope", "oscilloscope", "TCPIP0::127.0.0.1::5025::SOCKET", "Lanternfield,S-1,SN 12,1.0", "2030-06-30"}});
  add(Connected{{"meter", "multimeter", "TCPIP0::127.0.0.1::5026::SOCKET", "Lanternfield,M-1,SN 3,1.0", "2029-12-01"}});
  now_s = 58.2;
  const Place place{"steps", 3, "capture", "capture: rf", 28, 5};
  base::Random random(5);
  int kept = 0;
  for (int i = 1; i <= wish.captures; ++i) {
    now_s += 0.093;
    const bool lost = i % wish.not_kept_every == 0;
    if (!lost) ++kept;
    const double level_v = (wish.level_v + 0.02 * std::sin(0.4 * i)) * (lost ? 0.8 : 1.0);
    auto waveform = std::make_shared<signal::Waveform>(eye_waveform(random, level_v));
    waveform->start_s = now_s;
    add(Captured{place, "pressed", "rf", i, waveform, lost ? "focus" : ""});
  }
  if (wish.broken) {
    base::ErrorRecord error;
    error.code = base::ErrorCode::time_out;
    error.where = "pickup-level.yaml:28:5: step \"capture: rf\", scope (TCPIP0::127.0.0.1::5025::SOCKET)";
    error.message = "no answer to *OPC? within 2.00 s; 64 waveforms kept";
    error.advice = "is the disc still turning? does the trigger level lie inside the signal?";
    add(BrokenOff{place, error});
    add(Closed{"stopped", std::nullopt});
  } else if (wish.captures > 0) {
    add(Measured{place, eye_reading(wish, kept)});
    metrology::Reading meter;
    meter.name = "rise_d_c";
    meter.value = 0.0412;
    meter.unit = "V";
    meter.interval = {0.0009, 0.0018, 0.95, 50};
    meter.count = 5;
    add(Measured{place, meter});
    add(Noted{place, "cross-check with the multimeter agrees"});
  }
  if (wish.closed && !wish.broken) {
    add(Closed{"finished", wish.captures > 0 ? std::optional(wish.judgement) : std::nullopt});
  }
  store.write(run, events);
  return run;
}

}  // namespace eyelevel::test
