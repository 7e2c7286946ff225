// SPDX-License-Identifier: Apache-2.0
#include "core/base/mapped_file.hpp"

#include <catch2/catch.hpp>

#include <unistd.h>

#include <fstream>

#include "core/base/error.hpp"

using namespace eyelevel::base;

TEST_CASE("mapped file: gives the bytes of a file, and none of an empty one", "[base]") {
  const auto folder = std::filesystem::temp_directory_path();
  const auto path = folder / ("eyelevel-mapped-" + std::to_string(::getpid()));
  std::ofstream(path) << "eleven byte";
  CHECK(MappedFile(path).text() == "eleven byte");
  std::ofstream(path, std::ios::trunc).flush();
  CHECK(MappedFile(path).bytes().empty());
  std::filesystem::remove(path);
}

TEST_CASE("mapped file: an absent file and a folder are refused by name", "[base]") {
  CHECK_THROWS_WITH(MappedFile("/nowhere/at-all.npy"), Catch::Contains("/nowhere/at-all.npy"));
  CHECK_THROWS_WITH(MappedFile("/tmp"), Catch::Contains("/tmp"));
}
