// SPDX-License-Identifier: Apache-2.0
#include "instruments/phrasebook/open.hpp"

#include "core/base/error.hpp"
#include "instruments/phrasebook/multimeter.hpp"
#include "instruments/phrasebook/oscilloscope.hpp"

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
  co_return open_multimeter(timeline, phrasebook, std::move(session));
}

}  // namespace

Open opener(const Phrasebooks& phrasebooks, const transport::Transports& transports, base::Timeline& timeline) {
  return [&phrasebooks, &transports, &timeline](const bench::InstrumentEntry& entry) {
    return open_entry(phrasebooks, transports, timeline, entry);
  };
}

}  // namespace eyelevel::phrasebook
