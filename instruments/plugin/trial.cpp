// SPDX-License-Identifier: Apache-2.0
#include "instruments/plugin/trial.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <boost/asio/io_context.hpp>
#include <cmath>
#include <functional>
#include <limits>
#include <memory>
#include <optional>

#include "core/base/error.hpp"
#include "core/base/timeline.hpp"
#include "core/yaml/fields.hpp"
#include "core/yaml/load.hpp"
#include "instruments/plugin/link_trial.hpp"
#include "instruments/plugin/load.hpp"
#include "instruments/plugin/process/speaker.hpp"

namespace eyelevel::plugin {

namespace {

using registers::OutsidePart;
using registers::OutsideResult;
using registers::PartKind;
using registers::Question;
using registers::ResultKind;

constexpr base::Duration end_limit = std::chrono::seconds(2);

// Made-up results, which no part may take amiss.
registers::OutsideWaveform edge(std::size_t samples) {
  registers::OutsideWaveform waveform{.rate_hz = 20e6, .volts = {}, .noise_v = 1e-3, .count = 16};
  waveform.volts.reserve(samples);
  for (std::size_t i = 0; i < samples; ++i)
    waveform.volts.push_back(
        static_cast<float>(std::tanh((static_cast<double>(i) / static_cast<double>(samples) - 0.5) * 20)));
  return waveform;
}

registers::OutsideCaptures captures(std::size_t count) {
  registers::OutsideCaptures all;
  for (std::size_t i = 0; i < count; ++i)
    all.push_back({.from_s = static_cast<double>(i),
                   .level_v = 1.2 + 0.01 * std::sin(static_cast<double>(i)),
                   .i3_v = 0.4,
                   .top_v = 2.2,
                   .bottom_v = 1.0,
                   .mean_v = 1.6,
                   .i3_over_i11 = 0.33,
                   .asymmetry = 0.01});
  return all;
}

OutsideResult usual(ResultKind kind) {
  if (kind == ResultKind::waveform) return edge(2000);
  if (kind == ResultKind::captures) return captures(16);
  return registers::OutsideReading{.value = 1.2, .unit = "V", .standard_uncertainty = 0.01, .count = 64};
}

struct Odd {
  std::string what;
  OutsideResult result;
};

std::vector<Odd> odd(ResultKind kind) {
  constexpr float nan = std::numeric_limits<float>::quiet_NaN();
  registers::OutsideWaveform flat = edge(2), empty = edge(2), holes = edge(2000);
  flat.volts.assign(2000, 0.0F);
  empty.volts.clear();
  holes.volts.assign(2000, nan);
  if (kind == ResultKind::waveform)
    return {{"an empty waveform", empty},
            {"a flat waveform", flat},
            {"a waveform of what is no number", holes},
            {"the longest waveform there is", edge(registers::outside_samples_most)}};
  if (kind == ResultKind::captures)
    return {{"no captures", registers::OutsideCaptures{}},
            {"captures without figures", registers::OutsideCaptures(3)},
            {"a thousand captures", captures(1000)}};
  return {{"a reading of 0", registers::OutsideReading{.value = 0, .unit = "V"}},
          {"a reading in another unit", registers::OutsideReading{.value = 1, .unit = "Hz"}}};
}

registers::OutsideValues values_of(const yaml::Node& step, const OutsidePart& part) {
  registers::OutsideValues values;
  const yaml::Fields fields(step);
  for (const yaml::Key& key : part.declaration.parameters.keys) {
    if (part.results.contains(key.name)) continue;
    if (key.type == yaml::Type::quantity) {
      if (const auto value = fields.quantity(key.name, key.dimension)) values.emplace(key.name, *value);
    } else if (key.type == yaml::Type::count) {
      if (const auto value = fields.count(key.name)) values.emplace(key.name, *value);
    } else if (key.type == yaml::Type::yes_no) {
      if (const auto value = fields.yes_no(key.name)) values.emplace(key.name, *value);
    } else if (const auto value = fields.text(key.name)) {
      values.emplace(key.name, *value);
    }
  }
  return values;
}

class Trial {
 public:
  std::vector<Finding> all(const std::filesystem::path& folder) {
    if (!holds("its files may be trusted, its manifest is right, it starts and declares itself",
               [&] { plugin_ = load_one(folder); }))
      return std::move(findings_);
    for (const OutsidePart& part : plugin_->parts) try_part(part);
    if (plugin_->manifest.form == Form::process) try_process();
    return std::move(findings_);
  }

