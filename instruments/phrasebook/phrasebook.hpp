// SPDX-License-Identifier: Apache-2.0
// A phrasebook: how one family of instruments is spoken to, from what the house asks (bench/kind) to SCPI headers and
// words. One YAML file each; the standard ones are in standard/ and are built into the program (standard.hpp). A header
// is written as in SCPI-99: capitals mark the short form, brackets what may be left out, <n> the channel. The text of
// messages is put together in instruments/scpi only.
#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <variant>

#include "core/yaml/key_table.hpp"
#include "core/yaml/load.hpp"
#include "core/yaml/mistake.hpp"
#include "instruments/phrasebook/waveform_layout.hpp"
#include "instruments/transport/usbtmc/quirks.hpp"

namespace eyelevel::phrasebook {

// What every instrument is asked (IEEE 488.2, Table 10-2; SCPI-99 Vol. 2, 21.8 and ch. 24).
struct CommonPhrases {
  std::string identity;
  std::string clear_status;
  std::string completed;
  std::string next_error;
  std::string self_test;  // may be empty: it cannot, or what that does is not known
  std::string stop;       // may be empty where nothing is ever under way
};

struct OscilloscopePhrases {
  // Headers.
  std::string probe_factor;
  std::string coupling;
  std::string range;            // full span
  std::string offset;           // its centre
  std::string bandwidth_limit;  // switch; may be empty
  std::string bandwidth;        // hertz; may be empty
  std::string measured_signal;  // takes text in quotes; may be empty where data_source is not
  std::string data_source;      // takes a word; may be empty
  std::string points;
  std::string interval;
  std::string trigger_source;
  std::string trigger_level;
  std::string trigger_slope;
  std::string data_format;
  std::string byte_order;  // may be empty where codes come
  std::string start;
  std::string waveform_header;  // where codes come, and otherwise empty
  std::string first_point;      // where a record is read in parts
  std::string last_point;
  std::string fetch;
  // Words.
  std::string signal_of_channel;  // for measured_signal
  std::string source_of_channel;  // for data_source
  std::string dc;
  std::string ac;
  std::string at_once;
  std::string own_channel;
  std::string rising;
  std::string falling;
  std::string floats;  // REAL,32; empty where codes come
  std::string codes;   // empty where floats come
  std::string low_byte_first;
  WaveformLayout layout;  // of codes
};

struct MultimeterPhrases {
  std::string measured_quantity;
  std::string range;
  std::string aperture;
  std::string trigger_source;
  std::string read;
  std::string dc_voltage;
  std::string at_once;
};

struct PowerSupplyPhrases {
  // <n> is the output; measuring takes it as a channel list when the family has more than one.
  std::string voltage;
  std::string current_limit;
  std::string protection;
  std::string tripped;
  std::string clear_protection;
  std::string output;
  std::string measured_voltage;
  std::string measured_current;
};

struct FunctionGeneratorPhrases {
  // Headers; <n> is the output.
  std::string shape;
  std::string frequency;
  std::string amplitude;       // peak to peak
  std::string amplitude_unit;  // may be empty
  std::string offset;
  std::string load;  // what it believes to hang on the output; may be empty
  std::string output;
  // Words.
  std::string sine;
  std::string square;
  std::string triangle;
  std::string peak_to_peak;  // of amplitude_unit
  std::string open_load;     // of load: nothing
};

struct CounterPhrases {
  // Headers; <n> is the input. Reading takes it as a channel list when the family has more than one.
  std::string measured_quantity;
  std::string coupling;
  std::string level;
  std::string gate;
  std::string trigger_source;
  std::string read;
  // Words.
  std::string frequency;
  std::string dc;
  std::string ac;
  std::string at_once;
};

struct RelayBoxPhrases {
  std::string close;  // takes a channel list; its query answers 1 or 0 for each
  std::string open_all;
};

struct Phrasebook {
  std::string name;
  std::string about;
  std::string kind;  // one of bench::kinds()
  int channels = 0;  // of the family; 0: not known
  CommonPhrases common;
  transport::usbtmc::Quirks usb;  // beyond the standard, where it is reached by USB
  std::variant<OscilloscopePhrases, MultimeterPhrases, PowerSupplyPhrases, FunctionGeneratorPhrases, CounterPhrases,
               RelayBoxPhrases>
      phrases;

  bool is_oscilloscope() const { return std::holds_alternative<OscilloscopePhrases>(phrases); }
};

struct PhrasebookRead {
  Phrasebook phrasebook;  // complete only if `mistakes.fine()`
  yaml::Mistakes mistakes;
};

PhrasebookRead read_phrasebook(yaml::Document document);
PhrasebookRead read_phrasebook(const std::filesystem::path& path);

// Whether the document is meant as a phrasebook: its first key is `phrasebook`.
bool is_phrasebook(const yaml::Node& root);

// The keys for one of bench::kinds().
yaml::KeyTable phrasebook_table(std::string_view kind);

// The short or long form of `pattern`, with this number at its <n>: what an instrument that says `answer` means by it.
// Spelling by SCPI-99 Vol. 1, 6.2.1; a missing number is 1.
bool means(std::string_view answer, const std::string& pattern, int number = 1);
// The pattern as it is typed for a number: "XTIMe:VOLTage<n>" and 2 give "XTIMe:VOLTage2".
std::string spoken(const std::string& pattern, int number = 1);

}  // namespace eyelevel::phrasebook
