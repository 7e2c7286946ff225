// SPDX-License-Identifier: Apache-2.0
#include "core/report/sheet.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "core/base/error.hpp"
#include "core/record/journal/event_json.hpp"
#include "core/report/code.hpp"
#include "core/report/export.hpp"
#include "core/report/plot.hpp"
#include "core/report/words.hpp"

namespace eyelevel::report {

namespace {

using metrology::Judgement;

constexpr double margin = 16;
constexpr double page_width = 210;
constexpr double page_height = 297;
constexpr double inner_width = page_width - 2 * margin;
constexpr double row_height = 5.2;
constexpr double pictures_least = 50;
constexpr std::size_t readings_most = 12;
constexpr std::size_t proofs_most = 12;
constexpr std::size_t instruments_most = 6;
constexpr std::size_t notes_most = 6;

const Type small{7.5, false, ink::quiet, Align::left};
const Type plain{8.5, false, ink::text, Align::left};
const Type label{7.5, true, ink::quiet, Align::left};

std::string or_words(const std::string& text, const char* words) { return text.empty() ? words : text; }

// Solid blue, hatched orange, half filled, empty: told apart without colour too.
void draw_judgement_mark(Canvas& canvas, const Box& box, const std::optional<Judgement>& judgement) {
  if (judgement == Judgement::pass) {
    canvas.fill(box, ink::blue);
  } else if (judgement == Judgement::fail) {
    canvas.hatch(box, ink::orange, 0.75, 0.3);
    canvas.outline(box, ink::orange, 0.35);
  } else if (judgement == Judgement::undecided) {
    canvas.fill({box.x, box.y + box.height / 2, box.width, box.height / 2}, density_colour(0.35));
    canvas.outline(box, ink::blue, 0.3);
  } else {
    canvas.outline(box, ink::quiet, 0.25);
  }
}

class SheetDrawing {
 public:
  SheetDrawing(Canvas& canvas, const SheetContent& content) : canvas_(canvas), content_(content), run_(content.run) {}

  void draw() {
    draw_heading();
    draw_end();
    draw_proofs();
    draw_readings();
    const double bottom = draw_bottom();
    draw_plots(bottom);
  }

 private:
  void draw_heading() {
    const std::string title = or_words(run_.summary.sequence, "run without a name");
    constexpr double code = 18;
    draw_code(canvas_, page_width - margin - code + 2, y_ - 7, code, run_.summary.id);
    canvas_.text(margin, y_ + 5, canvas_.fitted(title, 105, {17, true}), {17, true});
    canvas_.text(page_width - margin - code, y_ + 5, run_.summary.id, {11, true, ink::text, Align::right});
    y_ += 10.5;
    canvas_.text(margin, y_, canvas_.fitted(run_.begun.about, 120, plain), {8.5, false, ink::quiet});
    canvas_.text(page_width - margin - code, y_, time_text(run_.summary.begun), {8.5, false, ink::quiet, Align::right});
    y_ += 4;
    canvas_.line(margin, y_, page_width - margin, y_, ink::text, 0.35);
    y_ += 4;
    const std::pair<const char*, std::string> facts[] = {{"unit", or_words(run_.summary.serial, "no serial given")},
                                                         {"model", or_words(run_.summary.model, "no model given")},
                                                         {"bench", or_words(run_.summary.bench, "no bench named")},
                                                         {"took", fmt::format("{:.0f} s", run_.length_s)}};
    const double at[] = {0, 52, 100, 152};
    for (std::size_t i = 0; i < std::size(facts); ++i) {
      canvas_.text(margin + at[i], y_, facts[i].first, small);
      const double width = (i + 1 < std::size(at) ? at[i + 1] : inner_width) - at[i] - 3;
      canvas_.text(margin + at[i], y_ + 4.6, canvas_.fitted(facts[i].second, width, {10, true}), {10, true});
    }
    y_ += 10.5;
    if (!run_.begun.proof) return;
    canvas_.text(margin, y_ - 2.4, canvas_.fitted(proof_text(run_.begun.proof), inner_width, small), small);
    y_ += 2;
  }

