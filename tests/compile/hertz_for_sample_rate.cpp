// SPDX-License-Identifier: Apache-2.0
// Built twice: as it is it must compile, with EYELEVEL_WRONG it must not.
#include "core/quantity/quantity.hpp"

using namespace eyelevel::quantity;

#ifdef EYELEVEL_WRONG
constexpr SampleRate rate = Hertz(20e6);
#else
constexpr SampleRate rate = Samples(20e6) / Seconds(1);
#endif
static_assert(rate.si() > 0);
