// SPDX-License-Identifier: Apache-2.0
#include "core/record/find_readings.hpp"

#include <algorithm>
#include <map>
#include <set>
#include <tuple>

#include "core/base/error.hpp"
#include "core/record/books/corrections.hpp"
#include "core/record/store/readings.hpp"

namespace eyelevel::record {

namespace {

struct Right {
  std::string serial;                         // empty: as recorded
  std::string model;                          // the same
  std::map<std::string, Corrected> readings;  // the newest of each name
};

// Corrections are few: all of them are read, by run.
std::map<std::string, Right> corrected_runs(Store& store) {
  BookQuery about;
  about.kind = Fields<Corrected>::name;
  std::map<std::string, Right> runs;
  for (const BookEntry& entry : store.book(about)) {
    const auto said = body_of<Corrected>(entry);
    Right& right = runs[entry.subject];
    if (!said.serial.empty()) right.serial = said.serial;
    if (!said.model.empty()) right.model = said.model;
    if (!said.reading.empty()) right.readings[said.reading] = said;
  }
  return runs;
}

// False: it does not count.
bool put_right(ReadingRow& row, const Right& right) {
  if (!right.serial.empty()) row.serial = right.serial;
  if (!right.model.empty()) row.model = right.model;
  const auto said = right.readings.find(row.name);
  if (said == right.readings.end()) return true;
  if (!said->second.counts) return false;
  if (!said->second.value) return true;
  row.value = *said->second.value;
  if (row.limit && row.judgement) row.judgement = metrology::judge(row.value, row.expanded_uncertainty, *row.limit);
  return true;
}

// Readings of a run that was corrected, whatever serial and model are asked for.
std::vector<ReadingRow> rows_of(Store& store, const std::string& run, const ReadingQuery& query) {
  ReadingQuery of_run;
  of_run.run = run;
  of_run.name = query.name;
  return store.readings(of_run);
}

}  // namespace

std::vector<ReadingRow> find_readings(Store& store, const ReadingQuery& query) {
  const auto corrected = corrected_runs(store);
  std::size_t of_corrected = 0;
  std::vector<ReadingRow> more;
  for (const auto& [run, right] : corrected) {
    auto rows = rows_of(store, run, query);
    of_corrected += rows.size();
    for (ReadingRow& row : rows)
      if (put_right(row, right) && is_wanted(row, query)) more.push_back(std::move(row));
  }
  ReadingQuery wider = query;  // as many more as may fall out
  if (wider.at_most < static_cast<std::size_t>(-1) - of_corrected) wider.at_most += of_corrected;
  auto found = store.readings(wider);
  std::erase_if(found, [&](const ReadingRow& row) { return corrected.contains(row.run); });
  found.insert(found.end(), std::make_move_iterator(more.begin()), std::make_move_iterator(more.end()));
  if (!more.empty())
    std::sort(found.begin(), found.end(), [](const ReadingRow& a, const ReadingRow& b) {
      return std::tie(b.begun, b.run, b.number) < std::tie(a.begun, a.run, a.number);
    });
  if (found.size() > query.at_most) found.resize(query.at_most);
  return found;
}

namespace {

// Nothing where the run was moved to another store; its corrections are in both.
std::optional<RunSummary> run_here(Store& store, const std::string& id) {
  try {
    return store.run(id);
  } catch (const base::Error& error) {
    if (error.record().code != base::ErrorCode::not_found) throw;
  }
  return std::nullopt;
}

auto key_of(const Tally& t) { return std::tie(t.day, t.model, t.bench, t.operator_name, t.sequence, t.judgement); }

void add(std::vector<Tally>& list, Tally tally, std::int64_t runs) {
  const auto same = std::find_if(list.begin(), list.end(), [&](const Tally& t) { return key_of(t) == key_of(tally); });
  if (same != list.end()) {
    same->runs += runs;
    return;
  }
  tally.runs = runs;
  list.push_back(std::move(tally));
}

}  // namespace

std::vector<Tally> find_tallies(Store& store, const TallyQuery& query) {
  auto list = store.tallies(query);
  for (const auto& [id, right] : corrected_runs(store)) {
    if (right.model.empty()) continue;
    const auto run = run_here(store, id);
    if (!run) continue;
    for (Tally tally : tallies_of(std::span(&*run, 1), query)) {
      add(list, tally, -1);
      tally.model = right.model;
      add(list, tally, 1);
    }
  }
  std::erase_if(list, [](const Tally& tally) { return tally.runs == 0; });
  std::sort(list.begin(), list.end(), [](const Tally& a, const Tally& b) { return key_of(a) < key_of(b); });
  return list;
}

}  // namespace eyelevel::record
