// SPDX-License-Identifier: Apache-2.0
// What a bench knows of its instruments while it is idle. They are asked only when somebody wants to know: a message
// puts most instruments under remote control, and whoever turns the knobs of an idle one would be locked out.
#include <boost/system/system_error.hpp>
#include <utility>

#include "core/base/error.hpp"
#include "core/record/journal/event_json.hpp"
#include "core/service/bench_owner.hpp"

namespace eyelevel::service {

namespace {
constexpr base::Duration within = std::chrono::seconds(3);
}

bool BenchOwner::ask_instruments() {
  if (state() != BenchState::idle) return false;
  asks_instruments_ = true;
  woken_.strike();
  return true;
}

const InstrumentHealth* BenchOwner::health(const std::string& role) const {
  const auto at = health_.find(role);
  return at == health_.end() ? nullptr : &at->second;
}

std::optional<event::BenchProof> BenchOwner::proof() const {
  auto proof = proof_;
  if (proof && !proof->run.empty()) {
    const std::chrono::duration<double> age = house_.timeline.utc() - record::utc_from_text(proof->at_utc);
    proof->is_old = age.count() > setting_.bench.proof_lasts_s;
  }
  return proof;
}

task<> BenchOwner::look_at_instruments() {
  for (const auto& entry : setting_.bench.instruments) {
    if (is_stopping_) co_return;
    try {
      co_await cancellable(look_at(entry));
    } catch (const boost::system::system_error&) {
      co_return;  // the daemon ends
    }
    show();
  }
}

task<> BenchOwner::look_at(const bench::InstrumentEntry& entry) {
  InstrumentHealth& health = health_[entry.role];
  health.asked = house_.timeline.utc();
  std::unique_ptr<bench::Instrument> instrument;
  std::exception_ptr failure;
  try {
    instrument = co_await setting_.open(entry);
    health.identity = co_await instrument->greet(within);
    health.seen = health.asked;
    health.trouble.reset();
  } catch (const base::Error& error) {
    health.trouble = error.record();
    // Whoever reports an error of its own does answer.
    if (error.record().code == base::ErrorCode::instrument_error) health.seen = health.asked;
  } catch (...) {
    failure = std::current_exception();
  }
  if (instrument) instrument->close();
  if (failure) std::rethrow_exception(failure);
}

}  // namespace eyelevel::service
