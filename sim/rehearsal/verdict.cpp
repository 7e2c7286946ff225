// SPDX-License-Identifier: Apache-2.0
#include "sim/rehearsal/verdict.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "sim/rehearsal/told.hpp"

namespace eyelevel::sim {
namespace {

using metrology::Judgement;

// Distance of the truth from the nearest limit; above zero inside.
double margin(double truth, const metrology::Limit& limit) {
  double least = std::numeric_limits<double>::infinity();
  if (limit.at_least) least = std::min(least, truth - *limit.at_least);
  if (limit.at_most) least = std::min(least, *limit.at_most - truth);
  return least;
}

std::string wrong_judgement(const metrology::Reading& reading, double truth) {
  const double inside = margin(truth, *reading.limit);
  const double excuse = reading.interval.expanded_uncertainty;
  if (*reading.judgement == Judgement::pass && inside < -excuse)
    return fmt::format("{} passes at {:.4f} {} although the truth is {:.4f}", reading.name, reading.value, reading.unit,
                       truth);
  if (*reading.judgement == Judgement::fail && inside > excuse)
    return fmt::format("{} fails at {:.4f} {} although the truth is {:.4f}", reading.name, reading.value, reading.unit,
                       truth);
  return {};
}

std::string wrong_by_truth(const sequence::RunResult& result, const std::map<std::string, double>& truths) {
  if (result.ended != "finished")
    return "the run was stopped: " + (result.error ? result.error->message : std::string("without an error"));
  for (const auto& reading : result.readings) {
    const auto truth = truths.find(reading.name);
    if (!reading.limit || !reading.judgement || truth == truths.end()) continue;
    if (auto wrong = wrong_judgement(reading, truth->second); !wrong.empty()) return wrong;
  }
  return {};
}

// The item, measure or reading that shows a trouble, wherever the run looked at it. Troubles show in one instrument:
// the others may pass.
std::string wrong_showing_of(const sequence::RunResult& result, const std::string& shown_by) {
  bool looked = false;
  bool shown = false;
  const auto look = [&](const std::optional<Judgement>& judgement) {
    looked = true;
    shown = shown || (judgement && *judgement != Judgement::pass);
  };
  for (const auto& item : result.proofs)
    if (item.item == shown_by) look(item.judgement);
  for (const auto& reading : result.readings)
    if (reading.name == shown_by || reading.measure == shown_by) look(reading.judgement);
  if (!looked || shown) return {};
  return fmt::format("{} did not show the trouble", shown_by);
}

std::string wrong_showing(const sequence::RunResult& result, const std::vector<std::string>& shown_by) {
  for (const std::string& one : shown_by)
    if (auto wrong = wrong_showing_of(result, one); !wrong.empty()) return wrong;
  return {};
}

bool is_stopped_with(const sequence::RunResult& result, const std::vector<base::ErrorCode>& codes) {
  return result.ended == "stopped" && result.error &&
         std::find(codes.begin(), codes.end(), result.error->code) != codes.end();
}

bool is_passed(const sequence::RunResult& result) {
  return result.ended == "finished" && (!result.judgement || *result.judgement == Judgement::pass);
}

std::string wrong_for(const sequence::RunResult& result, const std::map<std::string, double>& truths,
                      const Demand& demand) {
  switch (demand.ending) {
    case Demand::Ending::by_truth: return is_stopped_with(result, demand.codes) ? "" : wrong_by_truth(result, truths);
    case Demand::Ending::not_pass:
      return result.judgement == Judgement::pass ? "the run passed in spite of the trouble" : "";
    case Demand::Ending::any: return {};
    case Demand::Ending::true_pass: return is_passed(result) ? wrong_by_truth(result, truths) : "";
    case Demand::Ending::no_eye:
      if (result.ended != "finished") break;
      for (const auto& reading : result.readings)
        if (reading.measure == "eye level") return fmt::format("{} was measured where no eye can be", reading.name);
      return {};
    case Demand::Ending::stopped: break;
  }
  if (result.ended != "stopped" || !result.error) return "the run was not stopped by the trouble";
  if (is_stopped_with(result, demand.codes)) return {};
  return fmt::format("the run was stopped by {}: {}", base::name_of(result.error->code), result.error->message);
}

// More than chance and the stated uncertainty can explain.
constexpr double beyond_doubt = 3;

bool passes_untruly(const metrology::Reading& reading, const std::map<std::string, double>& truths) {
  const auto truth = truths.find(reading.name);
  if (!reading.limit || reading.judgement != Judgement::pass || truth == truths.end()) return false;
  return margin(truth->second, *reading.limit) < -beyond_doubt * reading.interval.standard_uncertainty;
}

bool looks_at(const sequence::RunResult& result, const std::string& what) {
  return std::any_of(result.proofs.begin(), result.proofs.end(), [&](const auto& i) { return i.item == what; }) ||
         std::any_of(result.readings.begin(), result.readings.end(),
                     [&](const auto& r) { return r.name == what || r.measure == what; });
}

bool is_left_to_proof(const sequence::RunResult& result, const std::vector<TroubleCall>& troubles) {
  return std::any_of(troubles.begin(), troubles.end(), [&](const TroubleCall& t) {
    return !t.demand.shown_by.empty() && std::none_of(t.demand.shown_by.begin(), t.demand.shown_by.end(),
                                                      [&](const std::string& one) { return looks_at(result, one); });
  });
}

// A pass that this trouble excludes.
bool is_forbidden(const sequence::RunResult& result, const Demand& demand) {
  if (demand.ending == Demand::Ending::not_pass) return true;
  if (demand.ending == Demand::Ending::no_eye && looks_at(result, "eye level")) return true;
  return !wrong_showing(result, demand.shown_by).empty();
}

}  // namespace

std::string what_is_wrong(const sequence::RunResult& result, const std::map<std::string, double>& truths,
                          const std::vector<Demand>& demands) {
  if (result.error && result.error->code == base::ErrorCode::defect) return "our own defect: " + result.error->message;
  if (demands.empty()) return wrong_by_truth(result, truths);
  std::string first;
  for (const auto& demand : demands) {
    auto wrong = wrong_for(result, truths, demand);
    if (wrong.empty()) wrong = wrong_showing(result, demand.shown_by);
    if (wrong.empty()) return {};
    if (first.empty()) first = std::move(wrong);
  }
  return first;
}

std::string_view name_of(Caught caught) {
  switch (caught) {
    case Caught::named: return "caught and named";
    case Caught::misnamed: return "caught, named wrongly";
    case Caught::harmless: return "harmless";
    case Caught::left_to_proof: return "left to the bench proof";
    case Caught::wrong_pass: return "wrong pass";
  }
  return {};
}

std::optional<Caught> caught(const sequence::RunResult& result, const std::map<std::string, double>& truths,
                             const std::vector<TroubleCall>& troubles, const std::vector<std::string>& told) {
  const bool untrue = std::any_of(result.readings.begin(), result.readings.end(),
                                  [&](const auto& reading) { return passes_untruly(reading, truths); });
  const bool passed = is_passed(result);
  if (passed && untrue) return is_left_to_proof(result, troubles) ? Caught::left_to_proof : Caught::wrong_pass;
  if (troubles.empty()) return std::nullopt;
  if (passed) {
    const bool forbidden = std::all_of(troubles.begin(), troubles.end(),
                                       [&](const TroubleCall& t) { return is_forbidden(result, t.demand); });
    return forbidden ? Caught::wrong_pass : Caught::harmless;
  }
  std::vector<Demand> demands;
  bool named = false, judged = true;
  for (const TroubleCall& trouble : troubles) {
    demands.push_back(trouble.demand);
    named = named || is_told(told, trouble.words);
    judged = judged && trouble.demand.ending == Demand::Ending::by_truth;
  }
  if (named) return Caught::named;
  const bool as_without = judged && result.ended == "finished" && what_is_wrong(result, truths, demands).empty();
  return as_without ? Caught::harmless : Caught::misnamed;
}

}  // namespace eyelevel::sim
