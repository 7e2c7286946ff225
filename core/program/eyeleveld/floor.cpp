// SPDX-License-Identifier: Apache-2.0
#include "core/program/eyeleveld/floor.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "core/base/error.hpp"

namespace eyelevel::program {

namespace {

bool has(const std::vector<service::BenchSetting>& settings, const std::string& name) {
  return std::any_of(settings.begin(), settings.end(), [&](const auto& one) { return one.bench.name == name; });
}

}  // namespace

Floor::Floor(service::House& house, Benches& benches, std::vector<service::BenchSetting> settings)
    : house_(house), benches_(benches) {
  for (auto& setting : settings) add(std::move(setting));
}

void Floor::add(service::BenchSetting setting) {
  owners_.push_back(owned_.emplace_back(std::make_unique<service::BenchOwner>(house_, std::move(setting))).get());
}

service::BenchOwner* Floor::find(const std::string& name) const {
  const auto at =
      std::find_if(owners_.begin(), owners_.end(), [&](const auto* one) { return one->bench().name == name; });
  return at == owners_.end() || (*at)->is_over() ? nullptr : *at;
}

// An instrument goes to another bench only when the bench that has it is done with it.
void Floor::require_free(const std::vector<service::BenchSetting>& settings) const {
  for (const auto* owner : owners_) {
    if (has(settings, owner->bench().name) || owner->state() == service::BenchState::idle || owner->is_over()) continue;
    for (const auto& held : owner->bench().instruments)
      for (const auto& setting : settings)
        for (const auto& wanted : setting.bench.instruments)
          if (wanted.resource == held.resource)
            throw base::Error(
                base::ErrorCode::bad_input,
                fmt::format("{} is to go from bench {}, which has a job under way, to {}; nothing was changed",
                            held.resource, owner->bench().name, setting.bench.name),
                "reload again when that job is over");
  }
}

std::vector<NotedBench> Floor::reload() {
  auto settings = benches_.read();
  require_free(settings);
  for (auto* owner : owners_)
    if (!has(settings, owner->bench().name)) owner->retire();
  std::vector<NotedBench> reloaded;
  for (auto& setting : settings) {
    reloaded.push_back(noted(setting.bench));
    if (auto* owner = find(setting.bench.name))
      owner->replace(std::move(setting));
    else
      add(std::move(setting));
  }
  return reloaded;
}

void Floor::ended(const service::BenchOwner& owner) {
  if (owner.is_retiring()) std::erase(owners_, &owner);
}

}  // namespace eyelevel::program
