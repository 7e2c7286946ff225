// SPDX-License-Identifier: Apache-2.0
// Owns the instruments of one bench: takes its jobs one after the other and runs them, with the same engine as
// `eyelevel run`. On start it first brings to safe what an earlier daemon left in the middle of a run. One loop; work()
// is the only coroutine that touches the instruments.
#pragma once

#include <boost/asio/cancellation_signal.hpp>

#include <cstdint>
#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "core/bench/bench_file.hpp"
#include "core/event/event.hpp"
#include "core/record/journal/run_journal.hpp"
#include "core/sequence/language/explain.hpp"
#include "core/sequence/runner/connect.hpp"
#include "core/sequence/runner/control.hpp"
#include "core/sequence/runner/run.hpp"
#include "core/service/bench_operator.hpp"
#include "core/service/feed.hpp"
#include "core/service/house.hpp"
#include "core/service/look.hpp"

namespace eyelevel::service {

enum class BenchState { idle, waits_for_start, running, paused, stopping, stopped_working };
std::string_view name_of(BenchState state);

// How the last run of a bench ended.
struct LastRun {
  std::string run;
  std::string serial;
  std::string sequence;
  std::string ended;
  std::optional<metrology::Judgement> judgement;
  std::string sentence;
};

// What is known of an instrument, from the last run that used it or from having been asked.
struct InstrumentHealth {
  base::UtcTime asked{};
  std::optional<base::UtcTime> seen;         // when it answered last
  std::string identity;                      // that it gave then
  std::optional<base::ErrorRecord> trouble;  // why it did not answer, or what its error queue held; empty: nothing
};

struct BenchSetting {
  bench::BenchFile bench;
  sequence::Open open;
  // A simulated bench: does what the person at the page says was done. May be empty.
  std::shared_ptr<bench::Operator> hands = {};
  std::shared_ptr<void> reach = {};  // what `open` refers to
};

class BenchOwner final : public event::Listener {
 public:
  BenchOwner(House& house, BenchSetting setting);

  // Until stop() was called and the run under way has closed.
  task<> work();
  // No further job is begun; the run under way is stopped, and closes.
  void stop();
  bool is_over() const { return is_over_; }
  // Another file of the same bench; taken when no job is under way.
  void replace(BenchSetting setting);
  // The bench was taken away: no further job is begun, the one under way goes on to its end. Whoever replaces its
  // setting before that keeps it.
  void retire();
  bool is_retiring() const { return is_retiring_; }
  // A job was added, or moved.
  void wake();
  // Another daemon may have added one.
  void look_for_jobs();

  // What somebody asks of the run under way; false: there is none, or it makes no sense now.
  bool pause();
  bool go_on();
  bool stop_after_step();
  bool stop_now();
  // Each instrument of an idle bench is asked who it is, and its error queue is read; false: the bench is not idle. A
  // job that comes meanwhile waits for some seconds.
  bool ask_instruments();
  BenchOperator& person() { return person_; }

  // For views.
  const bench::BenchFile& bench() const { return setting_.bench; }
  BenchState state() const;
  const std::optional<record::Job>& job() const { return job_; }
  const std::string& run() const { return run_; }
  const sequence::Sequence* sequence() const { return sequence_.get(); }
  const sequence::Explanation* explanation() const { return explanation_.get(); }
  const std::optional<event::Place>& here() const { return here_; }
  // Of the prompt that the run came to last, in seconds.
  double prompt_within_s() const { return prompt_within_s_; }
  const std::optional<LastRun>& last() const { return last_; }
  const std::optional<base::ErrorRecord>& trouble() const { return trouble_; }
  // Null: nothing is known yet.
  const InstrumentHealth* health(const std::string& role) const;
  // Empty until the store was read.
  std::optional<event::BenchProof> proof() const;
  Feed& feed() { return feed_; }

  void told(const event::Event& event) override;

 private:
  struct Prepared;
  struct Hands final : bench::Operator {
    explicit Hands(BenchOwner& of) : owner(of) {}
    task<bench::Answer> ask(const bench::Question& question) override;
    BenchOwner& owner;
  };

  task<> recover();
  task<> recover(const record::Job& job);
  task<> recover_bench();
  task<bool> waits_for_another(const std::vector<record::Job>& left);
  task<std::string> made_safe();
  task<std::string> made_safe(const bench::InstrumentEntry& entry);
  task<std::optional<record::Job>> next_job();
  task<> do_job(record::Job job);
  task<bool> prepare(const record::Job& job, Prepared& ready);
  task<bool> is_to_begin(const record::Job& job);
  task<> wait_for_start(const record::Job& job);
  task<bool> play(const record::Job& job, const Prepared& ready);
  task<> play_into(sequence::RunResult& result, const record::Job& job, const Prepared& ready,
                   record::RunJournal& journal);
  Prepared prepared(const record::Job& job) const;
  void put_down();
  void glance(const event::Captured& captured);
  task<> look_at_instruments();
  task<> look_at(const bench::InstrumentEntry& entry);
  task<> read_proof();
  task<> put(std::int64_t job, record::JobState state, std::string why);
  bool fits(const record::Job& job);
  task<std::unique_ptr<record::RunJournal>> begun_journal(const record::Job& job);
  task<bool> reached(std::function<void()> work);
  task<> pause_before_next_try();
  void tell_trouble(const base::ErrorRecord& trouble);
  task<> cancellable(task<> work);
  void show();

  House& house_;
  BenchSetting setting_;
  std::optional<BenchSetting> next_setting_;
  Feed feed_;
  BenchOperator person_;
  Hands hands_{*this};
  base::Gong woken_;
  std::uint64_t wakes_ = 0;
  std::map<std::int64_t, bool> fits_;  // jobs for any bench; used by the store thread while it takes one
  bool fits_is_old_ = false;
  bool is_stopping_ = false;
  bool is_retiring_ = false;
  bool is_over_ = false;     // work() has ended
  bool is_stopped_ = false;  // the job under way, by somebody
  bool stops_after_step_ = false;
  std::shared_ptr<boost::asio::cancellation_signal> cancel_;  // of the run under way
  std::unique_ptr<sequence::RunControl> control_;
  std::optional<record::Job> job_;
  std::string run_;
  std::unique_ptr<const sequence::Sequence> sequence_;
  std::unique_ptr<const sequence::Explanation> explanation_;
  std::unique_ptr<Looker> looker_;  // of the run under way
  base::Duration looked_{};         // when it drew last
  std::optional<event::Place> here_;
  double prompt_within_s_ = 0;
  std::optional<LastRun> last_;
  std::optional<base::ErrorRecord> trouble_;
  bool asks_instruments_ = false;
  std::map<std::string, InstrumentHealth> health_;  // by role
  std::optional<event::BenchProof> proof_;
};

}  // namespace eyelevel::service
