// SPDX-License-Identifier: Apache-2.0
// The headers of IEEE 488.2 and SCPI-99 that an oscilloscope or a meter may know, for whoever types at one. What an
// instrument really knows is in its handbook. Sources: IEEE 488.2-1992 Table 10-2; SCPI-1999.0 Vol. 2, chapters 3, 4,
// 9, 11, 18, 20, 21, 23, 24 (their chapter numbers after 18, 20 and 21 from memory).
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace eyelevel::scpi {

// What the last header of a line that is being typed may become: the whole line with one more mnemonic, in the order of
// the alphabet. ":sens:vo" gives ":sens:VOLTage". A header after ';' is taken from the root, as after a colon.
std::vector<std::string> header_completions(std::string_view typed);

}  // namespace eyelevel::scpi
