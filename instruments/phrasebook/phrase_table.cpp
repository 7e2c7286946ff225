// SPDX-License-Identifier: Apache-2.0
#include "instruments/phrasebook/phrase_table.hpp"

#include <fmt/format.h>

#include <array>
#include <memory>
#include <string_view>
#include <type_traits>
#include <utility>
#include <vector>

#include "core/base/error.hpp"
#include "core/bench/bench_file.hpp"
#include "instruments/phrasebook/usb_quirks.hpp"
#include "instruments/scpi/header_tree.hpp"

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
    Row<CommonPhrases>{"self-test", &CommonPhrases::self_test, false,
                       "tests itself and answers 0 when nothing is wrong", "\"*TST\""},
    Row<CommonPhrases>{"stop", &CommonPhrases::stop, false, "stop what is under way", "ABORt"},
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
    Row<OscilloscopePhrases>{"measured signal", &OscilloscopePhrases::measured_signal, false, "what is sensed",
                             "SENSe:FUNCtion:ON"},
    Row<OscilloscopePhrases>{"data source", &OscilloscopePhrases::data_source, false,
                             "which channel is sent, where that is a word", "RECord:SOURce"},
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
    Row<OscilloscopePhrases>{"byte order", &OscilloscopePhrases::byte_order, false, "which byte comes first",
                             "FORMat:BORDer"},
    Row<OscilloscopePhrases>{"start", &OscilloscopePhrases::start, true, "take one record", "INITiate:IMMediate"},
    Row<OscilloscopePhrases>{"waveform header", &OscilloscopePhrases::waveform_header, false, "the scale of the codes",
                             "RECord:PREamble"},
    Row<OscilloscopePhrases>{"first point", &OscilloscopePhrases::first_point, false, "where a read begins",
                             "RECord:STARt"},
    Row<OscilloscopePhrases>{"last point", &OscilloscopePhrases::last_point, false, "where a read ends", "RECord:STOP"},
    Row<OscilloscopePhrases>{"fetch", &OscilloscopePhrases::fetch, true, "the samples taken, in volts",
                             "FETCh:ARRay:VOLTage"},
    Row<OscilloscopePhrases>{"signal of channel", &OscilloscopePhrases::signal_of_channel, false,
                             "word for voltage against time", "XTIMe:VOLTage<n>"},
    Row<OscilloscopePhrases>{"source of channel", &OscilloscopePhrases::source_of_channel, false,
                             "word for a channel as data source", "CHANnel<n>"},
    Row<OscilloscopePhrases>{"dc", &OscilloscopePhrases::dc, true, "word for d.c. coupling", "DC"},
    Row<OscilloscopePhrases>{"ac", &OscilloscopePhrases::ac, true, "word for a.c. coupling", "AC"},
    Row<OscilloscopePhrases>{"at once", &OscilloscopePhrases::at_once, true, "trigger source: none", "IMMediate"},
    Row<OscilloscopePhrases>{"own channel", &OscilloscopePhrases::own_channel, true, "trigger source: a channel",
                             "INTernal<n>"},
    Row<OscilloscopePhrases>{"rising", &OscilloscopePhrases::rising, true, "rising edge", "POSitive"},
    Row<OscilloscopePhrases>{"falling", &OscilloscopePhrases::falling, true, "falling edge", "NEGative"},
    Row<OscilloscopePhrases>{"floats", &OscilloscopePhrases::floats, false, "data format: 32-bit IEEE 754, in volts",
                             "REAL"},
    Row<OscilloscopePhrases>{"codes", &OscilloscopePhrases::codes, false,
                             "data format: integers of the width that is described", "WORD"},
    Row<OscilloscopePhrases>{"low byte first", &OscilloscopePhrases::low_byte_first, false, "byte order", "SWAPped"},
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

constexpr std::array power_supply_rows{
    Row<PowerSupplyPhrases>{"voltage", &PowerSupplyPhrases::voltage, true, "volts to be given",
                            "SOURce<n>:VOLTage:LEVel:IMMediate:AMPLitude"},
    Row<PowerSupplyPhrases>{"current limit", &PowerSupplyPhrases::current_limit, true, "amperes never to be exceeded",
                            "SOURce<n>:CURRent:LEVel:IMMediate:AMPLitude"},
    Row<PowerSupplyPhrases>{"protection", &PowerSupplyPhrases::protection, true,
                            "volts above which the output switches itself off", "SOURce<n>:VOLTage:PROTection:LEVel"},
    Row<PowerSupplyPhrases>{"tripped", &PowerSupplyPhrases::tripped, true, "whether the protection has acted",
                            "SOURce<n>:VOLTage:PROTection:TRIPped"},
    Row<PowerSupplyPhrases>{"clear protection", &PowerSupplyPhrases::clear_protection, true,
                            "forget that the protection has acted", "SOURce<n>:VOLTage:PROTection:CLEar"},
    Row<PowerSupplyPhrases>{"output", &PowerSupplyPhrases::output, true, "switch of the output", "OUTPut<n>:STATe"},
    Row<PowerSupplyPhrases>{"measured voltage", &PowerSupplyPhrases::measured_voltage, true, "volts that are there",
                            "MEASure:SCALar:VOLTage:DC"},
    Row<PowerSupplyPhrases>{"measured current", &PowerSupplyPhrases::measured_current, true, "amperes that flow",
                            "MEASure:SCALar:CURRent:DC"},
};

