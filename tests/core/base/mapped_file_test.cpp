// SPDX-License-Identifier: Apache-2.0
#include "core/base/mapped_file.hpp"

#include <catch2/catch.hpp>

#include <sys/stat.h>
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

TEST_CASE("mapped file: an absent file, a folder, a device and a pipe are refused by name", "[base]") {
  CHECK_THROWS_WITH(MappedFile("/nowhere/at-all.npy"), Catch::Contains("/nowhere/at-all.npy"));
  CHECK_THROWS_WITH(MappedFile("/tmp"), Catch::Contains("/tmp"));
  CHECK_THROWS_WITH(MappedFile("/dev/zero"), Catch::Contains("/dev/zero: is a pipe or a device"));
  const auto pipe = std::filesystem::temp_directory_path() / ("eyelevel-pipe-" + std::to_string(::getpid()));
  REQUIRE(::mkfifo(pipe.c_str(), 0600) == 0);
  CHECK_THROWS_WITH(MappedFile(pipe), Catch::Contains("is a pipe"));
  std::filesystem::remove(pipe);
}

TEST_CASE("mapped file: released pages leave memory and come back with the same bytes", "[base]") {
  const auto resident_kb = [] {
    std::ifstream statm("/proc/self/statm");
    long all = 0, resident = 0;
    statm >> all >> resident;
    return resident * ::sysconf(_SC_PAGESIZE) / 1024;
  };
  constexpr std::size_t size = std::size_t{64} << 20;
  const auto path = std::filesystem::temp_directory_path() / ("eyelevel-released-" + std::to_string(::getpid()));
  std::ofstream(path) << "begin";
  std::filesystem::resize_file(path, size);  // a hole
  const MappedFile file(path);
  const auto sum = [&] {
    long all = 0;
    for (const std::byte b : file.bytes()) all += std::to_integer<long>(b);
    return all;
  };
  const long first = sum();
  const long before_kb = resident_kb();
  file.release(0, size + 1);  // more than there is: what lies behind the mapping is not touched
  CHECK(before_kb - resident_kb() > 60 * 1024);
  CHECK(sum() == first);
  CHECK(file.text().substr(0, 5) == "begin");
  std::filesystem::remove(path);
}
