// SPDX-License-Identifier: Apache-2.0
// A library plugin that misbehaves as the text behind its verb says. "hang PATH" hangs until somebody opens that FIFO
// for writing.
#include <fcntl.h>
#include <unistd.h>

#include <cstring>
#include <stdexcept>
#include <string>

#include "instruments/plugin/eyelevel_plugin.h"

namespace {

int32_t poke(const eyelevel_question* question, eyelevel_answer* answer) {
  const std::string mood = question->given_count > 0 ? question->given[0]->text : "";
  answer->has_reading = 1;
  answer->reading.value = 1.5;
  std::strcpy(answer->reading.unit, "V");
  answer->reading.standard_uncertainty = 0.1;
  answer->reading.count = 1;
  if (mood == "throw") throw std::runtime_error("over the border");
  if (mood == "lie") answer->size = 1U << 30U;
  if (mood == "numbers") answer->number_count = 1000000;
  if (mood == "seven") return 7;
  if (mood == "fail") {
    std::memset(answer->message, 'x', sizeof answer->message);  // no end
    return EYELEVEL_FAILED;
  }
  if (mood.starts_with("hang ")) ::close(::open(mood.substr(5).c_str(), O_RDONLY));
  return EYELEVEL_DONE;
}

const eyelevel_part part = {.size = sizeof(eyelevel_part),
                            .kind = EYELEVEL_VERB,
                            .name = "poke",
                            .about = "does as it is told",
                            .example = "- poke: it\n  within: 5 s\n",
                            .gives = "V",
                            .takes = 0,
                            .instrument = nullptr,
                            .parameters = nullptr,
                            .parameter_count = 0,
                            .call = poke,
                            .transport = nullptr};
const eyelevel_part* const parts[] = {&part};
const eyelevel_plugin all = {
    .size = sizeof(eyelevel_plugin), .abi = EYELEVEL_PLUGIN_ABI, .parts = parts, .part_count = 1};

}  // namespace

extern "C" const eyelevel_plugin* eyelevel_plugin_entry(uint32_t) { return &all; }
