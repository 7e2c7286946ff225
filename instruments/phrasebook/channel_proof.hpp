// SPDX-License-Identifier: Apache-2.0
// Whether a channel's settings as read back serve what was asked: a wider screen is fine, another probe factor is not.
#pragma once

#include <string>
#include <vector>

#include "core/bench/kind/oscilloscope.hpp"
#include "instruments/phrasebook/conversation.hpp"
#include "instruments/phrasebook/phrasebook.hpp"

namespace eyelevel::phrasebook {

// As the instrument states it; volts at the probe tip.
struct ChannelRead {
  double probe_factor = 0;
  std::string coupling;
  double range_v = 0;   // full span
  double offset_v = 0;  // its centre
  bool limited = false;
  double bandwidth_hz = 0;
};

// What was taken, setting by setting; throws Error(setting_not_taken) through `talk`, which knows the last exchange.
std::vector<bench::SettingTaken> prove_channel(const Conversation& talk, const OscilloscopePhrases& phrases,
                                               const bench::ChannelSetting& asked, const ChannelRead& is);

}  // namespace eyelevel::phrasebook