constexpr std::array function_generator_rows{
    Row<FunctionGeneratorPhrases>{"shape", &FunctionGeneratorPhrases::shape, true, "form of the signal",
                                  "SOURce<n>:FUNCtion:SHAPe"},
    Row<FunctionGeneratorPhrases>{"frequency", &FunctionGeneratorPhrases::frequency, true, "hertz",
                                  "SOURce<n>:FREQuency:CW"},
    Row<FunctionGeneratorPhrases>{"amplitude", &FunctionGeneratorPhrases::amplitude, true, "volts from peak to peak",
                                  "SOURce<n>:VOLTage:LEVel:IMMediate:AMPLitude"},
    Row<FunctionGeneratorPhrases>{"amplitude unit", &FunctionGeneratorPhrases::amplitude_unit, false,
                                  "how amplitudes are meant, where that can be set", "SOURce<n>:VOLTage:UNIT"},
    Row<FunctionGeneratorPhrases>{"offset", &FunctionGeneratorPhrases::offset, true, "volts of the middle",
                                  "SOURce<n>:VOLTage:LEVel:IMMediate:OFFSet"},
    Row<FunctionGeneratorPhrases>{"load", &FunctionGeneratorPhrases::load, false,
                                  "what it takes to hang on the output, where that can be set", "OUTPut<n>:LOAD"},
    Row<FunctionGeneratorPhrases>{"output", &FunctionGeneratorPhrases::output, true, "switch of the output",
                                  "OUTPut<n>:STATe"},
    Row<FunctionGeneratorPhrases>{"sine", &FunctionGeneratorPhrases::sine, true, "shape", "SINusoid"},
    Row<FunctionGeneratorPhrases>{"square", &FunctionGeneratorPhrases::square, true, "shape", "SQUare"},
    Row<FunctionGeneratorPhrases>{"triangle", &FunctionGeneratorPhrases::triangle, true, "shape", "TRIangle"},
    Row<FunctionGeneratorPhrases>{"peak to peak", &FunctionGeneratorPhrases::peak_to_peak, false,
                                  "amplitude unit: from peak to peak", "VPP"},
    Row<FunctionGeneratorPhrases>{"open load", &FunctionGeneratorPhrases::open_load, false, "load: nothing hangs on it",
                                  "INFinity"},
};

constexpr std::array counter_rows{
    Row<CounterPhrases>{"measured quantity", &CounterPhrases::measured_quantity, true, "what is measured",
                        "SENSe:FUNCtion:ON"},
    Row<CounterPhrases>{"coupling", &CounterPhrases::coupling, true, "d.c. or a.c.", "INPut<n>:COUPling"},
    Row<CounterPhrases>{"level", &CounterPhrases::level, true, "volts that an edge crosses", "SENSe:EVENt<n>:LEVel"},
    Row<CounterPhrases>{"gate", &CounterPhrases::gate, true, "seconds of counting", "SENSe:FREQuency:APERture"},
    Row<CounterPhrases>{"trigger source", &CounterPhrases::trigger_source, true, "what begins a reading",
                        "TRIGger:SOURce"},
    Row<CounterPhrases>{"read", &CounterPhrases::read, true, "take one reading and answer it", "READ"},
    Row<CounterPhrases>{"frequency", &CounterPhrases::frequency, true, "word for frequency", "FREQuency"},
    Row<CounterPhrases>{"dc", &CounterPhrases::dc, true, "word for d.c. coupling", "DC"},
    Row<CounterPhrases>{"ac", &CounterPhrases::ac, true, "word for a.c. coupling", "AC"},
    Row<CounterPhrases>{"at once", &CounterPhrases::at_once, true, "trigger source: none", "IMMediate"},
};

