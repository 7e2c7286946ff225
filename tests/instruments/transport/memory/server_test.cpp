// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/memory/server.hpp"

#include <catch2/catch.hpp>

#include "tests/support/run_task.hpp"
#include "tests/support/scripted_device.hpp"

using namespace eyelevel;
using namespace eyelevel::transport;

TEST_CASE("memory server: names are found without regard to case and may be replaced or removed", "[transport]") {
  test::Simulated sim;
  const auto device = [&sim] {
    return std::make_shared<test::ScriptedDevice>(*sim.timeline,
                                                  [](std::string_view, Reply&) { return base::Duration(0); });
  };
  memory::MemoryServer server;
  const auto first = device();
  const auto second = device();
  server.add("Scope", first);
  server.add("meter", device());
  CHECK(server.find("sCOPE") == first);
  CHECK(server.find("other") == nullptr);
  CHECK(server.names() == std::vector<std::string>{"meter", "Scope"});
  server.add("scope", second);
  CHECK(server.find("Scope") == second);
  server.remove("SCOPE");
  CHECK(server.find("scope") == nullptr);
  CHECK(memory::resource_name("scope") == "MEMORY0::scope::INSTR");
}
