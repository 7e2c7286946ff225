// SPDX-License-Identifier: Apache-2.0
// One adjustment under way: measure; while the reading is not within its limits for sure: player off, which the pad
// must show, a turn as core/guide advises, player on, audio track, measure. Above the ceiling the operator is told to
// switch off at once. It ends with the last reading, whether that is within limits or not; why it gave up is told as
// Found. Waits only on the Timeline, for instruments and for the operator; the step's `within` bounds it all.
#pragma once

#include <memory>
#include <string>

#include "core/guide/advice.hpp"
#include "core/metrology/reading.hpp"
#include "core/sequence/language/verb.hpp"
#include "core/sequence/runner/context.hpp"

namespace eyelevel::sequence {

struct AdjustSetting {
  SignalPlace signal;
  MeasureCall measure;  // of captures
  std::string watched;  // "eye level of rf"
  NamedLimit limit;     // with both ends above zero
  double ceiling = 0;
  int turns_most = 0;
  std::string to_play;  // what the operator is asked to get an audio track playing
  std::shared_ptr<const Action> wait;
  std::shared_ptr<const Action> capture;
};

class Adjusting {
 public:
  // All must outlive it.
  Adjusting(RunContext& context, const Step& step, const AdjustSetting& setting);

  task<metrology::Reading> all();

 private:
  task<metrology::Reading> measured();
  task<> playing();
  task<> until_dark(std::string text);
  task<bool> is_dark();
  task<> ask(std::string text);
  task<> turn(const guide::Advice& advice, const metrology::Reading& now);
  bool is_above(const metrology::Reading& reading) const { return reading.value > setting_.ceiling; }
  void tell(const guide::Stop& stop);
  Step inner(base::Duration within) const;

  RunContext& context_;
  const Step& step_;
  const AdjustSetting& setting_;
  guide::Guide guide_;
  bool is_off_ = false;
};

}  // namespace eyelevel::sequence
