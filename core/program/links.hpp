// SPDX-License-Identifier: Apache-2.0
// Every way of reaching a real instrument that this program has.
#pragma once

#include <string>

#include "core/bench/bench_file.hpp"
#include "instruments/phrasebook/standard.hpp"
#include "instruments/transport/transports.hpp"

namespace eyelevel::program {

// `line` is how serial ports are set, as technicians write it; empty: the usual 9600 8N1. Throws
// base::Error(bad_input).
transport::Transports every_link(const std::string& line = {});
// Serial ports as the bench file says for each, USB instruments as their phrasebooks say. Throws as find_phrasebook
// does.
transport::Transports every_link(const bench::BenchFile& bench, const phrasebook::Phrasebooks& phrasebooks);

}  // namespace eyelevel::program
