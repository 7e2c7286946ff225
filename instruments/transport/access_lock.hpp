// SPDX-License-Identifier: Apache-2.0
// Who may use a device now: the locks of VXI-11 (device_lock: exclusive) and of HiSLIP (IVI-6.1, 6.5: exclusive, or
// shared by everyone who knows the key). One for each device, whatever carries its clients. Server side; one thread.
#pragma once

#include <cstddef>
#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <string_view>

#include "core/base/gong.hpp"

namespace eyelevel::transport {

class AccessLock {
 public:
  using Holder = std::uint64_t;
  enum class Released { nothing, exclusive, shared };

  Holder new_holder() { return ++last_holder_; }

  // No one else has locked the holder out.
  bool may_use(Holder holder) const;
  bool holds_exclusive(Holder holder) const { return exclusive_ == holder; }
  bool holds_shared(Holder holder) const { return shared_.contains(holder); }
  bool is_exclusive() const { return exclusive_.has_value(); }
  std::size_t holders() const;

  // Takes the exclusive lock (empty key) or the shared one; false when others are in the way: wait for `released` and
  // ask again. Asking for a lock that one holds already is for the carrier to refuse (VXI-11 error 11, HiSLIP 3).
  bool take(Holder holder, std::string_view key);
  // One lock of the holder: the exclusive one first (IVI-6.1, Table 16).
  Released release(Holder holder);
  // All locks of a client that went away.
  void forget(Holder holder);

  base::Gong released;

 private:
  Holder last_holder_ = 0;
  std::optional<Holder> exclusive_;
  std::map<Holder, std::string> shared_;  // by holder, the key; all keys are equal
};

}  // namespace eyelevel::transport
