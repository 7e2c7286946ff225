// SPDX-License-Identifier: Apache-2.0
#include "sim/rehearsal/coverage.hpp"

#include <algorithm>
#include <map>
#include <tuple>
#include <utility>

#include "core/sequence/runner/action.hpp"

namespace eyelevel::sim {
namespace {

using sequence::Flow;
using sequence::Step;

class Watched final : public sequence::Action {
 public:
  Watched(std::shared_ptr<const sequence::Action> inner, Coverage::Count& count)
      : inner_(std::move(inner)), count_(count) {}

  task<sequence::Result> run(sequence::RunContext& context, const Step& step) const override {
    ++count_.begun;
    sequence::Result result;
    try {
      result = co_await inner_->run(context, step);
    } catch (const sequence::LeftOut&) {
      --count_.begun;
      throw;
    }
    if (const auto* decision = std::get_if<sequence::Decision>(&result)) ++(decision->holds ? count_.yes : count_.no);
    co_return result;
  }
  void check_on_bench(const Step& step, const bench::BenchFile& bench, yaml::Mistakes& mistakes) const override {
    inner_->check_on_bench(step, bench, mistakes);
  }
  void check_on_model(const Step& step, const bench::ModelSheet* model, yaml::Mistakes& mistakes) const override {
    inner_->check_on_model(step, model, mistakes);
  }
  base::ErrorCode when_late() const override { return inner_->when_late(); }
  std::string advice_when_late() const override { return inner_->advice_when_late(); }

 private:
  std::shared_ptr<const sequence::Action> inner_;
  Coverage::Count& count_;
};

using Key = std::tuple<std::string, int, int, std::string>;
Key key_of(const event::Place& place, const std::string& branch = {}) {
  return {place.file, place.line, place.column, branch};
}

// Adds up what stands at one place of the file.
template <class Row>
void add_up(std::vector<Row>& rows, std::map<Key, std::size_t>& at, const Key& key, Row row) {
  const auto [found, is_new] = at.emplace(key, rows.size());
  if (is_new)
    rows.push_back(std::move(row));
  else
    rows[found->second].times += row.times;
}

}  // namespace

Coverage::Coverage(const sequence::Sequence& sequence) : watched_(sequence) {
  watch(watched_.opening);
  watch(watched_.steps);
  watch(watched_.closing);
}

void Coverage::watch(std::vector<Step>& steps) {
  for (Step& step : steps) {
    Count& count = counts_.emplace_back();
    if (step.action) step.action = std::make_shared<Watched>(step.action, count);
    watch(step.inside);
    watch(step.otherwise);
  }
}

void Coverage::list(const std::vector<Step>& steps, std::size_t& next, std::vector<Watch>& all) const {
  for (const Step& step : steps) {
    all.push_back({&step, &counts_[next++]});
    list(step.inside, next, all);
    list(step.otherwise, next, all);
  }
}

std::vector<Coverage::Watch> Coverage::all() const {
  std::vector<Watch> all;
  std::size_t next = 0;
  for (const auto* part : {&watched_.opening, &watched_.steps, &watched_.closing}) list(*part, next, all);
  return all;
}

std::vector<StepReached> Coverage::steps() const {
  std::vector<StepReached> rows;
  std::map<Key, std::size_t> at;
  // A step without an action of its own stands for those inside, which are listed.
  for (const auto& [step, count] : all())
    if (step->action && step->flow != Flow::repeat) add_up(rows, at, key_of(step->place), {step->place, count->begun});
  return rows;
}

std::vector<BranchTaken> Coverage::branches() const {
  const std::vector<Watch> watches = all();
  std::map<const Step*, std::int64_t> begun;
  for (const auto& [step, count] : watches) begun[step] = count->begun;
  std::vector<BranchTaken> rows;
  std::map<Key, std::size_t> at;
  const auto row = [&](const Step& step, const char* branch, std::int64_t times) {
    add_up(rows, at, key_of(step.place, branch), {step.place, branch, times});
  };
  for (const auto& [step, count] : watches) {
    if (step->flow == Flow::decide) {
      row(*step, "then", count->yes);
      row(*step, "otherwise", count->no);
      continue;
    }
    if (step->flow == Flow::repeat && step->action) row(*step, "until", count->yes);
    if (!step->otherwise.empty()) row(*step, "otherwise", begun[&step->otherwise.front()]);
  }
  return rows;
}

}  // namespace eyelevel::sim
