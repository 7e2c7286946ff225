// SPDX-License-Identifier: Apache-2.0
#include "core/report/label.hpp"

#include <fmt/format.h>

#include "core/report/code.hpp"
#include "core/report/words.hpp"

namespace eyelevel::report {

namespace {

constexpr double width = 62, height = 29, edge = 2;
constexpr double words_at = height - edge;  // the code fills the left end
constexpr double words_width = width - words_at - edge;
const Type small{7, false, ink::text, Align::left};

// What stands of it, as it is right now; empty where no reading counts.
std::string reading_line(const record::RunRecord& run) {
  for (const auto& recorded : run.readings) {
    const auto now = record::standing(recorded, run.corrections);
    if (now && now->limit) return fmt::format("{} {}", now->name, value_text(*now));
  }
  return {};
}

}  // namespace

std::string draw_label(const record::RunRecord& run, Format format) {
  Canvas canvas(format, {.width_mm = width,
                         .height_mm = height,
                         .png_dots_per_inch = 300,
                         .title = "Label of run " + run.summary.id,
                         .made = run.summary.begun});
  draw_code(canvas, 0, (height - words_at) / 2, words_at, run.summary.id);
  const auto put = [&](double y, const std::string& words, const Type& type) {
    if (!words.empty()) canvas.text(words_at, y, canvas.fitted(words, words_width, type), type);
  };
  put(6.5, run.summary.serial.empty() ? "no serial given" : run.summary.serial, {12, true});
  put(10.3, run.summary.model, small);
  put(15.3, std::string(judgement_text(run.summary.judgement)), {10, true});
  put(18.8, reading_line(run), {6, false});
  put(22.6, time_text(run.summary.begun), {6.5, false});
  put(26.0, fmt::format("run {}{}", run.summary.id, run.begun.seed ? ", rehearsed" : ""), {6.5, false});
  return canvas.finish();
}

}  // namespace eyelevel::report
