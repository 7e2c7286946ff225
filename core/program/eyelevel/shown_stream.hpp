// SPDX-License-Identifier: Apache-2.0
// The samples of a file, and on a terminal how far it is read where that takes a while.
#pragma once

#include <cstddef>

#include "core/signal/sample_stream.hpp"

namespace eyelevel::program {

class ShownStream final : public signal::SampleStream {
 public:
  // `samples` must stay; `bytes` is the size of its file.
  ShownStream(signal::SampleStream& samples, std::size_t bytes);
  ~ShownStream() override;

  signal::CodesView next(std::size_t most) override;

 private:
  void show(std::size_t passed);
  void end();

  signal::SampleStream& samples_;
  std::size_t bytes_;
  bool shown_;
  int percent_ = -1;
};

}  // namespace eyelevel::program
