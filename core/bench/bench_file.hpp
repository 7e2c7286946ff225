// SPDX-License-Identifier: Apache-2.0
// The bench file: which instruments stand together, how they are reached, how they are wired and how far they may be
// trusted. Resource names stay text here (instruments/transport reads them); `resource_mark` says where they stand.
// Example and explanation of every key: examples/bench.yaml. Values in SI units; an accuracy is the half-width that the
// maker states, taken as rectangular by whoever computes uncertainty.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/yaml/key_table.hpp"
#include "core/yaml/load.hpp"
#include "core/yaml/mistake.hpp"

namespace eyelevel::bench {

// What hangs on one channel of an oscilloscope. The factor is what the instrument must be set to and is proved by
// reading back.
struct ChannelEntry {
  int number = 1;
  double probe_factor = 1;          // 10 for x10
  double probe_accuracy = 0;        // of the factor at d.c., relative half-width
  double probe_compensation = 0;    // of the factor at the frequencies of the signal, relative half-width
  double probe_resistance_ohm = 0;  // what the probe puts across the pad
  double probe_capacitance_f = 0;
  yaml::Mark mark;
};

// The square wave that an oscilloscope gives for its probes. Half-widths as elsewhere, relative.
struct Calibrator {
  double height_v = 0;
  double height_accuracy = 0;
};

// An output in use, with what may never be asked of it: the limit of what hangs on it, not of the instrument.
struct OutputEntry {
  int number = 1;
  double most_v = 0;
  double most_a = 0;  // of a power supply
  yaml::Mark mark;
};

// A relay that may be closed, by the name under which it is asked for.
struct WayEntry {
  std::string name;
  int channel = 1;  // as the instrument numbers it
  yaml::Mark mark;
};

// Every kind of instrument, as the bench file writes it.
const std::vector<std::string>& kinds();
bool is_kind(std::string_view name);

struct InstrumentEntry {
  std::string role;  // "scope"
  std::string kind;  // one of kinds()
  std::string resource;
  std::string phrasebook;       // "standard-digitiser", or the path of a .yaml file
  std::string calibration_due;  // YYYY-MM-DD, or empty when not stated
  std::string identity;         // how its answer to who it is begins, or empty when not stated
  // Oscilloscope.
  std::optional<Calibrator> calibrator;
  double clock_accuracy = 0;  // relative half-width of its sample clock
  double gain_accuracy = 0;   // relative half-width
  double offset_accuracy_v = 0;
  double noise_v = 0;  // r.m.s. at the probe tip, of a quiet input; 0: not stated
  std::vector<ChannelEntry> channels;
  // Multimeter.
  double reading_accuracy = 0;  // of the reading, relative half-width
  double range_accuracy = 0;    // of the range, relative half-width
  double input_resistance_ohm = 0;
  // Power supply, function generator, counter: relative half-widths.
  double voltage_accuracy = 0;
  double current_accuracy = 0;
  double frequency_accuracy = 0;
  double amplitude_accuracy = 0;
  // Power supply: what a reading of nothing may be off; empty when not stated.
  std::optional<double> voltage_offset_v;
  std::optional<double> current_offset_a;
  std::vector<OutputEntry> outputs;
  std::vector<WayEntry> ways;  // of a relay box
  yaml::Mark mark;             // of its role
  std::string line;            // of a serial port, "115200 8N1"; empty: the usual one
  yaml::Mark resource_mark;
  yaml::Mark line_mark;
  std::string certificate;  // the fingerprint, or the path of a .pem file; empty: not encrypted
  yaml::Mark certificate_mark;
  bool encrypts_login_only = false;
  std::string login;  // path of a file with USER:PASSWORD; empty: nobody in particular
  yaml::Mark phrasebook_mark;

  const ChannelEntry* channel(int number) const;
  const OutputEntry* output(int number) const;
};

struct BenchFile {
  std::string file;
  std::string name;
  std::string about;
  double proof_lasts_s = 30 * 86400.0;  // how long a proof of the bench is taken to hold
  std::vector<InstrumentEntry> instruments;

  const InstrumentEntry* find(std::string_view role) const;
};

struct BenchFileRead {
  BenchFile bench;  // complete only if `mistakes.fine()`
  yaml::Mistakes mistakes;
};

BenchFileRead read_bench_file(const std::filesystem::path& path);
BenchFileRead read_bench_file(yaml::Document document);

// Whether the document is meant as a bench file: its first key is `bench`.
bool is_bench_file(const yaml::Node& root);

// All keys of all kinds, for help and for the schema.
yaml::KeyTable bench_file_table();

}  // namespace eyelevel::bench
