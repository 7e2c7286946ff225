// SPDX-License-Identifier: Apache-2.0
#include "core/service/access/secret.hpp"

#include <catch2/catch.hpp>
#include <set>

using namespace eyelevel::service;
using Catch::Matchers::StartsWith;

TEST_CASE("secret: a password is known again by its hash, and no other one is", "[service]") {
  const auto hash = hash_of_password("four words of mine");
  // RFC 9106, 3.1: version 1.3 is 0x13 = 19; memory in KiB.
  CHECK_THAT(hash, StartsWith("$argon2id$v=19$m=65536,t=2,p=1$"));
  CHECK(is_password(hash, "four words of mine"));
  CHECK_FALSE(is_password(hash, "four words of mine "));
  CHECK_FALSE(is_password(hash, ""));
  CHECK_FALSE(is_password("", ""));
  CHECK(hash != hash_of_password("four words of mine"));
}

TEST_CASE("secret: short, repeating and telling passwords are refused with what would do", "[service]") {
  CHECK_FALSE(weakness("four words of mine", "ada"));
  CHECK(weakness("eleven char", "ada"));
  CHECK(weakness("aaaaaaaaaaaaaaaa", "ada"));
  CHECK(weakness("abababababababab", "ada"));
  CHECK(weakness("the workshop of Bench-Left", "bench-left"));
  CHECK(weakness(std::string(257, 'x') + "abcdef", "ada"));
}

TEST_CASE("secret: each is another one, of 43 characters that need no quoting in a URL or a cookie", "[service]") {
  std::set<std::string> seen;
  for (int i = 0; i < 100; ++i) {
    const auto secret = new_secret();
    CHECK(secret.size() == 43);
    CHECK(secret.find_first_not_of("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_") ==
          std::string::npos);
    seen.insert(secret);
  }
  CHECK(seen.size() == 100);
}

TEST_CASE("secret: its mark is BLAKE2b of 256 bits", "[service]") {
  // b2sum -l 256 of coreutils, of "abc".
  CHECK(mark_of("abc") == "bddd813c634239723171ef3fee98579b94964e3bb1cb3e427262c8c068d52319");
}
