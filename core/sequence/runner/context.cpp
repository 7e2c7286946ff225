// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/runner/context.hpp"
#include "core/sequence/runner/control.hpp"

#include <fmt/format.h>
#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/cancellation_signal.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/use_awaitable.hpp>

namespace eyelevel::sequence {
namespace asio = boost::asio;
using metrology::Judgement;
using metrology::Reading;

std::string CaptureCounts::in_words() const {
  std::string text = fmt::format("{} of {} kept", kept, tried);
  const char* before = "; not kept: ";
  const std::pair<std::int64_t, const char*> reasons[] = {{focus, "focus"}, {no_lock, "no lock"}, {clipped, "clipped"}};
  for (const auto& [count, why] : reasons) {
    if (count == 0) continue;
    text += fmt::format("{}{} {}", before, count, why);
    before = ", ";
  }
  return text;
}

const RoleNeed* Sequence::role(const std::string& wanted) const {
  const auto it = std::find_if(roles.begin(), roles.end(), [&](const RoleNeed& r) { return r.role == wanted; });
  return it == roles.end() ? nullptr : &*it;
}

const SignalPlace* Sequence::signal(const std::string& wanted) const {
  const auto it = std::find_if(signals.begin(), signals.end(), [&](const SignalPlace& s) { return s.name == wanted; });
  return it == signals.end() ? nullptr : &*it;
}

RunContext::Run::Run(Parts p) : parts(std::move(p)), random(parts.seed, "sequence"), begin(parts.timeline.now()) {
  for (const Asked& asked : parts.sequence.asked) {
    Reading given;
    given.name = asked.name;
    given.value = asked.si;
    given.unit = asked.dimension == quantity::ratio ? "1" : quantity::unit_of(asked.dimension);
    results.emplace(asked.name, std::move(given));
  }
}

RunContext::RunContext(Parts parts) : run_(std::make_shared<Run>(std::move(parts))) {}

task<bench::Answer> RunContext::ask(const bench::Question& question) {
  while (run_->is_asking) co_await run_->turn.wait();
  // Also when the question is broken off.
  const auto end = [](Run* run) {
    run->is_asking = false;
    run->turn.strike();
  };
  run_->is_asking = true;
  const std::unique_ptr<Run, decltype(end)> asking(run_.get(), end);
  co_return co_await run_->parts.operator_.ask(question);
}

base::Duration RunContext::call_limit(base::Duration most) const {
  if (!of_step_.due) return most;
  const base::Duration left = *of_step_.due - run_->parts.timeline.now();
  return std::clamp(left, base::Duration(std::chrono::milliseconds(1)), most);
}

void RunContext::begin_step(const Step& step, std::optional<base::Duration> due) {
  of_step_ = OfStep{.due = due, .progress = {}, .judgements = {}, .names = step.names};
}

void RunContext::end_step() {
  run_->judgements.insert(run_->judgements.end(), of_step_.judgements.begin(), of_step_.judgements.end());
  of_step_.judgements.clear();
}

const std::string& RunContext::unique_name(const std::string& name) const {
  if (!of_step_.names) return name;
  const auto it = of_step_.names->find(name);
  return it == of_step_.names->end() ? name : it->second;
}

OpenInstrument& RunContext::instrument(std::string_view role) {
  for (OpenInstrument& open : run_->instruments) {
    if (open.need.role != role) continue;
    if (!open.instrument) throw LeftOut{open.why_absent};
    open.is_safe = false;
    return open;
  }
  throw base::Error(base::ErrorCode::defect, fmt::format("the role '{}' was not opened", role));
}

void RunContext::require(std::string_view role) const {
  for (const OpenInstrument& open : run_->instruments)
    if (open.need.role == role && !open.instrument) throw LeftOut{open.why_absent};
}

namespace {

template <class Kind>
Kind& as_kind(OpenInstrument& open, std::string_view kind) {
  if (auto* found = dynamic_cast<Kind*>(open.instrument.get())) return *found;
  throw base::Error(base::ErrorCode::defect, fmt::format("{} was opened, but not as {}", open.need.role, kind));
}

}  // namespace

bench::Oscilloscope& RunContext::oscilloscope(std::string_view role) {
  return as_kind<bench::Oscilloscope>(instrument(role), "an oscilloscope");
}

bench::Multimeter& RunContext::multimeter(std::string_view role) {
  return as_kind<bench::Multimeter>(instrument(role), "a multimeter");
}

bench::Counter& RunContext::counter(std::string_view role) {
  return as_kind<bench::Counter>(instrument(role), "a counter");
}

bench::PowerSupply& RunContext::power_supply(std::string_view role) {
  return as_kind<bench::PowerSupply>(instrument(role), "a power supply");
}

bench::FunctionGenerator& RunContext::function_generator(std::string_view role) {
  return as_kind<bench::FunctionGenerator>(instrument(role), "a function generator");
}

bench::RelayBox& RunContext::relay_box(std::string_view role) {
  return as_kind<bench::RelayBox>(instrument(role), "a relay box");
}

SignalSetUp RunContext::set_up_of(const std::string& signal) const {
  const auto it = run_->set_up.find(signal);
  return it == run_->set_up.end() ? SignalSetUp{} : it->second;
}

bool RunContext::is_ac_coupled(const std::string& signal) const {
  const SignalSetUp how = set_up_of(signal);
  return how.channel && how.channel->coupling == bench::Coupling::ac;
}

void RunContext::keep(const std::string& name, Result result) {
  auto& order = run_->reading_order;
  if (std::holds_alternative<Reading>(result) && std::find(order.begin(), order.end(), name) == order.end())
    order.push_back(name);
  run_->lost.erase(name);
  run_->results.insert_or_assign(name, std::move(result));
}

void RunContext::lose(const std::string& name, std::string why) {
  if (!run_->results.contains(name)) run_->lost.insert_or_assign(name, std::move(why));
}

namespace {

template <class T, class Results, class Lost>
auto& find_result(Results& results, const Lost& lost, const std::string& name) {
  if (const auto it = results.find(name); it != results.end())
    if (auto* found = std::get_if<T>(&it->second)) return *found;
  if (const auto it = lost.find(name); it != lost.end())
    throw LeftOut{fmt::format("there is no {}: {}", name, it->second)};
  throw base::Error(base::ErrorCode::defect, fmt::format("nothing of the right kind is named '{}'", name));
}

}  // namespace

const CaptureSet& RunContext::captures(const std::string& name) const {
  return find_result<CaptureSet>(run_->results, run_->lost, unique_name(name));
}

const AveragedWaveform& RunContext::waveform(const std::string& name) const {
  return find_result<AveragedWaveform>(run_->results, run_->lost, unique_name(name));
}

const Told& RunContext::answer(const std::string& name) const {
  return find_result<Told>(run_->results, run_->lost, unique_name(name));
}

Reading& RunContext::reading(const std::string& name) {
  return find_result<Reading>(run_->results, run_->lost, unique_name(name));
}

std::vector<Reading> RunContext::readings() const {
  std::vector<Reading> all;
  all.reserve(run_->reading_order.size());
  for (const std::string& name : run_->reading_order)
    all.push_back(std::get<Reading>(run_->results.find(name)->second));
  return all;
}

event::Reached RunContext::reached(event::Place place) const {
  event::Reached all{.place = std::move(place),
                     .readings = readings(),
                     .answers = {},
                     .cannot_pass = {run_->cannot_pass.begin(), run_->cannot_pass.end()},
                     .judgements = run_->judgements,
                     .proofs = run_->proofs,
                     .can_pass = run_->can_pass};
  for (const auto& [name, result] : run_->results)
    if (const auto* told = std::get_if<Told>(&result)) all.answers.push_back({name, told->answer});
  return all;
}

void RunContext::resume(const event::Reached& reached) {
  for (const Reading& reading : reached.readings) keep(reading.name, reading);
  for (const event::ToldAnswer& told : reached.answers) keep(told.name, Told{told.answer});
  run_->cannot_pass.insert(reached.cannot_pass.begin(), reached.cannot_pass.end());
  run_->judgements = reached.judgements;
  run_->proofs = reached.proofs;
  run_->can_pass = run_->can_pass && reached.can_pass;
}

Judgement RunContext::judge(const event::Place& place, Reading& reading, const NamedLimit& limit) {
  Judgement judgement = metrology::judge(reading.value, reading.interval.expanded_uncertainty, limit.limit);
  if (judgement == Judgement::pass && run_->cannot_pass.contains(reading.name)) judgement = Judgement::undecided;
  reading.limit = limit.limit;
  reading.judgement = judgement;
  of_step_.judgements.push_back(judgement);
  tell(event::Judged{place, reading.name, judgement, limit.limit});
  return judgement;
}

void RunContext::is_now_called(const std::string& given, const std::string& name) {
  if (given == name) return;
  if (run_->cannot_pass.erase(given) > 0) {
    run_->cannot_pass.insert(name);
  } else {
    run_->cannot_pass.erase(name);
  }
}

void RunContext::prove(event::Proved item) {
  if (item.judgement) of_step_.judgements.push_back(*item.judgement);
  run_->proofs.push_back(item);
  tell(std::move(item));
}

std::optional<Judgement> RunContext::judgement() const {
  std::vector<Judgement> all = run_->judgements;
  all.insert(all.end(), of_step_.judgements.begin(), of_step_.judgements.end());
  if (all.empty()) return std::nullopt;
  const auto any = [&](Judgement j) { return std::find(all.begin(), all.end(), j) != all.end(); };
  if (any(Judgement::fail)) return Judgement::fail;
  if (any(Judgement::undecided) || !run_->can_pass) return Judgement::undecided;
  return Judgement::pass;
}

void RunContext::glance(const event::Captured& captured) const {
  if (control() != nullptr) control()->glance(captured);
}

void RunContext::tell_seen(event::Captured captured) {
  glance(captured);
  tell(std::move(captured));
}

void RunContext::tell(event::Body body) {
  if (!run_->is_recording) return;
  const base::Timeline& timeline = run_->parts.timeline;
  run_->queue.push_back(
      {run_->parts.run, ++run_->told, base::to_seconds(timeline.now() - run_->begin), timeline.utc(), std::move(body)});
}

task<> RunContext::Run::write_down_queue() {
  std::vector<event::Event> events;
  events.swap(queue);
  for (const event::Event& e : events) co_await parts.journal.append(e);
  co_await parts.journal.commit();
  for (const event::Event& e : events)
    for (event::Listener* listener : parts.listeners) listener->told(e);
}

// One after the other, so that events stand in the journal in the order of their numbers.
task<> RunContext::Run::write_down() {
  while (is_writing) co_await turn.wait();
  if (queue.empty() || !is_recording) co_return;
  is_writing = true;
  std::exception_ptr failure;
  try {
    co_await write_down_queue();
  } catch (...) {
    is_recording = false;  // whatever the journal threw: nothing more can be promised
    failure = std::current_exception();
  }
  is_writing = false;
  turn.strike();
  if (failure) std::rethrow_exception(failure);
}

task<> RunContext::announce() {
  if ((run_->queue.empty() && !run_->is_writing) || !run_->is_recording) co_return;
  // On its own, without the caller's cancellation: a transaction half written because a step's time ran out would be
  // neither in the record nor out of it.
  const auto executor = co_await asio::this_coro::executor;
  co_await asio::co_spawn(executor, run_->write_down(),
                          asio::bind_cancellation_slot(asio::cancellation_slot(), asio::use_awaitable));
}

}  // namespace eyelevel::sequence
