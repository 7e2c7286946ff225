// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/verb/prove.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <chrono>

#include "core/bench/bench_file.hpp"
#include "core/sequence/runner/apply.hpp"
#include "core/sequence/runner/context.hpp"
#include "core/yaml/nearest.hpp"

namespace eyelevel::sequence {

namespace {

using metrology::Judgement;

// What was found, and what it is worth; without a judgement there was nothing to hold it against.
struct Finding {
  std::optional<Judgement> judgement;
  std::string found;
};

// Who answers now is who answered when the run began, and who the bench file says.
task<Finding> identity_of(RunContext& context, OpenInstrument& open) {
  const std::string now = co_await open.instrument->greet(context.call_limit());
  if (now != open.identity) co_return Finding{Judgement::fail, fmt::format("another answers than before: {}", now)};
  const std::string& stated = open.entry->identity;
  if (stated.empty()) co_return Finding{{}, fmt::format("{}; the bench file does not say who it must be", now)};
  if (now.starts_with(stated)) co_return Finding{Judgement::pass, now};
  co_return Finding{Judgement::fail, fmt::format("{}; by the bench file it is {}", now, stated)};
}

// A date as the bench file has it (it was checked there).
std::chrono::sys_days day_from(const std::string& text) {
  const auto number = [&](std::size_t at, std::size_t length) {
    int value = 0;
    std::from_chars(text.data() + at, text.data() + at + length, value);
    return value;
  };
  return std::chrono::year_month_day(std::chrono::year(number(0, 4)), std::chrono::month(unsigned(number(5, 2))),
                                     std::chrono::day(unsigned(number(8, 2))));
}

// By the date of the bench file; on the day itself it still holds.
task<Finding> calibration_of(RunContext& context, OpenInstrument& open) {
  const std::string& due = open.entry->calibration_due;
  if (due.empty()) co_return Finding{Judgement::undecided, "the bench file does not say when it is due"};
  const auto today = std::chrono::floor<std::chrono::days>(context.utc());
  const auto left = (day_from(due) - today).count();
  if (left < 0) co_return Finding{Judgement::fail, fmt::format("overdue since {}, {} days ago", due, -left)};
  co_return Finding{Judgement::pass, fmt::format("due {}, in {} days", due, left)};
}

// What the instrument says of itself (IEEE 488.2, 10.38).
task<Finding> self_test_of(RunContext& context, OpenInstrument& open) {
  const auto code = co_await open.instrument->self_test(context.call_limit(std::chrono::minutes(10)));
  if (!code) co_return Finding{{}, "its phrasebook has no phrase for it"};
  if (*code == 0) co_return Finding{Judgement::pass, "it finds nothing wrong"};
  co_return Finding{Judgement::fail, fmt::format("it reports {}: look that number up in its handbook", *code)};
}

// Settings that differ from those in every value that an instrument might keep by itself.
SignalSetUp others_than(SignalSetUp how) {
  if (how.channel) {
    const double swing = how.channel->high_v - how.channel->low_v;
    how.channel->low_v -= swing / 2;
    how.channel->high_v += swing / 2;
    how.channel->coupling = how.channel->coupling == bench::Coupling::dc ? bench::Coupling::ac : bench::Coupling::dc;
  }
  if (how.dc) how.dc->range_v *= 4;
  if (how.frequency) how.frequency->gate_s *= 2;
  if (how.output) how.output->voltage_v /= 2;
  if (how.given) how.given->peak_to_peak_v /= 2;
  return how;
}

// Other settings and back: each is read back by the driver, which refuses what was not taken.
task<Finding> settings_of(RunContext& context, const SignalPlace& signal) {
  const SignalSetUp wanted = context.set_up_of(signal.name);
  std::size_t read_back = 0;
  std::optional<std::string> refused;
  for (const SignalSetUp& how : {others_than(wanted), wanted}) {
    try {
      read_back += (co_await apply(context, signal, how)).size();
    } catch (const base::Error& error) {
      if (error.record().code != base::ErrorCode::setting_not_taken) throw;
      if (!refused) refused = error.record().message;
    }
  }
  if (refused) co_return Finding{Judgement::fail, *refused};
  co_return Finding{Judgement::pass, fmt::format("{} settings were changed and read back as asked", read_back)};
}

using InstrumentItem = task<Finding> (*)(RunContext&, OpenInstrument&);

class ProveInstruments final : public Action {
 public:
  ProveInstruments(std::string item, InstrumentItem call, std::string role)
      : item_(std::move(item)), call_(call), role_(std::move(role)) {}

