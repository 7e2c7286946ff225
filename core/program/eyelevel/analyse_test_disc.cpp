// SPDX-License-Identifier: Apache-2.0
#include "core/program/eyelevel/analyse_test_disc.hpp"

#include <fmt/format.h>

namespace eyelevel::program {

KnownDisc known_disc(const bench::TestDiscs& discs, const disc::Analysis& a) {
  if (!a.has_eye) return {{}, "there is no eye, so that nothing can be read"};
  if (!a.contents) {
    return {{}, "no table of contents was read: capture the lead-in, which a player reads when a disc was put in"};
  }
  if (!a.contents->complete) {
    return {{}, "its table of contents is not complete: capture half a second more of the lead-in"};
  }
  if (const bench::TestDisc* found = discs.find(a.contents->mark)) return {*found, {}};
  return {{}, fmt::format("none of the {} in {} has the mark {}", discs.list.size(), discs.file, a.contents->mark)};
}

}  // namespace eyelevel::program
