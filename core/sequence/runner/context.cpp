// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/runner/context.hpp"

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

RunContext::RunContext(Parts parts)
    : parts_(std::move(parts)), random_(parts_.seed, "sequence"), begin_(parts_.timeline.now()) {}

base::Duration RunContext::call_limit(base::Duration most) const {
  if (!step_due_) return most;
  const base::Duration left = *step_due_ - parts_.timeline.now();
  return std::clamp(left, base::Duration(std::chrono::milliseconds(1)), most);
}

void RunContext::begin_step(const Step& step) {
  step_due_.reset();
  if (step.within) step_due_ = parts_.timeline.now() + *step.within;
  progress_.clear();
}

OpenInstrument& RunContext::instrument(std::string_view role) {
  for (OpenInstrument& open : instruments_) {
    if (open.need.role != role) continue;
    if (!open.instrument) throw LeftOut{open.why_absent};
    open.is_safe = false;
    return open;
  }
  throw base::Error(base::ErrorCode::defect, fmt::format("the role '{}' was not opened", role));
}

void RunContext::require(std::string_view role) const {
  for (const OpenInstrument& open : instruments_)
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
  const auto it = set_up_.find(signal);
  return it == set_up_.end() ? SignalSetUp{} : it->second;
}

bool RunContext::is_ac_coupled(const std::string& signal) const {
  const SignalSetUp how = set_up_of(signal);
  return how.channel && how.channel->coupling == bench::Coupling::ac;
}

void RunContext::keep(const std::string& name, Result result) {
  if (std::holds_alternative<Reading>(result) &&
      std::find(reading_order_.begin(), reading_order_.end(), name) == reading_order_.end())
    reading_order_.push_back(name);
  lost_.erase(name);
  results_.insert_or_assign(name, std::move(result));
}

void RunContext::lose(const std::string& name, std::string why) {
  if (!results_.contains(name)) lost_.insert_or_assign(name, std::move(why));
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
  return find_result<CaptureSet>(results_, lost_, name);
}

const AveragedWaveform& RunContext::waveform(const std::string& name) const {
  return find_result<AveragedWaveform>(results_, lost_, name);
}

Reading& RunContext::reading(const std::string& name) { return find_result<Reading>(results_, lost_, name); }

std::vector<Reading> RunContext::readings() const {
  std::vector<Reading> all;
  all.reserve(reading_order_.size());
  for (const std::string& name : reading_order_) all.push_back(std::get<Reading>(results_.find(name)->second));
  return all;
}

Judgement RunContext::judge(const event::Place& place, Reading& reading, const NamedLimit& limit) {
  Judgement judgement = metrology::judge(reading.value, reading.interval.expanded_uncertainty, limit.limit);
  if (judgement == Judgement::pass && !can_pass(reading.name)) judgement = Judgement::undecided;
  reading.limit = limit.limit;
  reading.judgement = judgement;
  judgements_.push_back(judgement);
  tell(event::Judged{place, reading.name, judgement, limit.limit});
  return judgement;
}

void RunContext::prove(event::Proved item) {
  if (item.judgement) judgements_.push_back(*item.judgement);
  proofs_.push_back(item);
  tell(std::move(item));
}

std::optional<Judgement> RunContext::judgement() const {
  if (judgements_.empty()) return std::nullopt;
  const auto any = [&](Judgement j) {
    return std::find(judgements_.begin(), judgements_.end(), j) != judgements_.end();
  };
  if (any(Judgement::fail)) return Judgement::fail;
  if (any(Judgement::undecided) || !run_can_pass_) return Judgement::undecided;
  return Judgement::pass;
}

void RunContext::tell(event::Body body) {
  if (!is_recording_) return;
  queue_.push_back(
      {parts_.run, ++told_, base::to_seconds(parts_.timeline.now() - begin_), parts_.timeline.utc(), std::move(body)});
}

task<> RunContext::write_down(std::vector<event::Event> events) {
  for (const event::Event& e : events) co_await parts_.journal.append(e);
  co_await parts_.journal.commit();
  for (const event::Event& e : events)
    for (event::Listener* listener : parts_.listeners) listener->told(e);
}

task<> RunContext::announce() {
  if (queue_.empty() || !is_recording_) co_return;
  std::vector<event::Event> events;
  events.swap(queue_);
  // On its own, without the caller's cancellation: a transaction half written because a step's time ran out would be
  // neither in the record nor out of it.
  const auto executor = co_await asio::this_coro::executor;
  try {
    co_await asio::co_spawn(executor, write_down(std::move(events)),
                            asio::bind_cancellation_slot(asio::cancellation_slot(), asio::use_awaitable));
  } catch (...) {
    is_recording_ = false;  // whatever the journal threw: nothing more can be promised
    throw;
  }
}

}  // namespace eyelevel::sequence
