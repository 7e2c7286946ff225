// SPDX-License-Identifier: Apache-2.0
#include "instruments/phrasebook/open.hpp"

#include <map>
#include <utility>

#include "core/base/error.hpp"
#include "instruments/phrasebook/counter.hpp"
#include "instruments/phrasebook/function_generator.hpp"
#include "instruments/phrasebook/multimeter.hpp"
#include "instruments/phrasebook/oscilloscope.hpp"
#include "instruments/phrasebook/power_supply.hpp"
#include "instruments/phrasebook/relay_box.hpp"

namespace eyelevel::phrasebook {
namespace {

constexpr base::Duration open_limit = std::chrono::seconds(5);

task<std::unique_ptr<bench::Instrument>> open_entry(const Phrasebooks& phrasebooks,
                                                    const transport::Transports& transports, base::Timeline& timeline,
                                                    bench::InstrumentEntry entry) {
  const Phrasebook phrasebook = find_phrasebook(phrasebooks, entry.phrasebook);
  auto session = co_await transports.open_session(entry.resource, timeline, open_limit);
  // The kind of the bench file counts: a phrasebook for another one is refused by name.
  if (entry.kind == "oscilloscope") co_return open_oscilloscope(timeline, phrasebook, std::move(session));
  if (entry.kind == "power supply")
    co_return open_power_supply(timeline, phrasebook, std::move(session), entry.outputs);
  if (entry.kind == "function generator")
    co_return open_function_generator(timeline, phrasebook, std::move(session), entry.outputs);
  if (entry.kind == "counter") co_return open_counter(timeline, phrasebook, std::move(session));
  if (entry.kind == "relay box") co_return open_relay_box(timeline, phrasebook, std::move(session), entry.ways);
  co_return open_multimeter(timeline, phrasebook, std::move(session));
}

}  // namespace

Open opener(const Phrasebooks& phrasebooks, const transport::Transports& transports, base::Timeline& timeline) {
  return [&phrasebooks, &transports, &timeline](const bench::InstrumentEntry& entry) {
    return open_entry(phrasebooks, transports, timeline, entry);
  };
}

std::function<transport::usbtmc::Quirks(const transport::ResourceName&)> quirks_of(const Phrasebooks& phrasebooks,
                                                                                   const bench::BenchFile& bench) {
  std::map<std::string, transport::usbtmc::Quirks> quirks;
  for (const auto& entry : bench.instruments) {
    const auto name = transport::parse_resource_name(entry.resource);
    if (name.carrier == transport::Carrier::usbtmc)
      quirks[name.canonical()] = find_phrasebook(phrasebooks, entry.phrasebook).usb;
  }
  return [quirks = std::move(quirks)](const transport::ResourceName& name) {
    const auto at = quirks.find(name.canonical());
    return at == quirks.end() ? transport::usbtmc::Quirks{} : at->second;
  };
}

}  // namespace eyelevel::phrasebook
