// SPDX-License-Identifier: Apache-2.0
#include "instruments/phrasebook/phrasebook.hpp"

#include <fmt/format.h>

#include <array>
#include <string_view>
#include <utility>
#include <vector>

#include "core/base/error.hpp"
#include "core/yaml/fields.hpp"
#include "instruments/scpi/error.hpp"
#include "instruments/scpi/header_tree.hpp"
#include "instruments/scpi/message/program_builder.hpp"

namespace eyelevel::phrasebook {
namespace {

// One row of a table serves the check, the help and the reading.
template <class Phrases>
struct Row {
  std::string_view key;
  std::string Phrases::* place;
  bool required;
  std::string_view help;
  std::string_view example;
};

constexpr std::array common_rows{
    Row<CommonPhrases>{"identity", &CommonPhrases::identity, true, "who are you", "\"*IDN\""},
    Row<CommonPhrases>{"clear status", &CommonPhrases::clear_status, true, "forget events and errors", "\"*CLS\""},
    Row<CommonPhrases>{"completed", &CommonPhrases::completed, true, "answers when all is done", "\"*OPC\""},
    Row<CommonPhrases>{"next error", &CommonPhrases::next_error, true, "oldest entry of the error queue",
                       "SYSTem:ERRor"},
    Row<CommonPhrases>{"stop", &CommonPhrases::stop, true, "stop what is under way", "ABORt"},
};

constexpr std::array oscilloscope_rows{
    Row<OscilloscopePhrases>{"probe factor", &OscilloscopePhrases::probe_factor, true, "attenuation of the probe",
                             "INPut<n>:ATTenuation"},
    Row<OscilloscopePhrases>{"coupling", &OscilloscopePhrases::coupling, true, "d.c. or a.c.", "INPut<n>:COUPling"},
    Row<OscilloscopePhrases>{"range", &OscilloscopePhrases::range, true, "full span in volts at the probe tip",
                             "SENSe:VOLTage<n>:RANGe:PTPeak"},
    Row<OscilloscopePhrases>{"offset", &OscilloscopePhrases::offset, true, "centre of the span in volts",
                             "SENSe:VOLTage<n>:RANGe:OFFSet"},
    Row<OscilloscopePhrases>{"bandwidth limit", &OscilloscopePhrases::bandwidth_limit, false, "switch of the filter",
                             "INPut<n>:FILTer:LPASs:STATe"},
    Row<OscilloscopePhrases>{"bandwidth", &OscilloscopePhrases::bandwidth, false, "corner of the filter in hertz",
                             "INPut<n>:FILTer:LPASs:FREQuency"},
    Row<OscilloscopePhrases>{"measured signal", &OscilloscopePhrases::measured_signal, true, "what is sensed",
                             "SENSe:FUNCtion:ON"},
    Row<OscilloscopePhrases>{"points", &OscilloscopePhrases::points, true, "length of a record", "SENSe:SWEep:POINts"},
    Row<OscilloscopePhrases>{"interval", &OscilloscopePhrases::interval, true, "seconds from sample to sample",
                             "SENSe:SWEep:TINTerval"},
    Row<OscilloscopePhrases>{"trigger source", &OscilloscopePhrases::trigger_source, true, "what begins a record",
                             "TRIGger:SOURce"},
    Row<OscilloscopePhrases>{"trigger level", &OscilloscopePhrases::trigger_level, true, "volts at the probe tip",
                             "TRIGger:LEVel"},
    Row<OscilloscopePhrases>{"trigger slope", &OscilloscopePhrases::trigger_slope, true, "which edge", "TRIGger:SLOPe"},
    Row<OscilloscopePhrases>{"data format", &OscilloscopePhrases::data_format, true, "how samples are sent",
                             "FORMat:DATA"},
    Row<OscilloscopePhrases>{"byte order", &OscilloscopePhrases::byte_order, true, "which byte comes first",
                             "FORMat:BORDer"},
    Row<OscilloscopePhrases>{"start", &OscilloscopePhrases::start, true, "take one record", "INITiate:IMMediate"},
    Row<OscilloscopePhrases>{"fetch", &OscilloscopePhrases::fetch, true, "the samples taken, in volts",
                             "FETCh:ARRay:VOLTage"},
    Row<OscilloscopePhrases>{"signal of channel", &OscilloscopePhrases::signal_of_channel, true,
                             "word for voltage against time", "XTIMe:VOLTage<n>"},
    Row<OscilloscopePhrases>{"dc", &OscilloscopePhrases::dc, true, "word for d.c. coupling", "DC"},
    Row<OscilloscopePhrases>{"ac", &OscilloscopePhrases::ac, true, "word for a.c. coupling", "AC"},
    Row<OscilloscopePhrases>{"at once", &OscilloscopePhrases::at_once, true, "trigger source: none", "IMMediate"},
    Row<OscilloscopePhrases>{"own channel", &OscilloscopePhrases::own_channel, true, "trigger source: a channel",
                             "INTernal<n>"},
    Row<OscilloscopePhrases>{"rising", &OscilloscopePhrases::rising, true, "rising edge", "POSitive"},
    Row<OscilloscopePhrases>{"falling", &OscilloscopePhrases::falling, true, "falling edge", "NEGative"},
    Row<OscilloscopePhrases>{"floats", &OscilloscopePhrases::floats, true, "data format: 32-bit IEEE 754, in volts",
                             "REAL"},
    Row<OscilloscopePhrases>{"low byte first", &OscilloscopePhrases::low_byte_first, true, "byte order", "SWAPped"},
};

constexpr std::array multimeter_rows{
    Row<MultimeterPhrases>{"measured quantity", &MultimeterPhrases::measured_quantity, true, "what is measured",
                           "SENSe:FUNCtion:ON"},
    Row<MultimeterPhrases>{"range", &MultimeterPhrases::range, true, "largest volts", "SENSe:VOLTage:DC:RANGe:UPPer"},
    Row<MultimeterPhrases>{"aperture", &MultimeterPhrases::aperture, true, "seconds of integration",
                           "SENSe:VOLTage:DC:APERture"},
    Row<MultimeterPhrases>{"trigger source", &MultimeterPhrases::trigger_source, true, "what begins a reading",
                           "TRIGger:SOURce"},
    Row<MultimeterPhrases>{"read", &MultimeterPhrases::read, true, "take one reading and answer it", "READ"},
    Row<MultimeterPhrases>{"dc voltage", &MultimeterPhrases::dc_voltage, true, "word for d.c. volts", "VOLTage[:DC]"},
    Row<MultimeterPhrases>{"at once", &MultimeterPhrases::at_once, true, "trigger source: none", "IMMediate"},
};

std::vector<yaml::Key> root_keys() {
  return {{.name = "phrasebook",
           .required = true,
           .type = yaml::Type::word,
           .help = "name of the phrasebook",
           .example = "standard-digitiser"},
          {.name = "about",
           .required = true,
           .type = yaml::Type::text,
           .help = "which instruments, and where it is written",
           .example = "digitisers after SCPI-99"},
          {.name = "kind",
           .required = true,
           .type = yaml::Type::word,
           .help = "what these instruments can do",
           .example = "oscilloscope",
           .choices = {"oscilloscope", "multimeter"}},
          {.name = "channels",
           .type = yaml::Type::count,
           .help = "how many the family has; leave it out when that differs",
           .example = "2"}};
}

template <class Rows>
void add_rows(yaml::KeyTable& table, const Rows& rows) {
  for (const auto& row : rows)
    table.keys.push_back({.name = std::string(row.key),
                          .required = row.required,
                          .type = yaml::Type::text,
                          .help = std::string(row.help),
                          .example = std::string(row.example)});
}

// Letters, digits, * : _ with brackets that close and <n> at most once.
bool is_header(std::string_view text) {
  int open = 0;
  int places = 0;
  bool has_capital = false;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const char c = text[i];
    const bool is_letter = (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z');
    has_capital |= c >= 'A' && c <= 'Z';
    const bool is_other = (c >= '0' && c <= '9') || c == ':' || c == '_' || (c == '*' && i == 0);
    if (c == '[' || c == ']') {
      open += c == '[' ? 1 : -1;
      if (open < 0 || open > 1) return false;
    } else if (c == '<') {
      if (text.substr(i, 3) != "<n>" || ++places > 1) return false;
      i += 2;
    } else if (!is_letter && !is_other) {
      return false;
    }
  }
  return open == 0 && has_capital && text.size() <= 200 && text.find("::") == std::string_view::npos &&
         !text.ends_with(':');
}

// Whether the message builder and the reader of answers can both use it.
bool is_usable(const std::string& text) {
  if (!is_header(text)) return false;
  try {
    scpi::HeaderTree().add(text, 0);
    return true;
  } catch (const base::Error&) {
    return false;  // no short form, for example
  }
}

template <class Phrases, class Rows>
void take(const yaml::Node& root, const Rows& rows, Phrases& phrases, yaml::Mistakes& mistakes) {
  for (const auto& row : rows) {
    const yaml::Node* node = root.find(row.key);
    if (node == nullptr) continue;
    if (!is_usable(node->text)) {
      mistakes.add(node->mark, fmt::format("'{}': '{}' is no SCPI header or word", row.key, node->text),
                   fmt::format("write {}: {}", row.key, row.example));
      continue;
    }
    phrases.*(row.place) = node->text;
  }
}

}  // namespace

yaml::KeyTable phrasebook_table(std::string_view kind) {
  yaml::KeyTable table{"a phrasebook", "how one family of instruments is spoken to", root_keys()};
  add_rows(table, common_rows);
  if (kind == "multimeter") {
    add_rows(table, multimeter_rows);
  } else {
    add_rows(table, oscilloscope_rows);
  }
  return table;
}

bool is_phrasebook(const yaml::Node& root) { return !root.entries.empty() && root.entries.front().key == "phrasebook"; }

PhrasebookRead read_phrasebook(yaml::Document document) {
  PhrasebookRead result{{}, std::move(document.mistakes)};
  const yaml::Node& root = document.root;
  if (root.shape == yaml::Shape::nothing) return result;
  const yaml::Fields fields(root);
  Phrasebook& book = result.phrasebook;
  book.kind = fields.text("kind").value_or("");
  if (!yaml::check(root, phrasebook_table(book.kind), result.mistakes)) return result;
  book.name = fields.text("phrasebook").value_or("");
  book.about = fields.text("about").value_or("");
  book.channels = static_cast<int>(std::min(fields.count("channels").value_or(0), 64LL));
  take(root, common_rows, book.common, result.mistakes);
  if (book.kind == "multimeter") {
    take(root, multimeter_rows, book.phrases.emplace<MultimeterPhrases>(), result.mistakes);
  } else {
    take(root, oscilloscope_rows, book.phrases.emplace<OscilloscopePhrases>(), result.mistakes);
  }
  return result;
}

PhrasebookRead read_phrasebook(const std::filesystem::path& path) { return read_phrasebook(yaml::load_file(path)); }

bool means(std::string_view answer, const std::string& pattern, int number) {
  try {
    scpi::HeaderTree tree;
    tree.add(pattern, 0);
    scpi::ProgramParser parser(answer);
    scpi::ProgramUnit unit;
    if (!parser.next(unit) || unit.query || !unit.parameters.empty()) return false;
    scpi::HeaderTree::Path path;
    const auto match = tree.find(unit, path);
    if (!match.suffixes.empty() && match.suffixes.front() != number) return false;
    return !parser.next(unit);
  } catch (const scpi::CommandError&) {
    return false;  // spelled otherwise
  }
}

std::string spoken(const std::string& pattern, int number) {
  scpi::ProgramBuilder builder;
  const bool has_place = pattern.find('<') != std::string::npos;
  builder.command(pattern, std::span<const int>(&number, has_place ? 1 : 0));
  return builder.text().starts_with(':') ? builder.text().substr(1) : builder.text();
}

}  // namespace eyelevel::phrasebook
