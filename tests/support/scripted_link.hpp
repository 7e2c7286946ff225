// SPDX-License-Identifier: Apache-2.0
// A link that plays a written exchange: each message must be the next of the script, each answer is what the script
// says. Anything else is remembered and fails the test. An answer that is absent never comes.
#pragma once

#include <deque>
#include <memory>
#include <optional>
#include <string>
#include <utility>

#include "core/base/error.hpp"
#include "instruments/transport/link.hpp"

namespace eyelevel::test {

struct Exchange {
  std::string sent;
  std::optional<std::string> answer;  // of a query; empty: nothing comes
};

struct Script {
  std::deque<Exchange> rest;
  std::string surprise;  // the first message that was not in the script
  int clears = 0;
  int messages = 0;

  void add(std::string sent) { rest.push_back({std::move(sent), std::nullopt}); }
  void add(std::string sent, std::string answer) { rest.push_back({std::move(sent), std::move(answer)}); }
  bool done() const { return rest.empty() && surprise.empty(); }
};

class ScriptedLink final : public transport::Link {
 public:
  ScriptedLink(base::Timeline& timeline, Script& script) : timeline_(timeline), script_(script) {}

  const std::string& resource_name() const override { return name_; }
  task<> write(std::string_view message) override {
    ++script_.messages;
    if (script_.rest.empty() || script_.rest.front().sent != message) {
      if (script_.surprise.empty()) script_.surprise = message;
      throw base::Error(base::ErrorCode::defect, "not in the script: " + std::string(message));
    }
    answer_ = std::move(script_.rest.front().answer);
    script_.rest.pop_front();
    co_return;
  }
  task<> read(transport::Buffer& into, std::size_t) override {
    into.clear();
    if (!answer_) co_await timeline_.sleep(std::chrono::hours(24));
    into = *std::exchange(answer_, std::nullopt);
  }
  task<> clear() override {
    ++script_.clears;
    answer_.reset();
    co_return;
  }
  void close() noexcept override {}

 private:
  base::Timeline& timeline_;
  Script& script_;
  std::string name_ = "MEMORY0::scripted::INSTR";
  std::optional<std::string> answer_;
};

}  // namespace eyelevel::test
