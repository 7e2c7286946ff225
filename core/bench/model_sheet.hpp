// SPDX-License-Identifier: Apache-2.0
// The model sheet: all that a bench must know of one type of player, one YAML file per model. Example and explanation
// of every key: examples/models/lf-2.yaml. Values in SI units. What the sheet does not say is empty and never guessed.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "core/yaml/key_table.hpp"
#include "core/yaml/load.hpp"
#include "core/yaml/mistake.hpp"

namespace eyelevel::bench {

// A value that was written with its tolerance or as a range.
struct Middle {
  double value = 0;
  double half_width = 0;
};

enum class PadCoupling { dc, ac };
// After an equaliser the ratios of the standard do not apply; after a gain control the level says nothing of the light.
enum class PadPoint { before_equaliser, after_equaliser, after_gain_control };
enum class TrimmerSense { clockwise_raises, clockwise_lowers, unknown };
// How the player's circuit stands to the mains; a live chassis is worked on behind an isolating transformer only.
enum class Mains { isolated, live };
enum class ReadAs { settled_levels, outer_edges };

struct Pad {
  std::string where;
  std::string photo;  // path beside the sheet; may be empty
  PadCoupling coupling = PadCoupling::dc;
  PadPoint point = PadPoint::before_equaliser;
  bool light_raises_voltage = true;
  Middle source_resistance_ohm;
};

struct ReferenceNode {
  std::string where;
  std::optional<Middle> voltage_v;
};

struct Speed {
  double audio = 1;
  double data = 1;
  bool in_bursts = false;
};

struct Trimmer {
  std::string where;
  TrimmerSense sense = TrimmerSense::clockwise_raises;
  bool player_off_while_turning = true;
  std::string service_data;              // what allows turning it live; empty otherwise
  std::optional<Middle> resistance_ohm;  // in circuit, player off
};

struct LaserCurrent {
  Middle series_resistor_ohm;
  std::string where;
  std::optional<double> label_a;            // usual figure on this model's labels; the unit's own label wins
  std::optional<bool> has_power_loop = {};  // a monitor diode holds the light: wear shows in the current, not the level
};

struct ServiceValue {
  Middle level_v;
  ReadAs read_as = ReadAs::settled_levels;
};

struct Pickup {
  std::string part;
  std::vector<std::string> connectors;
};

// What a scanned serial number begins.
struct Visit {
  std::vector<std::string> prefixes;  // how serials of this model begin
  std::string sequence;               // path in the folder of sequences
};

struct ModelSheet {
  std::string file;
  std::string model;
  std::string about;
  std::vector<std::string> cautions;
  Pad pad;
  std::string ground;
  std::optional<ReferenceNode> reference;  // mid-supply node that must never be grounded
  std::string dark_level;                  // how it is had: laser off, amplifier alive
  Speed speed;
  std::string audio_track;  // how one is reached
  std::optional<Trimmer> trimmer;
  std::optional<LaserCurrent> laser_current;
  std::optional<ServiceValue> service_value;
  std::vector<std::string> order_of_adjustments;
  std::optional<Mains> mains;
  std::optional<Pickup> pickup;
  std::optional<Visit> visit;
};

struct ModelSheetRead {
  ModelSheet sheet;  // complete only if `mistakes.fine()`
  yaml::Mistakes mistakes;
};

ModelSheetRead read_model_sheet(const std::filesystem::path& path);
ModelSheetRead read_model_sheet(yaml::Document document);

// Whether the document is meant as a model sheet: its first key is `model`.
bool is_model_sheet(const yaml::Node& root);

yaml::KeyTable model_sheet_table();

}  // namespace eyelevel::bench
