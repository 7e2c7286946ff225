// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/verb/acquire.hpp"

#include <fmt/format.h>

namespace eyelevel::sequence {

double rate_hz(RunContext& context, const SignalPlace& signal) {
  const RoleNeed* need = context.sequence().role(signal.role);
  return need && need->rate_hz ? *need->rate_hz : usual_rate_hz;
}

task<Acquired> acquire(RunContext& context, const SignalPlace& signal, double duration_s,
                       std::optional<bench::Trigger> trigger, std::optional<double> rate) {
  auto& scope = context.oscilloscope(signal.role);
  const double before_s = context.now_s();
  const bench::Acquisition wanted{signal.channel, duration_s, rate.value_or(rate_hz(context, signal)), trigger};
  auto waveform = std::make_shared<signal::Waveform>(co_await scope.capture(wanted, context.call_limit()));
  const double after_s = context.now_s();
  if (waveform->size() == 0 || !(waveform->rate_hz > 0))
    throw base::Error(base::ErrorCode::bad_answer,
                      fmt::format("{} gave a capture of '{}' without samples", signal.role, signal.name),
                      "is the channel switched on?");
  // When the record began, as the instrument's driver says; the time of the call where that cannot be.
  const bool is_dated = waveform->start_s >= before_s && waveform->start_s <= after_s;
  const double from_s = is_dated ? waveform->start_s : before_s;
  waveform->start_s = from_s;
  const double until_s = from_s + waveform->duration_s();
  co_return Acquired{std::move(waveform), from_s, until_s};
}

disc::Analysis analyse_eye(const RunContext& context, const SignalPlace& signal, const signal::Waveform& waveform) {
  disc::AnalysisOptions options;
  options.subcode_wanted = false;
  options.errors_wanted = false;
  options.a_c_coupled = context.is_ac_coupled(signal.name);
  return disc::analyse(waveform.view(), options);
}

}  // namespace eyelevel::sequence
