// SPDX-License-Identifier: Apache-2.0
#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;

namespace {

const std::string enclosing = "  - enclose: photo of the lens\n    as: lens\n    within: 10 min\n";

}  // namespace

TEST_CASE("enclose: what the operator hands over goes into the record with its name", "[sequence]") {
  test::FakeBench bench;
  bench.person.says = "lens.jpg";
  bench.person.content = std::make_shared<const std::string>("\xff\xd8\0", 3);
  CHECK_FALSE(bench.run(test::around(enclosing)).error);
  const auto enclosed = bench.journal.of<event::Enclosed>();
  REQUIRE(enclosed.size() == 1);
  CHECK(enclosed[0].name == "lens");
  CHECK(enclosed[0].about == "photo of the lens");
  CHECK(enclosed[0].file_name == "lens.jpg");
  CHECK(enclosed[0].size_bytes == 3);
  CHECK(*enclosed[0].content == std::string("\xff\xd8\0", 3));
}

TEST_CASE("enclose: a file that cannot be read is asked for again, with the reason", "[sequence]") {
  test::FakeBench bench;
  bench.person.does = [&](const std::string&) {
    if (bench.person.asked.size() == 2) bench.person.content = std::make_shared<const std::string>("text");
  };
  CHECK_FALSE(bench.run(test::around(enclosing)).error);
  REQUIRE(bench.person.questions.size() == 2);
  CHECK(bench.person.questions[1].again == "there is no such file");
  CHECK(bench.journal.of<event::Enclosed>().size() == 1);
}

TEST_CASE("enclose: without a file the run ends with what was wanted", "[sequence]") {
  test::FakeBench bench;
  const auto result = bench.run(test::around(enclosing));
  REQUIRE(result.error);
  CHECK_THAT(result.error->message, Catch::Contains("\"photo of the lens\" was not handed over"));
}
