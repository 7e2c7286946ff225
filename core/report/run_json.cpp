// SPDX-License-Identifier: Apache-2.0
#include "core/report/run_json.hpp"

#include <boost/json/array.hpp>
#include <boost/json/string.hpp>

#include <string_view>
#include <utility>

#include "core/record/journal/event_json.hpp"
#include "core/record/journal/json_text.hpp"
#include "core/report/words.hpp"

namespace eyelevel::report {
namespace json = boost::json;

namespace {

json::value text(std::string_view t) { return json::string(record::clean_utf8(t)); }

template <class T>
json::value or_null(const std::optional<T>& v) {
  return v ? json::value(*v) : json::value(nullptr);
}

json::value or_null(const std::optional<metrology::Judgement>& judgement) {
  return judgement ? text(record::name_of(*judgement)) : json::value(nullptr);
}

json::value ended(const std::string& word) { return word.empty() ? json::value(nullptr) : text(word); }

}  // namespace

json::object reading_json(const metrology::Reading& r) {
  const metrology::Limit limit = r.limit.value_or(metrology::Limit{});
  return {{"name", text(r.name)},
          {"value", r.value},
          {"unit", text(r.unit)},
          {"standard_uncertainty", r.interval.standard_uncertainty},
          {"expanded_uncertainty", r.interval.expanded_uncertainty},
          {"coverage_probability", r.interval.coverage_probability},
          {"count", r.count},
          {"at_least", or_null(limit.at_least)},
          {"at_most", or_null(limit.at_most)},
          {"judgement", or_null(r.judgement)},
          {"tried", or_null(r.tried)}};
}

json::object error_json(const base::ErrorRecord& error) {
  json::object o{
      {"code", text(base::name_of(error.code))}, {"where", text(error.where)}, {"message", text(error.message)}};
  const std::pair<const char*, const std::string*> more[] = {{"attempted", &error.attempted},
                                                             {"expected", &error.expected},
                                                             {"advice", &error.advice},
                                                             {"because", &error.cause}};
  for (const auto& [key, words] : more)
    if (!words->empty()) o[key] = text(*words);
  // Bytes of the wire, as people read them.
  if (!error.sent.empty()) o["sent"] = text(base::escaped(error.sent));
  if (!error.received.empty()) o["received"] = text(base::escaped(error.received));
  if (error.elapsed_s) o["elapsed_s"] = *error.elapsed_s;
  return o;
}

json::value proof_json(const std::optional<event::BenchProof>& proof) {
  if (!proof) return nullptr;
  const auto or_none = [](const std::string& t) { return t.empty() ? json::value(nullptr) : text(t); };
  return json::object{{"proven", is_proven(proof)},
                      {"run", or_none(proof->run)},
                      {"at_utc", or_none(proof->at_utc)},
                      {"judgement", or_null(proof->judgement)},
                      {"old", proof->is_old}};
}

namespace {

json::array proved_json(const std::vector<event::Proved>& items) {
  json::array list;
  for (const event::Proved& item : items)
    list.push_back(json::object{{"item", text(item.item)},
                                {"of", text(item.of)},
                                {"judgement", or_null(item.judgement)},
                                {"found", text(item.found)}});
  return list;
}

// What steps have found by themselves, then what was diagnosed, the likeliest first.
json::array findings_json(const record::RunRecord& run) {
  json::array list;
  for (const auto& f : run.found)
    list.push_back(json::object{{"cause", text(f.cause)}, {"because", text(f.because)}, {"belief", nullptr}});
  for (const event::Finding& f : run.findings)
    list.push_back(json::object{{"cause", text(f.cause)},
                                {"because", text(f.because)},
                                {"belief", f.belief ? json::value(*f.belief) : json::value(nullptr)}});
  return list;
}

json::array answers_json(const std::vector<event::Answered>& answers) {
  json::array list;
  for (const auto& a : answers)
    list.push_back(json::object{{"name", text(a.name)}, {"answer", text(a.answer)}, {"by", text(a.by)}});
  return list;
}

json::array enclosures_json(const std::vector<record::EnclosureInfo>& enclosures) {
  json::array list;
  for (const auto& e : enclosures)
    list.push_back(json::object{{"name", text(e.name)},
                                {"about", text(e.about)},
                                {"file_name", text(e.file_name)},
                                {"size_bytes", e.size_bytes}});
  return list;
}

json::array corrections_json(const std::vector<record::Correction>& corrections) {
  const auto or_none = [](const std::string& t) { return t.empty() ? json::value(nullptr) : text(t); };
  json::array list;
  for (const auto& c : corrections)
    list.push_back(json::object{{"reading", or_none(c.said.reading)},
                                {"value", or_null(c.said.value)},
                                {"counts", c.said.counts},
                                {"serial", or_none(c.said.serial)},
                                {"model", or_none(c.said.model)},
                                {"by", text(c.by)},
                                {"because", text(c.because)},
                                {"at_utc", text(record::utc_text(c.utc))}});
  return list;
}

json::value thinned_json(const std::optional<record::ThinnedOut>& thinned) {
  if (!thinned) return nullptr;
  return json::object{{"captures", thinned->said.gone.size()},
                      {"kept", thinned->said.kept},
                      {"by", text(thinned->by)},
                      {"because", text(thinned->because)},
                      {"at_utc", text(record::utc_text(thinned->utc))}};
}

}  // namespace

json::object unit_json(const record::RunRecord& run) {
  const auto* stopped_by = run.stopped_by();
  json::array readings;
  for (const auto& r : run.readings) readings.push_back(reading_json(r));
  json::object unit{
      {"serial", text(run.summary.serial)},
      {"model", text(run.summary.model)},
      {"run", text(run.summary.id)},
      {"ended", ended(run.summary.ended)},
      {"judgement", or_null(run.summary.judgement)},
      {"bench_proof", proof_json(run.begun.proof)},
      {"proofs", proved_json(run.proofs)},
      {"readings", std::move(readings)},
      {"answers", answers_json(run.answers)},
      {"enclosures", enclosures_json(run.enclosures)},
      {"goes_on_from", run.begun.goes_on_from.empty() ? json::value(nullptr) : text(run.begun.goes_on_from)},
      {"corrections", corrections_json(run.corrections)},
      {"thinned_out", thinned_json(run.thinned_out)},
      {"findings", findings_json(run)},
      {"error", stopped_by == nullptr ? json::value(nullptr) : error_json(stopped_by->error)}};
  if (run.aimed) {
    unit["turns"] = run.advised.size();
    unit["ceiling_v"] = or_null(run.aimed->unit == "V" ? run.aimed->ceiling : std::nullopt);
  }
  return unit;
}

json::object summary_json(const record::RunSummary& s) {
  return {{"run", text(s.id)},
          {"begun_utc", text(record::utc_text(s.begun))},
          {"closed_utc", s.closed ? text(record::utc_text(*s.closed)) : json::value(nullptr)},
          {"sequence", text(s.sequence)},
          {"serial", text(s.serial)},
          {"model", text(s.model)},
          {"bench", text(s.bench)},
          {"ended", ended(s.ended)},
          {"judgement", or_null(s.judgement)},
          {"operator", s.operator_name.empty() ? json::value(nullptr) : text(s.operator_name)},
          {"program", text(s.program)}};
}

}  // namespace eyelevel::report
