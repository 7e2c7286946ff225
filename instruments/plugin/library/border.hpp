// SPDX-License-Identifier: Apache-2.0
// Across the C border (eyelevel_plugin.h): declarations and answers as a library gives them, looked at field by field
// within the size that it states, and questions as it wants them.
#pragma once

#include <memory>
#include <string>
#include <vector>

#include "core/register/outside.hpp"
#include "instruments/plugin/eyelevel_plugin.h"

namespace eyelevel::plugin::library {

struct PartFound {
  registers::OutsidePart part;                               // without its call
  decltype(eyelevel_part::call) call = nullptr;              // of all but transports
  std::shared_ptr<const eyelevel_transport> transport = {};  // of a transport
};

// Throws Error(bad_answer) for a version, a size, a count or a declaration that cannot be.
std::vector<PartFound> parts_of(const eyelevel_plugin* plugin, const std::string& from);

// A question in C structs, which own what they point to.
class CQuestion {
 public:
  CQuestion(registers::Question question, base::Duration within);
  CQuestion(const CQuestion&) = delete;
  CQuestion& operator=(const CQuestion&) = delete;

  const eyelevel_question& get() const { return question_; }

 private:
  void add(const std::string& key, const registers::OutsideValue& value);
  void add(const std::string& key, const registers::OutsideResult& result);

  registers::Question held_;
  std::vector<std::unique_ptr<eyelevel_given>> given_;
  std::vector<std::unique_ptr<eyelevel_reading>> readings_;
  std::vector<std::unique_ptr<eyelevel_waveform>> waveforms_;
  std::vector<std::unique_ptr<eyelevel_capture>> captures_;
  std::vector<std::vector<const eyelevel_capture*>> capture_lists_;
  std::vector<const eyelevel_given*> list_;
  eyelevel_question question_{};
};

eyelevel_answer empty_answer();
// Throws Error(instrument_error) with the plugin's words, (time_out), or (bad_answer) for what makes no sense.
registers::Answer answer_of(const eyelevel_answer& answer, int32_t outcome, const std::string& from);

}  // namespace eyelevel::plugin::library
