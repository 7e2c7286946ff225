// SPDX-License-Identifier: Apache-2.0
// Opens the instruments a sequence asks for, greets them and holds their abilities against what it needs. Nothing is
// set.
#pragma once

#include <functional>
#include <memory>
#include <vector>

#include "core/sequence/runner/context.hpp"

namespace eyelevel::sequence {

using Open = std::function<task<std::unique_ptr<bench::Instrument>>(const bench::InstrumentEntry&)>;

// Fills context.instruments() in the order of the sequence and tells Connected for each. An instrument that only helps
// and cannot be had is noted; a needed one that is missing or does not serve throws base::Error, after which those
// already opened are still in the context, to be made safe.
task<> connect(RunContext& context, const Open& open, std::vector<event::InstrumentUsed>& used);

}  // namespace eyelevel::sequence
