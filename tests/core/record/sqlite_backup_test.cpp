// SPDX-License-Identifier: Apache-2.0
#include "core/record/store/sqlite_backup.hpp"

#include <catch2/catch.hpp>

#include <fstream>

#include "tests/core/record/store_suite.hpp"
#include "tests/support/temporary_folder.hpp"

using namespace eyelevel;
using namespace eyelevel::record;

namespace {
namespace fs = std::filesystem;
}

TEST_CASE("backup: what was recorded is in the copy while the store is open and a run goes on", "[record]") {
  const test::TemporaryFolder folder;
  const auto store = open_file_store(folder / "records.db");
  const auto run = store->reserve_run(test::some_day());
  const auto events = test::sample_events(run);
  store->write(run, std::span(events).first(8));
  back_up_file(folder / "records.db", folder / "copy.db");
  store->write(run, std::span(events).subspan(8));

  const auto copy = open_file_store(folder / "copy.db", {.create = false});
  CHECK(copy->events(run, Samples::none).size() == 8);
  CHECK(copy->capture(run, 7)->codes == test::sample_waveform()->codes);
  CHECK(store->events(run, Samples::none).size() == events.size());
}

TEST_CASE("backup: the copy is one file that its owner alone may read", "[record]") {
  const test::TemporaryFolder folder;
  open_file_store(folder / "records.db");
  fs::create_directory(folder / "kept");
  back_up_file(folder / "records.db", folder / "kept" / "records.db");
  CHECK(std::distance(fs::directory_iterator(folder / "kept"), fs::directory_iterator()) == 1);
  CHECK(fs::status(folder / "kept" / "records.db").permissions() == (fs::perms::owner_read | fs::perms::owner_write));
}

TEST_CASE("backup: nothing is written over, and what is missing is named", "[record]") {
  const test::TemporaryFolder folder;
  open_file_store(folder / "records.db");
  std::ofstream(folder / "mine") << "mine";
  CHECK_THROWS_WITH(back_up_file(folder / "records.db", folder / "mine"), Catch::Contains("is there already"));
  CHECK_THROWS_WITH(back_up_file(folder / "none.db", folder / "x"), Catch::Contains("there is no such file"));
}

TEST_CASE("backup: a damaged copy is found", "[record]") {
  const test::TemporaryFolder folder;
  {
    const auto store = open_file_store(folder / "records.db");
    const auto run = store->reserve_run(test::some_day());
    store->write(run, test::sample_events(run));
  }
  back_up_file(folder / "records.db", folder / "copy.db");
  require_sound(folder / "copy.db");
  std::fstream file(folder / "copy.db", std::ios::binary | std::ios::in | std::ios::out);
  file.seekp(4096);  // the second page
  file << std::string(2000, '\xff');
  file.close();
  CHECK_THROWS_WITH(require_sound(folder / "copy.db"), Catch::Contains("damaged"));
}
