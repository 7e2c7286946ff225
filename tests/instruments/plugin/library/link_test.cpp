// SPDX-License-Identifier: Apache-2.0
// The example's transport through a session, and functions of a transport that lie.
#include "instruments/plugin/library/link.hpp"

#include <catch2/catch.hpp>

#include "core/base/error.hpp"
#include "instruments/plugin/load.hpp"
#include "instruments/transport/session.hpp"
#include "tests/support/run_task.hpp"

using namespace eyelevel;
using namespace std::chrono_literals;
using Catch::Matchers::Contains;

namespace {

// What the session gives for a query to an address of the example's shelf.
std::string asked(const std::string& address, const std::string& query, base::Duration within = 2s) {
  transport::Transports transports;
  const auto plugin = plugin::load_one(EYELEVEL_EXAMPLE_LIBRARY);
  std::map<std::string, transport::OpenOnTimeline> links;
  for (const auto& link : plugin->links) links.emplace(link.name, link.open);
  transport::add_outside(transports, links);
  test::Wall wall;
  std::string answer;
  wall.run([](transport::Transports& all, base::Timeline& timeline, std::string resource, std::string what,
              base::Duration limit, std::string& out) -> task<> {
    try {
      const auto session = co_await all.open_session(resource, timeline, limit);
      out = co_await session->query(what, limit);
    } catch (const base::Error& error) {
      out = error.what();
    }
  }(transports, *wall.timeline, "PLUGIN::" + address, query, within, answer));
  return answer;
}

eyelevel_transport good() {
  return {.size = sizeof(eyelevel_transport),
          .open = [](const char*, uint32_t, void** link, char*) -> int32_t {
            static int one;
            *link = &one;
            return EYELEVEL_DONE;
          },
          .write = [](void*, const uint8_t*, uint64_t, uint32_t, char*) -> int32_t { return EYELEVEL_DONE; },
          .read = [](void*, uint8_t*, uint64_t, uint64_t*, int32_t*, uint32_t, char*) -> int32_t {
            return EYELEVEL_TIMED_OUT;
          },
          .clear = [](void*, uint32_t, char*) -> int32_t { return EYELEVEL_DONE; },
          .close = [](void*) {}};
}

std::string with(const eyelevel_transport& functions) {
  plugin::Manifest manifest;
  manifest.name = "hostile";
  manifest.program = EYELEVEL_HOSTILE_LIBRARY;
  const auto library = std::make_shared<plugin::library::Library>(manifest);
  test::Wall wall;
  std::string said = "nothing";
  wall.run([](std::shared_ptr<plugin::library::Library> l, eyelevel_transport f, base::Timeline& timeline,
              std::string& out) -> task<> {
    try {
      auto link = co_await plugin::library::connect(l, std::make_shared<const eyelevel_transport>(f),
                                                    transport::parse_resource_name("PLUGIN::x::y"), timeline);
      transport::Buffer answer;
      co_await link->write("*IDN?");
      co_await link->read(answer, 100);
      out = answer;
    } catch (const base::Error& error) {
      out = error.what();
    }
  }(library, functions, *wall.timeline, said));
  return said;
}

}  // namespace

TEST_CASE("plugin link: a query is answered through the example's transport", "[plugin]") {
  CHECK(asked("shelf::top", "*IDN?") == "Lanternfield,Shelf (made up),top,1.0");
}

TEST_CASE("plugin link: an address or a transport that is not there says what there is", "[plugin]") {
  CHECK_THAT(asked("shelf::middle", "*IDN?"),
             Contains("plugin edge-library: it says: the shelf has a top and a bottom, no middle"));
  CHECK_THAT(asked("cellar::top", "*IDN?"), Contains("no plugin has the transport 'cellar'; there is: shelf"));
}

TEST_CASE("plugin link: silence ends at the deadline of who asks", "[plugin]") {
  CHECK_THAT(asked("shelf::top", "NONE?", 300ms), Contains("no answer") || Contains("within"));
}

TEST_CASE("plugin link: functions that lie or throw are told by name", "[plugin]") {
  auto functions = good();
  functions.open = [](const char*, uint32_t, void**, char*) -> int32_t { return EYELEVEL_DONE; };
  CHECK_THAT(with(functions), Contains("it opened nothing and said that it did"));
  functions = good();
  functions.read = [](void*, uint8_t*, uint64_t, uint64_t* got, int32_t* end, uint32_t, char*) -> int32_t {
    *got = 1U << 30U;
    *end = 1;
    return EYELEVEL_DONE;
  };
  CHECK_THAT(with(functions), Contains("it says that it put 1073741824 bytes where 65536 have room"));
  functions.read = [](void*, uint8_t*, uint64_t, uint64_t* got, int32_t*, uint32_t, char*) -> int32_t {
    *got = 60;
    return EYELEVEL_DONE;  // and never an end
  };
  CHECK_THAT(with(functions), Contains("longer than the limit of 100 bytes"));
  functions = good();
  functions.write = [](void*, const uint8_t*, uint64_t, uint32_t, char*) -> int32_t { throw 1; };
  CHECK_THAT(with(functions), Contains("it let an exception out"));
}
