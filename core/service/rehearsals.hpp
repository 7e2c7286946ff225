// SPDX-License-Identifier: Apache-2.0
// Rehearsals asked for over the network: one at a time, on a thread of its own beside the benches; the last few are
// kept in memory. What rehearses is handed in, since the simulator stands above this storey. Used on the loop's thread.
#pragma once

#include <boost/json/array.hpp>
#include <boost/json/object.hpp>

#include <atomic>
#include <cstdint>
#include <deque>
#include <functional>
#include <memory>
#include <stop_token>
#include <string>
#include <vector>

#include "core/event/event.hpp"

namespace eyelevel::service {

struct RehearsalOrder {
  std::string sequence;    // file in the folder of sequences
  std::string model = {};  // file in the folder of model sheets; empty: the one that is built in
  std::vector<event::GivenAtStart> given = {};
  int units = 1;
  std::uint64_t seed = 1;
  std::vector<std::string> troubles = {};  // every unit has these
  double trouble_rate = 0;                 // each unit has one random trouble with this probability
};

struct Rehearser {
  // { name, about, told, must } of each trouble that can be switched on.
  std::function<boost::json::array()> troubles;
  // Blocks; called on another thread. `done` is to be called with the number of units after each; asked to stop, it
  // gives what there is. Throws base::Error.
  std::function<boost::json::object(const RehearsalOrder&, const std::function<void(int)>& done, std::stop_token)>
      rehearse;
};

class Rehearsals {
 public:
  static constexpr int most_units = 500;
  static constexpr std::size_t most_kept = 8;

  explicit Rehearsals(Rehearser rehearser);
  Rehearsals(const Rehearsals&) = delete;
  Rehearsals& operator=(const Rehearsals&) = delete;
  ~Rehearsals();  // stops what is under way and waits for it

  boost::json::array troubles() const { return rehearser_.troubles(); }
  // Gives its number. Throws http::Problem(409) while another one is under way, http::Problem(422) for a trouble that
  // is not known.
  std::int64_t begin(RehearsalOrder order);
  // { rehearsal, sequence, units, seed, state, done, result, why }. Throws http::Problem(404).
  boost::json::object show(std::int64_t number) const;
  // It ends with what there is. Throws http::Problem(404).
  void stop(std::int64_t number);

 private:
  struct One;
  One& find(std::int64_t number) const;

  Rehearser rehearser_;
  std::deque<std::unique_ptr<One>> kept_;  // the newest last
  std::int64_t last_ = 0;
};

}  // namespace eyelevel::service
