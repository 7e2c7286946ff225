// SPDX-License-Identifier: Apache-2.0
#include "core/program/eyelevel/shown_stream.hpp"

#include <fmt/format.h>
#include <unistd.h>

#include <cstdio>
#include <variant>

#include "core/program/output.hpp"

namespace eyelevel::program {
namespace {

constexpr std::size_t bytes_least = 20'000'000;  // about half a second at 20 MSa/s and 8 bits

}  // namespace

ShownStream::ShownStream(signal::SampleStream& samples, std::size_t bytes)
    : SampleStream({}), samples_(samples), bytes_(bytes), shown_(::isatty(STDERR_FILENO) == 1 && bytes >= bytes_least) {
  about_ = samples.about();
  assumed_ = samples.assumed();
  borrowed_ = samples.samples_are_borrowed();
}

ShownStream::~ShownStream() { end(); }

signal::CodesView ShownStream::next(std::size_t most) {
  const signal::CodesView block = samples_.next(most);
  const bool ended = std::visit([](const auto& codes) { return codes.empty(); }, block);
  show(ended ? bytes_ : samples_.bytes_passed());
  if (ended) end();
  return block;
}

void ShownStream::show(std::size_t passed) {
  const int percent = static_cast<int>(100 * static_cast<double>(passed) / static_cast<double>(bytes_));
  if (!shown_ || percent == percent_) return;
  percent_ = percent;
  put(stderr, fmt::format("\r{} % of {:.0f} MB", percent, static_cast<double>(bytes_) / 1e6));
}

// What is printed next begins a line.
void ShownStream::end() {
  if (percent_ >= 0) put(stderr, "\n");
  percent_ = -1;
  shown_ = false;
}

}  // namespace eyelevel::program
