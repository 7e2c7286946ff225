// SPDX-License-Identifier: Apache-2.0
// The way of an oscilloscope's record from the instrument into a waveform: as floats in volts, or as codes with a
// header that tells their scale, in one block or in parts, as the phrasebook lays it out. Part of the driver
// (oscilloscope.cpp), which sets the sweep and starts it.
#pragma once

#include <cstdint>
#include <string_view>
#include <utility>

#include "core/signal/waveform.hpp"
#include "instruments/phrasebook/conversation.hpp"
#include "instruments/phrasebook/phrasebook.hpp"

namespace eyelevel::phrasebook {

class WaveformTransfer {
 public:
  // Both must outlive it.
  WaveformTransfer(Conversation& talk, const OscilloscopePhrases& phrases) : talk_(talk), phrases_(phrases) {}

  // What was set and must come.
  struct Record {
    int channel = 1;
    std::int64_t points = 0;
    double interval_s = 0;
  };

  // Sets and proves the form in which samples come.
  task<> agree(Deadline deadline);
  // The samples and their scale; rate, screen and time of `into` are the caller's.
  task<> fetch(Record record, signal::Waveform& into, Deadline deadline);
  // A buffer that is needed no more serves the next record.
  void give_back(signal::Codes codes) { spare_ = std::move(codes); }

 private:
  task<> fetch_volts(const Record& record, signal::Waveform& into, Deadline deadline);
  task<> fetch_codes(const Record& record, signal::Waveform& into, Deadline deadline);
  WaveformScale read_scale(const Record& record, std::string_view header) const;
  task<> fetch_part(std::int64_t first, std::int64_t count, signal::Codes& codes, Deadline deadline);

  Conversation& talk_;
  const OscilloscopePhrases& phrases_;
  signal::Codes spare_;
};

}  // namespace eyelevel::phrasebook
