// SPDX-License-Identifier: Apache-2.0
// What a user may do. Four verbs, each for itself: none brings another along.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace eyelevel::service {

enum class Right : unsigned {
  look = 1,        // benches, jobs, records
  operate = 2,     // answer at a bench, pause, go on, stop, ask for jobs, resume and close them
  change = 4,      // move and withdraw what others asked for
  administer = 8,  // users, tokens, seats, the audit
};
std::string_view name_of(Right right);

class Rights {
 public:
  Rights() = default;
  static Rights all();
  // "look", "operate" ...; empty when one is unknown.
  static std::optional<Rights> of(const std::vector<std::string>& names);
  // "look, operate", as names() joined.
  static std::optional<Rights> read(std::string_view text);

  bool has(Right right) const { return (bits_ & static_cast<unsigned>(right)) != 0; }
  bool is_empty() const { return bits_ == 0; }
  Rights both(Rights other) const { return Rights(bits_ & other.bits_); }
  std::vector<std::string_view> names() const;
  std::string text() const;
  bool operator==(const Rights&) const = default;

 private:
  explicit Rights(unsigned bits) : bits_(bits) {}
  unsigned bits_ = 0;
};

}  // namespace eyelevel::service
