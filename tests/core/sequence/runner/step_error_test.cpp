// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/runner/step_error.hpp"

#include <boost/asio/error.hpp>
#include <boost/system/system_error.hpp>
#include <catch2/catch.hpp>

using namespace eyelevel;
using base::ErrorCode;

TEST_CASE("step error: a step's place names its part's file, or the sequence's", "[sequence]") {
  event::Place place{"steps", 3, "note", "note: x", 28, 5};
  CHECK(sequence::place_in_words("a.yaml", place) == "a.yaml:28:5: step \"note: x\"");
  place.file = "parts/b.yaml";
  CHECK(sequence::place_in_words("a.yaml", place) == "parts/b.yaml:28:5: step \"note: x\"");
}

TEST_CASE("step error: any exception becomes an error with the step's place in front", "[sequence]") {
  const auto code_of = [](const auto& thrown) {
    const auto error = sequence::translated(std::make_exception_ptr(thrown), "here");
    CHECK_THAT(error.record().where, Catch::StartsWith("here"));
    return error.record().code;
  };
  CHECK(code_of(base::Error(ErrorCode::bad_answer, "x")) == ErrorCode::bad_answer);
  CHECK(code_of(boost::system::system_error(make_error_code(boost::asio::error::eof))) == ErrorCode::connection_lost);
  CHECK(code_of(std::logic_error("x")) == ErrorCode::defect);
}

TEST_CASE("step error: a stop, a lost record and a defect end the run, nothing else", "[sequence]") {
  CHECK(sequence::ends_the_run(sequence::stopped_at("here")));
  CHECK(sequence::ends_the_run(base::Error(ErrorCode::not_recording, "x")));
  CHECK(sequence::ends_the_run(base::Error(ErrorCode::defect, "x")));
  CHECK_FALSE(sequence::ends_the_run(base::Error(ErrorCode::time_out, "x")));
}
