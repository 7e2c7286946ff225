// SPDX-License-Identifier: Apache-2.0
#include "core/record/journal/chunks.hpp"

#include <catch2/catch.hpp>

#include <cmath>

#include "core/base/error.hpp"
#include "core/base/random.hpp"

using namespace eyelevel;
using namespace eyelevel::record;

namespace {

template <class T>
std::vector<T> noise(std::size_t n) {
  base::Random random(3);
  std::vector<T> list(n);
  for (T& x : list) x = static_cast<T>(random.normal(0, 20));
  return list;
}

}  // namespace

TEMPLATE_TEST_CASE("chunks: samples of each type come back at every size around a chunk's edge", "[record]",
                   std::int8_t, std::int16_t, float) {
  const std::size_t edge = chunk_size_bytes / sizeof(TestType);
  const char* type = sizeof(TestType) == 1 ? "int8" : sizeof(TestType) == 2 ? "int16" : "float32";
  for (const std::size_t n : {std::size_t{0}, std::size_t{1}, edge - 1, edge, edge + 1, 2 * edge + 7}) {
    CAPTURE(n);
    const auto truth = noise<TestType>(n);
    const auto chunks = pack(truth);
    CHECK(chunks.size() == (n + edge - 1) / edge);
    CHECK(std::get<std::vector<TestType>>(unpack(type, n, chunks)) == truth);
  }
}

TEST_CASE("chunks: a flipped bit, a lost chunk and a wrong count are noticed", "[record]") {
  const auto truth = noise<std::int8_t>(chunk_size_bytes + 100);
  auto chunks = pack(truth);
  CHECK_THROWS_WITH(unpack("int8", truth.size() + 1, chunks), Catch::Contains("damaged"));
  CHECK_THROWS_WITH(unpack("int16", truth.size(), chunks), Catch::Contains("damaged"));
  CHECK_THROWS_WITH(unpack("int12", truth.size(), chunks), Catch::Contains("int12"));
  CHECK_THROWS_AS(unpack("int8", truth.size(), std::span(chunks).first(1)), base::Error);
  chunks[0][chunks[0].size() / 2] ^= std::byte{1};
  CHECK_THROWS_WITH(unpack("int8", truth.size(), chunks), Catch::Contains("damaged"));
}

TEST_CASE("chunks: a count beyond all memory is refused without trying", "[record]") {
  const auto chunks = pack(noise<std::int8_t>(10));
  CHECK_THROWS_AS(unpack("float32", std::uint64_t{1} << 62, chunks), base::Error);
}
