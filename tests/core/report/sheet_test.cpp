// SPDX-License-Identifier: Apache-2.0
#include "core/report/sheet.hpp"

#include <cairo.h>

#include <catch2/catch.hpp>

#include <algorithm>
#include <cstring>
#include <filesystem>

#include "core/base/error.hpp"
#include "tests/core/report/eye_run.hpp"
#include "tests/support/temporary_folder.hpp"

using namespace eyelevel;
using namespace eyelevel::report;

namespace {

SheetContent content_of(const test::EyeRun& wish) {
  const auto store = record::open_memory_store();
  return gather_sheet(*store, record::read_run(*store, test::store_eye_run(*store, wish)));
}

// The picture as pixels, read back by Cairo's own PNG reader.
struct Picture {
  explicit Picture(const std::string& png) {
    struct Source {
      const std::string& bytes;
      std::size_t at = 0;
    } source{png};
    const auto read = [](void* from, unsigned char* to, unsigned length) {
      auto& s = *static_cast<Source*>(from);
      if (s.at + length > s.bytes.size()) return CAIRO_STATUS_READ_ERROR;
      std::memcpy(to, s.bytes.data() + s.at, length);
      s.at += length;
      return CAIRO_STATUS_SUCCESS;
    };
    surface = cairo_image_surface_create_from_png_stream(read, &source);
    width = cairo_image_surface_get_width(surface);
    height = cairo_image_surface_get_height(surface);
  }
  Picture(const Picture&) = delete;
  Picture& operator=(const Picture&) = delete;
  ~Picture() { cairo_surface_destroy(surface); }

  // Share of pixels darker than half in a box given as shares of the page.
  double dark_share(double left, double top, double right, double bottom) const {
    const unsigned char* data = cairo_image_surface_get_data(surface);
    const int stride = cairo_image_surface_get_stride(surface);
    long dark = 0, all = 0;
    for (int y = static_cast<int>(top * height); y < static_cast<int>(bottom * height); ++y) {
      for (int x = static_cast<int>(left * width); x < static_cast<int>(right * width); ++x, ++all) {
        const unsigned char* pixel = data + y * stride + 4 * x;
        if (pixel[0] + pixel[1] + pixel[2] < 3 * 128) ++dark;
      }
    }
    return static_cast<double>(dark) / static_cast<double>(all);
  }

  cairo_surface_t* surface = nullptr;
  int width = 0, height = 0;
};

}  // namespace

TEST_CASE("sheet: one page A4 at 150 dots per inch, with a dense eye and a readable margin", "[report]") {
  const Picture page(draw_sheet(content_of({}), Format::png));
  CHECK(page.width == 1240);   // 210 mm
  CHECK(page.height == 1754);  // 297 mm
  // The left part of the upper middle is the eye; an empty frame would be below 2 % dark.
  CHECK(page.dark_share(0.15, 0.30, 0.60, 0.54) > 0.10);
  // Nothing is drawn into the margins.
  CHECK(page.dark_share(0, 0, 0.06, 1) == 0);
  CHECK(page.dark_share(0.94, 0, 1, 1) == 0);
  CHECK(page.dark_share(0, 0.97, 1, 1) == 0);
}

TEST_CASE("sheet: the same run gives the same bytes in every format", "[report]") {
  const SheetContent content = content_of({.captures = 12});
  for (const Format format : {Format::png, Format::pdf}) {
    const bool same = draw_sheet(content, format) == draw_sheet(content, format);  // not shown when they differ
    CHECK(same);
  }
  CHECK(draw_sheet(content, Format::pdf).find("/CreationDate (20300107080000Z)") != std::string::npos);
}

TEST_CASE("sheet: SVG is a page of 595 by 842 points that holds the eye as a picture", "[report]") {
  const std::string svg = draw_sheet(content_of({.captures = 12}), Format::svg);
  for (const char* part : {"595.2", "841.8", "data:image/png;base64,"}) {
    CAPTURE(part);
    CHECK(svg.find(part) != std::string::npos);
  }
}

TEST_CASE("sheet: every kind of end is drawn, with and without captures", "[report]") {
  for (const test::EyeRun& wish : {test::EyeRun{.captures = 12, .broken = true}, test::EyeRun{.captures = 0},
                                   test::EyeRun{.captures = 12, .judgement = metrology::Judgement::undecided},
                                   test::EyeRun{.captures = 12, .closed = false}}) {
    CHECK(Picture(draw_sheet(content_of(wish), Format::png)).dark_share(0.05, 0.03, 0.95, 0.3) > 0.005);
  }
}

