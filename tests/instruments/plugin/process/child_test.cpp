// SPDX-License-Identifier: Apache-2.0
#include "instruments/plugin/process/child.hpp"

#include <fcntl.h>
#include <signal.h>
#include <unistd.h>

#include <catch2/catch.hpp>

#include "core/base/error.hpp"
#include "tests/instruments/plugin/hostile.hpp"
#include "tests/support/run_task.hpp"

using namespace eyelevel;
using namespace std::chrono_literals;
using Catch::Matchers::Contains;
using plugin::process::Child;

namespace {

struct Script {
  test::TemporaryFolder folder;
  std::filesystem::path file = folder.path() / "script";
  explicit Script(const std::string& text) {
    test::write_text(file, text);
    std::filesystem::permissions(file, std::filesystem::perms(0755));
  }
};

// What a script says in its first line after it was given one.
std::string first_line_of(const std::string& text, std::size_t most = 1000) {
  const Script script(text);
  test::Wall wall;
  std::string line;
  wall.run([](const Script& s, std::size_t limit, std::string& out) -> task<> {
    const auto child = co_await Child::start({.program = s.file, .folder = s.folder.path()});
    co_await child->write("word\n");
    out = co_await child->read_line(limit);
  }(script, most, line));
  return line;
}

}  // namespace

TEST_CASE("child: it reads and writes lines", "[plugin]") {
  CHECK(first_line_of("#!/bin/sh\nread a\necho \"got $a\"\n") == "got word");
}

TEST_CASE("child: it sees little of our environment and runs in its folder", "[plugin]") {
  ::setenv("EYELEVEL_SECRET", "seen", 1);
  CHECK(first_line_of("#!/bin/sh\nread a\necho \"[$EYELEVEL_SECRET]$(ls)\"\n") == "[]script");
}

TEST_CASE("child: it has nothing open that we have open", "[plugin]") {
  const int ours = ::fcntl(0, F_DUPFD, 77);  // without close-on-exec, like a connection to an instrument
  REQUIRE(ours >= 77);
  const std::string open = first_line_of("#!/bin/sh\nread a\necho /proc/$$/fd/*\n");
  CHECK_THAT(open, Contains("/fd/2"));
  CHECK(open.find(fmt::format("/fd/{}", ours)) == std::string::npos);
  ::close(ours);
}

TEST_CASE("child: its memory and core files are bounded and it has a process group of its own", "[plugin]") {
  CHECK(first_line_of(
            "#!/bin/sh\nread a\necho $(ulimit -v) $(ulimit -c) $(ps -o pgid= -p $$ | tr -d ' ' | grep -cx $$)\n") ==
        "524288 0 1");
}

TEST_CASE("child: a long line is refused at the bound", "[plugin]") {
  CHECK_THROWS_WITH(first_line_of("#!/bin/sh\nread a\nprintf '%2000s\\n' x\n"), Contains("more than 1000 bytes"));
  CHECK(first_line_of("#!/bin/sh\nread a\nprintf '%1000s\\n' x\n").size() == 1000);
}

TEST_CASE("child: what cannot be run says why", "[plugin]") {
  CHECK_THROWS_WITH(first_line_of("#!/no/such/interpreter\n"), Contains("No such file"));
  CHECK_THROWS_WITH(first_line_of("\x01\x02"), Contains("Exec format error"));
}

TEST_CASE("child: killing it takes along what it has started", "[plugin]") {
  const Script script("#!/bin/sh\nread a\nsleep 1000 &\necho $!\nwait\n");
  test::Wall wall;
  int grandchild = 0;
  wall.run([](const Script& s, int& out) -> task<> {
    const auto child = co_await Child::start({.program = s.file, .folder = s.folder.path()});
    co_await child->write("\n");
    out = std::stoi(co_await child->read_line(100));
    CHECK(::kill(out, 0) == 0);
    child->kill();
    CHECK(child->how_it_ended() == "ended by signal 9");
  }(script, grandchild));
  // It is gone, or waits for init to take note of its end.
  std::ifstream state("/proc/" + std::to_string(grandchild) + "/stat");
  std::string pid, name, letter = "Z";
  state >> pid >> name >> letter;
  while (letter != "Z" && letter != "X") {  // the signal is sent, its delivery takes a moment
    std::ifstream again("/proc/" + std::to_string(grandchild) + "/stat");
    letter = "Z";
    again >> pid >> name >> letter;
  }
  SUCCEED("gone");
}