 private:
  // Anything thrown makes the finding a bad one.
  bool holds(std::string what, const std::function<void()>& act) {
    Finding finding{.what = std::move(what), .is_good = true, .seen = {}};
    try {
      act();
    } catch (const base::Error& error) {
      finding.is_good = false;
      finding.seen = error.what();
    }
    findings_.push_back(std::move(finding));
    return findings_.back().is_good;
  }

  [[noreturn]] static void bad(std::string what) { throw base::Error(base::ErrorCode::bad_answer, std::move(what)); }

  registers::Answer ask(const OutsidePart& part, Question question) {
    std::optional<registers::Answer> answer;
    auto main = [](const OutsidePart& p, Question q, base::Timeline& timeline,
                   std::optional<registers::Answer>& out) -> task<> {
      out = co_await p.call(std::move(q), timeline, std::chrono::hours(1));
    };
    boost::asio::io_context loop(1);
    const auto timeline = base::wall_timeline(loop);
    timeline->run(main(part, std::move(question), *timeline, answer));
    return std::move(*answer);
  }

  // An answer that can be, or its own words for why there is none; false for the latter.
  bool sensible(const OutsidePart& part, Question question) {
    registers::Answer answer;
    try {
      answer = ask(part, std::move(question));
    } catch (const base::Error& error) {
      if (error.record().code == base::ErrorCode::instrument_error) return false;
      throw;
    }
    if (!part.gives) return true;
    if (!answer.reading) bad("the answer holds no reading, but one is declared");
    if (auto why = registers::why_impossible(*answer.reading, registers::outside_unit(*part.gives)); !why.empty())
      bad(std::move(why));
    return true;
  }

  Question question_of(const OutsidePart& part, registers::OutsideValues values) {
    Question question{
        .kind = part.kind, .name = part.declaration.name, .ask = {}, .values = std::move(values), .results = {}};
    for (const auto& [key, kind] : part.results) question.results.emplace(key, usual(kind));
    if (part.takes) question.results.emplace("of", usual(*part.takes));
    return question;
  }

  void try_part(const OutsidePart& part) {
    const std::string name = fmt::format("{} '{}'", registers::name_of(part.kind), part.declaration.name);
    if (part.kind == PartKind::transport) return try_transport(part, name);
    if (part.kind == PartKind::driver) return try_driver(part, name);
    Question question;
    if (!holds(name + ": its example is a step that checks", [&] { question = question_of(part, example(part)); }))
      return;
    holds(name + ": answers what its example asks, and once more", [&] {
      for (int i = 0; i < 2; ++i)
        if (!sensible(part, question)) bad("it says that it cannot, but its own example asks for it");
    });
    const auto odd_ones = [&](const std::string& key, ResultKind kind) {
      for (const Odd& one : odd(kind))
        holds(fmt::format("{}: stands {}", name, one.what), [&] {
          Question other = question;
          other.results.insert_or_assign(key, one.result);
          sensible(part, std::move(other));
        });
    };
    if (part.takes) odd_ones("of", *part.takes);
    for (const auto& [key, kind] : part.results) odd_ones(key, kind);
    holds(name + ": says in its words when it is asked for a part that it does not have", [&] {
      Question other = question;
      other.name = "no such part";
      if (ask_unknown(part, std::move(other))) bad("it answered as if it had that part");
    });
  }