TEST_CASE("sheet: items of a bench proof stand on it with what was found, and the readings below", "[report]") {
  SheetContent content = content_of({.captures = 12});
  content.run.proofs = {{{}, "identity", "scope", metrology::Judgement::pass, "Invented,Oscilloscope,SN 12,1.0"},
                        {{}, "self-test", "meter", metrology::Judgement::fail, "it reports 7"},
                        {{}, "self-test", "counter", {}, "its phrasebook has no phrase for it"}};
  const auto words = words_on_sheet(content);
  const std::vector<std::string> lines{"proven of the bench",
                                       "found",
                                       "judgement",
                                       "identity of scope",
                                       "Invented,Oscilloscope,SN 12,1.0",
                                       "pass",
                                       "self-test of meter",
                                       "it reports 7",
                                       "fail",
                                       "self-test of counter",
                                       "its phrasebook has no phrase for it",
                                       "not judged"};
  const auto found = std::search(words.begin(), words.end(), lines.begin(), lines.end());
  CAPTURE(words);
  REQUIRE(found != words.end());
  CHECK(found[static_cast<std::ptrdiff_t>(lines.size())] == "reading");
  content.run.proofs.resize(20, content.run.proofs[0]);
  const auto more = words_on_sheet(content);
  CHECK(std::find(more.begin(), more.end(), "and 8 more items: see the export of this run") != more.end());
  content.run.proofs.clear();
  const auto none = words_on_sheet(content);
  CHECK(std::find(none.begin(), none.end(), "proven of the bench") == none.end());
}

TEST_CASE("sheet: a corrected reading is marked, judged again, and the note says who and why", "[report]") {
  SheetContent content = content_of({.captures = 12});
  content.run.corrections = {
      {1, content.run.summary.begun, "anna", "misread", {"level_pressed", 1.40, true, "", ""}},
      {2, content.run.summary.begun, "ben", "the wire was off", {"rise_d_c", {}, false, "", ""}}};
  const auto words = words_on_sheet(content);
  CAPTURE(words);
  const auto has = [&](const std::string& line) { return std::find(words.begin(), words.end(), line) != words.end(); };
  CHECK(has("level_pressed (corrected)"));
  CHECK(has("1.400 V ± 0.021 V"));
  CHECK(has("fail"));
  CHECK(has("does not count"));
  CHECK(has("corrected: level_pressed: 1.4 V instead of 1.203 V (anna, 2030-01-07 08:00 UTC: misread)"));
  CHECK(has("corrected: rise_d_c: does not count (ben, 2030-01-07 08:00 UTC: the wire was off)"));
}

TEST_CASE("sheet: pictures are drawn where there is room for them, and where a proof holds something to draw",
          "[report]") {
  SheetContent content = content_of({.captures = 12});
  const auto has = [](const SheetContent& of, std::string_view words) {
    const auto all = words_on_sheet(of);
    return std::any_of(all.begin(), all.end(), [&](const std::string& w) { return w.starts_with(words); });
  };
  CHECK(has(content, "Eye picture of"));
  SheetContent full = content;
  full.run.readings.resize(12, full.run.readings[0]);
  full.run.proofs.resize(12, {{}, "identity", "scope", metrology::Judgement::pass, "it"});
  CHECK_FALSE(has(full, "Eye picture of"));
  CHECK(has(full, "No room is left for the pictures"));
  SheetContent proof = content;
  proof.run.proofs.resize(1, full.run.proofs[0]);
  CHECK(has(proof, "Eye picture of"));
  proof.levels.clear();
  proof.eye.reset();
  CHECK_FALSE(has(proof, "Eye picture"));
}

TEST_CASE("sheet: what does not fit on the page is counted, and nothing leaves the page", "[report]") {
  SheetContent content = content_of({.captures = 12});
  auto& run = content.run;
  run.readings.resize(40, run.readings[0]);
  run.instruments.resize(20, run.instruments[0]);
  run.notes.resize(30, std::string(300, 'n'));
  run.summary.sequence = std::string(200, 's');
  run.begun.about = std::string(500, 'a');
  run.begun.cautions = {std::string(40, 'c'), "static"};
  run.readings[1].name = std::string(100, 'r');
  const Picture page(draw_sheet(content, Format::png));
  CHECK(page.dark_share(0, 0, 0.06, 1) == 0);
  CHECK(page.dark_share(0.94, 0, 1, 1) == 0);
}

TEST_CASE("sheet: the format follows the end of the name, others are refused", "[report]") {
  CHECK(format_of("a/b.png") == Format::png);
  CHECK(format_of("b.svg") == Format::svg);
  CHECK(format_of("b.pdf") == Format::pdf);
  CHECK_THROWS_WITH(format_of("b.doc"), Catch::Contains("b.doc: a sheet can be .png, .svg or .pdf"));
  const test::TemporaryFolder folder;
  const SheetContent content = content_of({.captures = 0});
  write_sheet(content, folder / "s.pdf");
  CHECK(std::filesystem::file_size(folder / "s.pdf") > 5000);
  CHECK_THROWS_WITH(write_sheet(content, "/nowhere/s.pdf"), Catch::Contains("/nowhere/s.pdf"));
}
