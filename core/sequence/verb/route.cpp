// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/verb/route.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "core/bench/bench_file.hpp"
#include "core/sequence/runner/context.hpp"
#include "core/yaml/nearest.hpp"

namespace eyelevel::sequence {

namespace {

class Route final : public Action {
 public:
  Route(std::string role, std::vector<std::string> ways) : role_(std::move(role)), ways_(std::move(ways)) {}

  task<Result> run(RunContext& context, const Step& step) const override {
    context.progress() = role_ + " has not confirmed its ways";
    context.is_on(role_);
    const auto taken = co_await context.relay_box(role_).close_only(ways_, context.call_limit());
    for (const bench::SettingTaken& t : taken)
      context.tell(event::Set{step.place, role_, t.setting, t.asked, t.read_back});
    co_return std::monostate{};
  }
  void check_on_bench(const Step& step, const bench::BenchFile& bench, yaml::Mistakes& mistakes) const override {
    const bench::InstrumentEntry* entry = bench.find(role_);
    if (!entry || entry->kind != "relay box") return;
    std::vector<std::string> known;
    known.reserve(entry->ways.size());
    for (const bench::WayEntry& way : entry->ways) known.push_back(way.name);
    for (const std::string& way : ways_) {
      if (std::find(known.begin(), known.end(), way) != known.end()) continue;
      const auto near = yaml::nearest(way, known);
      mistakes.add({step.place.line, step.place.column},
                   fmt::format("'{}' of the bench '{}' has no way '{}'", role_, bench.name, way),
                   near ? fmt::format("did you mean '{}'?", *near) : fmt::format("it has {}", yaml::one_of(known)));
    }
  }
  base::ErrorCode when_late() const override { return base::ErrorCode::time_out; }

 private:
  std::string role_;
  std::vector<std::string> ways_;
};

ReadStep read(StepReader& reader) {
  const yaml::Node& node = *reader.fields.node("route");
  std::vector<std::string> ways;
  if (node.shape == yaml::Shape::text) ways.push_back(node.text);
  for (const yaml::Node& item : node.items) ways.push_back(item.text);
  if (ways.empty() || std::find(ways.begin(), ways.end(), "") != ways.end())
    reader.report(node, "no way is named here", "write `route: pad`, or `route: [ pad, calibrator ]` for several");
  const auto through = reader.text("through");
  const RoleNeed* box = through ? reader.role(*reader.fields.node("through"), *through) : nullptr;
  if (box && box->kind != "relay box")
    reader.report("through", fmt::format("'{}' is of kind {}, which has no ways", box->role, box->kind),
                  "name an instrument of kind relay box");
  if (!box || !reader.ok()) return {};
  return {.action = std::make_shared<Route>(box->role, std::move(ways)),
          .gives = {},
          .puts_on = PutsOn{box->role, box->role, "routed"}};
}

}  // namespace

void register_route(Verbs& verbs) {
  registers::Declaration route{.name = "route",
                               .about = "close the named ways of a relay box and open all others",
                               .parameters = {.name = "route", .about = "a way through relays", .keys = {}},
                               .example = "- route: pad\n  through: relays\n  within: 5 s\n",
                               .sentence = "Close the way <route> through <through>"};
  route.parameters.keys = {{.name = "route",
                            .required = true,
                            .type = yaml::Type::own,
                            .help = "a way by its name in the bench file, or a list of ways",
                            .example = "pad"},
                           {.name = "through",
                            .required = true,
                            .type = yaml::Type::text,
                            .help = "the role of the relay box",
                            .example = "relays"},
                           within_key(true),
                           otherwise_key()};
  verbs.add(std::move(route), read);
}

}  // namespace eyelevel::sequence
