// SPDX-License-Identifier: Apache-2.0
#include "core/record/find_runs.hpp"

#include <algorithm>
#include <map>

#include "core/record/books/corrections.hpp"

namespace eyelevel::record {

namespace {

struct Right {
  std::string serial;
  std::string model;
};

// Corrections of serial or model are few: all of them are read.
std::map<std::string, Right> right_names(Store& store) {
  BookQuery about;
  about.kind = Fields<Corrected>::name;
  std::map<std::string, Right> right;
  for (const BookEntry& entry : store.book(about)) {
    const auto said = body_of<Corrected>(entry);
    if (!said.serial.empty()) right[entry.subject].serial = said.serial;
    if (!said.model.empty()) right[entry.subject].model = said.model;
  }
  return right;
}

// Nothing where the run was moved to another store; its corrections are in both.
std::optional<RunSummary> run_here(Store& store, const std::string& id) {
  RunQuery one;
  one.id = id;
  auto found = store.runs(one);
  if (found.empty()) return std::nullopt;
  return std::move(found.front());
}

void put_right(RunSummary& run, const Right& right) {
  if (!right.serial.empty()) run.serial = right.serial;
  if (!right.model.empty()) run.model = right.model;
}

bool is_wanted(const RunSummary& s, const RunQuery& query) {
  return query.serial.value_or(s.serial) == s.serial && query.model.value_or(s.model) == s.model &&
         query.sequence.value_or(s.sequence) == s.sequence && query.bench.value_or(s.bench) == s.bench &&
         query.operator_name.value_or(s.operator_name) == s.operator_name &&
         (!query.judgement || query.judgement == s.judgement) && (!query.from || s.begun >= *query.from) &&
         (!query.until || s.begun < *query.until);
}

}  // namespace

std::vector<RunSummary> find_runs(Store& store, const RunQuery& query) {
  const auto right = right_names(store);
  RunQuery wider = query;  // as many more as may fall out
  if (wider.at_most < static_cast<std::size_t>(-1) - right.size()) wider.at_most += right.size();
  auto found = store.runs(wider);
  for (RunSummary& run : found)
    if (const auto known = right.find(run.id); known != right.end()) put_right(run, known->second);
  std::erase_if(found, [&](const RunSummary& run) { return !is_wanted(run, query); });
  for (const auto& [id, names] : right) {
    if (std::any_of(found.begin(), found.end(), [&](const RunSummary& run) { return run.id == id; })) continue;
    auto run = run_here(store, id);
    if (!run) continue;
    put_right(*run, names);
    const auto older = [](const RunSummary& a, const RunSummary& b) { return a.begun > b.begun; };
    if (is_wanted(*run, query)) found.insert(std::upper_bound(found.begin(), found.end(), *run, older), *run);
  }
  if (found.size() > query.at_most) found.resize(query.at_most);
  return found;
}

}  // namespace eyelevel::record
