// SPDX-License-Identifier: Apache-2.0
// What steps put on (`switch on`, `route`) and what takes it off again, while a sequence is checked: `closing` must
// make safe whatever was put on, and a run that is resumed finds nothing on that `steps` put on.
#pragma once

#include <set>
#include <string>
#include <vector>

#include "core/sequence/language/verb.hpp"
#include "core/yaml/mistake.hpp"

namespace eyelevel::sequence {

class LeftOn {
 public:
  // Each step, in the order in which they run. `part`: opening, steps, closing; `file` and `at`: where it stands.
  void step(const ReadStep& read, const std::string& part, const std::string& file, yaml::Mark at);

  // By `steps`, up to here.
  const std::set<std::string>& on_now() const { return on_now_; }

  // What a step has put on and closing does not take off again, whatever happened in between; in the step's own file.
  std::vector<yaml::Mistake> mistakes() const;

 private:
  struct PutOn {
    PutsOn what;
    std::string file;
    yaml::Mark at;
  };
  std::vector<PutOn> put_on_;
  std::set<std::string> made_safe_;  // in closing
  std::set<std::string> on_now_;
};

}  // namespace eyelevel::sequence
