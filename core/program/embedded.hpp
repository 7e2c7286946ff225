// SPDX-License-Identifier: Apache-2.0
// Files of examples/ that are compiled in, so that a rehearsal needs no other file (core/program/CMakeLists.txt).
#pragma once

#include <string_view>

namespace eyelevel::program::embedded {

extern const std::string_view bench_yaml;
extern const std::string_view model_yaml;

}  // namespace eyelevel::program::embedded
