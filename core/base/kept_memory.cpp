// SPDX-License-Identifier: Apache-2.0
#include "core/base/kept_memory.hpp"

#include <cstdlib>

#ifdef __GLIBC__
#include <malloc.h>
#endif

namespace eyelevel::base {

void keep_freed_memory() {
#ifdef __GLIBC__
  constexpr int kept = 16 << 20, largest = 4 << 20;  // bytes: of all that is free, and of one piece
  mallopt(M_TRIM_THRESHOLD, kept);
  mallopt(M_MMAP_THRESHOLD, largest);
#endif
}

}  // namespace eyelevel::base
