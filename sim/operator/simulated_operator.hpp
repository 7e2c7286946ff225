// SPDX-License-Identifier: Apache-2.0
// A person at the simulated bench: reads a prompt, does to the player what it asks for, takes as long as a person
// takes, and answers. Turns of the trimmer come out roughly; other mistakes are made only where they are asked for. Not
// here: understanding the words (core/bench/deed.hpp), the player (sim/player). Waits on the Timeline; player and
// timeline must outlive it. Times and probabilities are practice values of careful and hasty people.
#pragma once

#include <cstdint>
#include <map>
#include <memory>
#include <string>
#include <vector>

#include "core/base/random.hpp"
#include "core/base/timeline.hpp"
#include "core/bench/deed.hpp"
#include "core/bench/operator.hpp"
#include "sim/disc/disc.hpp"
#include "sim/player/moved_lead.hpp"
#include "sim/player/player.hpp"

namespace eyelevel::sim {

using bench::Deed;
using bench::DeedKind;

// Probabilities, each per occasion.
struct OperatorMistakes {
  double wrong_disc = 0;
  double step_forgotten = 0;
  double untrue_done = 0;  // says "done" and did nothing
  double wrong_direction = 0;
  double absent = 0;           // away from the bench, five minutes in the mean
  double wrong_trimmer = 0;    // turns another one, which does nothing to the laser
  double start_forgotten = 0;  // puts the disc in and leaves it at that
  double paused = 0;           // starts the track and presses pause
};
OperatorMistakes usual_mistakes(bool careful);

struct OperatorTraits {
  bool careful = true;  // hasty people are quicker
  OperatorMistakes mistakes;
  std::string name = "simulated operator";
  std::map<std::string, std::string> answers = {};  // by the name of the answer or the text of the prompt
};

class SimulatedOperator : public bench::Operator {
 public:
  // Of several discs of one kind the first in the box is taken, unless the prompt holds the identity of another.
  SimulatedOperator(Player& player, base::Timeline& timeline, std::vector<std::shared_ptr<const Disc>> box,
                    std::uint64_t seed, OperatorTraits traits = {});

  // A lead of the bench by the name that prompts have for it; `at` must outlive this.
  void may_move(const std::string& lead, MovedLead& at) { leads_[lead] = &at; }

  // What it is told to answer, else what is found by looking (inspection.hpp), else yes, the first choice, the middle
  // of what is allowed, or a made-up code or text.
  task<bench::Answer> ask(const bench::Question& question) override;

  // What was done, for the story of a demonstration.
  struct Done {
    double time_s = 0;
    DeedKind kind = DeedKind::look;
    std::string what;          // identity of a disc, or the words of the prompt
    double clockwise_deg = 0;  // as it really came out
  };
  const std::vector<Done>& done() const { return done_; }

 private:
  double now_s() const;
  struct Span {  // 5 and 95 % points, seconds
    double p5, p95;
  };
  task<> take(Span careful, Span hasty);
  // What could not be done, in words; empty when all is well.
  task<std::string> perform(const Deed& deed);
  task<std::string> insert(const Deed& deed);
  task<std::string> start(const Deed& deed);
  task<> pause_what_plays();
  task<> remove(const Deed& deed);
  task<> turn(const Deed& deed);
  task<> switch_to(bool on);
  task<std::string> move_lead(const Deed& deed);
  task<std::string> told(const bench::Question& question);
  static std::string usual_answer(const bench::Question& question);
  task<bool> is_heard();
  std::shared_ptr<const Disc> choose(const std::string& words) const;
  void note(DeedKind kind, std::string what, double clockwise_deg = 0);

  Player& player_;
  base::Timeline& timeline_;
  std::vector<std::shared_ptr<const Disc>> box_;
  base::Random chance_;
  OperatorTraits traits_;
  bool wanted_off_ = false;  // by the present prompt
  std::map<std::string, MovedLead*> leads_;
  std::vector<Done> done_;
};

}  // namespace eyelevel::sim
