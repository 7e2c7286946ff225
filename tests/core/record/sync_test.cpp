// SPDX-License-Identifier: Apache-2.0
#include "core/record/archive/sync.hpp"

#include <catch2/catch.hpp>

#include <fstream>

#include "tests/support/temporary_folder.hpp"

using namespace eyelevel;

TEST_CASE("sync: a file and its folder are put on the disk; what is not there is named", "[record]") {
  const test::TemporaryFolder folder;
  std::ofstream(folder / "a") << "x";
  record::sync(folder / "a");
  record::sync_folder_of(folder / "a");
  CHECK_THROWS_WITH(record::sync(folder / "none"), Catch::Contains("none"));
}
