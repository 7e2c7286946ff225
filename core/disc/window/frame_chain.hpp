// SPDX-License-Identifier: Apache-2.0
// Frames of successive windows as one row: each once, numbered by time over the whole record, and handed on to subcode
// and CIRC.
#pragma once

#include <cstdint>
#include <optional>

#include "core/disc/analysis.hpp"
#include "core/disc/detail/decoded.hpp"
#include "core/disc/detail/sections.hpp"
#include "core/disc/window/window.hpp"

namespace eyelevel::disc::window {

class FrameChain {
 public:
  FrameChain(double rate_hz, const AnalysisOptions& options);

  void take(const WindowFrames& frames, const Place& place);
  // No window follows.
  void end() { decoder_.end(); }

  std::int64_t frames() const { return count_; }
  std::int64_t sync_lost() const { return sync_lost_; }
  std::int64_t syncs_missed() const { return syncs_missed_; }
  const detail::SectionReader& sections() const { return sections_; }
  detail::Decoded decoded() const { return decoder_.result(sections_.content()); }
  const ErrorsOverTime& errors_over_time() const { return errors_; }

 private:
  void count_errors(double start_s);

  struct Last {
    std::int64_t number;
    double start;  // sample of the record
  };

  double rate_hz_;
  bool subcode_wanted_, errors_wanted_;
  std::optional<Last> last_;
  std::int64_t count_ = 0, sync_lost_ = 0, syncs_missed_ = 0;
  detail::SectionReader sections_;
  detail::FrameDecoder decoder_;
  ErrorsOverTime errors_;
  std::int64_t words_ = 0, wrong_ = 0;  // counted so far
};

}  // namespace eyelevel::disc::window
