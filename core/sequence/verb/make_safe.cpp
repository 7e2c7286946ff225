// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/verb/make_safe.hpp"

#include "core/sequence/runner/context.hpp"

namespace eyelevel::sequence {

namespace {

// Its outputs are off and its ways are open.
void put_off(RunContext& context, const std::string& role) {
  context.is_off(role);
  for (const SignalPlace& signal : context.sequence().signals)
    if (signal.role == role) context.is_off(signal.name);
}

class MakeSafe final : public Action {
 public:
  explicit MakeSafe(std::string role) : role_(std::move(role)) {}

  task<Result> run(RunContext& context, const Step&) const override {
    std::exception_ptr first;
    for (OpenInstrument& i : context.instruments()) {
      if (!i.instrument || !(role_ == every_instrument || role_ == i.need.role)) continue;
      context.progress() = i.need.role + " has not confirmed";
      std::exception_ptr failure;
      try {
        co_await i.instrument->make_safe(context.call_limit());
        i.is_safe = true;
        put_off(context, i.need.role);
      } catch (...) {
        failure = std::current_exception();
      }
      if (failure && !first) first = failure;
    }
    if (first) std::rethrow_exception(first);
    co_return std::monostate{};
  }
  base::ErrorCode when_late() const override { return base::ErrorCode::time_out; }
  std::string advice_when_late() const override { return "switch the instruments off by hand"; }

 private:
  std::string role_;
};

ReadStep read(StepReader& reader) {
  const auto role = reader.text("make safe");
  if (!role) return {};
  if (*role != every_instrument && !reader.role(*reader.fields.node("make safe"), *role)) return {};
  return {.action = std::make_shared<MakeSafe>(*role), .gives = {}, .makes_safe = *role};
}

}  // namespace

void register_make_safe(Verbs& verbs) {
  registers::Declaration safe{.name = "make safe",
                              .about = "leave instruments harmless: acquisitions stopped, outputs off",
                              .parameters = {.name = "make safe", .about = "instruments left harmless", .keys = {}},
                              .example = "- make safe: every instrument\n  within: 10 s\n",
                              .sentence = "Make <make safe> safe"};
  safe.parameters.keys = {{.name = "make safe",
                           .required = true,
                           .type = yaml::Type::text,
                           .help = "`every instrument`, or the role of one",
                           .example = "every instrument"},
                          within_key(true),
                          otherwise_key()};
  verbs.add(std::move(safe), read);
}

}  // namespace eyelevel::sequence
