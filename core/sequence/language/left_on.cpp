// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/language/left_on.hpp"

#include <fmt/format.h>

namespace eyelevel::sequence {

void LeftOn::step(const ReadStep& read, const std::string& part, const std::string& file, yaml::Mark at) {
  if (read.puts_on) put_on_.push_back({*read.puts_on, file, at});
  if (read.puts_on && part == "steps") on_now_.insert(read.puts_on->what);
  if (read.makes_safe == every_instrument) on_now_.clear();
  on_now_.erase(read.makes_safe);
  if (part == "closing" && !read.makes_safe.empty()) made_safe_.insert(read.makes_safe);
}

std::vector<yaml::Mistake> LeftOn::mistakes() const {
  std::vector<yaml::Mistake> all;
  if (made_safe_.contains(std::string(every_instrument))) return all;
  for (const PutOn& on : put_on_) {
    if (made_safe_.contains(on.what.role) || made_safe_.contains(on.what.what)) continue;
    yaml::Mistakes there(on.file);
    there.add(
        on.at,
        fmt::format("'{}' is {} here, and `closing` does not make {} safe", on.what.what, on.what.how, on.what.role),
        fmt::format("write `make safe: {}` into closing", every_instrument));
    all.insert(all.end(), there.list().begin(), there.list().end());
  }
  return all;
}

}  // namespace eyelevel::sequence
