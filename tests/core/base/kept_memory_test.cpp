// SPDX-License-Identifier: Apache-2.0
#include "core/base/kept_memory.hpp"

#include <sys/resource.h>

#include <catch2/catch.hpp>

#include <vector>

using namespace eyelevel;

namespace {

#if !defined(__GLIBC__) || __has_feature(address_sanitizer) || __has_feature(thread_sanitizer)
constexpr bool is_malloc_of_the_library = false;  // sanitizers bring their own
#else
constexpr bool is_malloc_of_the_library = true;
#endif

long page_faults() {
  rusage usage{};
  getrusage(RUSAGE_SELF, &usage);
  return usage.ru_minflt;
}

// Three pieces of two megabytes, every page of them written.
void use_memory() {
  const std::vector<std::vector<char>> pieces(3, std::vector<char>(2 << 20, 'x'));
  REQUIRE(pieces.back().back() == 'x');
}

}  // namespace

TEST_CASE("kept memory: what was given back is used again without asking the system for it", "[base]") {
  base::keep_freed_memory();
  use_memory();
  const long before = page_faults();
  use_memory();
  if (is_malloc_of_the_library) CHECK(page_faults() - before < 100);  // 1536 pages of 4 KiB if it were fresh
}
