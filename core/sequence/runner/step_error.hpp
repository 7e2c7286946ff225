// SPDX-License-Identifier: Apache-2.0
// What went wrong in a step, as one error that says where.
#pragma once

#include <exception>
#include <string>

#include "core/base/error.hpp"
#include "core/event/event.hpp"

namespace eyelevel::sequence {

// `file`: of the sequence; a step of a part names its own.
std::string place_in_words(const std::string& file, const event::Place& place);

// Any exception of a step as one error. The step's place goes in front.
base::Error translated(const std::exception_ptr& failure, const std::string& where);
base::Error stopped_at(const std::string& where);
// Nothing that `otherwise` or another try could mend.
bool ends_the_run(const base::Error& error);

}  // namespace eyelevel::sequence
