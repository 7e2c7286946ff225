// SPDX-License-Identifier: Apache-2.0
#include "core/bench/model_sheet.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "core/yaml/fields.hpp"

namespace eyelevel::bench {
namespace {

using yaml::Fields;
using yaml::Node;

class Reader {
 public:
  explicit Reader(yaml::Mistakes& mistakes) : mistakes_(mistakes) {}

  // `root` was checked against the table without an error.
  void read(const Node& root, ModelSheet& sheet) {
    const Fields fields(root);
    sheet.model = fields.text("model").value_or("");
    sheet.about = fields.text("about").value_or("");
    sheet.cautions = fields.texts("cautions");
    sheet.pad = pad(*root.find("pad"));
    sheet.ground = fields.text("ground").value_or("");
    if (const Node* node = root.find("reference")) sheet.reference = reference(*node);
    sheet.dark_level = fields.text("dark level").value_or("");
    sheet.speed = speed(*root.find("speed"));
    sheet.audio_track = fields.text("audio track").value_or("");
    if (const Node* node = root.find("trimmer")) sheet.trimmer = trimmer(*node);
    if (const Node* node = root.find("laser current")) sheet.laser_current = laser_current(*node);
    if (const Node* node = root.find("service value")) sheet.service_value = service_value(*node);
    sheet.order_of_adjustments = fields.texts("order of adjustments");
    if (const auto mains = fields.text("mains")) sheet.mains = *mains == "live" ? Mains::live : Mains::isolated;
    if (const Node* node = root.find("pickup"))
      sheet.pickup = Pickup{Fields(*node).text("part").value_or(""), Fields(*node).texts("connectors")};
    if (const Node* node = root.find("visit")) sheet.visit = visit(*node);
  }

 private:
  Pad pad(const Node& node) {
    const Fields fields(node);
    const std::string point = fields.text("point").value_or("");
    Pad pad;
    pad.where = fields.text("where").value_or("");
    pad.photo = fields.text("photo").value_or("");
    pad.coupling = fields.text("coupling") == "ac" ? PadCoupling::ac : PadCoupling::dc;
    pad.point = point == "after equaliser"      ? PadPoint::after_equaliser
                : point == "after gain control" ? PadPoint::after_gain_control
                                                : PadPoint::before_equaliser;
    pad.light_raises_voltage = fields.yes_no("light raises voltage").value_or(true);
    pad.source_resistance_ohm = middle(node, "source resistance", quantity::resistance);
    return pad;
  }

  ReferenceNode reference(const Node& node) {
    ReferenceNode reference{Fields(node).text("where").value_or(""), {}};
    if (node.find("voltage") != nullptr) reference.voltage_v = middle(node, "voltage", quantity::voltage);
    return reference;
  }

  Speed speed(const Node& node) {
    Speed speed{factor(node, "audio"), factor(node, "data"), Fields(node).text("reading") == "in bursts"};
    return speed;
  }

  double factor(const Node& node, std::string_view key) {
    const double value = Fields(node).quantity(key, quantity::ratio).value_or(0);
    if (value < 0.5 || value > 100)
      mistakes_.add(node.find(key)->mark,
                    fmt::format("'{}': expected a speed from x0.5 to x100, found '{}'", key, node.find(key)->text),
                    "write the speed as a factor, such as x1");
    return value;
  }

  Trimmer trimmer(const Node& node) {
    const Fields fields(node);
    Trimmer trimmer;
    trimmer.where = fields.text("where").value_or("");
    const std::string clockwise = fields.text("clockwise").value_or("");
    trimmer.sense = clockwise == "lowers"    ? TrimmerSense::clockwise_lowers
                    : clockwise == "unknown" ? TrimmerSense::unknown
                                             : TrimmerSense::clockwise_raises;
    trimmer.player_off_while_turning = fields.yes_no("player off while turning").value_or(true);
    trimmer.service_data = fields.text("service data").value_or("");
    if (node.find("resistance") != nullptr) trimmer.resistance_ohm = middle(node, "resistance", quantity::resistance);
    if (!trimmer.player_off_while_turning && trimmer.service_data.empty())
      mistakes_.add(node.find("player off while turning")->mark,
                    "turning the trimmer with the player on is allowed only where the maker's service data say so",
                    "write player off while turning: yes, or name the place under service data");
    return trimmer;
  }

  LaserCurrent laser_current(const Node& node) {
    const Fields fields(node);
    return {middle(node, "series resistor", quantity::resistance), fields.text("where").value_or(""),
            fields.quantity("label", quantity::current), fields.yes_no("power loop")};
  }

  ServiceValue service_value(const Node& node) {
    return {middle(node, "level", quantity::voltage),
            Fields(node).text("read as") == "outer edges" ? ReadAs::outer_edges : ReadAs::settled_levels};
  }

  Visit visit(const Node& node) {
    Visit visit{Fields(node).texts("serials begin with"), Fields(node).text("sequence").value_or("")};
    // An empty one would be the beginning of every serial.
    const bool is_any_empty =
        std::any_of(visit.prefixes.begin(), visit.prefixes.end(), [](const std::string& one) { return one.empty(); });
    if (visit.prefixes.empty() || is_any_empty)
      mistakes_.add(node.find("serials begin with")->mark, "'serials begin with': a beginning is missing",
                    "write serials begin with: [LF2-]");
    return visit;
  }

  Middle middle(const Node& node, std::string_view key, quantity::Dimension dimension) {
    const auto span = Fields(node).span(key, dimension);
    if (!span) return {};
    const Node& value = *node.find(key);
    if (!span->low || !span->high) {
      mistakes_.add(value.mark, fmt::format("'{}': expected a value with its tolerance, found '{}'", key, value.text),
                    fmt::format("write {}: {} ± 10 %", key, quantity::example_of(dimension)));
      return {};
    }
    if (*span->low <= 0 && key != "voltage")  // a reference may be at zero volts, nothing else may
      mistakes_.add(value.mark, fmt::format("'{}': expected more than zero, found '{}'", key, value.text),
                    fmt::format("write {}: {} ± 10 %", key, quantity::example_of(dimension)));
    return {span->nominal.value_or((*span->low + *span->high) / 2), (*span->high - *span->low) / 2};
  }

  yaml::Mistakes& mistakes_;
};

}  // namespace

bool is_model_sheet(const yaml::Node& root) { return !root.entries.empty() && root.entries.front().key == "model"; }

ModelSheetRead read_model_sheet(yaml::Document document) {
  ModelSheetRead result{{}, std::move(document.mistakes)};
  result.sheet.file = document.file;
  if (document.root.shape == yaml::Shape::nothing) return result;
  if (yaml::check(document.root, model_sheet_table(), result.mistakes))
    Reader(result.mistakes).read(document.root, result.sheet);
  return result;
}

ModelSheetRead read_model_sheet(const std::filesystem::path& path) { return read_model_sheet(yaml::load_file(path)); }

}  // namespace eyelevel::bench
