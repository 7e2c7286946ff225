// SPDX-License-Identifier: Apache-2.0
// Routes of rehearsals.
#include <fmt/format.h>

#include <boost/json.hpp>
#include <utility>

#include "core/base/error.hpp"
#include "core/service/api.hpp"
#include "core/service/fields.hpp"
#include "core/service/http/json_answer.hpp"
#include "core/service/http/problem.hpp"
#include "core/service/library.hpp"
#include "core/service/numbers.hpp"
#include "core/service/rehearsals.hpp"

namespace eyelevel::service {

namespace json = boost::json;
using http::Problem;
using http::Response;

namespace {

std::int64_t number_of_rehearsal(const Call& call) {
  const auto& text = call.named.at("rehearsal");
  if (const auto number = whole_number(text)) return *number;
  throw Problem(404, fmt::format("there is no rehearsal \"{}\"", base::escaped(text, 40)));
}

RehearsalOrder order_of(const Call& call) {
  const Fields fields(call.body, {"sequence", "model", "set", "units", "seed", "troubles", "trouble_rate"});
  RehearsalOrder order;
  order.sequence = fields.text("sequence");
  order.model = fields.text_or("model", "");
  order.given = fields.given("set");
  const auto units = fields.whole_or("units", 1);
  if (units < 1 || units > Rehearsals::most_units)
    throw Problem(422, fmt::format("\"units\" is {}", units),
                  fmt::format("from 1 to {}; `eyelevel rehearse` takes more", Rehearsals::most_units));
  order.units = static_cast<int>(units);
  const auto seed = fields.whole_or("seed", 1);
  if (seed < 0) throw Problem(422, "\"seed\" is negative", "a whole number from 0");
  order.seed = static_cast<std::uint64_t>(seed);
  order.troubles = fields.texts_or_none("troubles");
  order.trouble_rate = fields.number_or("trouble_rate", 0);
  if (!(order.trouble_rate >= 0 && order.trouble_rate <= 1))
    throw Problem(422, "\"trouble_rate\" is no probability", "from 0 to 1");
  return order;
}

}  // namespace

task<Response> Api::list_troubles(const Call&) {
  co_return http::json_answer(json::object{{"troubles", rehearsals_.troubles()}});
}

task<Response> Api::begin_rehearsal(const Call& call) {
  RehearsalOrder order = order_of(call);
  // Whoever asks learns of every mistake now.
  co_await on_store_thread([&] {
    load_sequence(house_.sequences, order.sequence, house_.language, order.given);
    load_model(house_.models, order.model);
  });
  const auto number = rehearsals_.begin(std::move(order));
  Response response = http::json_answer(rehearsals_.show(number), 201);
  response.headers.emplace_back("Location", fmt::format("/api/1/rehearsals/{}", number));
  co_return response;
}

task<Response> Api::show_rehearsal(const Call& call) {
  co_return http::json_answer(rehearsals_.show(number_of_rehearsal(call)));
}

task<Response> Api::stop_rehearsal(const Call& call) {
  rehearsals_.stop(number_of_rehearsal(call));
  co_return Response{204, "", "", {}};
}

}  // namespace eyelevel::service
