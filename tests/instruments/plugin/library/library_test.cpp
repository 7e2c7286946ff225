// SPDX-License-Identifier: Apache-2.0
#include "instruments/plugin/library/library.hpp"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <catch2/catch.hpp>

#include "core/base/error.hpp"
#include "tests/instruments/plugin/hostile.hpp"
#include "tests/support/run_task.hpp"

using namespace eyelevel;
using namespace std::chrono_literals;
using Catch::Matchers::Contains;
using plugin::library::Library;

namespace {

plugin::Manifest manifest(const std::filesystem::path& program, base::Duration within = 5s) {
  plugin::Manifest made;
  made.name = "hostile";
  made.form = plugin::Form::library;
  made.program = program;
  made.answers_within = within;
  return made;
}

std::string poke(Library& library, const std::string& mood) {
  test::Simulated sim;
  std::string out;
  sim.run([](Library& l, base::Timeline& timeline, std::string what, std::string& said) -> task<> {
    registers::Question question{
        .kind = registers::PartKind::verb, .name = "poke", .ask = {}, .values = {{"poke", what}}, .results = {}};
    try {
      const auto answer = co_await l.ask(l.parts()[0], std::move(question), timeline, 1h);
      said = fmt::format("{} {}", answer.reading->value, answer.reading->unit);
    } catch (const base::Error& error) {
      said = error.what();
    }
  }(library, *sim.timeline, mood, out));
  return out;
}

}  // namespace

TEST_CASE("library: it is loaded and asked", "[plugin]") {
  Library library(manifest(EYELEVEL_HOSTILE_LIBRARY));
  REQUIRE(library.parts().size() == 1);
  CHECK(poke(library, "good") == "1.5 V");
}

TEST_CASE("library: an exception over the border, a lying size and a strange outcome are errors that name it",
          "[plugin]") {
  Library library(manifest(EYELEVEL_HOSTILE_LIBRARY));
  CHECK_THAT(poke(library, "throw"), Contains("plugin hostile: it let an exception out"));
  CHECK_THAT(poke(library, "lie"), Contains("plugin hostile: it lies about sizes"));
  CHECK_THAT(poke(library, "numbers"), Contains("it answers with 1000000 numbers"));
  CHECK_THAT(poke(library, "seven"), Contains("it returned 7"));
  CHECK_THAT(poke(library, "fail"), Contains("it says: xxx"));
  CHECK(poke(library, "good") == "1.5 V");
}

TEST_CASE("library: one that hangs is given up, and asked again when it has returned", "[plugin]") {
  const test::TemporaryFolder folder;
  Library library(manifest(EYELEVEL_HOSTILE_LIBRARY, 200ms));
  const auto fifo = folder / "gate";
  REQUIRE(::mkfifo(fifo.c_str(), 0600) == 0);
  CHECK_THAT(poke(library, "hang " + fifo.string()), Contains("plugin hostile: no answer in time: it hangs"));
  CHECK_THAT(poke(library, "good"), Contains("it hangs"));
  const int writer = ::open(fifo.c_str(), O_WRONLY);  // waits until the library has it open, too
  REQUIRE(writer >= 0);
  ::close(writer);
  std::string said = "it hangs";
  while (said.find("it hangs") != std::string::npos) said = poke(library, "good");
  CHECK(said == "1.5 V");
}

TEST_CASE("library: what is none says why", "[plugin]") {
  const test::TemporaryFolder folder;
  test::write_text(folder / "no.so", "no library");
  CHECK_THROWS_WITH(Library(manifest(folder / "no.so")), Contains("it cannot be loaded"));
  CHECK_THROWS_WITH(Library(manifest("libm.so.6")), Contains("it has no function eyelevel_plugin_entry"));
}
