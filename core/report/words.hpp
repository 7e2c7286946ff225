// SPDX-License-Identifier: Apache-2.0
// Readings, limits and the end of a run as a technician would write them. Used by the sheet and the terminal; numbers
// for programs are run_json.hpp.
#pragma once

#include <string>
#include <string_view>

#include "core/metrology/reading.hpp"
#include "core/record/run_record.hpp"

namespace eyelevel::report {

// "1.203 V ± 0.021 V": the expanded uncertainty to two significant digits, the value to the same place (GUM 7.2.6).
// Below 0.1 V in mV. Unit "1" is not written. Without an uncertainty (0) four significant digits of the value.
std::string value_text(double value, double expanded_uncertainty, std::string_view unit);
std::string value_text(const metrology::Reading& reading);

// "1.08 V to 1.32 V", "at least 0.9 V", "at most 1.45 V", "" without a limit.
std::string limit_text(const metrology::Limit& limit, std::string_view unit);

// "pass", "fail", "undecided", "not judged".
std::string_view judgement_text(const std::optional<metrology::Judgement>& judgement);

// step 3 "capture: rf"; step 1 of the opening "set up: rf"
std::string place_text(const event::Place& place);

// The end of the run as one or two sentences: what was found and, when it was stopped, where, why and what to try.
std::string end_text(const record::RunRecord& run);

// "64 of 71 captures of pressed kept (focus 5, no lock 2)", one for each capture's name, in the order taken.
std::vector<std::string> kept_texts(const record::RunRecord& run);

// "due 2030-06-30", "overdue since 2029-12-01" (on the day of the run), "no date given".
std::string calibration_text(const event::InstrumentUsed& instrument, base::UtcTime on);

// "bench proven at 2030-01-07 08:00 UTC (run 2030-01-07-1)", "bench not proven: ..."; "" when nobody looked.
std::string proof_text(const std::optional<event::BenchProof>& proof);
bool is_proven(const std::optional<event::BenchProof>& proof);

// "self-test of scope: it finds nothing wrong (pass)"
std::string proved_text(const event::Proved& item);
// "from 0.96 to about 1.10 (1.02 to 1.19), 97 % sure of the way; the last turn did nothing"
std::string prospect_text(const event::Advised& advised);

// What was corrected since, one sentence each: "level_pressed: 1.21 V instead of 1.203 V (anna, 2030-01-08 09:00 UTC:
// the division was misread)".
std::vector<std::string> correction_texts(const record::RunRecord& run);

// "samples of 61 captures were thinned out on 2030-04-07 (eyeleveld: older than 90 days); 3 stay, ..."
std::string thinned_text(const record::ThinnedOut& thinned);

// "2030-01-07 08:00 UTC"
std::string time_text(base::UtcTime time);

}  // namespace eyelevel::report
