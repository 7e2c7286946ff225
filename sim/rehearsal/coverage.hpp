// SPDX-License-Identifier: Apache-2.0
// Which steps and branches of a sequence a rehearsal has reached. A watched copy of the sequence is run instead of it:
// the same steps, each of which counts when it is done. Counting is safe from any thread; the rest belongs to one.
#pragma once

#include <atomic>
#include <deque>
#include <string>
#include <vector>

#include "core/sequence/language/sequence.hpp"

namespace eyelevel::sim {

// A place in the file, for all rows and parts that it was multiplied into.
struct StepReached {
  event::Place place;
  std::int64_t times = 0;  // begun, and not left out
};
struct BranchTaken {
  event::Place place;  // of its step
  std::string branch;  // "then", "otherwise", "until"
  std::int64_t times = 0;
};

class Coverage {
 public:
  explicit Coverage(const sequence::Sequence& sequence);

  // To be run. Belongs to this.
  const sequence::Sequence& watched() const { return watched_; }
  // In the order of the file.
  std::vector<StepReached> steps() const;
  std::vector<BranchTaken> branches() const;

  struct Count {
    std::atomic<std::int64_t> begun = 0, yes = 0, no = 0;
  };

 private:
  struct Watch {
    const sequence::Step* step;
    const Count* count;
  };
  void watch(std::vector<sequence::Step>& steps);
  void list(const std::vector<sequence::Step>& steps, std::size_t& next, std::vector<Watch>& all) const;
  std::vector<Watch> all() const;

  sequence::Sequence watched_;
  std::deque<Count> counts_;  // one for each step, in the order of watch()
};

}  // namespace eyelevel::sim
