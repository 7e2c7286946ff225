// SPDX-License-Identifier: Apache-2.0
#include "instruments/plugin/declare.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "core/base/error.hpp"
#include "core/quantity/unit.hpp"
#include "core/yaml/nearest.hpp"
#include "core/yaml/source.hpp"

namespace eyelevel::plugin {

namespace {

using registers::PartKind;
using registers::ResultKind;

constexpr std::size_t name_most = 40, line_most = 200, example_most = 1000, choices_most = 50;

class Checker {
 public:
  Checker(const PartSaid& said, const std::string& from) : said_(said), from_(from) {}

  registers::OutsidePart all() {
    require_name(said_.name, "name");
    require_line(said_.about, "about");
    require_example();
    part_.kind = kind();
    part_.declaration = {.name = said_.name,
                         .about = said_.about,
                         .parameters = {.name = said_.name, .about = said_.about, .keys = {}},
                         .example = said_.example,
                         .from = from_};
    if (!said_.gives.empty()) part_.gives = dimension(said_.gives, "gives");
    if (part_.kind == PartKind::verb) own_key();
    if (said_.parameters.size() > parameters_most)
      refuse(fmt::format("has {} parameters", said_.parameters.size()), fmt::format("at most {}", parameters_most));
    for (const ParameterSaid& parameter : said_.parameters) add(parameter);
    what_its_kind_needs();
    return std::move(part_);
  }

 private:
  [[noreturn]] void refuse(const std::string& what, const std::string& right) const {
    base::ErrorRecord record;
    record.code = base::ErrorCode::bad_answer;
    record.where = from_;
    record.message = fmt::format("declares '{}', which {}", one_line(said_.name, name_most), what);
    record.expected = right;
    record.advice = "mend the plugin's declaration";
    throw base::Error(std::move(record));
  }

