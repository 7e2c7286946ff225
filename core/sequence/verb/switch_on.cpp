// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/verb/switch_on.hpp"

#include <fmt/format.h>

#include "core/sequence/runner/context.hpp"

namespace eyelevel::sequence {

namespace {

class Switch final : public Action {
 public:
  Switch(SignalPlace signal, bool on) : signal_(std::move(signal)), on_(on) {}

  task<Result> run(RunContext& context, const Step& step) const override {
    context.progress() = fmt::format("{} has not confirmed that its output is {}", signal_.role, word());
    if (on_) context.is_on(signal_.name);  // from the asking on: it may be on although its answer is lost
    if (signal_.kind == "power supply") {
      co_await to(context, context.power_supply(signal_.role));
    } else {
      co_await to(context, context.function_generator(signal_.role));
    }
    if (!on_) context.is_off(signal_.name);
    context.tell(event::Set{step.place, signal_.role, fmt::format("output {}", signal_.channel), word(), word()});
    co_return std::monostate{};
  }
  base::ErrorCode when_late() const override { return base::ErrorCode::time_out; }
  std::string advice_when_late() const override { return "switch the output off by hand"; }

 private:
  task<> to(RunContext& context, auto& instrument) const {
    if (on_) {
      co_await instrument.switch_on(signal_.channel, context.call_limit());
    } else {
      co_await instrument.switch_off(signal_.channel, context.call_limit());
    }
  }
  std::string word() const { return on_ ? "on" : "off"; }

  SignalPlace signal_;
  bool on_;
};

const SignalPlace* output(StepReader& reader, std::string_view verb) {
  const SignalPlace* signal = reader.signal(verb);
  if (!signal) return nullptr;
  if (signal->kind != "power supply" && signal->kind != "function generator") {
    reader.report(
        verb,
        fmt::format("'{}' is measured by {} (kind {}), which has no output", signal->name, signal->role, signal->kind),
        "name a signal of a power supply or function generator, as in `rail: supply output 1`");
    return nullptr;
  }
  return signal;
}

ReadStep read_on(StepReader& reader) {
  const SignalPlace* signal = output(reader, "switch on");
  if (!signal) return {};
  if (!reader.scope.is_set_up_unclear && !reader.scope.set_up_probe.contains(signal->name)) {
    reader.report("switch on", fmt::format("'{}' has not been set up at this point", signal->name),
                  fmt::format("put `set up: {}` before it", signal->name));
    return {};
  }
  return {.action = std::make_shared<Switch>(*signal, true),
          .gives = {},
          .puts_on = PutsOn{signal->role, signal->name, "switched on"}};
}

ReadStep read_off(StepReader& reader) {
  const SignalPlace* signal = output(reader, "switch off");
  if (!signal) return {};
  return {.action = std::make_shared<Switch>(*signal, false), .gives = {}, .makes_safe = signal->name};
}

registers::Declaration declaration(const std::string& verb, std::string about) {
  registers::Declaration one{.name = verb,
                             .about = std::move(about),
                             .parameters = {.name = verb, .about = "an output", .keys = {}},
                             .example = fmt::format("- {}: rail\n  within: 5 s\n", verb),
                             .sentence = fmt::format("S{} <{}>", verb.substr(1), verb)};
  one.parameters.keys = {{.name = verb,
                          .required = true,
                          .type = yaml::Type::text,
                          .help = "the signal that the output gives",
                          .example = "rail"},
                         within_key(true),
                         otherwise_key()};
  return one;
}

}  // namespace

void register_switch_on(Verbs& verbs) {
  verbs.add(declaration("switch on", "switch an output on that was set up before, and see that it is"), read_on);
}

void register_switch_off(Verbs& verbs) {
  verbs.add(declaration("switch off", "switch an output off, and see that it is"), read_off);
}

}  // namespace eyelevel::sequence
