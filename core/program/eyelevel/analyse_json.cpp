// SPDX-License-Identifier: Apache-2.0
#include "core/program/eyelevel/analyse_json.hpp"

#include <fmt/format.h>

#include <boost/json.hpp>

#include "core/program/eyelevel/analyse_errors.hpp"
#include "core/program/eyelevel/analyse_words.hpp"

namespace eyelevel::program {
namespace {

namespace json = boost::json;

json::value clock_json(const std::optional<disc::MinSecFrame>& t) {
  return t ? json::value(clock_text(*t)) : json::value(nullptr);
}

json::object block_json(const disc::QBlock& b) {
  json::object o;
  o["control"] = b.control;
  o["adr"] = b.adr;
  o["track"] = b.track == 0xAA ? json::value("AA") : json::value(b.track);
  o["index"] = b.index ? json::value(*b.index) : json::value(nullptr);
  o["point"] = b.point ? json::value(fmt::format("{:02X}", *b.point)) : json::value(nullptr);
  o["relative"] = clock_json(b.relative);
  o["absolute"] = clock_json(b.absolute);
  o["crc"] = b.crc;
  return o;
}

json::value contents_json(const disc::Analysis& a) {
  if (!a.contents) return nullptr;
  json::array tracks;
  for (const auto& [number, track] : a.contents->tracks) {
    tracks.push_back(json::object{
        {"track", number}, {"start", clock_text(track.start)}, {"content", track.is_data ? "data" : "audio"}});
  }
  return json::object{{"complete", a.contents->complete},
                      {"mark", a.contents->complete ? json::value(a.contents->mark) : json::value(nullptr)},
                      {"lead_out", clock_json(a.contents->lead_out)},
                      {"tracks", std::move(tracks)}};
}

json::array swings_json(const std::vector<disc::SwingAt>& swings) {
  json::array all;
  for (const auto& s : swings) all.push_back(json::object{{"hz", s.hz}, {"percent", s.percent}});
  return all;
}

json::object envelope_json(const disc::Analysis& a) {
  const disc::EnvelopeFigures& e = a.envelope;
  json::array faults;
  for (const auto& f : a.faults) faults.push_back(json::object{{"start_s", f.start_s}, {"length_s", f.length_s}});
  json::value turns = nullptr;
  if (e.once_around) {
    turns = json::object{{"hz", e.once_around->hz},
                         {"height_percent", e.once_around->height_percent},
                         {"middle_percent", e.once_around->middle_percent}};
  }
  return json::object{{"height_v", number(e.height_v)},
                      {"settled_after_s", number(e.settled_after_s)},
                      {"fast_percent", number(e.fast_percent)},
                      {"openings_per_s", number(e.openings_per_s)},
                      {"once_around", std::move(turns)},
                      {"hum", swings_json(e.hum)},
                      {"lines", swings_json(e.lines)},
                      {"faults", a.fault_count},
                      {"first_faults", std::move(faults)},
                      {"radius_m", number(a.radius_m)},
                      {"velocity_m_per_s", number(a.velocity_m_per_s)},
                      {"missing", json::array(e.missing.begin(), e.missing.end())}};
}

json::array run_lengths_json(const disc::Analysis& a) {
  json::array rows;
  for (const disc::RunLengths& r : a.run_lengths) {
    rows.push_back(json::object{{"t", r.t},
                                {"kind", r.is_land ? "land" : "pit"},
                                {"count", r.count},
                                {"level_v", number(r.level_v)},
                                {"length_error_ns", number(r.length_error_ns)},
                                {"jitter_ns", number(r.jitter_ns)},
                                {"jitter_percent_t", number(r.jitter_percent_t)}});
  }
  return rows;
}

}  // namespace

json::object analysis_json(const disc::Analysis& a, const disc::CircStrategy& strategy,
                           const std::optional<KnownDisc>& disc) {
  json::object o;
  o["speed"] = number(a.speed);
  o["channel_rate_hz"] = number(a.channel_rate_hz);
  o["samples"] = a.samples;
  o["duration_s"] = a.duration_s;
  o["level"] = json::object{{"peak_to_peak_v", number(a.level.peak_to_peak_v)},
                            {"i11_v", number(a.level.i11_v)},
                            {"i3_v", number(a.level.i3_v)},
                            {"top_v", number(a.level.top_v)},
                            {"bottom_v", number(a.level.bottom_v)},
                            {"mean_v", number(a.level.mean_v)}};
  o["level_standard_error_v"] = number(a.level_standard_error_v);
  o["i3_over_i11"] = number(a.i3_over_i11);
  o["i11_over_top"] = number(a.i11_over_top);
  o["asymmetry"] = number(a.asymmetry);
  o["beta"] = number(a.beta);
  json::object jitter{{"all", number(a.jitter_all_ns)}};
  json::object runs;
  for (std::size_t n = 3; n <= 11; ++n) {
    jitter[fmt::format("{}T", n)] = number(a.jitter_ns[n]);
    runs[fmt::format("{}T", n)] = a.runs[n];
  }
  o["jitter_ns"] = std::move(jitter);
  o["jitter_of_instrument_ns"] = number(a.jitter_of_instrument_ns);
  o["edge_jitter"] = json::object{{"ns", number(a.edge_jitter_ns)},
                                  {"of_instrument_ns", number(a.edge_jitter_of_instrument_ns)},
                                  {"loop_hz", number(a.edge_jitter_loop_hz)}};
  o["runs"] = std::move(runs);
  o["run_lengths"] = run_lengths_json(a);
  o["frames"] = a.frames;
  o["sync_lost"] = a.sync_lost;
  json::array blocks;
  for (const auto& b : a.subcode) blocks.push_back(block_json(b));
  o["subcode"] = std::move(blocks);
  o["subcode_blocks"] = a.subcode_blocks;
  o["content"] = content_text(a.content);
  o["contents"] = contents_json(a);
  o["test_disc"] = o["test_disc_why_not"] = nullptr;
  if (disc && disc->disc) {
    o["test_disc"] = json::object{{"name", disc->disc->name}, {"kind", disc->disc->kind}};
  } else if (disc) {
    o["test_disc_why_not"] = disc->why_not;
  }
  o["envelope"] = envelope_json(a);
  put_errors(o, a, strategy);
  o["locked_share"] = a.locked_share;
  o["clipped_share"] = a.clipped_share;
  json::array warnings;
  for (const auto& w : a.warnings) warnings.emplace_back(w);
  o["warnings"] = std::move(warnings);
  return o;
}

}  // namespace eyelevel::program