  void require_name(const std::string& name, std::string_view what) const {
    const bool legible = std::all_of(name.begin(), name.end(), [](char c) {
      return (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == ' ' || c == '-' || c == '.' || c == '_';
    });
    const bool fine = legible && !name.empty() && name.size() <= name_most && name.front() >= 'a' &&
                      name.front() <= 'z' && name.back() != ' ' && name.find("  ") == std::string::npos &&
                      name.find(" of ") == std::string::npos && !name.ends_with(" of");
    if (!fine)
      refuse(
          fmt::format("has the {} '{}'", what, one_line(name, name_most)),
          "small letters, digits, single spaces, - . and _, a letter first, at most 40 characters, not the word 'of'");
  }

  void require_line(const std::string& text, std::string_view what) const {
    if (text.empty() || one_line(text, line_most) != text)
      refuse(fmt::format("has no {} of one legible line", what), "1 to 200 bytes of UTF-8 in one line");
  }

  void require_example() const {
    std::string flat = said_.example;
    std::replace(flat.begin(), flat.end(), '\n', ' ');
    if (said_.example.empty() || one_line(flat, example_most) != flat)
      refuse("has no example", "a step in YAML, up to 1000 bytes");
  }

  PartKind kind() const {
    for (const PartKind kind : {PartKind::verb, PartKind::measure, PartKind::driver, PartKind::transport})
      if (said_.kind == registers::name_of(kind)) return kind;
    refuse(fmt::format("is of kind '{}'", one_line(said_.kind, name_most)), "verb, measure, driver or transport");
  }

  // Values travel in SI units, so that a unit with a prefix would only invite a factor to be forgotten.
  quantity::Dimension dimension(const std::string& unit, std::string_view what) const {
    if (unit == "1") return quantity::ratio;
    const auto found = quantity::unit_at(unit);
    if (!found || found->length != unit.size())
      refuse(fmt::format("has the unknown unit '{}' for {}", one_line(unit, name_most), what), "V, Hz, s, Ohm, 1, ...");
    if (found->unit.factor != 1 || found->unit.zero != 0)
      refuse(fmt::format("has the unit '{}' for {}", unit, what), "the unit without prefix, such as V");
    return found->unit.dimension;
  }

  // What stands behind the verb itself: a text, unless the plugin says more of it.
  void own_key() {
    const bool is_said = std::any_of(said_.parameters.begin(), said_.parameters.end(),
                                     [&](const ParameterSaid& p) { return p.name == said_.name; });
    if (!is_said)
      part_.declaration.parameters.keys.push_back({.name = said_.name,
                                                   .required = true,
                                                   .type = yaml::Type::text,
                                                   .help = said_.about,
                                                   .example = "as in the example"});
  }

  void add(const ParameterSaid& parameter) {
    require_name(parameter.name, "parameter");
    require_line(parameter.help, fmt::format("help for '{}'", parameter.name));
    require_line(parameter.example, fmt::format("example for '{}'", parameter.name));
    auto& keys = part_.declaration.parameters.keys;
    if (part_.declaration.parameters.find(parameter.name))
      refuse(fmt::format("has the parameter '{}' twice", parameter.name), "each once");
    yaml::Key key{.name = parameter.name,
                  .required = parameter.required || parameter.name == said_.name,
                  .type = type_of(parameter),
                  .help = parameter.help,
                  .example = parameter.example};
    if (key.type == yaml::Type::quantity) key.dimension = dimension(parameter.unit, parameter.name);
    if (key.type != yaml::Type::quantity && !parameter.unit.empty())
      refuse(fmt::format("has a unit for '{}', which is no quantity", parameter.name), "type quantity, or no unit");
    if (parameter.choices.size() > choices_most || (!parameter.choices.empty() && parameter.type != "word"))
      refuse(fmt::format("has choices for '{}'", parameter.name), "at most 50, and only for type word");
    for (const std::string& choice : parameter.choices) require_name(choice, "choice");
    key.choices = parameter.choices;
    if (parameter.name == said_.name)
      keys.insert(keys.begin(), std::move(key));
    else
      keys.push_back(std::move(key));
  }

  yaml::Type type_of(const ParameterSaid& parameter) {
    static const std::vector<std::pair<std::string, yaml::Type>> plain{{"text", yaml::Type::text},
                                                                       {"word", yaml::Type::word},
                                                                       {"count", yaml::Type::count},
                                                                       {"quantity", yaml::Type::quantity},
                                                                       {"yes or no", yaml::Type::yes_no}};
    for (const auto& [name, type] : plain)
      if (parameter.type == name) return type;
    for (const ResultKind kind : {ResultKind::reading, ResultKind::waveform, ResultKind::captures}) {
      if (parameter.type != registers::name_of(kind)) continue;
      if (part_.kind != PartKind::verb)
        refuse(fmt::format("asks for a {} by '{}'", parameter.type, parameter.name), "results only for verbs");
      part_.results.emplace(parameter.name, kind);
      return yaml::Type::word;
    }
    refuse(fmt::format("has the parameter '{}' of type '{}'", parameter.name, one_line(parameter.type, name_most)),
           "text, word, count, quantity, yes or no, reading, waveform or captures");
  }

  void what_its_kind_needs() {
    const bool is_measure = part_.kind == PartKind::measure;
    if (is_measure && said_.takes == "waveform") part_.takes = ResultKind::waveform;
    if (is_measure && said_.takes == "captures") part_.takes = ResultKind::captures;
    if (is_measure && !part_.takes)
      refuse(fmt::format("takes '{}'", one_line(said_.takes, name_most)), "waveform or captures");
    if (is_measure && !part_.gives) refuse("gives no reading", "its unit");
    if (!is_measure && !said_.takes.empty()) refuse("takes something, but is no measure", "a parameter that names it");
    if (part_.kind == PartKind::driver) {
      const auto& kinds = driven_kinds();
      if (std::find(kinds.begin(), kinds.end(), said_.instrument) == kinds.end())
        refuse(fmt::format("drives '{}'", one_line(said_.instrument, name_most)), yaml::one_of(kinds));
      if (said_.name.find_first_of(" .") != std::string::npos)
        refuse("is a driver, which the bench file names in one word", "letters, digits, - and _");
      part_.instrument = said_.instrument;
    } else if (!said_.instrument.empty()) {
      refuse("names an instrument, but is no driver", "nothing there");
    }
    if ((part_.kind == PartKind::driver || part_.kind == PartKind::transport) && !said_.parameters.empty())
      refuse("has parameters", "none: it is named in the bench file");
  }

  const PartSaid& said_;
  const std::string& from_;
  registers::OutsidePart part_;
};

}  // namespace

registers::OutsidePart declared(const PartSaid& said, const std::string& from) { return Checker(said, from).all(); }

std::string one_line(std::string_view text, std::size_t most) {
  text = text.substr(0, std::min(text.size(), most));
  text = text.substr(0, yaml::valid_utf8(text));
  std::string line;
  line.reserve(text.size());
  for (const char c : text) line += (static_cast<unsigned char>(c) < 0x20 || c == 0x7F) ? ' ' : c;
  return line;
}

const std::vector<std::string>& driven_kinds() {
  static const std::vector<std::string> kinds{"multimeter", "counter", "power supply", "function generator",
                                              "relay box"};
  return kinds;
}

}  // namespace eyelevel::plugin
