// SPDX-License-Identifier: Apache-2.0
// What the technician is told in a run: by its errors, its notes, what it saw while waiting, its answers, and by what
// did not pass.
#pragma once

#include <string>
#include <vector>

#include "core/event/event.hpp"
#include "core/sequence/runner/run.hpp"

namespace eyelevel::sim {

class Told final : public event::Listener {
 public:
  void told(const event::Event& event) override;
  // All of it, with the judgements and the error of the result, which a broken record cannot have.
  std::vector<std::string> all(const sequence::RunResult& result) const;

 private:
  std::vector<std::string> texts_;
};

// Whether one of the words stands in one of the texts.
bool is_told(const std::vector<std::string>& texts, const std::vector<std::string>& words);

}  // namespace eyelevel::sim
