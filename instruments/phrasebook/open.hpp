// SPDX-License-Identifier: Apache-2.0
// From an entry of the bench file to an instrument: the link by its resource name, the way of speaking by its
// phrasebook.
#pragma once

#include <functional>
#include <memory>

#include "core/bench/bench_file.hpp"
#include "core/bench/instrument.hpp"
#include "instruments/phrasebook/standard.hpp"
#include "instruments/transport/transports.hpp"

namespace eyelevel::phrasebook {

using Open = std::function<task<std::unique_ptr<bench::Instrument>>(const bench::InstrumentEntry&)>;

// References must outlive the function. It throws TransportError (no_connection ...), or Error(not_found) for an
// unknown phrasebook; opening may take 5 s.
Open opener(const Phrasebooks& phrasebooks, const transport::Transports& transports, base::Timeline& timeline);

// What each USB instrument of the bench needs by its phrasebook, for transport::add_usbtmc. Throws as find_phrasebook.
std::function<transport::usbtmc::Quirks(const transport::ResourceName&)> quirks_of(const Phrasebooks& phrasebooks,
                                                                                   const bench::BenchFile& bench);

}  // namespace eyelevel::phrasebook
