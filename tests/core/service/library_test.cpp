// SPDX-License-Identifier: Apache-2.0
#include "core/service/library.hpp"

#include <filesystem>
#include <fstream>

#include "tests/core/service/harness.hpp"

using namespace eyelevel;
namespace fs = std::filesystem;

namespace {

const std::string fits = test::around("  - note: x\n");

bool is_refused(const fs::path& folder, const std::string& name) {
  try {
    service::place_in(folder, name);
  } catch (const base::Error& error) {
    return error.record().code == base::ErrorCode::not_found;
  }
  return false;
}

}  // namespace

TEST_CASE("library: a name leads to a .yaml file of the folder and nowhere else, by no link either", "[service]") {
  const test::TemporaryFolder outside;
  std::ofstream(outside / "secret.yaml") << "sequence: secret\n";
  const test::TemporaryFolder folder;
  fs::create_directory(folder / "inner");
  std::ofstream(folder / "inner/a.yaml") << "x: y\n";
  std::ofstream(folder / "plain.txt") << "x\n";
  fs::create_symlink(outside / "secret.yaml", folder / "link.yaml");
  fs::create_directory_symlink(outside.path(), folder / "way");
  fs::create_symlink(folder / "inner/a.yaml", folder / "own.yaml");
  CHECK(service::place_in(folder.path(), "inner/a.yaml") == fs::canonical(folder / "inner/a.yaml"));
  CHECK(service::place_in(folder.path(), "own.yaml") == fs::canonical(folder / "inner/a.yaml"));
  for (const std::string& name :
       {std::string(), std::string("plain.txt"), std::string("inner"), std::string("link.yaml"),
        std::string("way/secret.yaml"), (outside / "secret.yaml").string(),
        "../" + outside.path().filename().string() + "/secret.yaml", std::string("a.yaml\0.yaml", 12),
        std::string("none.yaml")}) {
    CAPTURE(name);
    CHECK(is_refused(folder.path(), name));
  }
  CHECK(is_refused(folder / "absent", "a.yaml"));
}

TEST_CASE("library: values that were given are held against what is asked, and what is missing is said", "[service]") {
  const test::TemporaryFolder folder;
  std::ofstream(folder / "s.yaml")
      << "sequence: s\nabout: s\nasked at start:\n"
         "  target: { about: the level, allowed: 0.9 V to 1.3 V }\n"
         "needs:\n  meter: { kind: multimeter }\nsignals:\n  dc: meter\n"
         "opening:\n  - set up: dc\n    range: 5 V\n    aperture: 20 ms\n    within: 5 s\n"
         "steps:\n  - note: x\nclosing:\n  - make safe: every instrument\n    within: 10 s\n";
  const auto load = [&](std::vector<event::GivenAtStart> given, service::Missing missing = service::Missing::refused) {
    return service::load_sequence(folder.path(), "s.yaml", test::language(), given, missing);
  };
  CHECK(load({{"target", "1.1 V"}}).asked.at(0).si == Approx(1.1));
  CHECK_THROWS_WITH(load({}), Catch::Contains("asks for target (the level)"));
  CHECK_NOTHROW(load({}, service::Missing::allowed));
  CHECK_THROWS_WITH(load({{"target", "2 V"}}), Catch::Contains("target"));
  CHECK_THROWS_WITH(load({{"targt", "1.1 V"}}), Catch::Contains("does not ask for \"targt\""));
}

TEST_CASE("library: a model sheet and a fit to the bench are refused with every mistake", "[service]") {
  const test::TemporaryFolder folder;
  std::ofstream(folder / "m.yaml") << "model: M\npad: 3\n";
  CHECK_THROWS_AS(service::load_model(folder.path(), "m.yaml"), base::Error);
  CHECK(service::models_in(folder.path()).empty());
  CHECK_THROWS_AS(
      service::require_fit(test::checked(test::around_outputs("  - note: x\n")), test::bench_file(), std::nullopt),
      base::Error);
  CHECK_NOTHROW(service::require_fit(test::checked(fits), test::bench_file(), std::nullopt));
}

namespace {

void add_sheet(const test::TemporaryFolder& models, const std::string& file, const std::string& visit) {
  std::ofstream out(models / file);
  out << "model: LF-9\npad: {where: TP2, coupling: dc, point: before equaliser, light raises voltage: yes, "
         "source resistance: 1 kΩ ± 20 %}\nground: TP1\nspeed: {audio: x1, data: x2, reading: continuous}\n"
         "audio track: press play\n"
      << visit;
}

std::string why_no_visit(const test::TemporaryFolder& models, const std::string& serial) {
  try {
    service::visit_of(models.path(), serial);
  } catch (const base::Error& error) {
    CHECK(error.record().code == base::ErrorCode::bad_input);
    return error.record().message;
  }
  return "there is one";
}

}  // namespace

TEST_CASE("library: a serial number leads to the visit of the longest beginning", "[service]") {
  const test::TemporaryFolder models;
  add_sheet(models, "lf.yaml", "visit: {serials begin with: [LF], sequence: a.yaml}\n");
  add_sheet(models, "lf-9.yaml", "visit: {serials begin with: [LF9-, X9], sequence: b.yaml}\n");
  add_sheet(models, "silent.yaml", "");
  std::ofstream(models / "broken.yaml") << "model: LF-7\nvisit: {serials begin with: [LF9-0]}\n";
  const auto visit = [&](const char* serial) { return service::visit_of(models.path(), serial); };
  CHECK(visit("LF2-00417").model == "lf.yaml");
  CHECK(visit("LF2-00417").sequence == "a.yaml");
  CHECK(visit("LF9-00417").model == "lf-9.yaml");
  CHECK(visit("X9").sequence == "b.yaml");
}

TEST_CASE("library: a serial number of no model, or of two, is told with every beginning that is known", "[service]") {
  const test::TemporaryFolder models;
  CHECK(why_no_visit(models, "LF2-00417").find("no model sheet says") != std::string::npos);
  add_sheet(models, "a.yaml", "visit: {serials begin with: [LF2-], sequence: a.yaml}\n");
  add_sheet(models, "b.yaml", "visit: {serials begin with: [LF2-, LF5-], sequence: b.yaml}\n");
  CHECK(why_no_visit(models, "ZZ-1") ==
        "ZZ-1 is of no model that is known; serials begin with LF2- (a.yaml), LF2- (b.yaml), LF5- (b.yaml)");
  CHECK(why_no_visit(models, "LF2-1") == "LF2-1 may be of several models: LF2- (a.yaml), LF2- (b.yaml)");
  CHECK(why_no_visit(models, "lf2-1").find("no model") != std::string::npos);
  CHECK(service::visit_of(models.path(), "LF5-1").model == "b.yaml");
}
