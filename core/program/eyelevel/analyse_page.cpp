// SPDX-License-Identifier: Apache-2.0
#include "core/program/eyelevel/analyse_page.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <optional>
#include <string_view>

#include "core/program/eyelevel/analyse_errors.hpp"
#include "core/program/eyelevel/analyse_words.hpp"
#include "core/quantity/counted.hpp"

namespace eyelevel::program {
namespace {

// What of a jitter may come from the oscilloscope and not from the disc.
std::string of_instrument(const std::optional<double>& ns) {
  return ns ? fmt::format("up to {:.1f} ns of it (in squares) the oscilloscope's", *ns) : std::string();
}

std::string about_edge_jitter(const disc::Analysis& a) {
  if (!a.edge_jitter_loop_hz) return {};
  return fmt::format("{}; the clock follows what is slower than {:.1f} kHz",
                     of_instrument(a.edge_jitter_of_instrument_ns), 1e-3 * *a.edge_jitter_loop_hz);
}

std::string where_on_disc(const disc::QBlock& b) {
  if (!b.crc) return "a damaged block";
  if (!b.relative) return fmt::format("a block of mode {} (no time in it)", b.adr);
  if (b.track == 0) return fmt::format("lead-in, contents entry {:02X}", b.point.value_or(0));
  const std::string track = b.track == 0xAA ? "lead-out" : fmt::format("track {}", b.track);
  return fmt::format("{}, index {}, {} in the track, {} on the disc", track, b.index.value_or(0),
                     clock_text(*b.relative), b.absolute ? clock_text(*b.absolute) : "-");
}

// Of a long record the first ones and the last that is listed.
void print_places(const disc::Analysis& a) {
  constexpr std::size_t told = 8;
  const auto print = [](const disc::QBlock& b) {
    fmt::print("  at {:7.2f} ms: {}\n", b.start_s * 1e3, where_on_disc(b));
  };
  const auto& all = a.subcode;
  std::for_each_n(all.begin(), std::min(told, all.size()), print);
  if (all.size() <= told) return;
  if (all.size() > told + 1)
    fmt::print("  and so on, {} in all\n", quantity::counted(a.subcode_blocks, "subcode block"));
  print(all.back());
}

void print_contents(const disc::TableOfContents& contents) {
  fmt::print("  {:<28}{}\n", "table of contents",
             contents.complete ? contents.mark + " (the same on every disc of this pressing)" : "not complete");
  for (const auto& [number, track] : contents.tracks) {
    fmt::print("    track {:<3} from {}, {}\n", number, clock_text(track.start), track.is_data ? "data" : "audio");
  }
}

void print_test_disc(const KnownDisc& known) {
  fmt::print("  {:<28}{}\n", "test disc",
             known.disc ? fmt::format("{} ({})", known.disc->name, known.disc->kind) : "not known: " + known.why_not);
}

std::string cell(const std::optional<double>& value, int digits) {
  return value ? fmt::format("{:.{}f}", *value, digits) : "-";
}

// Pits and lands of one length side by side.
void print_run_lengths(const disc::Analysis& a) {
  fmt::print("\nRun lengths (at the pad as our slicer sees it): mean level, mean length error, jitter of the length\n");
  fmt::print("       {:>39}   {:>39}\n", "pits: runs  level V  error ns  jitter ns",
             "lands: runs  level V  error ns  jitter ns");
  for (std::size_t i = 0; i + 1 < a.run_lengths.size(); i += 2) {
    const auto half = [](const disc::RunLengths& r) {
      return fmt::format("{:>10}{:>9}{:>10}{:>11}", r.count, cell(r.level_v, 4), cell(r.length_error_ns, 1),
                         cell(r.jitter_ns, 1));
    };
    fmt::print("  {:>3}T {}   {}\n", a.run_lengths[i].t, half(a.run_lengths[i]), half(a.run_lengths[i + 1]));
  }
}

std::string list_of(const std::vector<disc::SwingAt>& swings) {
  std::string text;
  for (const auto& s : swings) text += fmt::format("{}{:.3g} Hz {:.2g} %", text.empty() ? "" : ", ", s.hz, s.percent);
  return text;
}

void print_envelope(const disc::Analysis& a) {
  const disc::EnvelopeFigures& e = a.envelope;
  if (!e.height_v) return;
  fmt::print("\nThe outline of the eye over time (between extremes, so noise is in it)\n");
  print_figure("height", e.height_v, 1, 4, "V");
  print_figure("settled after", e.settled_after_s, 1e3, 1, "ms", "then within 10 % of the height at the end");
  print_figure("from frame to frame", e.fast_percent, 1, 2, "%", "rms");
  if (e.openings_per_s) print_figure("opens and closes", e.openings_per_s, 1, 0, "/s", "tracks are crossed");
  if (e.once_around) {
    print_figure("turns of the disc", e.once_around->hz, 1, 2, "Hz",
                 fmt::format("height swings by {:.1f} %, middle by {:.1f} % of the height",
                             e.once_around->height_percent, e.once_around->middle_percent));
  }
  if (a.radius_m) {
    print_figure("radius", a.radius_m, 1e3, 1, "mm", fmt::format("speed of the track {:.2f} m/s", *a.velocity_m_per_s));
  }
  if (!e.hum.empty()) fmt::print("  {:<28}{}\n", "hum", list_of(e.hum));
  if (!e.lines.empty()) fmt::print("  {:<28}{}\n", "strongest swings of height", list_of(e.lines));
  if (a.fault_count > 0) fmt::print("  {:<28}{:>10}\n", "places weak or lost", a.fault_count);
  for (const auto& text : e.missing) fmt::print("    {}\n", text);
}

}  // namespace

void print_page(const std::string& name, const WaveformFile& file, const disc::Analysis& a,
                const disc::CircStrategy& strategy, const std::optional<KnownDisc>& disc) {
  fmt::print("{}: {}, {} at {:.4g} MSa/s\n", name, quantity::counted(a.samples, "sample"), duration_text(a.duration_s),
             file.samples->about().rate_hz / 1e6);
  if (!file.assumed.empty()) fmt::print("  read as: {}\n", fmt::join(file.assumed, ", "));
  if (a.has_eye) {
    fmt::print("\nThe eye (at the pad as our slicer sees it, before the player's own equaliser)\n");
    print_figure("level, 11T peak to peak", a.level.peak_to_peak_v, 1, 4, "V");
    print_figure("3T peak to peak", a.level.i3_v, 1, 4, "V");
    print_figure("top (lands)", a.level.top_v, 1, 4, "V");
    print_figure("bottom (pits)", a.level.bottom_v, 1, 4, "V");
    print_figure("mean", a.level.mean_v, 1, 4, "V", "what a d.c. meter shows");
    print_figure("I3 / I11", a.i3_over_i11, 1, 3, "");
    print_figure("I11 / Itop", a.i11_over_top, 1, 3, "", "at least 0.6 (ECMA-130 12.2)");
    print_figure("asymmetry", a.asymmetry, 100, 2, "%", "within 20 % (ECMA-130 12.3)");
    print_figure("jitter of run lengths", a.jitter_all_ns, 1, 1, "ns", of_instrument(a.jitter_of_instrument_ns));
    print_figure("jitter of edges to the clock", a.edge_jitter_ns, 1, 1, "ns", about_edge_jitter(a));
    print_run_lengths(a);
    fmt::print("\nThe disc\n");
    print_figure("speed", a.speed, 1, 0, "x");
    print_figure("channel clock", a.channel_rate_hz, 1e-6, 4, "MHz");
    fmt::print("  {:<28}{:>10}\n  {:<28}{:>10}\n", "frames", a.frames, "content", content_text(a.content));
    print_places(a);
    if (a.contents) print_contents(*a.contents);
    if (disc) print_test_disc(*disc);
    print_envelope(a);
    print_errors(a, strategy);
  } else {
    fmt::print("\nNo eye to be measured here.\n");
    print_figure("mean", a.level.mean_v, 1, 4, "V", "what a d.c. meter shows");
    if (disc) print_test_disc(*disc);
    print_envelope(a);
  }
  if (!a.warnings.empty()) fmt::print("\n");
  for (const auto& w : a.warnings) fmt::print("note: {}\n", w);
}

}  // namespace eyelevel::program
