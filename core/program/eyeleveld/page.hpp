// SPDX-License-Identifier: Apache-2.0
// The files of core/service/page, compiled in (core/program/CMakeLists.txt).
#pragma once

#include "core/service/api.hpp"

namespace eyelevel::program {

service::Page page();

}  // namespace eyelevel::program
