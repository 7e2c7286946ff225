// SPDX-License-Identifier: Apache-2.0
#include <catch2/catch.hpp>

#include "instruments/find/sighting.hpp"

using namespace eyelevel::find;

TEST_CASE("identity: four fields of *IDN?, 0 is not known", "[find]") {
  // IEEE 488.2, 10.14.3.
  CHECK(identity_of("Lanternfield,Scope 4,S-17,1.02\r") == Identity{"Lanternfield", "Scope 4", "S-17", "1.02"});
  CHECK(identity_of(" Lanternfield , Scope,0,0") == Identity{"Lanternfield", "Scope", "", ""});
  CHECK(identity_of("a,b,c,d,e") == Identity{"a", "b", "c", "d,e"});
  CHECK(identity_of("a,b") == Identity{"a", "b", "", ""});
  CHECK(identity_of("").empty());
  CHECK(identity_of(",,,").empty());
  CHECK(text_of(identity_of("a,b,0,d")) == "a,b,0,d");
  CHECK(text_of(Identity{}).empty());
  CHECK(identity_of("a,b,c").complete());
  CHECK_FALSE(identity_of("a,b,0,d").complete());
}

TEST_CASE("printable: text stays, what moves the cursor or the direction of writing is escaped", "[find]") {
  CHECK(printable("Dr. Bench") == "Dr. Bench");
  CHECK(printable("T\xC3\xBCr \xE2\x84\xA6 \xF0\x9F\x94\xAC") == "T\xC3\xBCr \xE2\x84\xA6 \xF0\x9F\x94\xAC");
  CHECK(printable("a\x1B[2J\n\x7F\"\\") == "a\\x1b[2J\\x0a\\x7f\\\"\\\\");
  CHECK(printable("\xC2\x9B") == "\\u009b");              // C1: a control sequence introducer
  CHECK(printable("\xE2\x80\xAE") == "\\u202e");          // right-to-left override
  CHECK(printable("\xE2\x81\xA6") == "\\u2066");          // isolate
  CHECK(printable("\xC0\x80") == "\\xc0\\x80");           // overlong
  CHECK(printable("\xED\xA0\x80") == "\\xed\\xa0\\x80");  // a surrogate
  CHECK(printable("\xF4\x90\x80\x80") == "\\xf4\\x90\\x80\\x80");
  CHECK(printable("\xE2\x84") == "\\xe2\\x84");  // cut
  CHECK(printable("abcdef", 3) == "abc... (6 bytes in all)");
}
