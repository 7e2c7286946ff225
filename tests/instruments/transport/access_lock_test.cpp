// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/access_lock.hpp"

#include <catch2/catch.hpp>

using eyelevel::transport::AccessLock;

TEST_CASE("access lock: an exclusive lock keeps everyone else out until it is released", "[transport]") {
  AccessLock lock;
  const auto one = lock.new_holder();
  const auto other = lock.new_holder();
  CHECK(lock.may_use(one));
  CHECK(lock.take(one, ""));
  CHECK(lock.may_use(one));
  CHECK_FALSE(lock.may_use(other));
  CHECK_FALSE(lock.take(other, ""));
  CHECK_FALSE(lock.take(other, "key"));
  CHECK(lock.release(other) == AccessLock::Released::nothing);
  CHECK(lock.release(one) == AccessLock::Released::exclusive);
  CHECK(lock.may_use(other));
  CHECK(lock.take(other, ""));
}

TEST_CASE("access lock: a shared lock lets in who knows its key, and nobody else", "[transport]") {
  AccessLock lock;
  const auto one = lock.new_holder();
  const auto other = lock.new_holder();
  const auto stranger = lock.new_holder();
  CHECK(lock.take(one, "bench"));
  CHECK(lock.take(other, "bench"));
  CHECK_FALSE(lock.take(stranger, "else"));
  CHECK_FALSE(lock.may_use(stranger));
  CHECK(lock.may_use(other));
  CHECK(lock.holders() == 2);
  CHECK_FALSE(lock.is_exclusive());
}

// IVI-6.1, 6.5: an exclusive lock over a shared one goes to a holder of the shared one only; release frees it first.
TEST_CASE("access lock: an exclusive lock over a shared one is for its holders, and is released first", "[transport]") {
  AccessLock lock;
  const auto one = lock.new_holder();
  const auto other = lock.new_holder();
  const auto stranger = lock.new_holder();
  CHECK(lock.take(one, "bench"));
  CHECK(lock.take(other, "bench"));
  CHECK_FALSE(lock.take(stranger, ""));
  CHECK(lock.take(one, ""));
  CHECK_FALSE(lock.may_use(other));
  CHECK(lock.holders() == 2);
  CHECK(lock.release(one) == AccessLock::Released::exclusive);
  CHECK(lock.may_use(other));
  CHECK(lock.release(one) == AccessLock::Released::shared);
  CHECK_FALSE(lock.may_use(one));
}

TEST_CASE("access lock: a client that goes away takes all its locks along", "[transport]") {
  AccessLock lock;
  const auto one = lock.new_holder();
  CHECK(lock.take(one, "bench"));
  CHECK(lock.take(one, ""));
  lock.forget(one);
  CHECK(lock.holders() == 0);
  CHECK(lock.may_use(lock.new_holder()));
}
