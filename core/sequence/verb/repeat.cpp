// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/verb/repeat.hpp"

#include "core/sequence/language/rounds.hpp"
#include "core/sequence/verb/decide.hpp"

namespace eyelevel::sequence {

namespace {

ReadStep read(StepReader& reader) {
  ReadStep step;
  step.flow = Flow::repeat;
  const auto rounds = read_rounds(*reader.fields.node("repeat"), reader.mistakes());
  if (rounds) step.rounds = rounds->rounds;
  if (const auto pause_s = reader.fields.quantity("pause", quantity::time)) {
    step.rounds.pause = base::from_seconds(*pause_s);
    if (step.rounds.every)
      reader.report("pause", "its rounds begin at fixed times, there is nothing to pause", "leave it out");
    if (*pause_s < 0) reader.report("pause", "a pause cannot be negative", "write a time such as `30 s`");
  }
  // Before `until`, which may ask for what they give.
  step.inside = reader.steps("do");
  if (reader.fields.has("until")) {
    step.action = read_condition(reader, "until");
  } else if (rounds && rounds->is_at_most) {
    reader.report("repeat", "nothing ends it before its rounds are over",
                  "write `until: CONDITION`, or only `6 times`");
  }
  return step;
}

}  // namespace

void register_repeat(Verbs& verbs) {
  registers::Declaration declared{.name = "repeat",
                                  .about = "do steps several times, until something holds, or every so often",
                                  .parameters = {.name = "repeat", .about = "rounds of steps", .keys = {}},
                                  .example =
                                      "- repeat: at most 6 times\n  pause: 30 s\n  until: level_before meets level\n  "
                                      "do:\n    - note: One more round\n",
                                  .sentence = "Repeat <repeat>"};
  declared.parameters.keys = {{.name = "repeat",
                               .required = true,
                               .type = yaml::Type::text,
                               .help = "how often: `at most N times` (with until), `N times`, `every TIME for TIME`",
                               .example = "at most 6 times"},
                              {.name = "pause",
                               .type = yaml::Type::quantity,
                               .dimension = quantity::time,
                               .help = "between two rounds",
                               .example = "30 s"},
                              {.name = "until",
                               .type = yaml::Type::text,
                               .help = "a condition on readings, looked at after each round",
                               .example = "level_before meets level"},
                              steps_key("do", "the steps of a round"),
                              within_key(false),
                              otherwise_key()};
  verbs.add(std::move(declared), read);
}

}  // namespace eyelevel::sequence
