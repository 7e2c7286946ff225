// SPDX-License-Identifier: Apache-2.0
#include "core/bench/deed.hpp"

#include <algorithm>
#include <array>
#include <cctype>
#include <charconv>
#include <optional>

namespace eyelevel::bench {
namespace {

using Words = std::vector<std::string>;

// Lower-case words; a degree sign is a word, a comma, semicolon, colon and a full stop before a space are the word ",".
Words words_of(std::string_view text) {
  constexpr std::string_view degree_sign = "\xC2\xB0";
  Words words;
  std::string word;
  const auto finish = [&] {
    if (!word.empty()) words.push_back(std::move(word));
    word.clear();
  };
  for (std::size_t i = 0; i < text.size(); ++i) {
    const char c = text[i];
    if (text.substr(i).starts_with(degree_sign)) {
      finish();
      words.emplace_back("degrees");
      ++i;
    } else if (const bool ends = i + 1 == text.size() || std::isspace(static_cast<unsigned char>(text[i + 1])) != 0;
               c == ',' || c == ';' || c == ':' || c == '\n' || c == '(' || c == ')' || (c == '.' && ends)) {
      finish();
      words.emplace_back(",");
    } else if (std::isspace(static_cast<unsigned char>(c)) != 0 || c == '"' || c == '\'') {
      finish();
    } else {
      word += static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
    }
  }
  finish();
  return words;
}

// Clauses between commas, "and" and "then".
std::vector<Words> clauses_of(const Words& words) {
  std::vector<Words> clauses(1);
  for (const std::string& word : words) {
    if (word == "," || word == "and" || word == "then")
      clauses.emplace_back();
    else
      clauses.back().push_back(word);
  }
  std::erase_if(clauses, [](const Words& clause) { return clause.empty(); });
  return clauses;
}

template <std::size_t N>
bool has_any(const Words& clause, const std::array<std::string_view, N>& wanted) {
  return std::any_of(clause.begin(), clause.end(), [&](const std::string& word) {
    return std::find(wanted.begin(), wanted.end(), word) != wanted.end();
  });
}
bool has(const Words& clause, std::string_view wanted) { return has_any<1>(clause, {wanted}); }

bool has_pair(const Words& clause, std::string_view first, std::string_view second) {
  const std::array<std::string_view, 2> pair{first, second};
  return std::search(clause.begin(), clause.end(), pair.begin(), pair.end()) != clause.end();
}

std::optional<double> number(const std::string& word) {
  double value = 0;
  const char* end = word.data() + word.size();
  const auto [rest, error] = std::from_chars(word.data(), end, value);
  if (error != std::errc() || rest == word.data()) return std::nullopt;
  const std::string_view unit(rest, static_cast<std::size_t>(end - rest));
  if (!unit.empty() && unit != "deg" && unit != "degrees") return std::nullopt;
  return value;
}

std::optional<double> first_number(const Words& clause) {
  for (const std::string& word : clause)
    if (const auto value = number(word)) return value;
  return std::nullopt;
}

std::optional<double> number_after(const Words& clause, std::string_view word) {
  const auto at = std::find(clause.begin(), clause.end(), word);
  return at == clause.end() || std::next(at) == clause.end() ? std::nullopt : number(*std::next(at));
}

std::string joined(const Words& clause) {
  std::string text;
  for (const std::string& word : clause) text += (text.empty() ? "" : " ") + word;
  return text;
}

// "hook the probe to the calibrator", "short the tip of the probe to its ground clip", "put the probe back on the pad".
std::optional<Deed> lead_deed(const Words& clause) {
  if (!has_any<5>(clause, {"hook", "put", "short", "lead", "move"})) return std::nullopt;
  for (const std::string_view lead : {"probe", "counter"})
    for (const std::string_view place : {"calibrator", "ground", "pad", "generator"}) {
      if (!has(clause, lead) || !has(clause, place)) continue;
      Deed deed{DeedKind::move_lead, joined(clause)};
      deed.lead = lead;
      deed.place = place;
      return deed;
    }
  return std::nullopt;
}

bool about_other_things(const Words& clause) {
  constexpr std::array<std::string_view, 9> things{"probe",       "meter",  "multimeter", "scope", "oscilloscope",
                                                   "instruments", "ground", "clip",       "lens"};
  return has_any(clause, things);
}

std::optional<Deed> trimmer_deed(const Words& clause) {
  constexpr std::array<std::string_view, 4> back{"counter-clockwise", "counterclockwise", "anti-clockwise",
                                                 "anticlockwise"};
  const bool backwards = has_any(clause, back) || (has(clause, "clockwise") && has_any<2>(clause, {"counter", "anti"}));
  if (!backwards && !has(clause, "clockwise")) return std::nullopt;
  const double angle_deg = first_number(clause).value_or(a_little_deg);
  Deed deed{DeedKind::turn_trimmer, joined(clause)};
  deed.clockwise_deg = backwards ? -angle_deg : angle_deg;
  deed.off_meanwhile = has(clause, "off");
  deed.live = has_any<3>(clause, {"live", "plays", "playing"}) || has_pair(clause, "player", "on");
  return deed;
}

std::optional<Deed> disc_deed(const Words& clause) {
  constexpr std::array<std::string_view, 5> in{"insert", "put", "load", "place", "change"};
  constexpr std::array<std::string_view, 4> out{"remove", "eject", "without", "no"};
  if (!has(clause, "disc")) return std::nullopt;
  if (has_any(clause, out) || (has(clause, "take") && has(clause, "out")))
    return Deed{DeedKind::remove_disc, joined(clause)};
  if (has_any(clause, in)) return Deed{DeedKind::insert_disc, joined(clause)};
  return std::nullopt;
}

std::optional<Deed> power_deed(const Words& clause, bool power_before) {
  const bool said =
      has_any<5>(clause, {"switch", "turn", "power", "player", "leave"}) || (power_before && clause.size() <= 2);
  if (!said) return std::nullopt;
  if (has(clause, "off")) return Deed{DeedKind::switch_off, joined(clause)};
  if (has(clause, "on")) return Deed{DeedKind::switch_on, joined(clause)};
  return std::nullopt;
}

std::optional<Deed> play_deed(const Words& clause) {
  if (has(clause, "repeat")) return Deed{DeedKind::repeat_disc, joined(clause)};
  const auto track = number_after(clause, "track");
  if (has_any<4>(clause, {"start", "play", "go", "seek"}) || (track && has(clause, "press"))) {
    Deed deed{DeedKind::start_track, joined(clause)};
    constexpr double highest_track = 99;  // ECMA-130 22.3.3
    if (track && *track >= 1 && *track <= highest_track) deed.track = static_cast<int>(*track);
    return deed;
  }
  if (has(clause, "pause")) return Deed{DeedKind::pause, joined(clause)};
  if (has_any<2>(clause, {"resume", "continue"})) return Deed{DeedKind::resume, joined(clause)};
  if (has(clause, "stop")) return Deed{DeedKind::stop, joined(clause)};
  return std::nullopt;
}

}  // namespace

std::vector<Deed> deeds_asked_for(std::string_view prompt) {
  std::vector<Deed> deeds;
  bool power_before = false;
  for (const Words& clause : clauses_of(words_of(prompt))) {
    if (auto moved = lead_deed(clause)) {
      deeds.push_back(*moved);
      continue;
    }
    if (about_other_things(clause)) continue;
    std::optional<Deed> deed = trimmer_deed(clause);
    if (!deed) deed = power_deed(clause, power_before);
    const bool about_power = deed && deed->kind != DeedKind::turn_trimmer;
    if (about_power && has(clause, "disc")) {  // "switch the player on without a disc"
      if (auto of_disc = disc_deed(clause)) deeds.push_back(*of_disc);
    }
    if (!deed) deed = disc_deed(clause);
    if (!deed) deed = play_deed(clause);
    power_before = about_power;
    if (deed) deeds.push_back(*deed);
  }
  return deeds;
}

std::optional<bool> leaves_laser_lit(std::string_view prompt) {
  std::optional<bool> lit;
  for (const Deed& deed : deeds_asked_for(prompt)) switch (deed.kind) {
      case DeedKind::insert_disc:
      case DeedKind::start_track:
      case DeedKind::switch_on:
      case DeedKind::resume: lit = true; break;
      case DeedKind::remove_disc:
      case DeedKind::switch_off:
      case DeedKind::stop: lit = false; break;
      case DeedKind::turn_trimmer: lit = deed.live; break;
      case DeedKind::repeat_disc:
      case DeedKind::pause:
      case DeedKind::move_lead:
      case DeedKind::look: break;
    }
  return lit;
}

}  // namespace eyelevel::bench