  task<Result> run(RunContext& context, const Step& step) const override {
    if (role_ != every_instrument) co_await one(context, step, context.instrument(role_));
    for (OpenInstrument& open : context.instruments())
      if (role_ == every_instrument && open.instrument) co_await one(context, step, open);
    co_return std::monostate{};
  }
  base::ErrorCode when_late() const override { return base::ErrorCode::time_out; }

 private:
  task<> one(RunContext& context, const Step& step, OpenInstrument& open) const {
    context.progress() = fmt::format("the {} of {} is not known yet", item_, open.need.role);
    open.is_safe = false;
    const Finding finding = co_await call_(context, open);
    context.prove({step.place, item_, open.need.role, finding.judgement, finding.found});
  }

  std::string item_;
  InstrumentItem call_;
  std::string role_;
};

class ProveSettings final : public Action {
 public:
  explicit ProveSettings(SignalPlace signal) : signal_(std::move(signal)) {}

  task<Result> run(RunContext& context, const Step& step) const override {
    context.progress() = signal_.role + " has not confirmed its settings";
    const Finding finding = co_await settings_of(context, signal_);
    context.prove({step.place, "settings", signal_.name, finding.judgement, finding.found});
    co_return std::monostate{};
  }
  base::ErrorCode when_late() const override { return base::ErrorCode::time_out; }

 private:
  SignalPlace signal_;
};

struct Item {
  std::string_view name;
  InstrumentItem call;  // empty: of a signal
};
constexpr std::array items{Item{"identity", identity_of}, Item{"calibration", calibration_of},
                           Item{"self-test", self_test_of}, Item{"settings", nullptr}};

// A self-test leaves an instrument in a state of its own: what was set up before would be gone.
void refuse_after_set_up(StepReader& reader, const yaml::Node& at, std::string_view role) {
  for (const auto& [name, probe] : reader.scope.set_up_probe) {
    const SignalPlace* signal = reader.scope.sequence.signal(name);
    if (signal) reader.uses(signal->role);
    if (!signal || !(role == every_instrument || role == signal->role)) continue;
    reader.report(at, fmt::format("after a self-test '{}' is not as it was set up before", name),
                  fmt::format("put the self-test before `set up: {}`", name));
    return;
  }
}

ReadStep of_signal(StepReader& reader, const StepReader::OfPhrase& phrase) {
  const SignalPlace* signal = reader.signal(phrase.operand_at, phrase.operand);
  if (!signal) return {};
  if (!reader.scope.is_set_up_unclear && !reader.scope.set_up_probe.contains(signal->name)) {
    reader.report(phrase.operand_at, fmt::format("'{}' has not been set up at this point", signal->name),
                  fmt::format("put `set up: {}` before it", signal->name));
    return {};
  }
  return {std::make_shared<ProveSettings>(*signal), {}, {}};
}

ReadStep read(StepReader& reader) {
  std::vector<std::string> known;
  known.reserve(items.size());
  for (const Item& item : items) known.emplace_back(item.name);
  const auto phrase = reader.of_phrase("prove", "what is to be proven of what",
                                       "write it as in `self-test of scope` or `settings of rf`");
  if (!phrase) return {};
  const auto item = std::find_if(items.begin(), items.end(), [&](const Item& i) { return i.name == phrase->what; });
  if (item == items.end()) {
    const auto near = yaml::nearest(phrase->what, known);
    reader.report("prove", fmt::format("'{}' is nothing that can be proven so", phrase->what),
                  near ? fmt::format("did you mean '{}'?", *near) : fmt::format("write {}", yaml::one_of(known)));
    return {};
  }
  if (!item->call) return of_signal(reader, *phrase);
  if (phrase->operand != every_instrument && !reader.role(phrase->operand_at, phrase->operand)) return {};
  if (item->name == "self-test") refuse_after_set_up(reader, phrase->operand_at, phrase->operand);
  if (!reader.ok()) return {};
  return {std::make_shared<ProveInstruments>(std::string(item->name), item->call, phrase->operand), {}, {}};
}

}  // namespace

void register_prove(Verbs& verbs) {
  registers::Declaration prove{
      .name = "prove",
      .about = "prove of an instrument what is no number: identity, calibration, self-test, settings that stick",
      .parameters = {.name = "prove", .about = "an item of a bench proof", .keys = {}},
      .example = "- prove: calibration of every instrument\n  within: 10 s\n",
      .sentence = "Prove <prove>"};
  prove.parameters.keys = {{.name = "prove",
                            .required = true,
                            .type = yaml::Type::text,
                            .help = "identity, calibration or self-test of an instrument (or of `every instrument`), "
                                    "settings of a signal",
                            .example = "self-test of every instrument"},
                           within_key(true),
                           otherwise_key()};
  verbs.add(std::move(prove), read);
}

}  // namespace eyelevel::sequence
