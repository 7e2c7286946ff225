// SPDX-License-Identifier: Apache-2.0
#include "core/service/bench_view.hpp"

#include <boost/json.hpp>

#include "core/record/journal/event_json.hpp"
#include "core/record/journal/json_text.hpp"
#include "core/report/run_json.hpp"

namespace eyelevel::service {

namespace json = boost::json;
using record::clean_utf8;

namespace {

json::array sentences_json(const std::vector<sequence::Sentence>& list) {
  json::array all;
  for (const sequence::Sentence& s : list)
    all.push_back(json::object{{"depth", s.depth},
                               {"number", s.number},
                               {"text", s.text},
                               {"part", s.place.part},
                               {"file", s.place.file},
                               {"line", s.place.line}});
  return all;
}

json::array strings(const std::vector<std::string>& list) {
  json::array all;
  for (const auto& one : list) all.emplace_back(one);
  return all;
}

json::value sequence_json(const BenchOwner& owner) {
  if (owner.sequence() == nullptr || owner.explanation() == nullptr) return nullptr;
  json::array sentences;
  for (const auto* part : {&owner.explanation()->opening, &owner.explanation()->steps, &owner.explanation()->closing})
    for (auto& sentence : sentences_json(*part)) sentences.push_back(std::move(sentence));
  return json::object{{"name", owner.sequence()->name},
                      {"about", owner.sequence()->about},
                      {"cautions", strings(owner.sequence()->cautions)},
                      {"sentences", std::move(sentences)}};
}

json::value question_json(const std::optional<OpenQuestion>& open, double within_s) {
  if (!open) return nullptr;
  const bench::Question& q = open->question;
  return json::object{{"number", open->number},
                      {"name", q.name},
                      {"text", q.text},
                      {"wants", in_words(q.kind)},
                      {"choices", strings(q.choices)},
                      {"allowed", q.allowed_text},
                      {"start", open->starts_a_job},
                      {"again", q.again},
                      {"within_s", open->starts_a_job ? json::value(nullptr) : json::value(within_s)},
                      {"asked_utc", record::utc_text(open->asked)}};
}

json::value last_json(const std::optional<LastRun>& last) {
  if (!last) return nullptr;
  return json::object{{"run", last->run},
                      {"serial", last->serial},
                      {"sequence", last->sequence},
                      {"ended", last->ended},
                      {"judgement", last->judgement ? json::value(record::name_of(*last->judgement)) : nullptr},
                      {"sentence", clean_utf8(last->sentence)}};
}

json::value trouble_json(const std::optional<base::ErrorRecord>& trouble) {
  if (!trouble) return nullptr;
  return json::object{{"code", base::name_of(trouble->code)},
                      {"where", clean_utf8(trouble->where)},
                      {"message", clean_utf8(trouble->message)},
                      {"advice", clean_utf8(trouble->advice)}};
}

json::value health_json(const InstrumentHealth* health) {
  if (health == nullptr) return nullptr;
  return json::object{{"asked_utc", record::utc_text(health->asked)},
                      {"answers", health->seen == health->asked},
                      {"seen_utc", health->seen ? json::value(record::utc_text(*health->seen)) : nullptr},
                      {"identity", clean_utf8(health->identity)},
                      {"trouble", trouble_json(health->trouble)}};
}

}  // namespace

json::object bench_json(const BenchOwner& owner, const BenchOperator& person) {
  json::array instruments;
  for (const auto& entry : owner.bench().instruments)
    instruments.push_back(json::object{{"role", entry.role},
                                       {"kind", entry.kind},
                                       {"resource", entry.resource},
                                       {"calibration_due", entry.calibration_due},
                                       {"health", health_json(owner.health(entry.role))}});
  json::value here = nullptr;
  if (owner.here())
    here = json::object{{"part", owner.here()->part},
                        {"number", owner.here()->number},
                        {"file", owner.here()->file},
                        {"line", owner.here()->line}};
  return {{"name", owner.bench().name},
          {"about", owner.bench().about},
          {"state", name_of(owner.state())},
          {"instruments", std::move(instruments)},
          {"proof", report::proof_json(owner.proof())},
          {"job", owner.job() ? json::value(job_json(*owner.job())) : nullptr},
          {"run", owner.run().empty() ? json::value(nullptr) : json::value(owner.run())},
          {"sequence", sequence_json(owner)},
          {"here", std::move(here)},
          {"question", question_json(person.open(), owner.prompt_within_s())},
          {"last", last_json(owner.last())},
          {"trouble", trouble_json(owner.trouble())}};
}

namespace {

json::object set_json(const record::Job& job) {
  json::object set;
  for (const auto& given : job.given) set[given.name] = given.value;
  return set;
}

}  // namespace

json::object schedule_json(const Schedule& schedule, base::UtcTime now) {
  return {{"name", schedule.name},
          {"at", time_text(schedule)},
          {"on", strings(days_of(schedule))},
          {"bench", schedule.job.bench},
          {"sequence", schedule.job.sequence},
          {"serial", schedule.job.serial},
          {"model", schedule.job.model},
          {"set", set_json(schedule.job)},
          {"priority", schedule.job.priority},
          {"next_due_utc", record::utc_text(next_due(schedule, now))}};
}

json::object job_json(const record::Job& job) {
  return {{"id", job.id},
          {"bench", job.bench},
          {"sequence", job.sequence},
          {"serial", job.serial},
          {"model", job.model},
          {"set", set_json(job)},
          {"priority", job.priority},
          {"asked_by", job.asked_by},
          {"asked_utc", record::utc_text(job.asked)},
          {"state", record::name_of(job.state)},
          {"run", job.run},
          {"goes_on_from", job.goes_on_from},
          {"why", clean_utf8(job.why)}};
}

json::object explanation_json(const sequence::Sequence& sequence, const sequence::Explanation& explained) {
  const auto duration = [](const sequence::Duration& d) {
    return json::object{{"likely_s", d.likely_s}, {"longest_s", d.longest_s}};
  };
  json::array asked;
  for (const bench::Question& q : explained.asked)
    asked.push_back(json::object{{"text", q.text}, {"answer", what_to_answer(q)}, {"name", q.name}});
  json::array asked_at_start;
  for (const sequence::Asked& a : sequence.asked)
    asked_at_start.push_back(
        json::object{{"name", a.name}, {"about", a.about}, {"usual", a.usual}, {"allowed", a.allowed_text}});
  return {{"sequence", sequence.name},
          {"about", sequence.about},
          {"cautions", strings(sequence.cautions)},
          {"duration", duration(explained.whole)},
          {"laser_lit", duration(explained.laser_lit)},
          {"asked_at_start", std::move(asked_at_start)},
          {"opening", sentences_json(explained.opening)},
          {"steps", sentences_json(explained.steps)},
          {"closing", sentences_json(explained.closing)},
          {"asked", std::move(asked)}};
}

}  // namespace eyelevel::service
