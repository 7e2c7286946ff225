// SPDX-License-Identifier: Apache-2.0
// Learns how an unknown instrument speaks: asks it, in the words of every phrasebook there is, only for settings as
// they are. Nothing is set, started or switched; the error queue is read to its end behind every query, so nothing is
// left in it; a query that is not answered is cleared away. What cannot be asked without effect (start, stop, fetch,
// read, switch) is taken from the phrasebook that fits best and said to be unproven.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

#include "core/base/timeline.hpp"
#include "instruments/phrasebook/standard.hpp"
#include "instruments/transport/session.hpp"

namespace eyelevel::phrasebook {

// One line of a phrasebook and what became of it.
struct Asked {
  std::string key;     // "coupling"
  std::string phrase;  // "INPut<n>:COUPling"
  std::string query;   // "INPut1:COUPling?"; empty: not asked
  std::string answer;
  std::string trouble;  // empty when the answer is one that the key can have

  bool fits() const { return !query.empty() && trouble.empty(); }
};

// One way of speaking.
struct Tried {
  std::string phrasebook;  // "standard-digitiser"
  std::string kind;        // "oscilloscope"
  std::vector<Asked> lines;
  WaveformLayout layout;

  std::size_t asked() const;
  std::size_t fitting() const;
};

struct Interview {
  std::string resource;
  std::string identity;    // answer to *IDN?
  std::string version;     // of SCPI, answer to SYSTem:VERSion?; empty: none
  std::string capability;  // answer to SYSTem:CAPability?; empty: none
  bool has_error_queue = false;
  std::vector<std::string> found_in_queue;  // errors that stood there before
  std::vector<Tried> tried;                 // best first

  // Of the best way, with lines of other ways of the same kind where only they fit.
  std::vector<Asked> learnt() const;
};

// Throws what the session throws, and Error(bad_answer) when there is no answer to *IDN? at all. `each` is how long an
// answer may take.
task<Interview> interview(transport::Session& session, const std::vector<detail::StandardText>& ways,
                          base::Duration each);

// The text of a phrasebook with this name; each line says how it was learnt.
std::string written(const Interview& interview, std::string_view name);

}  // namespace eyelevel::phrasebook
