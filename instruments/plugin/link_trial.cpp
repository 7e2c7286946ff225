// SPDX-License-Identifier: Apache-2.0
#include "instruments/plugin/link_trial.hpp"

#include <fmt/format.h>

#include <boost/asio/io_context.hpp>

#include "core/base/deadline.hpp"
#include "core/base/error.hpp"
#include "core/yaml/load.hpp"
#include "instruments/plugin/declare.hpp"

namespace eyelevel::plugin {

namespace {

constexpr std::string_view question = "*IDN?";
constexpr std::size_t answer_most = 65536;
// Long enough for a few looks of a link, which reads piece by piece.
constexpr base::Duration silence = std::chrono::milliseconds(500);

[[noreturn]] void bad(std::string what) { throw base::Error(base::ErrorCode::bad_answer, std::move(what)); }

transport::ResourceName resource_of(const std::string& transport, const std::string& example) {
  const auto document = yaml::load_text("example", example);
  const yaml::Node* resource = document.mistakes.fine() ? document.root.find("resource") : nullptr;
  if (!resource) bad(fmt::format("the example is not `resource: PLUGIN::{}::ADDRESS`", transport));
  auto name = transport::parse_resource_name(resource->text);
  if (name.carrier != transport::Carrier::plugin || name.host != transport)
    bad(fmt::format("the example names {}, not PLUGIN::{}::ADDRESS", resource->text, transport));
  return name;
}

}  // namespace

LinkTrial::LinkTrial(const Plugin::Link& link, const std::string& example, base::Duration answers_within)
    : link_(link), resource_(resource_of(link.name, example)), limit_(answers_within) {}

void LinkTrial::with_link(const std::function<task<>(transport::Link&, base::Timeline&)>& use) const {
  auto main = [](const LinkTrial& trial, const std::function<task<>(transport::Link&, base::Timeline&)>& then,
                 base::Timeline& timeline) -> task<> {
    const auto link = co_await trial.link_.open(trial.resource_, timeline);
    co_await then(*link, timeline);
  };
  boost::asio::io_context loop(1);
  const auto timeline = base::wall_timeline(loop);
  timeline->run(main(*this, use, *timeline));
}

std::string LinkTrial::why_closed() const {
  try {
    with_link([](transport::Link&, base::Timeline&) -> task<> { co_return; });
  } catch (const base::Error& error) {
    if (error.record().code != base::ErrorCode::no_connection) throw;
    return error.record().message;
  }
  return {};
}

task<std::string> LinkTrial::asked(transport::Link& link, base::Timeline& timeline) const {
  transport::Buffer answer;
  auto both = [](transport::Link& l, transport::Buffer& into) -> task<> {
    co_await l.write(question);
    co_await l.read(into, answer_most);
  };
  if (!co_await base::finished_within(timeline, limit_, both(link, answer)))
    bad(fmt::format("no answer to {} within {:.3g} s", question, base::to_seconds(limit_)));
  if (answer.empty()) bad(fmt::format("an empty answer to {}", question));
  co_return answer;
}

task<> LinkTrial::require_silence(transport::Link& link, base::Timeline& timeline, std::string what) {
  transport::Buffer answer;
  if (co_await base::finished_within(timeline, silence, link.read(answer, answer_most)))
    bad(fmt::format("{}, but '{}' was read", what, one_line(answer, 80)));
}

void LinkTrial::answers() const {
  std::string first;
  const auto same = [&](transport::Link& link, base::Timeline& timeline) -> task<> {
    for (int i = 0; i < 2; ++i) {
      const std::string answer = co_await asked(link, timeline);
      if (first.empty()) first = answer;
      if (answer != first) bad(fmt::format("'{}' first, then '{}'", one_line(first, 80), one_line(answer, 80)));
    }
  };
  with_link(same);
  with_link(same);
}

void LinkTrial::waits() const {
  with_link([this](transport::Link& link, base::Timeline& timeline) -> task<> {
    co_await require_silence(link, timeline, "nothing was asked");
    co_await link.clear();
    co_await asked(link, timeline);
  });
}

void LinkTrial::clears() const {
  with_link([this](transport::Link& link, base::Timeline& timeline) -> task<> {
    co_await link.write(question);
    co_await link.clear();
    co_await require_silence(link, timeline, "the answer was cleared away");
    co_await link.clear();
    co_await asked(link, timeline);
    co_await require_silence(link, timeline, "one question was asked");
  });
}

}  // namespace eyelevel::plugin
