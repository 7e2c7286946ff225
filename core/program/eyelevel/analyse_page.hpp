// SPDX-License-Identifier: Apache-2.0
// The page of `eyelevel analyse`: eye, run lengths, disc, outline, errors, notes.
#pragma once

#include <optional>
#include <string>

#include "core/disc/analysis.hpp"
#include "core/program/eyelevel/analyse_test_disc.hpp"
#include "core/program/waveform_file.hpp"

namespace eyelevel::program {

// `name`: of the file, as the user wrote it; `disc`: if a test disc was looked for.
void print_page(const std::string& name, const WaveformFile& file, const disc::Analysis& a,
                const disc::CircStrategy& strategy, const std::optional<KnownDisc>& disc);

}  // namespace eyelevel::program
