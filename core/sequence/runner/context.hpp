// SPDX-License-Identifier: Apache-2.0
// What an action may touch while it runs: time, chance, operator, the opened instruments, the results so far, and the
// place where events go. One per run, owned by the runner, used by one coroutine at a time on the loop's thread.
// Events are stamped when told and wait in a queue; announce() puts them into the journal, commits, and only then tells
// the listeners. The runner announces at the end of each step; a step that waits for somebody announces before it
// waits.
#pragma once

#include <deque>
#include <map>
#include <memory>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <vector>

#include "core/base/random.hpp"
#include "core/base/timeline.hpp"
#include "core/bench/kind/counter.hpp"
#include "core/bench/kind/function_generator.hpp"
#include "core/bench/kind/multimeter.hpp"
#include "core/bench/kind/oscilloscope.hpp"
#include "core/bench/kind/power_supply.hpp"
#include "core/bench/kind/relay_box.hpp"
#include "core/bench/operator.hpp"
#include "core/event/event.hpp"
#include "core/sequence/runner/action.hpp"

namespace eyelevel::bench {
struct BenchFile;
struct InstrumentEntry;
struct ModelSheet;
}  // namespace eyelevel::bench

namespace eyelevel::sequence {

// An instrument of the bench under its role.
struct OpenInstrument {
  RoleNeed need;
  const bench::InstrumentEntry* entry = nullptr;
  std::unique_ptr<bench::Instrument> instrument;  // empty: it only helps if there, and is not
  std::string why_absent;
  std::string identity;
  std::optional<bench::OscilloscopeAbility> ability;  // of an oscilloscope
  bool is_safe = false;                               // make_safe was the last thing done with it
};

// How a signal was set up; the measures ask it for range and probe.
struct SignalSetUp {
  std::optional<bench::ChannelSetting> channel{};      // oscilloscope
  std::optional<bench::DcSetting> dc{};                // multimeter
  std::optional<bench::FrequencySetting> frequency{};  // counter
  std::optional<bench::OutputSetting> output{};        // power supply
  std::optional<bench::SignalSetting> given{};         // function generator
};

class RunContext {
 public:
  struct Parts {
    base::Timeline& timeline;
    bench::Operator& operator_;
    event::Journal& journal;
    std::vector<event::Listener*> listeners;
    std::string run;
    std::uint64_t seed = 0;
    const Sequence& sequence;
    const bench::BenchFile& bench;
    const bench::ModelSheet* model = nullptr;
  };
  explicit RunContext(Parts parts);

  base::Timeline& timeline() { return parts_.timeline; }
  bench::Operator& the_operator() { return parts_.operator_; }
  base::Random& random() { return random_; }
  const Sequence& sequence() const { return parts_.sequence; }
  const bench::BenchFile& bench() const { return parts_.bench; }
  const bench::ModelSheet* model() const { return parts_.model; }
  base::UtcTime utc() const { return parts_.timeline.utc(); }
  double now_s() const { return base::to_seconds(parts_.timeline.now()); }
  // What is left of the step's time, at most `most`: the limit for one call of an instrument.
  base::Duration call_limit(base::Duration most = std::chrono::seconds(10)) const;
  void begin_step(const Step& step);

  // Instruments. Throw LeftOut when the role is absent and only helps.
  std::vector<OpenInstrument>& instruments() { return instruments_; }
  OpenInstrument& instrument(std::string_view role);
  void require(std::string_view role) const;
  bench::Oscilloscope& oscilloscope(std::string_view role);
  bench::Multimeter& multimeter(std::string_view role);
  bench::Counter& counter(std::string_view role);
  bench::PowerSupply& power_supply(std::string_view role);
  bench::FunctionGenerator& function_generator(std::string_view role);
  bench::RelayBox& relay_box(std::string_view role);
  // Outputs that are on and boxes with a closed way, by the name that the sequence has for them.
  void is_on(const std::string& what) { on_.insert(what); }
  void is_off(const std::string& what) { on_.erase(what); }
  bool is_all_off() const { return on_.empty(); }
  void is_set_up(const std::string& signal, const SignalSetUp& how) { set_up_.insert_or_assign(signal, how); }
  // Empty when no step has set it up.
  SignalSetUp set_up_of(const std::string& signal) const;
  bool is_ac_coupled(const std::string& signal) const;

  // Results by name. captures(), reading() and waveform() throw LeftOut when an earlier step did not give it.
  void keep(const std::string& name, Result result);
  void lose(const std::string& name, std::string why);
  const CaptureSet& captures(const std::string& name) const;
  const AveragedWaveform& waveform(const std::string& name) const;
  metrology::Reading& reading(const std::string& name);
  // Named readings in the order in which they were made.
  std::vector<metrology::Reading> readings() const;

  // Judges a reading, fills in its limit and judgement, and tells Judged. A reading that cannot pass (too many captures
  // were rejected) is undecided at best.
  metrology::Judgement judge(const event::Place& place, metrology::Reading& reading, const NamedLimit& limit);
  // An item of a bench proof: told, and judged with the run.
  void prove(event::Proved item);
  const std::vector<event::Proved>& proofs() const { return proofs_; }
  void cannot_pass(const std::string& reading) { cannot_pass_.insert(reading); }
  bool can_pass(const std::string& reading) const { return !cannot_pass_.contains(reading); }
  // Nothing measured in this run may pass any more.
  void run_cannot_pass() { run_can_pass_ = false; }
  std::optional<metrology::Judgement> judgement() const;
  const std::vector<metrology::Judgement>& judgements() const { return judgements_; }

  // Events.
  void tell(event::Body body);
  task<> announce();
  bool is_recording() const { return is_recording_; }

  // What the present step has come to, for the message when its time runs out ("12 of 64 kept").
  std::string& progress() { return progress_; }

 private:
  task<> write_down(std::vector<event::Event> events);

  Parts parts_;
  base::Random random_;
  std::vector<OpenInstrument> instruments_;
  std::map<std::string, SignalSetUp> set_up_;
  std::map<std::string, Result, std::less<>> results_;
  std::vector<std::string> reading_order_;
  std::map<std::string, std::string, std::less<>> lost_;
  std::set<std::string, std::less<>> cannot_pass_;
  std::vector<metrology::Judgement> judgements_;
  std::vector<event::Proved> proofs_;
  std::set<std::string> on_;
  bool run_can_pass_ = true;
  std::vector<event::Event> queue_;
  std::int64_t told_ = 0;
  base::Duration begin_;
  std::optional<base::Duration> step_due_;
  std::string progress_;
  bool is_recording_ = true;
};

}  // namespace eyelevel::sequence
