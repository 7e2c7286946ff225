// SPDX-License-Identifier: Apache-2.0
// A simulated oscilloscope that speaks nothing but SCPI: the digitiser of SCPI-99 Vol. 4. RANGe:PTPeak and OFFSet are
// at the probe tip as the instrument believes, that is with INPut:ATTenuation; both scale with it, so set the
// attenuation first. The ends of the range are the end codes: clipped samples read exactly OFFSet - PTPeak/2 or OFFSet
// + PTPeak/2. SWEep:TIME is TINTerval x (POINts - 1). One instrument belongs to one Timeline.
#pragma once

#include <cstdint>
#include <map>
#include <memory>
#include <string>
#include <variant>
#include <vector>

#include "sim/instrument/acquisition.hpp"
#include "sim/instrument/front_end.hpp"
#include "sim/instrument/sample_format.hpp"
#include "sim/instrument/scpi_instrument.hpp"

namespace eyelevel::sim {

// How records leave the instrument; settings and physics are the same.
enum class Tongue {
  standard,         // volts or codes by FORMat, FETCh and TRACe of SCPI-99
  numbered_header,  // unsigned codes, a header of ten numbers
  keyed_header,     // signed codes, a header of keys and values
};

class SimulatedOscilloscope final : public ScpiInstrument {
 public:
  // Errors within the class are drawn from `random`. The identity is the answer to *IDN?.
  SimulatedOscilloscope(base::Timeline& timeline, const ScopeClass& scope_class, const base::Random& random,
                        std::string identity = "Eyelevel,Simulated oscilloscope,0,1.0",
                        Tongue tongue = Tongue::standard);

  // Wires a channel (from 1) to a place; an empty source is an open input.
  void connect(int channel, std::shared_ptr<SignalSource> source, const ProbeWiring& probe);

 private:
  struct Channel {
    FrontEnd front_end;
    InputSetting setting;
    std::vector<std::int8_t> codes;  // of the last record
    SampleScale scale;
    bool recorded = false;
  };
  // What a client of another tongue said of the record it wants.
  struct Told {
    int channel = 1;
    bool wide = false;     // 16 bits, otherwise 8
    bool swapped = false;  // least significant byte first
    std::int64_t first = 1;
    std::int64_t last = 1;
  };
  using Trace = std::variant<std::string, std::vector<double>>;  // an uploaded block, or values

  void reset() override;
  void settle_operation() override;
  bool operation_pending() override { return acquisition_.pending(); }
  base::Duration next_look() override;
  void bus_trigger() override;

  void register_input();
  void register_sense();
  void register_trigger();
  void register_format();
  void register_measurement();
  void register_trace();
  void register_tongue();

  Channel& channel(const Call& call) { return channels_.at(static_cast<std::size_t>(call.suffix() - 1)); }
  Channel& channel_of(const scpi::Parameter& list);
  void configure(Call& call);
  void initiate();
  void go_idle();
  void invalidate() { valid_ = false; }
  double offset_limit_in_v(const InputSetting& setting) const;
  void limit_offset(InputSetting& setting) const;
  void answer_array(Call& call, const Channel& from);
  task<> fetch_array(Call& call);
  task<> read_array(Call& call, bool configure_first);
  void store_trace(Call& call);
  void answer_trace(Call& call);
  void answer_preamble(Call& call);
  const Channel& told_channel() const;
  void answer_numbered_header(Call& call);
  void answer_keyed_header(Call& call);
  void answer_points(Call& call);
  Channel* live_trace(const std::string& name);
  std::size_t stored_bytes() const;

  ScopeClass class_;
  Tongue tongue_;
  Told told_;
  double clock_;
  std::vector<Channel> channels_;
  std::vector<InputSetting> armed_;  // settings when the acquisition began
  SweepSetting sweep_;
  TriggerSetting trigger_;
  SampleFormat format_;
  Acquisition acquisition_;
  bool valid_ = false;
  std::string function_;
  std::string trigger_coupling_;
  std::map<std::string, Trace, std::less<>> traces_;
};

}  // namespace eyelevel::sim