  // No more than what changes nothing: its instrument may be there.
  void try_driver(const OutsidePart& part, const std::string& name) {
    const auto asked = [&](const std::string& what) {
      Question question = question_of(part, {{"resource", std::string("trial")}});
      question.ask = what;
      return sensible(part, std::move(question));
    };
    bool is_there = false;
    holds(name + ": greets, or says why it cannot", [&] { is_there = asked("greet"); });
    holds(name + ": says in its words that it cannot do what no driver does", [&] {
      if (asked("no such thing")) bad("it answered as if it could");
    });
    if (!is_there) return;
    holds(name + ": makes safe", [&] {
      if (!asked("make safe")) bad("it greeted, but cannot make safe");
    });
  }

  void try_transport(const OutsidePart& part, const std::string& name) {
    std::optional<LinkTrial> trial;
    if (!holds(name + ": its example names what it reaches", [&] {
          const auto link = std::find_if(plugin_->links.begin(), plugin_->links.end(),
                                         [&](const Plugin::Link& l) { return l.name == part.declaration.name; });
          trial.emplace(*link, part.declaration.example, plugin_->manifest.answers_within);
        }))
      return;
    std::string why;
    const bool is_sane =
        holds(name + ": opens what its example names, or says why it cannot", [&] { why = trial->why_closed(); });
    findings_.back().seen += why;
    if (!is_sane || !why.empty()) return;
    holds(name + ": carries a question and its answer, twice, and when it is opened again", [&] { trial->answers(); });
    holds(name + ": waits for an answer until whoever reads gives up", [&] { trial->waits(); });
    holds(name + ": has no answer left when it was cleared", [&] { trial->clears(); });
  }

  bool ask_unknown(const OutsidePart& part, Question question) {
    if (plugin_->manifest.form == Form::library) return false;  // each part has a function of its own
    return sensible(part, std::move(question));
  }

  // The values of its example, held against its own declaration.
  registers::OutsideValues example(const OutsidePart& part) {
    const auto document = yaml::load_text("example", part.declaration.example);
    yaml::Mistakes mistakes = document.mistakes;
    const bool is_step = document.root.shape == yaml::Shape::list && document.root.items.size() == 1 &&
                         !document.root.items[0].entries.empty();
    if (!is_step) bad("the example is no step: it begins with `- ` and the verb");
    yaml::Node own = document.root.items[0];
    const std::string verb = own.entries[0].key;
    if (part.kind == PartKind::verb && verb != part.declaration.name)
      bad(fmt::format("the example begins with '{}', not with '{}'", verb, part.declaration.name));
    if (part.kind == PartKind::measure &&
        (verb != "measure" || !own.entries[0].value.text.starts_with(part.declaration.name + " of ")))
      bad(fmt::format("the example does not begin with `measure: {} of ...`", part.declaration.name));
    std::erase_if(own.entries, [&](const yaml::Entry& e) {
      for (const std::string_view house : {"within", "name it", "must meet", "otherwise"})
        if (e.key == house) return true;
      return part.kind == PartKind::measure && e.key == "measure";
    });
    if (!part.declaration.parameters.keys.empty()) yaml::check(own, part.declaration.parameters, mistakes);
    if (!mistakes.fine()) bad(yaml::print(mistakes.list().front()));
    return values_of(own, part);
  }

  void try_process() {
    process::Speaker speaker(plugin_->manifest);
    std::vector<OutsidePart> again;
    holds("it declares the same when it is started again", [&] {
      again = speaker.hello();
      bool is_same = again.size() == plugin_->parts.size();
      for (std::size_t i = 0; is_same && i < again.size(); ++i)
        is_same = again[i].declaration.name == plugin_->parts[i].declaration.name;
      if (!is_same) bad("its parts are others than the first time");
    });
    holds("it ends by itself within 2 s when its standard input ends", [&] {
      if (!speaker.ends_by_itself(end_limit)) bad("it went on and had to be killed");
    });
  }

  std::shared_ptr<const Plugin> plugin_;
  std::vector<Finding> findings_;
};

}  // namespace

std::vector<Finding> try_out(const std::filesystem::path& folder) { return Trial().all(folder); }

}  // namespace eyelevel::plugin
