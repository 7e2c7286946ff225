// SPDX-License-Identifier: Apache-2.0
// The verb `measure`: makes a reading by one of the registered measures (measure/ready.hpp): `MEASURE of NAME`, where
// NAME is the result of an earlier step or a signal that the measure reads itself.
#pragma once

#include "core/sequence/language/verb.hpp"

namespace eyelevel::sequence {

void register_measure(Verbs& verbs);

}  // namespace eyelevel::sequence
