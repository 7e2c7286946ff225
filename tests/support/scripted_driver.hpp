// SPDX-License-Identifier: Apache-2.0
// A driver of some kind on a scripted link: what the tests of the exchanges share.
#pragma once

#include <catch2/catch.hpp>

#include <memory>
#include <string>

#include "core/base/error.hpp"
#include "instruments/phrasebook/standard.hpp"
#include "instruments/transport/session.hpp"
#include "tests/support/run_task.hpp"
#include "tests/support/scripted_link.hpp"

namespace eyelevel::test {

inline const std::string no_error = ";0,\"No error\"";

inline phrasebook::Phrasebook standard_phrasebook(const std::string& name) {
  return phrasebook::find_phrasebook(phrasebook::standard_phrasebooks(), name);
}

template <class Kind>
struct ScriptedDriver {
  template <class Open>
  explicit ScriptedDriver(const Open& open)
      : driver(open(*sim.timeline, std::make_unique<transport::Session>(
                                       *sim.timeline, std::make_unique<ScriptedLink>(*sim.timeline, script)))) {}

  // The message of the error, or nothing; then the whole script must have been played.
  std::string run(task<> work) {
    try {
      sim.run(std::move(work));
    } catch (const base::Error& error) {
      return error.record().message;
    }
    CHECK(script.surprise.empty());
    CHECK(script.rest.empty());
    return "";
  }

  Simulated sim;
  Script script;
  std::unique_ptr<Kind> driver;
};

}  // namespace eyelevel::test
