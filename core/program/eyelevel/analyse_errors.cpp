// SPDX-License-Identifier: Apache-2.0
#include "core/program/eyelevel/analyse_errors.hpp"

#include <fmt/format.h>

#include <boost/json.hpp>
#include <string_view>

#include "core/disc/circ/decoder.hpp"
#include "core/disc/efm/code.hpp"
#include "core/program/eyelevel/analyse_words.hpp"
#include "core/quantity/counted.hpp"

namespace eyelevel::program {
namespace {

namespace json = boost::json;
using quantity::counted;

constexpr double frame_bits = disc::efm::frame_bits, limit_per_frame = 0.03, limit_over_s = 10;  // ECMA-130 12.5.2

std::string address_text(const std::optional<disc::MinSecFrame>& t) { return t ? clock_text(*t) : "unreadable"; }

json::value sectors_json(const disc::Sectors& sectors) {
  json::array addresses;
  for (const auto& s : sectors.list)
    addresses.push_back(s.address ? json::value(address_text(s.address)) : json::value(nullptr));
  return {{"sectors", sectors.sectors},
          {"edc_ok", sectors.edc_ok},
          {"edc_bad", sectors.edc_bad},
          {"addresses", std::move(addresses)}};
}

// What so short a record can say of a limit that is meant for ten seconds.
std::string about_rate(const disc::Analysis& a) {
  const double limit = limit_per_frame * *a.channel_rate_hz / frame_bits;
  const double seconds = static_cast<double>(a.c1->words) * frame_bits / *a.channel_rate_hz;
  const auto [low, high] = *a.bler_interval_per_s;
  const std::string sentence = fmt::format(
      "{} wrong of {} in {}; the limit is {:.0f} /s over any {:.0f} s "
      "(ECMA-130 12.5.2).",
      disc::wrong_words(*a.c1), counted(a.c1->words, "word"), duration_text(seconds), limit, limit_over_s);
  if (low > limit) return sentence + " The whole interval lies above it.";
  if (high > limit) return sentence + " It lies inside the interval: this record is too short to tell.";
  if (seconds >= limit_over_s) return sentence + " The whole interval lies below it.";
  return sentence + " The whole interval lies below it, here; damage elsewhere does not show in so short a record.";
}

void print_sectors(const disc::Sectors& sectors) {
  if (sectors.sectors == 0) {
    fmt::print("  data: no whole sector was found (the first comes after up to 307 frames in a row, 42 ms at 1x)\n");
    return;
  }
  fmt::print("  data: {}, EDC right in {}, wrong in {}\n", counted(sectors.sectors, "whole sector"), sectors.edc_ok,
             sectors.edc_bad);
  constexpr std::size_t told = 8;
  for (std::size_t i = 0; i < sectors.list.size() && i < told; ++i) {
    const auto& s = sectors.list[i];
    fmt::print("    {}: {}\n", address_text(s.address),
               !s.edc_ok   ? "a mode without EDC"
               : *s.edc_ok ? "EDC right"
                           : "EDC wrong");
  }
  if (sectors.sectors > std::int64_t{told}) fmt::print("    and {} more\n", sectors.sectors - std::int64_t{told});
}

}  // namespace

void put_errors(json::object& o, const disc::Analysis& a, const disc::CircStrategy& strategy) {
  if (a.c1) {
    o["c1"] = {{"words", a.c1->words},
               {"e11", a.c1->e11},
               {"e21", a.c1->e21},
               {"e31", a.c1->e31},
               {"e21_beside_e31", a.c1->e21_beside_e31},
               {"uncorrectable_longest", a.c1->uncorrectable_longest},
               {"wrong_longest", a.c1->wrong_longest}};
  } else {
    o["c1"] = nullptr;
  }
  o["c2"] = a.c2 ? json::value{{"words", a.c2->words}, {"e12", a.c2->e12}, {"e22", a.c2->e22}, {"e32", a.c2->e32}}
                 : json::value(nullptr);
  o["circ_strategy"] = {{"c1_corrects", strategy.c1_corrects},
                        {"c2_erasures", strategy.c2_erasures},
                        {"about", disc::circ::describe(strategy)}};
  o["bler_per_s"] = a.bler_per_s ? json::value(*a.bler_per_s) : json::value(nullptr);
  o["bler_interval_per_s"] =
      a.bler_interval_per_s
          ? json::value(json::array{a.bler_interval_per_s->low_per_s, a.bler_interval_per_s->high_per_s})
          : json::value(nullptr);
  o["sectors"] = a.sectors ? sectors_json(*a.sectors) : json::value(nullptr);
  o["audio"] = a.sound ? json::value{{"sample_pairs", a.sound->sample_pairs},
                                     {"interpolated", a.sound->interpolated},
                                     {"held", a.sound->held}}
                       : json::value(nullptr);
}

void print_errors(const disc::Analysis& a, const disc::CircStrategy& strategy) {
  if (!a.c1 || !a.c2) return;
  fmt::print("\nErrors ({})\n", disc::circ::describe(strategy));
  fmt::print("  C1: {}, {} with one error, {} with two, {} not correctable\n", counted(a.c1->words, "word"), a.c1->e11,
             a.c1->e21, a.c1->e31);
  if (a.c1->e21_beside_e31 > 0) {
    fmt::print("    {} of those with two stand beside one that is not correctable: they may hold more errors\n",
               a.c1->e21_beside_e31);
  }
  fmt::print("  C2: {}, {} with one error, {} with more, {} not correctable\n", counted(a.c2->words, "word"), a.c2->e12,
             a.c2->e22, a.c2->e32);
  if (disc::wrong_words(*a.c1) > 0) {
    fmt::print("  longest burst: {} in a row wrong, {} in a row not correctable\n",
               counted(a.c1->wrong_longest, "word"), a.c1->uncorrectable_longest);
  }
  if (a.bler_per_s && a.bler_interval_per_s) {
    fmt::print("  block errors: {:.1f} /s, 95 % interval {:.1f} /s to {:.1f} /s if they come one by one\n",
               *a.bler_per_s, a.bler_interval_per_s->low_per_s, a.bler_interval_per_s->high_per_s);
    fmt::print("    {}\n", about_rate(a));
  }
  if (a.sectors && (a.content == disc::Content::data || a.sectors->sectors > 0)) print_sectors(*a.sectors);
}

}  // namespace eyelevel::program
