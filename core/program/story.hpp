// SPDX-License-Identifier: Apache-2.0
// A run told as a technician would tell it, one line for each thing that happens; the many captures become one line
// that counts. On a terminal the count moves; elsewhere it is written once. Writes to the stream it was given; what
// cannot be written there is lost, never the run: the stream remembers it (output.hpp).
#pragma once

#include <fmt/format.h>

#include <cstdio>
#include <string>

#include "core/event/event.hpp"

namespace eyelevel::program {

class Story final : public event::Listener {
 public:
  explicit Story(std::FILE* out);

  void told(const event::Event& event) override;

 private:
  void say(double time_s, std::string_view mark, const std::string& text);
  void count(const event::Event& event, const event::Captured& captured);
  void end_count();
  std::string left_safe() const;
  template <class... Args>
  void print(fmt::format_string<Args...> text, Args&&... args);

  std::FILE* out_;
  bool live_;     // a terminal
  int kept_ = 0;  // of the captures being counted
  int tried_ = 0;
  std::string counting_;  // their name
  bool any_instrument_ = false;
  bool is_safe_ = true;  // nothing that was to be made safe failed to be
};

}  // namespace eyelevel::program
