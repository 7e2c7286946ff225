// SPDX-License-Identifier: Apache-2.0
// /metrics: figures of the daemon as OpenMetrics 1.0 text.
#include <fmt/format.h>

#include <array>
#include <map>
#include <utility>

#include "core/service/api.hpp"

namespace eyelevel::service {

using record::JobState;

namespace {

// OpenMetrics 1.0, "escaped-string": backslash, quote and line feed.
std::string label(std::string_view text) {
  std::string escaped;
  for (const char c : text) {
    if (c == '\\' || c == '"') escaped += '\\';
    if (c == '\n')
      escaped += "\\n";
    else
      escaped += c;
  }
  return escaped;
}

constexpr std::array all_bench_states = {BenchState::idle,   BenchState::waits_for_start, BenchState::running,
                                         BenchState::paused, BenchState::stopping,        BenchState::stopped_working};

}  // namespace

task<http::Response> Api::metrics(const Call&) {
  std::map<std::pair<std::string, JobState>, std::int64_t> counted;
  co_await on_store_thread([&] {
    for (const auto& one : house_.jobs.counts()) counted[{one.bench, one.state}] = one.count;
  });
  std::string text = "# TYPE eyelevel_bench_state stateset\n# HELP eyelevel_bench_state What a bench does now.\n";
  for (const auto* owner : benches_)
    for (const auto state : all_bench_states)
      text += fmt::format("eyelevel_bench_state{{bench=\"{}\",eyelevel_bench_state=\"{}\"}} {}\n",
                          label(owner->bench().name), name_of(state), owner->state() == state ? 1 : 0);
  text += "# TYPE eyelevel_jobs gauge\n# HELP eyelevel_jobs Jobs that are not over.\n";
  for (const auto* owner : benches_)
    for (const auto state : {JobState::waiting, JobState::under_way, JobState::interrupted})
      text += fmt::format("eyelevel_jobs{{bench=\"{}\",state=\"{}\"}} {}\n", label(owner->bench().name),
                          record::name_of(state), counted[{owner->bench().name, state}]);
  text += fmt::format("eyelevel_jobs{{bench=\"\",state=\"waiting\"}} {}\n", counted[{"", JobState::waiting}]);
  text += "# EOF\n";
  co_return http::Response{200, "application/openmetrics-text; version=1.0.0; charset=utf-8", std::move(text), {}};
}

}  // namespace eyelevel::service
