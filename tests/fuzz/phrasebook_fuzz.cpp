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
  const auto usable = [](const std::string& phrase) {
    if (!phrasebook::means(phrasebook::spoken(phrase, 2), phrase, phrase.find('<') == std::string::npos ? 1 : 2))
      std::abort();
  };
  usable(read.phrasebook.common.stop);
  if (const auto* scope = std::get_if<phrasebook::OscilloscopePhrases>(&read.phrasebook.phrases)) {
    usable(scope->range);
    usable(scope->signal_of_channel);
    usable(scope->own_channel);
  } else {
    usable(std::get<phrasebook::MultimeterPhrases>(read.phrasebook.phrases).dc_voltage);
  }
  return 0;
}
