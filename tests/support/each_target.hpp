// SPDX-License-Identifier: Apache-2.0
// Kernels are tested with every set of instructions that this processor has.
#pragma once

#include <hwy/targets.h>

#include <catch2/catch.hpp>

#include <bit>
#include <cstdint>
#include <functional>

namespace eyelevel::support {

// Runs the work once for each set of instructions, and with all of them again afterwards.
inline void on_each_target(const std::function<void()>& work) {
  const auto choose = [](std::int64_t targets) {
    hwy::SetSupportedTargetsForTest(targets);
    hwy::GetChosenTarget().Update(hwy::SupportedTargets());
  };
  std::int64_t left = hwy::SupportedTargets();
  REQUIRE(std::popcount(static_cast<std::uint64_t>(left)) >= 2);
  for (; left != 0; left &= left - 1) {
    const std::int64_t target = left & -left;
    choose(target);
    INFO(hwy::TargetName(target));
    work();
  }
  choose(0);
}

}  // namespace eyelevel::support
