// SPDX-License-Identifier: Apache-2.0
// Any bytes as a phrasebook: refused with reasons, or every phrase of it can be said and understood.
#include <cstdint>
#include <cstdlib>
#include <vector>

#include "instruments/phrasebook/phrasebook.hpp"

using namespace eyelevel;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::vector<char> exact(data, data + size);
  const std::string_view text(exact.data(), exact.size());
  phrasebook::means(text, "XTIMe:VOLTage<n>", 1);
  const auto read = phrasebook::read_phrasebook(yaml::load_text("p.yaml", text));
  if (!read.mistakes.fine()) return 0;
  if (read.phrasebook.usb.most_request_bytes < 4 || read.phrasebook.usb.pause_between_messages < base::Duration(0))
    std::abort();
  const auto usable = [](const std::string& phrase) {
    if (phrase.empty()) return;  // not every way of speaking has every phrase
    if (!phrasebook::means(phrasebook::spoken(phrase, 2), phrase, phrase.find('<') == std::string::npos ? 1 : 2))
      std::abort();
  };
  const auto& common = read.phrasebook.common;
  usable(common.next_error);
  usable(common.stop);
  if (const auto* scope = std::get_if<phrasebook::OscilloscopePhrases>(&read.phrasebook.phrases)) {
    usable(scope->range);
    usable(scope->signal_of_channel);
    usable(scope->own_channel);
  } else if (const auto* meter = std::get_if<phrasebook::MultimeterPhrases>(&read.phrasebook.phrases)) {
    usable(meter->dc_voltage);
  } else if (const auto* supply = std::get_if<phrasebook::PowerSupplyPhrases>(&read.phrasebook.phrases)) {
    usable(supply->output);
  } else if (const auto* generator = std::get_if<phrasebook::FunctionGeneratorPhrases>(&read.phrasebook.phrases)) {
    usable(generator->output);
    if (generator->load.empty() != generator->open_load.empty()) std::abort();
  } else if (const auto* counter = std::get_if<phrasebook::CounterPhrases>(&read.phrasebook.phrases)) {
    usable(counter->level);
  } else {
    usable(std::get<phrasebook::RelayBoxPhrases>(read.phrasebook.phrases).open_all);
  }
  return 0;
}