  void draw_end() {
    const Type type{11, false, ink::text, Align::left};
    auto lines = canvas_.wrapped(end_text(run_), inner_width - 8, type);
    if (lines.size() > 5) {
      lines.resize(5);
      lines.back() += " …";
    }
    const double height = 5.2 * static_cast<double>(lines.size());
    draw_judgement_mark(canvas_, {margin, y_, 2.4, height}, run_.summary.judgement);
    for (std::size_t i = 0; i < lines.size(); ++i) {
      canvas_.text(margin + 6, y_ + 3.9 + 5.2 * static_cast<double>(i), lines[i], type);
    }
    y_ += height + 6;
  }

  // Items of a bench proof that are no numbers.
  void draw_proofs() {
    std::vector<Row> rows;
    for (const auto& item : run_.proofs) rows.push_back({{item.item + " of " + item.of, item.found}, item.judgement});
    draw_table({{"proven of the bench", 0}, {"found", 46}}, rows, proofs_most, "items");
  }

  void draw_readings() {
    if (run_.readings.empty()) return;
    std::vector<Row> rows;
    for (const auto& recorded : run_.readings) {
      const auto now = record::standing(recorded, run_.corrections);
      const auto& r = now ? *now : recorded;
      const bool is_changed = record::is_corrected(recorded, run_.corrections);
      rows.push_back({{is_changed ? r.name + " (corrected)" : r.name, now ? value_text(r) : "does not count",
                       r.limit ? limit_text(*r.limit, r.unit) : "",
                       r.tried ? fmt::format("{} of {}", r.count, *r.tried) : std::to_string(r.count)},
                      now ? r.judgement : std::nullopt});
    }
    const double coverage = run_.readings.front().interval.coverage_probability;
    draw_table({{"reading", 0},
                {fmt::format("value and its {:.0f} % interval", coverage * 100), 46, true},
                {"must be", 98},
                {"from", 134}},
               rows, readings_most, "readings");
  }

  struct Column {
    std::string heading;
    double at = 0;  // from the left margin
    bool bold = false;
  };
  struct Row {
    std::vector<std::string> cells;  // one for each column
    std::optional<Judgement> judgement;
  };

  // What was judged, one line each; the judgement has the last column.
  void draw_table(const std::vector<Column>& columns, const std::vector<Row>& rows, std::size_t most,
                  const char* of_what) {
    if (rows.empty()) return;
    constexpr double judgement_at = 154;
    for (const Column& column : columns) canvas_.text(margin + column.at, y_, column.heading, small);
    canvas_.text(margin + judgement_at, y_, "judgement", small);
    y_ += 1.6;
    const std::size_t shown = std::min(rows.size(), most);
    for (std::size_t i = 0; i < shown; ++i) {
      canvas_.line(margin, y_, page_width - margin, y_);
      const double base = y_ + 3.7;
      for (std::size_t c = 0; c < columns.size(); ++c) {
        const double end = c + 1 < columns.size() ? columns[c + 1].at : judgement_at;
        const Type type{8.5, columns[c].bold, ink::text, Align::left};
        canvas_.text(margin + columns[c].at, base, canvas_.fitted(rows[i].cells[c], end - columns[c].at - 2, type),
                     type);
      }
      draw_judgement_mark(canvas_, {margin + judgement_at, y_ + 1.3, 2.6, 2.6}, rows[i].judgement);
      canvas_.text(margin + judgement_at + 4, base, judgement_text(rows[i].judgement), plain);
      y_ += row_height;
    }
    canvas_.line(margin, y_, page_width - margin, y_);
    say_left_out(rows.size(), shown, of_what, y_ + 3.4);
    y_ += rows.size() > shown ? 9 : 6;
  }

  void say_left_out(std::size_t all, std::size_t shown, const char* of_what, double at) {
    if (all <= shown) return;
    canvas_.text(margin, at, fmt::format("and {} more {}: see the export of this run", all - shown, of_what), small);
  }

  // From the foot of the page upwards; gives where the room for the plots ends.
  double draw_bottom() {
    double y = page_height - 12;
    draw_versions(y);
    y -= 12;
    draw_signing(y);
    y -= 9;
    y = draw_cautions(y);
    y = draw_notes(y);
    return draw_instruments(y);
  }

