// SPDX-License-Identifier: Apache-2.0
#include "core/service/numbers.hpp"

#include <catch2/catch.hpp>

#include "core/service/http/problem.hpp"

using namespace eyelevel;

TEST_CASE("numbers: whole ones of digits only", "[service]") {
  CHECK(service::whole_number("0") == 0);
  CHECK(service::whole_number("123456789012345") == 123456789012345);
  for (const char* text : {"", "-1", "+1", "1.0", "1e3", " 1", "0x1", "1234567890123456"})
    CHECK_FALSE(service::whole_number(text));
}

TEST_CASE("numbers: how many at most has bounds", "[service]") {
  service::http::Request request;
  CHECK(service::at_most_of(request, 20) == 20);
  request.query["at_most"] = "10000";
  CHECK(service::at_most_of(request, 20) == 10000);
  for (const char* text : {"0", "10001", "many"}) {
    request.query["at_most"] = text;
    CHECK_THROWS_AS(service::at_most_of(request, 20), service::http::Problem);
  }
}
