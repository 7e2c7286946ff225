// SPDX-License-Identifier: Apache-2.0
// What an action may touch while it runs: time, chance, operator, the opened instruments, the results so far, and the
// place where events go. All is shared by the whole run but what belongs to the step under way: steps that are done at
// the same time have a copy each. Owned by the runner, used on the loop's thread only.
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

#include "core/base/gong.hpp"
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

class RunControl;

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
    RunControl* control = nullptr;
  };
  explicit RunContext(Parts parts);

  base::Timeline& timeline() { return run_->parts.timeline; }
  base::Random& random() { return run_->random; }
  const Sequence& sequence() const { return run_->parts.sequence; }
  const bench::BenchFile& bench() const { return run_->parts.bench; }
  const bench::ModelSheet* model() const { return run_->parts.model; }
  RunControl* control() const { return run_->parts.control; }
  base::UtcTime utc() const { return run_->parts.timeline.utc(); }
  double now_s() const { return base::to_seconds(run_->parts.timeline.now()); }
  // One question at a time: steps that are done at the same time wait for their turn.
  task<bench::Answer> ask(const bench::Question& question);

  // What is left of the step's time, at most `most`: the limit for one call of an instrument.
  base::Duration call_limit(base::Duration most = std::chrono::seconds(10)) const;
  // `due`: when it must have come about, on the timeline.
  void begin_step(const Step& step, std::optional<base::Duration> due);
  // Its judgements count from here on; those of a try that is made again never do.
  void end_step();

  // Instruments. Throw LeftOut when the role is absent and only helps.
  std::vector<OpenInstrument>& instruments() { return run_->instruments; }
  OpenInstrument& instrument(std::string_view role);
  void require(std::string_view role) const;
  bench::Oscilloscope& oscilloscope(std::string_view role);
  bench::Multimeter& multimeter(std::string_view role);
  bench::Counter& counter(std::string_view role);
  bench::PowerSupply& power_supply(std::string_view role);
  bench::FunctionGenerator& function_generator(std::string_view role);
  bench::RelayBox& relay_box(std::string_view role);
  // Outputs that are on and boxes with a closed way, by the name that the sequence has for them.
  void is_on(const std::string& what) { run_->on.insert(what); }
  void is_off(const std::string& what) { run_->on.erase(what); }
  bool is_all_off() const { return run_->on.empty(); }
  void is_set_up(const std::string& signal, const SignalSetUp& how) { run_->set_up.insert_or_assign(signal, how); }
  // Empty when no step has set it up.
  SignalSetUp set_up_of(const std::string& signal) const;
  bool is_ac_coupled(const std::string& signal) const;

  // Results by name: keep() and lose() take the name that is unique in the run (Step::name_it), all others take names
  // as the step under way writes them. captures(), reading(), waveform() and answer() throw LeftOut when an earlier
  // step did not give it.
  void keep(const std::string& name, Result result);
  void lose(const std::string& name, std::string why);
  const CaptureSet& captures(const std::string& name) const;
  const AveragedWaveform& waveform(const std::string& name) const;
  metrology::Reading& reading(const std::string& name);
  const Told& answer(const std::string& name) const;
  // Named readings in the order in which they were made.
  std::vector<metrology::Reading> readings() const;

  // All that later steps can know, for a run that is resumed with the step at `place`; and back again.
  event::Reached reached(event::Place place) const;
  void resume(const event::Reached& reached);

  // Judges a reading, fills in its limit and judgement, and tells Judged. A reading that cannot pass (too many captures
  // were rejected) is undecided at best.
  metrology::Judgement judge(const event::Place& place, metrology::Reading& reading, const NamedLimit& limit);
  // An item of a bench proof: told, and judged with the run.
  void prove(event::Proved item);
  const std::vector<event::Proved>& proofs() const { return run_->proofs; }
  // `reading` by the name that is unique in the run, or by what a measure calls it.
  void cannot_pass(const std::string& reading) { run_->cannot_pass.insert(reading); }
  // What a measure has just called `given` has this name from now on, and what had it before is gone.
  void is_now_called(const std::string& given, const std::string& name);
  void is_forgotten(const std::string& given) { run_->cannot_pass.erase(given); }
  bool can_pass(const std::string& reading) const { return !run_->cannot_pass.contains(unique_name(reading)); }
  // A judgement of the whole run, which no reading gave.
  void judge_run(metrology::Judgement judgement) { of_step_.judgements.push_back(judgement); }
  // Nothing measured in this run may pass any more.
  void run_cannot_pass() { run_->can_pass = false; }
  std::optional<metrology::Judgement> judgement() const;
  // Of the step under way.
  const std::vector<metrology::Judgement>& step_judgements() const { return of_step_.judgements; }

  // Events.
  void tell(event::Body body);
  // What somebody who watches sees at once; a capture that is told only later, or never.
  void glance(const event::Captured& captured) const;
  void tell_seen(event::Captured captured);  // both
  task<> announce();
  bool is_recording() const { return run_->is_recording; }

  // What the present step has come to, for the message when its time runs out ("12 of 64 kept").
  std::string& progress() { return of_step_.progress; }

 private:
  struct Run {
    explicit Run(Parts p);
    task<> write_down();
    task<> write_down_queue();

    Parts parts;
    base::Random random;
    std::vector<OpenInstrument> instruments;
    std::map<std::string, SignalSetUp> set_up;
    std::map<std::string, Result, std::less<>> results;
    std::vector<std::string> reading_order;
    std::map<std::string, std::string, std::less<>> lost;
    std::set<std::string, std::less<>> cannot_pass;
    std::vector<metrology::Judgement> judgements;
    std::vector<event::Proved> proofs;
    std::set<std::string> on;
    bool can_pass = true;
    std::vector<event::Event> queue;
    std::int64_t told = 0;
    base::Duration begin;
    bool is_recording = true;
    bool is_writing = false;
    bool is_asking = false;
    base::Gong turn;  // of whoever waits to write or to ask
  };
  struct OfStep {
    std::optional<base::Duration> due;
    std::string progress;
    std::vector<metrology::Judgement> judgements;
    std::shared_ptr<const Names> names;
  };
  const std::string& unique_name(const std::string& name) const;

  std::shared_ptr<Run> run_;
  OfStep of_step_;
};

}  // namespace eyelevel::sequence