constexpr std::array relay_box_rows{
    Row<RelayBoxPhrases>{"close", &RelayBoxPhrases::close, true,
                         "close the relays of a channel list; asked, 1 or 0 for each", "ROUTe:CLOSe"},
    Row<RelayBoxPhrases>{"open all", &RelayBoxPhrases::open_all, true, "open every relay", "ROUTe:OPEN:ALL"},
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
           .choices = bench::kinds()},
          {.name = "channels",
           .type = yaml::Type::count,
           .help = "how many the family has; leave it out when that differs",
           .example = "2"},
          {.name = "usb",
           .type = yaml::Type::group,
           .help = "what the family needs over USB beyond the standard",
           .example = "{ clear on open: yes }",
           .inside = std::make_shared<const yaml::KeyTable>(usb_table())}};
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

// Calls `with` with the phrases of the kind and their rows; an unknown kind is an oscilloscope, whose mistake is told.
template <class With>
void for_kind(std::string_view kind, const With& with) {
  if (kind == "multimeter") {
    with(MultimeterPhrases{}, multimeter_rows);
  } else if (kind == "power supply") {
    with(PowerSupplyPhrases{}, power_supply_rows);
  } else if (kind == "function generator") {
    with(FunctionGeneratorPhrases{}, function_generator_rows);
  } else if (kind == "counter") {
    with(CounterPhrases{}, counter_rows);
  } else if (kind == "relay box") {
    with(RelayBoxPhrases{}, relay_box_rows);
  } else {
    with(OscilloscopePhrases{}, oscilloscope_rows);
  }
}

// Whether the kind does something by itself that may have to be stopped.
bool can_be_under_way(std::string_view kind) {
  return kind != "power supply" && kind != "function generator" && kind != "relay box";
}

// What must be there or not, beyond key by key.
class Together {
 public:
  Together(const yaml::Node& root, yaml::Mistakes& mistakes) : root_(root), mistakes_(mistakes) {}

  void both_or_none(std::string_view a, std::string_view b) {
    if (has(a) != has(b))
      mistakes_.add(root_.mark, fmt::format("'{}' and '{}' go together", a, b), "write both, or leave both out");
  }
  void needs(std::string_view key, std::string_view why) {
    if (!has(key)) mistakes_.add(root_.mark, fmt::format("'{}' is missing {}", key, why), fmt::format("write {}", key));
  }
  bool has(std::string_view key) const { return root_.find(key) != nullptr; }

 private:
  const yaml::Node& root_;
  yaml::Mistakes& mistakes_;
};

void look_over(const yaml::Node& root, FunctionGeneratorPhrases&, yaml::Mistakes& mistakes) {
  Together together(root, mistakes);
  together.both_or_none("amplitude unit", "peak to peak");
  together.both_or_none("load", "open load");
}

void look_over(const yaml::Node& root, OscilloscopePhrases& phrases, yaml::Mistakes& mistakes) {
  phrases.layout = read_layout(root, mistakes);
  Together together(root, mistakes);
  together.both_or_none("waveform header", "header fields");
  together.both_or_none("codes", "header fields");
  together.both_or_none("byte order", "low byte first");
  together.both_or_none("measured signal", "signal of channel");
  together.both_or_none("data source", "source of channel");
  together.both_or_none("first point", "last point");
  if (!together.has("measured signal") && !together.has("data source"))
    together.needs("measured signal", "in a phrasebook, or 'data source'");
  if (together.has("points per read")) together.needs("first point", "beside 'points per read'");
  if (together.has("header fields")) return;
  together.needs("floats", "in a phrasebook, or 'header fields' for codes");
  together.needs("byte order", "beside 'floats'");
}

template <class Phrases>
void look_over(const yaml::Node&, Phrases&, yaml::Mistakes&) {}

}  // namespace

namespace detail {

void take_phrases(const yaml::Node& root, Phrasebook& book, yaml::Mistakes& mistakes) {
  take(root, common_rows, book.common, mistakes);
  for_kind(book.kind, [&](auto phrases, const auto& rows) {
    take(root, rows, phrases, mistakes);
    look_over(root, phrases, mistakes);
    book.phrases = std::move(phrases);
  });
}

}  // namespace detail

yaml::KeyTable phrasebook_table(std::string_view kind) {
  yaml::KeyTable table{"a phrasebook", "how one family of instruments is spoken to", root_keys()};
  add_rows(table, common_rows);
  for (yaml::Key& key : table.keys)
    if (key.name == "stop") key.required = can_be_under_way(kind);
  for_kind(kind, [&](const auto& phrases, const auto& rows) {
    add_rows(table, rows);
    if constexpr (std::is_same_v<std::decay_t<decltype(phrases)>, OscilloscopePhrases>)
      table.keys.insert(table.keys.end(), layout_keys().begin(), layout_keys().end());
  });
  return table;
}

}  // namespace eyelevel::phrasebook
