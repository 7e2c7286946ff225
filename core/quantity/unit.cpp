// SPDX-License-Identifier: Apache-2.0
// Both micro signs (U+00B5, U+03BC) and both ohm signs (U+2126, U+03A9) are understood.
#include "core/quantity/unit.hpp"

#include <algorithm>
#include <array>
#include <vector>

namespace eyelevel::quantity {
namespace {

struct Symbol {
  std::string_view text;
  Unit unit;
  bool takes_prefix = false;
};

struct Prefix {
  std::string_view text;
  double factor;
};

struct Alias {
  std::string_view written;
  std::string_view meant;
};

constexpr std::array symbols{
    Symbol{"V", {1, 0, voltage, false}, true},
    Symbol{"A", {1, 0, current, false}, true},
    Symbol{"s", {1, 0, time, false}, true},
    Symbol{"min", {60, 0, time, false}, false},
    Symbol{"h", {3600, 0, time, false}, false},
    Symbol{"Hz", {1, 0, frequency, false}, true},
    Symbol{"Sa/s", {1, 0, sample_rate, false}, true},
    Symbol{"S/s", {1, 0, sample_rate, false}, true},
    Symbol{"Sa", {1, 0, samples, false}, true},
    Symbol{"points", {1, 0, samples, false}, true},
    Symbol{"point", {1, 0, samples, false}, true},
    Symbol{"samples", {1, 0, samples, false}, true},
    Symbol{"sample", {1, 0, samples, false}, true},
    Symbol{"Ω", {1, 0, resistance, false}, true},
    Symbol{"\u2126", {1, 0, resistance, false}, true},
    Symbol{"ohm", {1, 0, resistance, false}, true},
    Symbol{"S", {1, 0, conductance, false}, true},
    Symbol{"F", {1, 0, capacitance, false}, true},
    Symbol{"W", {1, 0, power, false}, true},
    Symbol{"K", {1, 0, temperature, false}, false},
    Symbol{"°C", {1, 273.15, temperature, false}, false},
    Symbol{"°", {1, 0, angle, false}, false},
    Symbol{"deg", {1, 0, angle, false}, false},
    Symbol{"%", {1e-2, 0, ratio, true}, false},
    Symbol{"ppm", {1e-6, 0, ratio, false}, false},
};

constexpr std::array prefixes{
    Prefix{"p", 1e-12}, Prefix{"n", 1e-9}, Prefix{"u", 1e-6}, Prefix{"\u00B5", 1e-6}, Prefix{"\u03BC", 1e-6},
    Prefix{"m", 1e-3},  Prefix{"k", 1e3},  Prefix{"M", 1e6},  Prefix{"G", 1e9},       Prefix{"T", 1e12},
};

constexpr std::array aliases{
    Alias{"m", "min or ms"},      Alias{"sec", "s"},       Alias{"secs", "s"},     Alias{"second", "s"},
    Alias{"seconds", "s"},        Alias{"msec", "ms"},     Alias{"usec", "us"},    Alias{"mins", "min"},
    Alias{"minute", "min"},       Alias{"minutes", "min"}, Alias{"hr", "h"},       Alias{"hour", "h"},
    Alias{"hours", "h"},          Alias{"volt", "V"},      Alias{"volts", "V"},    Alias{"amp", "A"},
    Alias{"amps", "A"},           Alias{"ohms", "ohm"},    Alias{"C", "°C"},       Alias{"degC", "°C"},
    Alias{"degree", "deg"},       Alias{"degrees", "deg"}, Alias{"percent", "%"},  Alias{"pct", "%"},
    Alias{"Sps", "Sa/s"},         Alias{"kSps", "kSa/s"},  Alias{"MSps", "MSa/s"}, Alias{"GSps", "GSa/s"},
    Alias{"pts", "points"},       Alias{"kpts", "kSa"},    Alias{"Mpts", "MSa"},   Alias{"k", "kSa, kHz or kΩ"},
    Alias{"M", "MSa, MHz or MΩ"},
};

// There is no thousandth of a sample: MSa written as mSa is a slip.
bool goes_with(const Prefix& prefix, const Symbol& symbol) {
  return symbol.takes_prefix && (prefix.factor > 1 || symbol.unit.dimension.sample == 0);
}

std::optional<Unit> known(std::string_view word) {
  for (const Symbol& s : symbols)
    if (s.text == word) return s.unit;
  for (const Prefix& p : prefixes) {
    if (!word.starts_with(p.text)) continue;
    const std::string_view rest = word.substr(p.text.size());
    for (const Symbol& s : symbols) {
      if (!goes_with(p, s) || s.text != rest) continue;
      Unit unit = s.unit;
      unit.factor *= p.factor;
      return unit;
    }
  }
  return std::nullopt;
}

char lower(char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; }

bool same_but_for_case(std::string_view a, std::string_view b) {
  return std::equal(a.begin(), a.end(), b.begin(), b.end(), [](char x, char y) { return lower(x) == lower(y); });
}

std::size_t space_at(std::string_view text) {
  std::size_t n = 0;
  while (n < text.size() && (text[n] == ' ' || text[n] == '\t')) ++n;
  return n;
}

}  // namespace

std::string_view word_at(std::string_view text) { return text.substr(0, text.find_first_of(" \t\n\r,;()<>")); }

std::optional<UnitFound> unit_at(std::string_view text) {
  const std::string_view word = word_at(text);
  if (word.empty()) return std::nullopt;
  // "600 k points": a prefix that stands alone before a word for samples.
  if (word == "k" || word == "M") {
    const std::size_t gap = space_at(text.substr(1));
    const std::string_view next = word_at(text.substr(1 + gap));
    if (gap > 0 && (next == "points" || next == "samples"))
      return UnitFound{{word == "k" ? 1e3 : 1e6, 0, samples, false}, 1 + gap + next.size()};
  }
  if (const auto unit = known(word)) return UnitFound{*unit, word.size()};
  return std::nullopt;
}

std::string meant_by(std::string_view word) {
  for (const Alias& a : aliases)
    if (a.written == word) return std::string(a.meant);
  std::vector<std::string> near;
  const auto consider = [&](const std::string& candidate) {
    if (same_but_for_case(candidate, word) && std::find(near.begin(), near.end(), candidate) == near.end())
      near.push_back(candidate);
  };
  for (const Symbol& s : symbols) {
    consider(std::string(s.text));
    for (const Prefix& p : prefixes)
      if (goes_with(p, s)) consider(std::string(p.text) + std::string(s.text));
  }
  std::string out;
  for (std::size_t i = 0; i < near.size(); ++i) {
    if (i > 0) out += i + 1 == near.size() ? " or " : ", ";
    out += near[i];
  }
  return out;
}

}  // namespace eyelevel::quantity
