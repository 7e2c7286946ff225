// SPDX-License-Identifier: Apache-2.0
// What the operator does, and leaves undone.
#include "sim/trouble/trouble.hpp"

namespace eyelevel::sim {
namespace {

using base::ErrorCode;
using enum Demand::Ending;

// Makes a mistake whenever there is occasion.
std::function<void(UnitMake&, base::Random&)> always(double OperatorMistakes::* mistake) {
  return [mistake](UnitMake& make, base::Random&) { make.person.mistakes.*mistake = 1; };
}

void hurry(UnitMake& make, base::Random&) {
  make.person.careful = false;
  make.person.mistakes = usual_mistakes(false);
}

}  // namespace

void register_person_troubles(Troubles& troubles) {
  add(troubles,
      {{"wrong disc",
        "the operator puts in a disc of another kind than the prompt asks for, and says done",
        "nothing: what is measured is true of the disc that lies there",
        {},
        {any, {}},
        always(&OperatorMistakes::wrong_disc)},
       {"nobody there",
        "the operator says done and does nothing: no disc ever plays",
        "that there is no eye, or no edge to trigger on",
        {"no eye", "did not rise"},
        {stopped, {ErrorCode::wait_ran_out}, {}, "oscilloscope"},
        always(&OperatorMistakes::untrue_done)},
       {"operator away",
        "the operator is away from the bench for minutes at every prompt",
        "that nobody answered",
        {"nobody answered"},
        {by_truth, {ErrorCode::no_answer}},
        always(&OperatorMistakes::absent)},
       {"track not started",
        "the operator puts the disc in, starts no track, and says done",
        "that there is no eye",
        {"no eye", "lead-in", "no readable position"},
        {no_eye, {ErrorCode::wait_ran_out}},
        always(&OperatorMistakes::start_forgotten)},
       {"player paused",
        "the operator starts the track and presses pause",
        "that the disc does not move on",
        {"pause or search", "no eye"},
        {no_eye, {ErrorCode::wait_ran_out}},
        always(&OperatorMistakes::paused)},
       {"hasty operator",
        "the operator is in a hurry: now and then another disc, a step left out, done said of nothing, a turn "
        "the other way, minutes away from the bench",
        "nothing of its own: what is measured is judged as it is",
        {},
        {true_pass, {}},
        hurry},
       {"wrong way",
        "the operator turns the trimmer the other way than the prompt says",
        "nothing of its own: the level is judged as it then is",
        {},
        {by_truth, {ErrorCode::no_answer, ErrorCode::wait_ran_out}},
        always(&OperatorMistakes::wrong_direction)},
       {"wrong trimmer",
        "the operator turns a trimmer that does nothing to the laser",
        "nothing of its own: the level is judged as it is",
        {},
        {by_truth, {ErrorCode::no_answer, ErrorCode::wait_ran_out}},
        always(&OperatorMistakes::wrong_trimmer)}});
}

}  // namespace eyelevel::sim
