// SPDX-License-Identifier: Apache-2.0
// A process plugin as whoever asks it sees it: started when first needed, one question at a time, started again after
// it broke, ever more slowly and not for ever. Everything that can go wrong with a process becomes a base::Error that
// names the plugin; the process that did it is gone by then.
#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "core/base/error.hpp"
#include "core/base/gong.hpp"
#include "core/register/outside.hpp"
#include "instruments/plugin/manifest.hpp"
#include "instruments/plugin/process/child.hpp"
#include "instruments/plugin/worker.hpp"

namespace eyelevel::plugin::process {

// How long it rests after the n-th failure in a row: 100 ms, doubled each time, up to 5 s; then it is given up.
struct Rest {
  base::Duration first = std::chrono::milliseconds(100);
  base::Duration most = std::chrono::seconds(5);
  int failures_most = 6;
};

class Speaker {
 public:
  explicit Speaker(Manifest manifest, Rest rest = {});
  ~Speaker();

  // Starts it, blocking the caller, and gives what it declares; the parts have no calls yet. Throws as ask().
  std::vector<registers::OutsidePart> hello();
  // Throws Error: no_connection (cannot be started, given up), time_out, bad_answer, instrument_error (its own words).
  task<registers::Answer> ask(registers::Question question, base::Timeline& caller, base::Duration within);
  // Whether it ends by itself when nothing more is asked; it is gone afterwards.
  bool ends_by_itself(base::Duration within);

  const Manifest& manifest() const { return manifest_; }

 private:
  using MakeLine = std::function<std::string(std::int64_t id)>;
  using Take = std::function<void(std::string_view line, std::int64_t id)>;
  // One thing at a time, on the worker's thread; the process is started and greeted if need be. Sees to it that nothing
  // is left of a process that broke.
  task<> in_turn(std::function<task<>(base::Duration due)> what, base::Duration within);
  task<> start(base::Duration due);
  // One line and its answer, which `take` may refuse with base::Error.
  task<> exchange(const MakeLine& make, const Take& take, base::Duration within);
  [[noreturn]] void broke(const base::Error& error, bool has_ended, double after_s);
  void put_away();

  Manifest manifest_;
  std::string from_;
  Rest rest_;
  // Touched on the worker's thread only.
  std::unique_ptr<Child> child_;
  std::vector<registers::OutsidePart> parts_;  // as it declared them when it was started
  std::int64_t asked_ = 0;
  int failures_ = 0;  // in a row
  base::Duration rests_until_{0};
  bool is_busy_ = false;
  base::Gong free_;
  Worker worker_;  // its thread ends first
};

}  // namespace eyelevel::plugin::process