  void draw_versions(double y) {
    std::string text = or_words(run_.summary.program, "eyelevel");
    text += fmt::format("  ·  journal format {}", record::event_format_version);
    if (!run_.begun.file.empty()) text += "  ·  " + std::filesystem::path(run_.begun.file).filename().string();
    if (run_.begun.seed) text += fmt::format("  ·  rehearsal, seed {}", *run_.begun.seed);
    canvas_.text(margin, y, canvas_.fitted(text, inner_width - 45, small), small);
    canvas_.text(page_width - margin, y, fmt::format("run {}, page 1 of 1", run_.summary.id),
                 {7.5, false, ink::quiet, Align::right});
  }

  void draw_signing(double y) {
    const std::tuple<const char*, double, double> lines[] = {
        {"measured by", 0, 62}, {"signature", 68, 128}, {"date", 134, inner_width}};
    for (const auto& [name, from, until] : lines) {
      canvas_.line(margin + from, y, margin + until, y, ink::text, 0.25);
      canvas_.text(margin + from, y + 3.2, name, small);
    }
  }

  // Draws lines that end at `y`, under a heading; gives the new upper edge.
  double block(double y, const char* heading, const std::vector<std::string>& lines) {
    if (lines.empty()) return y;
    const double top = y - 4.1 * static_cast<double>(lines.size());
    for (std::size_t i = 0; i < lines.size(); ++i) {
      canvas_.text(margin + 24, top + 3.2 + 4.1 * static_cast<double>(i), lines[i], {8, false});
    }
    canvas_.text(margin, top + 3.2, heading, label);
    return top - 2.2;
  }

  double draw_cautions(double y) {
    std::string text = fmt::format("{}", fmt::join(run_.begun.cautions, "; "));
    if (text.find("service data") == std::string::npos) {  // unless the sequence says it itself
      if (!text.empty()) text += ". ";
      text += "The maker's service data and local rules come first; this is work for qualified people.";
    }
    return block(y, "Cautions", canvas_.wrapped(text, inner_width - 24, {8, false}));
  }

  // "64 of 71 kept; ..." repeats "64 of 71 captures of pressed kept".
  static bool says_kept(const std::vector<std::string>& kept, const std::string& note) {
    return std::any_of(kept.begin(), kept.end(), [&](const std::string& k) {
      return note.starts_with(k.substr(0, k.find(" captures of ")) + " kept");
    });
  }

  double draw_notes(double y) {
    const std::vector<std::string> kept = kept_texts(run_);
    std::vector<std::string> notes = correction_texts(run_);
    for (std::string& note : notes) note.insert(0, "corrected: ");
    if (run_.thinned_out) notes.push_back(thinned_text(*run_.thinned_out));
    notes.insert(notes.end(), kept.begin(), kept.end());
    for (const event::Answered& told : run_.answers)
      notes.push_back(fmt::format("{}: {}, told by {}", told.name, told.answer, told.by));
    for (const record::EnclosureInfo& e : run_.enclosures)
      notes.push_back(fmt::format("enclosed: {} ({})", e.about, e.file_name));
    // What a step noted of its captures, and a reading of the step, is said once.
    const auto is_said = [&](const std::string& note) {
      return std::find(run_.notes.begin(), run_.notes.end(), note) != run_.notes.end() || says_kept(kept, note);
    };
    for (const std::string& note : run_.notes) {
      if (!says_kept(kept, note)) notes.push_back(note);
    }
    for (const auto& reading : run_.readings) {
      for (const std::string& note : reading.notes) {
        if (!is_said(note)) notes.push_back(reading.name + ": " + note);
      }
    }
    const std::size_t all = notes.size();
    if (all > notes_most) {
      notes.resize(notes_most - 1);
      notes.push_back(fmt::format("and {} more notes: see the export of this run", all - notes.size()));
    }
    for (std::string& note : notes) note = canvas_.fitted(note, inner_width - 24, {8, false});
    return block(y, "Notes", notes);
  }

  double draw_instruments(double y) {
    const auto& all = run_.instruments;
    const std::size_t shown = std::min(all.size(), instruments_most);
    if (shown < all.size()) {
      say_left_out(all.size(), shown, "instruments", y);
      y -= 4.1;
    }
    const double top = y - 4.1 * static_cast<double>(shown);
    for (std::size_t i = 0; i < shown; ++i) {
      const double base = top + 3.2 + 4.1 * static_cast<double>(i);
      const Type type{8, false};
      const std::string due = calibration_text(all[i], run_.summary.begun);
      const bool over = due.starts_with("overdue");
      canvas_.text(margin + 24, base, canvas_.fitted(all[i].role + ", " + all[i].kind, 38, type), type);
      canvas_.text(margin + 64, base, canvas_.fitted(or_words(all[i].identity, "did not say who it is"), 54, type),
                   type);
      if (over) canvas_.hatch({margin + 120.5, base - 2.3, 2, 2.6}, ink::orange, 0.75, 0.3);
      canvas_.text(margin + 124, base, "calibration " + due, type);
    }
    if (shown > 0) canvas_.text(margin, top + 3.2, "Instruments", label);
    return top - 3;
  }

