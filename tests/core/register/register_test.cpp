// SPDX-License-Identifier: Apache-2.0
#include "core/register/register.hpp"

#include <catch2/catch.hpp>

#include <string>

#include "core/base/error.hpp"

using namespace eyelevel;

namespace {

registers::Declaration named(std::string name, std::string from = "built in") {
  return {std::move(name), "about", {}, "example", std::move(from)};
}

std::string message_of(const std::function<void()>& act) {
  try {
    act();
  } catch (const base::Error& error) {
    CHECK(error.record().code == base::ErrorCode::bad_input);
    return error.what();
  }
  return "no error";
}

}  // namespace

TEST_CASE("register: what was added is found by name with its call", "[register]") {
  registers::Register<int (*)(int)> verbs("verb");
  verbs.add(named("prompt"), [](int x) { return x + 1; });
  verbs.add(named("wait for"), [](int x) { return x + 2; });
  REQUIRE(verbs.find("wait for") != nullptr);
  CHECK(verbs.find("wait for")->call(1) == 3);
  CHECK(verbs.find("wait") == nullptr);
  CHECK(verbs.names() == std::vector<std::string>{"prompt", "wait for"});
  CHECK(verbs.list().size() == 2);
}

TEST_CASE("register: a second of the same name is refused and the first stays", "[register]") {
  registers::Register<int> verbs("verb");
  verbs.add(named("prompt"), 1);
  CHECK(message_of([&] { verbs.add(named("prompt", "plugin lamp"), 2); }) ==
        "verb 'prompt' from plugin lamp is refused: the name is taken by the one from built in\n  try: give it another "
        "name");
  CHECK(verbs.find("prompt")->call == 1);
  CHECK(message_of([&] { verbs.add(named("", "plugin lamp"), 2); }) ==
        "a verb from plugin lamp has no name\n  try: give it a name");
  CHECK(verbs.list().size() == 1);
}

TEST_CASE("register: an unknown name is told with the nearest, or with all", "[register]") {
  registers::Register<int> verbs("verb");
  CHECK(verbs.unknown("promt") == "unknown verb 'promt'; none is registered");
  verbs.add(named("prompt"), 1);
  verbs.add(named("measure"), 2);
  CHECK(verbs.nearest("mesure") == "measure");
  CHECK(verbs.unknown("promt") == "unknown verb 'promt'; did you mean 'prompt'?");
  CHECK(verbs.unknown("dance") == "unknown verb 'dance'; known: 'prompt' or 'measure'");
}
