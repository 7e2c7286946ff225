// SPDX-License-Identifier: Apache-2.0
// Built twice: as it is it must compile, with EYELEVEL_WRONG it must not.
#include "core/quantity/quantity.hpp"

using namespace eyelevel::quantity;

constexpr Volts level(1.2);
constexpr Seconds length(45);

#ifdef EYELEVEL_WRONG
constexpr auto nonsense = level + length;
#else
constexpr auto twice = level + level;
static_assert(twice == Volts(2.4));
#endif
