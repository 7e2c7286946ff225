// SPDX-License-Identifier: Apache-2.0
#include "core/report/words.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "core/record/books/names.hpp"
#include "core/record/journal/event_json.hpp"

namespace eyelevel::report {

using metrology::Judgement;
using metrology::Limit;
using metrology::Reading;

namespace {

std::string with_unit(std::string number, std::string_view unit) {
  if (unit.empty() || unit == "1") return number;
  return number + " " + std::string(unit);
}

// Small voltages are said in millivolts.
bool is_small_voltage(double value, std::string_view unit) { return unit == "V" && std::abs(value) < 0.1; }

bool is_inside(const Reading& r) {
  const double u = r.interval.expanded_uncertainty;
  return r.limit && r.value - u >= r.limit->at_least.value_or(-HUGE_VAL) &&
         r.value + u <= r.limit->at_most.value_or(HUGE_VAL);
}

std::string against_limit(const Reading& r) {
  const Limit limit = r.limit.value_or(Limit{});
  const auto side = [&](const char* word, double edge) {
    return fmt::format("{} the limit of {}", word, value_text(edge, 0, r.unit));
  };
  if (limit.at_most && r.value > *limit.at_most) return side("above", *limit.at_most);
  if (limit.at_least && r.value < *limit.at_least) return side("below", *limit.at_least);
  if (limit.at_least && limit.at_most) return "inside " + limit_text(limit, r.unit);
  return "within " + limit_text(limit, r.unit);
}

std::string reading_text(const Reading& r) {
  std::string value = fmt::format("{} is {}", r.name, value_text(r));
  if (!r.judgement) return value;
  const std::string because = r.notes.empty() ? "" : " (" + r.notes.front() + ")";
  switch (*r.judgement) {
    case Judgement::pass: return value + ", " + against_limit(r);
    case Judgement::fail: return value + ", " + against_limit(r) + (is_inside(r) ? because : "");
    case Judgement::undecided: break;
  }
  if (is_inside(r)) return value + ", " + against_limit(r) + ", but it was not settled enough to judge" + because;
  return value + ", " + against_limit(r) + ", but too near it to be sure";
}

std::string finished_text(const record::RunRecord& run) {
  if (!run.summary.judgement) return "Finished; nothing was judged.";
  std::vector<std::string> named;
  for (const Reading& r : run.readings) {
    if (r.judgement == run.summary.judgement) named.push_back(reading_text(r));
  }
  constexpr std::size_t most = 2;
  const std::size_t left = named.size() > most ? named.size() - most : 0;
  named.resize(named.size() - left);
  std::string list = fmt::format("{}", fmt::join(named, "; "));
  if (left > 0) list += fmt::format("; and {} more", left);
  switch (*run.summary.judgement) {
    case Judgement::pass: return fmt::format("Finished, every limit is met: {}.", list);
    case Judgement::fail: return fmt::format("Finished, a limit is not met: {}.", list);
    case Judgement::undecided: break;
  }
  return fmt::format("Finished, undecided: {}.", list);
}

std::string stopped_text(const record::RunRecord& run) {
  const std::string judged = run.summary.judgement ? "" : " The unit is not judged.";
  const auto* why = run.stopped_by();
  if (why == nullptr) return "Stopped." + judged;
  std::string text = fmt::format("Stopped at {}: {}.", place_text(why->place), why->error.message) + judged;
  if (!why->error.advice.empty()) text += fmt::format(" Try: {}", why->error.advice);
  return text;
}

}  // namespace

std::string value_text(double value, double expanded_uncertainty, std::string_view unit) {
  if (is_small_voltage(value, unit) && (value != 0 || expanded_uncertainty != 0)) {
    return value_text(value * 1e3, expanded_uncertainty * 1e3, "mV");
  }
  if (!std::isfinite(value) || !std::isfinite(expanded_uncertainty)) return with_unit(fmt::format("{}", value), unit);
  if (expanded_uncertainty <= 0) return with_unit(fmt::format("{:.4g}", value), unit);
  const int place = 1 - static_cast<int>(std::floor(std::log10(expanded_uncertainty)));
  if (place < 0 || place > 12) {
    return fmt::format("{} ± {}", with_unit(fmt::format("{:.4g}", value), unit),
                       with_unit(fmt::format("{:.2g}", expanded_uncertainty), unit));
  }
  return fmt::format("{} ± {}", with_unit(fmt::format("{:.{}f}", value, place), unit),
                     with_unit(fmt::format("{:.{}f}", expanded_uncertainty, place), unit));
}

std::string value_text(const Reading& reading) {
  return value_text(reading.value, reading.interval.expanded_uncertainty, reading.unit);
}

std::string limit_text(const Limit& limit, std::string_view unit) {
  // More digits than a value without an uncertainty has: 1.0001 is not 1.
  const auto edge = [&](double v) {
    const bool small = is_small_voltage(v, unit) && v != 0;
    return with_unit(fmt::format("{:.7g}", small ? v * 1e3 : v), small ? "mV" : unit);
  };
  if (limit.at_least && limit.at_most) return edge(*limit.at_least) + " to " + edge(*limit.at_most);
  if (limit.at_least) return "at least " + edge(*limit.at_least);
  if (limit.at_most) return "at most " + edge(*limit.at_most);
  return {};
}

std::string_view judgement_text(const std::optional<Judgement>& judgement) {
  return judgement ? record::name_of(*judgement) : "not judged";
}

std::string place_text(const event::Place& place) {
  if (place.number == 0) {  // no step of the sequence: what the runner does by itself
    return place.part.empty() ? place.text : fmt::format("{} \"{}\"", place.verb, place.text);
  }
  std::string text = fmt::format("step {}", place.number);
  if (place.part != "steps") text += " of the " + place.part;
  if (!place.text.empty()) text += fmt::format(" \"{}\"", place.text);
  return text;
}

std::string end_text(const record::RunRecord& run) {
  if (!run.is_closed()) {
    return "Not closed: the program ended before the run did. What had been stored until then is here; the unit is not "
           "judged.";
  }
  return run.summary.ended == "finished" ? finished_text(run) : stopped_text(run);
}

std::vector<std::string> kept_texts(const record::RunRecord& run) {
  struct Group {
    std::string name;
    int kept = 0, tried = 0;
    std::vector<std::pair<std::string, int>> reasons;  // in the order they first came
  };
  std::vector<Group> groups;
  for (const auto& capture : run.captures) {
    auto group = std::find_if(groups.begin(), groups.end(), [&](const Group& g) { return g.name == capture.name; });
    if (group == groups.end()) group = groups.insert(groups.end(), Group{capture.name, 0, 0, {}});
    ++group->tried;
    if (capture.not_kept.empty()) {
      ++group->kept;
      continue;
    }
    auto& reasons = group->reasons;
    auto reason = std::find_if(reasons.begin(), reasons.end(), [&](auto& r) { return r.first == capture.not_kept; });
    if (reason == reasons.end()) reason = reasons.insert(reasons.end(), {capture.not_kept, 0});
    ++reason->second;
  }
  std::vector<std::string> texts;
  for (const Group& g : groups) {
    std::string text = fmt::format("{} of {} captures of {} kept", g.kept, g.tried, g.name.empty() ? "?" : g.name);
    std::vector<std::string> why;
    why.reserve(g.reasons.size());
    for (const auto& [reason, count] : g.reasons) why.push_back(fmt::format("{} {}", reason, count));
    if (!why.empty()) text += fmt::format(" (not kept: {})", fmt::join(why, ", "));
    texts.push_back(std::move(text));
  }
  return texts;
}

std::string calibration_text(const event::InstrumentUsed& instrument, base::UtcTime on) {
  if (instrument.calibration_due.empty()) return "no date given";
  // Dates as YYYY-MM-DD sort as text.
  const bool over = instrument.calibration_due < record::utc_text(on).substr(0, 10);
  return (over ? "overdue since " : "due ") + instrument.calibration_due;
}

namespace {

std::string corrected_text(const record::RunRecord& run, const record::Correction& correction) {
  const record::Corrected& said = correction.said;
  std::vector<std::string> parts;
  if (!said.serial.empty())
    parts.push_back(
        fmt::format("the serial is {} instead of {}", record::shown(said.serial), record::shown(run.summary.serial)));
  if (!said.model.empty())
    parts.push_back(
        fmt::format("the model is {} instead of {}", record::shown(said.model), record::shown(run.summary.model)));
  if (said.reading.empty()) return parts.empty() ? "remark" : fmt::format("{}", fmt::join(parts, ", "));
  const auto recorded =
      std::find_if(run.readings.begin(), run.readings.end(), [&](const auto& r) { return r.name == said.reading; });
  if (!said.counts)
    parts.emplace_back("does not count");
  else if (said.value && recorded != run.readings.end())
    parts.push_back(fmt::format("{} instead of {}", value_text(*said.value, 0, recorded->unit),
                                value_text(recorded->value, 0, recorded->unit)));
  else
    parts.emplace_back("remark");
  return fmt::format("{}: {}", record::shown(said.reading), fmt::join(parts, ", "));
}

}  // namespace

std::vector<std::string> correction_texts(const record::RunRecord& run) {
  std::vector<std::string> list;
  for (const record::Correction& correction : run.corrections)
    list.push_back(fmt::format("{} ({}, {}: {})", corrected_text(run, correction), record::shown(correction.by),
                               time_text(correction.utc), record::shown(correction.because, 300)));
  return list;
}

std::string thinned_text(const record::ThinnedOut& thinned) {
  return fmt::format(
      "samples of {} captures were thinned out on {} ({}: {}); {} stay, and all readings and judgements as they were",
      thinned.said.gone.size(), record::utc_text(thinned.utc).substr(0, 10), record::shown(thinned.by),
      record::shown(thinned.because, 300), thinned.said.kept);
}

std::string time_text(base::UtcTime time) {
  const std::string utc = record::utc_text(time);
  return utc.substr(0, 10) + " " + utc.substr(11, 5) + " UTC";
}

bool is_proven(const std::optional<event::BenchProof>& proof) {
  return proof && proof->judgement == metrology::Judgement::pass && !proof->is_old;
}

std::string proof_text(const std::optional<event::BenchProof>& proof) {
  if (!proof) return {};
  if (proof->run.empty()) return "bench not proven: it never was";
  const std::string at = time_text(record::utc_from_text(proof->at_utc));
  if (proof->judgement != metrology::Judgement::pass)
    return fmt::format("bench not proven: its proof at {} (run {}) came out {}", at, proof->run,
                       judgement_text(proof->judgement));
  if (proof->is_old)
    return fmt::format("bench not proven lately: proven at {} (run {}), longer ago than its bench file allows", at,
                       proof->run);
  return fmt::format("bench proven at {} (run {})", at, proof->run);
}

std::string prospect_text(const event::Advised& advised) {
  return fmt::format("from {:.3g} to about {:.3g} ({:.3g} to {:.3g}), {:.0f} % sure of the way{}", advised.from,
                     advised.expected, advised.low, advised.high, std::floor(100 * advised.belief),
                     advised.last_did_nothing ? "; the last turn did nothing that can be seen" : "");
}

std::string proved_text(const event::Proved& item) {
  return fmt::format("{} of {}: {} ({})", item.item, item.of, item.found,
                     item.judgement ? judgement_text(item.judgement) : "told only");
}

}  // namespace eyelevel::report
