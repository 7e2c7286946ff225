// SPDX-License-Identifier: Apache-2.0
// A checked sequence in plain sentences, and what can be known of it before it is run: how long it takes, how long the
// laser of the player is lit, what the operator will be asked. The sentences come from the verbs' declarations.
#pragma once

#include <string>
#include <vector>

#include "core/bench/operator.hpp"
#include "core/sequence/language/verb.hpp"

namespace eyelevel::sequence {

struct Sentence {
  int depth = 0;       // of the steps around it
  std::string number;  // "3" of an outermost step, otherwise empty
  std::string text;
  event::Place place;
};

// Seconds: when all goes well, and at the very most, when each wait takes all of its time and each further try is made.
struct Duration {
  double likely_s = 0;
  double longest_s = 0;
};

struct Explanation {
  std::vector<Sentence> opening, steps, closing;
  Duration whole;
  Duration laser_lit;                  // as far as prompts and waits tell
  std::vector<bench::Question> asked;  // each place where it stands once, however often that is reached
};

Explanation explain(const Sequence& sequence, const Language& language);

// "about 2 min 5 s, at most 13 min"
std::string in_words(const Duration& duration);

}  // namespace eyelevel::sequence
