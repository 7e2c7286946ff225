// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/hislip/sasl.hpp"

#include <catch2/catch.hpp>

using namespace std::string_literals;
using namespace eyelevel::transport::hislip;

TEST_CASE("sasl: PLAIN as in the examples of RFC 4616, 4", "[transport]") {
  CHECK(first_words({"tim", "tanstaaftanstaaf"}) == "\0tim\0tanstaaftanstaaf"s);
  CHECK(is_login("\0tim\0tanstaaftanstaaf"s, {"tim", "tanstaaftanstaaf"}));
  // One who wants to act as another: granted to nobody but oneself.
  CHECK_FALSE(is_login("Ursel\0Kurt\0xipj3plmq"s, {"Kurt", "xipj3plmq"}));
  CHECK(is_login("Kurt\0Kurt\0xipj3plmq"s, {"Kurt", "xipj3plmq"}));
}

TEST_CASE("sasl: another user, another password and words that are cut are no login", "[transport]") {
  const Login expected{"tim", "secret"};
  CHECK_FALSE(is_login("\0tom\0secret"s, expected));
  CHECK_FALSE(is_login("\0tim\0secre"s, expected));
  CHECK_FALSE(is_login("\0tim\0secrett"s, expected));
  CHECK_FALSE(is_login("\0tim"s, expected));
  CHECK_FALSE(is_login("tim"s, expected));
  CHECK_FALSE(is_login("", expected));
}

TEST_CASE("sasl: who gives no user is anonymous and leaves no trace (RFC 4505)", "[transport]") {
  CHECK(mechanism_of({}) == "ANONYMOUS");
  CHECK(mechanism_of({"tim", ""}) == "PLAIN");
  CHECK(first_words({}).empty());
  CHECK(is_login("sirhc", {}));
  CHECK(is_login("", {}));
}

TEST_CASE("sasl: a mechanism is looked for as a word of the list", "[transport]") {
  CHECK(is_in_list("PLAIN", "ANONYMOUS PLAIN"));
  CHECK(is_in_list("PLAIN", "PLAIN"));
  CHECK_FALSE(is_in_list("PLAIN", "PLAIN-SOMETHING EXPLAIN"));
  CHECK_FALSE(is_in_list("PLAIN", ""));
}
