// SPDX-License-Identifier: Apache-2.0
// Parts from outside whose answers a test chooses, and what they were asked.
#pragma once

#include <functional>
#include <memory>
#include <vector>

#include "core/sequence/outside/add.hpp"
#include "tests/core/sequence/harness.hpp"

namespace eyelevel::test {

struct Outside {
  std::shared_ptr<std::vector<registers::Question>> asked = std::make_shared<std::vector<registers::Question>>();
  std::function<registers::Answer(const registers::Question&)> answer = [](const registers::Question&) {
    return registers::Answer{
        .reading = registers::OutsideReading{.value = 0.5, .unit = "1", .standard_uncertainty = 0.1},
        .notes = {"seen"},
        .numbers = {},
        .text = {}};
  };

  registers::OutsidePart part(registers::PartKind kind, const std::string& name) const {
    registers::OutsidePart made;
    made.kind = kind;
    made.declaration = {.name = name,
                        .about = "about " + name,
                        .parameters = {.name = name, .about = "about", .keys = {}},
                        .example = "- " + name + ": x\n",
                        .from = "plugin test"};
    made.call = [asked = asked, answer = answer](registers::Question question, base::Timeline& timeline,
                                                 base::Duration) -> task<registers::Answer> {
      co_await timeline.sleep(std::chrono::milliseconds(1));
      asked->push_back(question);
      co_return answer(question);
    };
    return made;
  }

  // `share: READING` with `full: VOLTS`, a ratio.
  registers::OutsidePart verb() const {
    auto made = part(registers::PartKind::verb, "share");
    made.gives = quantity::ratio;
    made.results = {{"share", registers::ResultKind::reading}};
    made.declaration.parameters.keys = {
        {.name = "share", .required = true, .type = yaml::Type::word, .help = "of what", .example = "level"},
        {.name = "full",
         .required = true,
         .type = yaml::Type::quantity,
         .dimension = quantity::voltage,
         .help = "the whole",
         .example = "1.6 V"}};
    return made;
  }

  // `measure: spread of CAPTURES` with `above: VOLTS`, a ratio.
  registers::OutsidePart measure() const {
    auto made = part(registers::PartKind::measure, "spread");
    made.gives = quantity::ratio;
    made.takes = registers::ResultKind::captures;
    made.declaration.parameters.keys = {{.name = "above",
                                         .required = true,
                                         .type = yaml::Type::quantity,
                                         .dimension = quantity::voltage,
                                         .help = "what counts",
                                         .example = "1 V"}};
    return made;
  }
};

inline std::string mistakes_with(const sequence::Language& language, const std::string& text) {
  yaml::Document document = yaml::load_text("test.yaml", text);
  sequence::check(document, language);
  std::string all;
  for (const yaml::Mistake& m : document.mistakes.list()) all += yaml::print(m) + "\n";
  return all;
}

inline sequence::Sequence checked_with(const sequence::Language& language, const std::string& text) {
  yaml::Document document = yaml::load_text("test.yaml", text);
  auto sequence = sequence::check(document, language);
  for (const yaml::Mistake& m : document.mistakes.list()) UNSCOPED_INFO(yaml::print(m));
  REQUIRE(sequence.has_value());
  return *sequence;
}

}  // namespace eyelevel::test
