// SPDX-License-Identifier: Apache-2.0
// An invented run that holds every type of event, with values that are hard to keep: bytes that are no text, infinity,
// numbers that need all their digits.
#pragma once

#include <memory>
#include <string>
#include <vector>

#include "core/event/event.hpp"

namespace eyelevel::test {

inline std::shared_ptr<const signal::Waveform> sample_waveform(std::size_t samples = 1000) {
  std::vector<std::int8_t> codes(samples);
  for (std::size_t i = 0; i < samples; ++i) codes[i] = static_cast<std::int8_t>((i * 37) % 251 - 125);
  signal::Waveform w;
  w.codes = std::move(codes);
  w.rate_hz = 20e6;
  w.scale_v = 0.1 / 3;
  w.offset_v = 1.6;
  w.screen = signal::Screen{0.6, 2.6};
  w.start_s = 12.5;
  return std::make_shared<const signal::Waveform>(std::move(w));
}

inline metrology::Reading sample_reading() {
  metrology::Reading r;
  r.name = "level_pressed";
  r.value = 1.2034567890123457;
  r.unit = "V";
  r.interval = {0.0105, 0.0206, 0.95, 41.7};
  r.count = 64;
  r.tried = 71;
  r.contributions = {{"captures of pressed", 'A', metrology::Shape::normal, 0.001, 63},
                     {"gain of scope", 'B', metrology::Shape::rectangular, -0.0104}};
  r.limit = metrology::Limit{1.08, 1.32};
  r.judgement = metrology::Judgement::pass;
  r.measure = "eye level";
  r.of = "rf";
  r.inputs = {"pressed"};
  r.from_s = 61.25;
  r.until_s = 64.5;
  r.notes = {"7 of 71 not kept: focus"};
  return r;
}

inline std::vector<event::Body> sample_bodies() {
  using namespace event;
  const Place place{"steps", 3, "capture", "capture: rf", 28, 5};
  base::ErrorRecord error;
  error.code = base::ErrorCode::time_out;
  error.where = "pickup-level.yaml:28:5";
  error.message = "no answer within 2.00 s";
  error.sent = std::string("*OPC?\n\0", 7);
  error.received = "\xff\x80\x01 \xc3";
  error.elapsed_s = 2.0;
  error.advice = "is the disc still turning?";
  return {
      Begun{"pickup-level",
            "RF level",
            "sequences/ready/pickup-level.yaml",
            "sequence: pickup-level\n",
            {{"sequences/ready/parts/level.yaml", "part: level\n"}},
            {{"target", "1.20 V"}},
            "bench 1",
            "LF2-00417",
            "LF-2",
            {"invisible laser radiation when the cover is open"},
            18446744073709551615U,
            "bench",
            BenchProof{"2030-01-05-2", "2030-01-05T09:30:00.000Z", metrology::Judgement::pass, true}},
      Connected{{"scope", "oscilloscope", "TCPIP0::127.0.0.1::5025::SOCKET", "Lanternfield,S-1,12,1.0", "2030-06-30"}},
      Waiting{place, "audio track", 45},
      Prompted{place, "Insert the pressed test disc \xC2\xB1", 600},
      Answered{place, "done", "operator"},
      Set{place, "scope", "offset", "1.6 V", "1.6 V"},
      Captured{place, "pressed", "rf", 1, sample_waveform(), ""},
      Captured{place, "pressed", "rf", 2, nullptr, "no lock"},
      Seen{place, "playing an audio track, track 2, 00:31"},
      Measured{place, sample_reading()},
      Judged{place, "level_pressed", metrology::Judgement::undecided, {1.08, std::nullopt}},
      Proved{place, "self-test", "scope", std::nullopt, "its phrasebook has no phrase for it"},
      Aimed{place, "eye level of rf", "V", 1.08, 1.32, 1.45},
      Advised{place, 1, -4, "anticlockwise by 4 degrees, about a ninetieth of a turn", 0.95, 1.40, 0.03, 1.36, 1.28,
              1.41, false},
      Found{place, "trimmer contact bad", "the reading jumps"},
      Diagnosed{place,
                {{"don't know", "no cause is believed to 60 %", std::nullopt}, {"lens dirty", "I3/I11 is low", 0.41}},
                "Clean the lens"},
      Noted{place, "64 of 71 kept"},
      Enclosed{place, "lens", "photo of the lens", "lens.jpg", "operator", 6,
               std::make_shared<const std::string>("\xff\xd8\0\n\r\x01", 6)},
      Reached{place,
              {sample_reading()},
              {{"clean", "yes"}},
              {"level_pressed"},
              {metrology::Judgement::undecided},
              {Proved{place, "self-test", "scope", std::nullopt, "no phrase"}},
              false},
      BrokenOff{place, error},
      Closed{"stopped", std::nullopt},
  };
}

inline event::Event sample_event(const std::string& run, std::int64_t number, event::Body body) {
  using namespace std::chrono;
  return {run, number, 0.25 * static_cast<double>(number),
          base::UtcTime(sys_days(year(2030) / January / 7) + 8h + milliseconds(250 * number)), std::move(body)};
}

inline std::vector<event::Event> sample_events(const std::string& run) {
  std::vector<event::Event> list;
  for (auto& body : sample_bodies()) {
    list.push_back(sample_event(run, static_cast<std::int64_t>(list.size()) + 1, std::move(body)));
  }
  return list;
}

}  // namespace eyelevel::test
