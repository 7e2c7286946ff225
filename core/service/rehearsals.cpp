// SPDX-License-Identifier: Apache-2.0
#include "core/service/rehearsals.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <boost/json.hpp>
#include <thread>
#include <utility>

#include "core/base/error.hpp"
#include "core/service/http/problem.hpp"

namespace eyelevel::service {

namespace json = boost::json;
using http::Problem;

// `result` and `why` are written before `is_over`, and read after it.
struct Rehearsals::One {
  std::int64_t number = 0;
  RehearsalOrder order;
  std::atomic<int> done = 0;
  std::atomic<bool> is_over = false;
  json::object result;
  std::string why;
  std::jthread thread;  // last: it ends before what it writes to
};

Rehearsals::Rehearsals(Rehearser rehearser) : rehearser_(std::move(rehearser)) {}
Rehearsals::~Rehearsals() = default;

std::int64_t Rehearsals::begin(RehearsalOrder order) {
  if (!kept_.empty() && !kept_.back()->is_over)
    throw Problem(409, fmt::format("rehearsal {} is still under way", kept_.back()->number),
                  "wait for its end, or stop it");
  const json::array known = troubles();
  for (const auto& name : order.troubles)
    if (std::none_of(known.begin(), known.end(),
                     [&](const json::value& one) { return one.at("name").as_string() == std::string_view(name); }))
      throw Problem(422, fmt::format("there is no trouble \"{}\"", base::escaped(name, 40)),
                    "list the troubles: /api/1/troubles");
  auto one = std::make_unique<One>();
  one->number = ++last_;
  one->order = std::move(order);
  one->thread = std::jthread([this, &one = *one](std::stop_token stop) {
    try {
      one.result = rehearser_.rehearse(one.order, [&one](int done) { one.done = done; }, std::move(stop));
    } catch (const base::Error& error) {
      one.why = base::describe(error.record());
    } catch (const std::exception& error) {
      one.why = error.what();
    }
    one.is_over = true;
  });
  kept_.push_back(std::move(one));
  if (kept_.size() > most_kept) kept_.pop_front();
  return last_;
}

Rehearsals::One& Rehearsals::find(std::int64_t number) const {
  const auto at = std::find_if(kept_.begin(), kept_.end(), [&](const auto& one) { return one->number == number; });
  if (at == kept_.end())
    throw Problem(404, fmt::format("there is no rehearsal {}", number),
                  fmt::format("the last {} are kept while the daemon runs", most_kept));
  return **at;
}

json::object Rehearsals::show(std::int64_t number) const {
  const One& one = find(number);
  const bool is_over = one.is_over;
  const bool is_failed = is_over && !one.why.empty();
  return {{"rehearsal", one.number},
          {"sequence", one.order.sequence},
          {"units", one.order.units},
          {"seed", one.order.seed},
          {"state", !is_over    ? "under way"
                    : is_failed ? "failed"
                                : "over"},
          {"done", one.done.load()},
          {"result", is_over && !is_failed ? json::value(one.result) : json::value(nullptr)},
          {"why", is_failed ? one.why : ""}};
}

void Rehearsals::stop(std::int64_t number) { find(number).thread.request_stop(); }

}  // namespace eyelevel::service
