// SPDX-License-Identifier: Apache-2.0
// One process of a plugin with its three streams. Its standard error is kept for messages, its last part only. All of
// it belongs to one loop.
#pragma once

#include <cstddef>
#include <filesystem>
#include <memory>
#include <string>
#include <string_view>

#include "core/base/timeline.hpp"

namespace eyelevel::plugin::process {

struct ChildSetting {
  std::filesystem::path program;
  std::filesystem::path folder;  // where it runs
  std::size_t memory_bytes = std::size_t{512} << 20U;
};

class Child {
 public:
  // Starts it on the caller's loop with little in its environment, in a process group of its own, with its memory
  // bounded, to die with this process. Throws Error(no_connection).
  static task<std::unique_ptr<Child>> start(ChildSetting setting);

  Child(const Child&) = delete;
  Child& operator=(const Child&) = delete;
  ~Child();  // kills it and whatever it has started

  task<> write(std::string_view bytes);
  // One line without its end. Throws Error(bad_answer) for one that is longer than `most`, Error(connection_lost) when
  // the stream ends first.
  task<std::string> read_line(std::size_t most);
  // Whether something is there that was not asked for.
  bool has_more();
  // Lets go of its standard input, which tells it to end, and says whether it did within the time.
  task<bool> ended_within(base::Timeline& timeline, base::Duration within);
  void kill() noexcept;
  // After kill(), or when it has ended by itself: "ended with status 3"; empty while it runs.
  std::string how_it_ended() const;
  // The last of what it said on standard error, in one line; empty when it said nothing.
  std::string last_words() const;

 private:
  struct Streams;
  explicit Child(std::unique_ptr<Streams> streams);
  void reap(bool wait) noexcept;

  std::unique_ptr<Streams> streams_;
  int pid_ = -1;  // -1: ended and asked for its status
  int status_ = 0;
};

}  // namespace eyelevel::plugin::process
