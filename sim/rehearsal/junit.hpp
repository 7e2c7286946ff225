// SPDX-License-Identifier: Apache-2.0
// The outcome of a rehearsal as a JUnit XML file (the widespread form: testsuite, testcase, failure), for CI.
#pragma once

#include <string>
#include <vector>

#include "sim/rehearsal/rehearse.hpp"

namespace eyelevel::sim {

std::string junit_xml(const std::string& sequence, const std::vector<UnitOutcome>& units);

}  // namespace eyelevel::sim