  void draw_plots(double bottom) {
    const bool has_levels = std::any_of(content_.levels.begin(), content_.levels.end(),
                                        [](const CaptureLevel& c) { return c.level_v.has_value(); });
    const bool has_eye = content_.eye && content_.eye->folded > 0;
    // A proof of the bench has captures, and neither eye nor level.
    if (run_.captures.empty() || (!run_.proofs.empty() && !has_eye && !has_levels)) return;
    const double room = bottom - y_;
    if (room < pictures_least) {
      canvas_.text(margin, y_ + 2.6, "No room is left for the pictures: see the export of this run", small);
      return;
    }
    const double titles = 2 * 5.5 + 3;
    const double eye_height = std::min(0.64 * (room - titles), 100.0);
    const double level_height = std::min(0.36 * (room - titles), 56.0);
    canvas_.text(margin, y_ + 2.6, eye_title(), label);
    y_ += 5.5;
    draw_eye(canvas_, {margin, y_, inner_width, eye_height}, content_);
    y_ += eye_height + 3;
    canvas_.text(margin, y_ + 2.6, "Level of each capture", label);
    draw_key();
    y_ += 5.5;
    draw_levels(canvas_, {margin, y_, inner_width, level_height}, content_);
  }

  std::string eye_title() const {
    if (!content_.eye || content_.eye_of.empty()) return "Eye picture";
    return fmt::format("Eye picture of {}: {} captures folded on the channel bit", content_.eye_of,
                       content_.eye->captures);
  }

  void draw_key() {
    const double y = y_ + 1.7;
    double x = margin + 60;
    canvas_.dot(x, y, 0.65, ink::blue);
    canvas_.text(x + 2, y + 0.9, "kept", small);
    canvas_.diamond(x + 14, y, 1.0, ink::orange);
    canvas_.text(x + 16.5, y + 0.9, "not kept", small);
    canvas_.line(x + 34, y - 0.8, x + 34, y + 0.8, ink::orange, 0.3);
    canvas_.text(x + 36, y + 0.9, "no level", small);
    canvas_.hatch({x + 53, y - 1.3, 5, 2.6}, density_colour(0.35), 1.0, 0.18);
    canvas_.text(x + 60, y + 0.9, "within the limit", small);
  }

  Canvas& canvas_;
  const SheetContent& content_;
  const record::RunRecord& run_;
  double y_ = margin - 2;
};

}  // namespace

Format format_of(const std::filesystem::path& path) {
  const std::string end = path.extension().string();
  if (end == ".png") return Format::png;
  if (end == ".svg") return Format::svg;
  if (end == ".pdf") return Format::pdf;
  throw base::Error(base::ErrorCode::bad_input, fmt::format("{}: a sheet can be .png, .svg or .pdf", path.string()),
                    "name the file with one of these ends");
}

namespace {

Document document_of(const SheetContent& content) {
  Document document;
  document.width_mm = page_width;
  document.height_mm = page_height;
  document.title =
      fmt::format("{} of {}, run {}", content.run.summary.sequence, content.run.summary.serial, content.run.summary.id);
  document.made = content.run.summary.begun;
  return document;
}

}  // namespace

std::string draw_sheet(const SheetContent& content, Format format) {
  Canvas canvas(format, document_of(content));
  SheetDrawing(canvas, content).draw();
  return canvas.finish();
}

std::vector<std::string> words_on_sheet(const SheetContent& content) {
  Canvas canvas(Format::svg, document_of(content));
  SheetDrawing(canvas, content).draw();
  return canvas.written();
}

void write_sheet(const SheetContent& content, const std::filesystem::path& path) {
  write_file(path, draw_sheet(content, format_of(path)));
}

}  // namespace eyelevel::report
