// SPDX-License-Identifier: Apache-2.0
#include "core/report/export.hpp"

#include <boost/json/array.hpp>
#include <boost/json/object.hpp>

#include <catch2/catch.hpp>

#include <cstdlib>
#include <fstream>
#include <iterator>

#include "core/base/error.hpp"
#include "core/base/mapped_file.hpp"
#include "core/record/journal/event_json.hpp"
#include "core/record/journal/json_text.hpp"
#include "core/signal/stored.hpp"
#include "tests/core/report/eye_run.hpp"
#include "tests/support/temporary_folder.hpp"
#include "tests/support/whole_waveform.hpp"

using namespace eyelevel;
using namespace eyelevel::report;

namespace {

struct Stored {
  explicit Stored(const test::EyeRun& wish) : run(record::read_run(*store, test::store_eye_run(*store, wish))) {}
  std::unique_ptr<record::Store> store = record::open_memory_store();
  record::RunRecord run;
};

std::string text_of_file(const std::filesystem::path& path) {
  std::ifstream in(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

}  // namespace

// RFC 4180: header, comma, CRLF, quotes doubled.
TEST_CASE("export: readings as CSV, with names that need quotes", "[report]") {
  Stored s({.captures = 5});
  s.run.readings[1].name = "rise, \"d.c.\"";
  CHECK(readings_csv(s.run) ==
        "run,serial,model,name,value,unit,standard_uncertainty,expanded_uncertainty,coverage_probability,count,tried,"
        "at_least,at_most,judgement\r\n"
        "2030-01-07-1,LF2-00417,LF-2,level_pressed,1.2034,V,0.0105,0.0206,0.95,5,5,1.08,1.32,pass\r\n"
        "2030-01-07-1,LF2-00417,LF-2,\"rise, \"\"d.c.\"\"\",0.0412,V,0.0009,0.0018,0.95,5,,,,\r\n");
}

TEST_CASE("export: the whole run as JSON reads back to the same events", "[report]") {
  Stored s({.captures = 3});
  const auto whole = record::parse_json(whole_run_json(*s.store, s.run), "export");
  CHECK(whole.at("format") == "eyelevel run");
  CHECK(whole.at("version") == 1);
  CHECK(whole.at("unit").at("serial") == "LF2-00417");
  const auto events = s.store->events(s.run.summary.id, record::Samples::all);
  const auto& list = whole.at("events").as_array();
  REQUIRE(list.size() == events.size());
  for (std::size_t i = 0; i < events.size(); ++i) {
    CHECK(list[i] == record::parse_json(record::text_of(record::to_json(events[i])), "event"));
    CHECK(record::event_from_json(list[i].as_object()).number == events[i].number);
  }
}

TEST_CASE("export: every file is written, and a capture reads back as the waveform it was", "[report]") {
  const test::TemporaryFolder folder;
  Stored s({.captures = 2});
  ExportWish wish;
  wish.captures_csv = true;
  const auto written = export_run(*s.store, s.run, folder / "out/of/it", wish);
  std::vector<std::string> names;
  for (const auto& path : written) names.push_back(path.filename().string());
  CHECK(names == std::vector<std::string>{"2030-01-07-1-readings.csv", "2030-01-07-1.json",
                                          "2030-01-07-1-pressed-001.npy", "2030-01-07-1-pressed-001.json",
                                          "2030-01-07-1-pressed-001.csv", "2030-01-07-1-pressed-002.npy",
                                          "2030-01-07-1-pressed-002.json", "2030-01-07-1-pressed-002.csv"});
  const auto truth = s.store->capture(s.run.summary.id, s.run.captures[0].event_number);
  const auto beside = record::parse_json(text_of_file(written[3]), "sidecar");
  const base::MappedFile npy(written[2]);
  signal::ReadOptions options;
  options.rate_hz = beside.at("rate_hz").to_number<double>();
  options.scale_v = beside.at("scale_v").to_number<double>();
  options.offset_v = beside.at("offset_v").to_number<double>();
  const auto back = test::read_whole(*signal::open_waveform(npy.bytes(), options));
  const base::MappedFile csv(written[4]);
  const auto volts = test::read_whole(*signal::open_waveform(csv.bytes(), {}));
  REQUIRE(back.view().size() == truth->size());
  REQUIRE(volts.view().size() == truth->size());
  CHECK(back.view().rate_hz == truth->rate_hz);
  for (std::size_t i = 0; i < truth->size(); i += 97) {
    CHECK(back.view().volts(i) == truth->view().volts(i));
    // Tolerance: a float's half unit in the last place at 2 V.
    CHECK(volts.view().volts(i) == Approx(truth->view().volts(i)).margin(1.2e-7));
  }
}

TEST_CASE("export: numpy loads the codes, their type and their sum", "[report]") {
  const test::TemporaryFolder folder;
  Stored s({.captures = 1});
  export_run(*s.store, s.run, folder.path());
  const auto truth = s.store->capture(s.run.summary.id, s.run.captures[0].event_number);
  const auto& codes = std::get<std::vector<std::int8_t>>(truth->codes);
  long sum = 0;
  for (const auto code : codes) sum += code;
  const std::string stem = (folder / "2030-01-07-1-pressed-001").string();
  // Debian's own interpreter: it is the one that has numpy.
  const std::string script = "import json, numpy; a = numpy.load('" + stem + ".npy'); b = json.load(open('" + stem +
                             ".json')); assert a.dtype == numpy.int8 and a.shape == (" + std::to_string(codes.size()) +
                             ",) and int(a.astype(int).sum()) == " + std::to_string(sum) +
                             " and b['rate_hz'] == 20e6 and b['capture'] == 'pressed'";
  CHECK(std::system(("/usr/bin/python3 -c \"" + script + "\"").c_str()) == 0);
}

TEST_CASE("export: captures without samples are left out, the rest is there", "[report]") {
  const test::TemporaryFolder folder;
  const auto store = record::open_memory_store({.keep_captures = false});
  const auto run = record::read_run(*store, test::store_eye_run(*store, {.captures = 2}));
  CHECK(export_run(*store, run, folder.path()).size() == 2);
}

TEST_CASE("export: a path that cannot be written is named", "[report]") {
  Stored s({.captures = 0});
  CHECK_THROWS_WITH(export_run(*s.store, s.run, "/proc/nothing"), Catch::Contains("/proc/nothing"));
  CHECK_THROWS_WITH(write_file("/nowhere/at-all.csv", "x"), Catch::Contains("/nowhere/at-all.csv"));
}
