// SPDX-License-Identifier: Apache-2.0
#include "core/report/label.hpp"

#include <catch2/catch.hpp>

#include "core/report/export.hpp"
#include "tests/core/report/eye_run.hpp"
#include "tests/support/read_code.hpp"
#include "tests/support/temporary_folder.hpp"

using namespace eyelevel;
using namespace eyelevel::report;

namespace {

record::RunRecord some_run() {
  const auto store = record::open_memory_store();
  return record::read_run(*store, test::store_eye_run(*store, {}));
}

}  // namespace

TEST_CASE("label: its code is the run's name", "[report]") {
  const test::TemporaryFolder folder;
  const auto run = some_run();
  write_file(folder / "label.png", draw_label(run, Format::png));
  CHECK(test::read_code(folder / "label.png") == run.summary.id);
}

TEST_CASE("label: the same run gives the same bytes, in each format its own", "[report]") {
  const auto run = some_run();
  for (const Format format : {Format::png, Format::pdf}) {
    const bool same = draw_label(run, format) == draw_label(run, format);  // not shown when they differ
    CHECK(same);
  }
  CHECK(draw_label(run, Format::pdf).starts_with("%PDF"));
  CHECK(draw_label(run, Format::svg).find("<svg") != std::string::npos);
}

TEST_CASE("label: a run that knows neither serial nor model, and judged nothing, has one all the same", "[report]") {
  const test::TemporaryFolder folder;
  auto run = some_run();
  run.summary.serial.clear();
  run.summary.model.clear();
  run.summary.judgement.reset();
  run.readings.clear();
  write_file(folder / "label.png", draw_label(run, Format::png));
  CHECK(test::read_code(folder / "label.png") == run.summary.id);
}
