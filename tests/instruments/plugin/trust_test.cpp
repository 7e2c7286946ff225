// SPDX-License-Identifier: Apache-2.0
#include "instruments/plugin/trust.hpp"

#include <unistd.h>

#include <catch2/catch.hpp>

#include "tests/instruments/plugin/hostile.hpp"

using namespace eyelevel;
using plugin::FileKind;
using plugin::why_untrusted;
namespace fs = std::filesystem;
using Catch::Matchers::Contains;

namespace {

std::string why(const fs::path& path, FileKind kind = FileKind::file) {
  return why_untrusted(path, kind).value_or("trusted");
}

}  // namespace

TEST_CASE("trust: one's own file that nobody else may write is trusted", "[plugin]") {
  const test::HostilePlugin plugin("good");
  CHECK(why(plugin.folder, FileKind::folder) == "trusted");
  CHECK(why(plugin.folder / "plugin.yaml") == "trusted");
}

TEST_CASE("trust: a file or folder that others may write is not", "[plugin]") {
  const test::HostilePlugin plugin("good");
  const auto file = plugin.folder / "plugin.yaml";
  fs::permissions(file, fs::perms(0664));
  CHECK_THAT(why(file), Contains("may be written by others (mode 0664)") && Contains("chmod go-w"));
  fs::permissions(file, fs::perms(0602));
  CHECK_THAT(why(file), Contains("may be written by others"));
  fs::permissions(file, fs::perms(0644));
  fs::permissions(plugin.folder, fs::perms(0777));
  CHECK_THAT(why(plugin.folder, FileKind::folder), Contains("may be written by others"));
  CHECK_THAT(why(file), Contains("may be written by others"));  // for the folder above it
  fs::permissions(plugin.folder, fs::perms(01777));
  CHECK(why(file) == "trusted");  // sticky: nobody else can put another file in its place
  CHECK_THAT(why(plugin.folder, FileKind::folder), Contains("may be written by others"));
  fs::permissions(plugin.folder, fs::perms(0755));
}

TEST_CASE("trust: what belongs to somebody else is not trusted", "[plugin]") {
  if (::geteuid() != 0) {
    WARN("only root can give files away: not tried");
    return;
  }
  const test::HostilePlugin plugin("good");
  const auto file = plugin.folder / "plugin.yaml";
  REQUIRE(::chown(file.c_str(), 12345, 12345) == 0);
  CHECK_THAT(why(file), Contains("belongs to user 12345"));
}

TEST_CASE("trust: links, what is missing, and what is something else are refused", "[plugin]") {
  const test::HostilePlugin plugin("good");
  fs::create_symlink("plugin.yaml", plugin.folder / "link.yaml");
  CHECK_THAT(why(plugin.folder / "link.yaml"), Contains("is a link"));
  CHECK_THAT(why(plugin.folder / "none.yaml"), Contains("No such file"));
  CHECK_THAT(why(plugin.folder), Contains("is no file"));
  CHECK_THAT(why(plugin.folder / "plugin.yaml", FileKind::folder), Contains("is no folder"));
}
