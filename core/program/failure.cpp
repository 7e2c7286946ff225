// SPDX-License-Identifier: Apache-2.0
#include "core/program/failure.hpp"

#include <fmt/format.h>

#include <cstdio>

#include "core/base/error.hpp"
#include "core/program/eyelevel/command.hpp"
#include "core/program/output.hpp"

namespace eyelevel::program {

int told_failure(const char* program, const std::exception_ptr& failure) {
  try {
    std::rethrow_exception(failure);
  } catch (const base::Error& error) {
    put(stderr, fmt::format("{}: {}\n", program, error.what()));
    return base::kind_of(error.record().code) == base::ErrorKind::input ? wrong_input : not_finished;
  } catch (const std::exception& error) {
    // Printing throws when its stream refuses: that is told once, at the end.
    if (is_output_lost()) return not_finished;
    put(stderr, fmt::format("{}: our own defect, please report it: {}\n", program, error.what()));
    return not_finished;
  }
}

}  // namespace eyelevel::program
