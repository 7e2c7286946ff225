// SPDX-License-Identifier: Apache-2.0
#include "core/report/label.hpp"

#include <optional>

#include "core/report/code.hpp"
#include "core/report/words.hpp"

namespace eyelevel::report {

namespace {

constexpr double width = 62, height = 29, edge = 2;
constexpr double words_at = height - edge;  // the code fills the left end
constexpr double words_width = width - words_at - edge;
const Type small{6.5, false, ink::text, Align::left};

// The first reading that was held against a limit, as it stands now; nothing where none counts.
std::optional<metrology::Reading> judged_reading(const record::RunRecord& run) {
  for (const auto& recorded : run.readings)
    if (auto now = record::standing(recorded, run.corrections); now && now->limit) return now;
  return std::nullopt;
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
  put(6.2, run.summary.serial.empty() ? "no serial given" : run.summary.serial, {12, true});
  put(9.6, run.begun.seed ? run.summary.model + " (rehearsed)" : run.summary.model, small);
  put(14.0, std::string(judgement_text(run.summary.judgement)), {10, true});
  if (const auto reading = judged_reading(run)) {
    put(17.4, reading->name, small);
    put(20.4, value_text(*reading), small);
  }
  put(23.8, time_text(run.summary.begun), small);
  put(26.8, "run " + run.summary.id, small);
  return canvas.finish();
}

}  // namespace eyelevel::report
