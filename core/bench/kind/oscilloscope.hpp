// SPDX-License-Identifier: Apache-2.0
// What the house asks of any oscilloscope or digitiser. Implementations: instruments/phrasebook (SCPI), plugins.
// Contract: one call at a time per instrument (the caller awaits); every setting is read back and returned as the
// instrument states it; the instrument's error queue is read after each group of settings. Errors: base::Error of the
// transport or the phrasebook (time_out, connection_lost, bad_answer, instrument_error, setting_not_taken). No call
// outlives its `within`.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "core/base/timeline.hpp"
#include "core/bench/instrument.hpp"
#include "core/signal/waveform.hpp"

namespace eyelevel::bench {

enum class Coupling { dc, ac };

struct ChannelSetting {
  double probe_factor = 1;  // 10 for a x10 probe; voltages below are at the probe tip
  Coupling coupling = Coupling::dc;
  double low_v = 0;  // what the screen must show at least, at the probe tip
  double high_v = 0;
  std::optional<double> bandwidth_hz;  // a limit to switch on; empty: full bandwidth
};

enum class Edge { rising, falling };

struct Trigger {
  double level_v = 0;
  Edge edge = Edge::rising;
};

struct Acquisition {
  int channel = 1;
  double duration_s = 0;
  double rate_hz = 0;              // at least; the instrument may choose more and says so
  std::optional<Trigger> trigger;  // empty: at once
};

struct OscilloscopeAbility {
  int channels = 0;  // 0: not known
  double rate_hz_max = 0;
  std::int64_t points_max = 0;
};

class Oscilloscope : public Instrument {
 public:
  virtual task<OscilloscopeAbility> ability(base::Duration within) = 0;
  // Sets one channel up. Throws setting_not_taken when what is read back does not serve what was asked (a screen that
  // is wider is fine, another probe factor is not).
  virtual task<std::vector<SettingTaken>> set_up(int channel, const ChannelSetting& setting, base::Duration within) = 0;
  // Acquires once and fetches. The waveform is in volts at the probe tip and carries the screen it was taken with.
  virtual task<signal::Waveform> capture(const Acquisition& acquisition, base::Duration within) = 0;
  // A waveform that is needed no more: its memory serves the next capture. Never required.
  virtual void give_back(signal::Waveform) {}  // NOLINT(performance-unnecessary-value-param): an override keeps it
};

}  // namespace eyelevel::bench
