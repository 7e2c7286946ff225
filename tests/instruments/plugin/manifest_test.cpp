// SPDX-License-Identifier: Apache-2.0
#include "instruments/plugin/manifest.hpp"

#include <catch2/catch.hpp>

using namespace eyelevel;
using namespace std::chrono_literals;

namespace {

const std::string good = "plugin: extras\nabout: more\nform: process\nprogram: extras.py\n";

plugin::ManifestRead read(const std::string& text) {
  return plugin::read_manifest("/somewhere/extras", yaml::load_text("plugin.yaml", text));
}

std::string wrong_of(const std::string& text) {
  std::string all;
  const auto found = read(text);
  for (const auto& mistake : found.mistakes.list()) all += yaml::print(mistake) + "\n";
  return all;
}

}  // namespace

TEST_CASE("manifest: what is not said is usual", "[plugin]") {
  const auto found = read(good);
  REQUIRE(found.mistakes.fine());
  CHECK(found.manifest.name == "extras");
  CHECK(found.manifest.program == "/somewhere/extras/extras.py");
  CHECK(found.manifest.starts_within == 30s);
  CHECK(found.manifest.answers_within == 10s);
  CHECK(found.manifest.memory_bytes == 512U << 20U);
  const auto said = read(good + "starts within: 2 min\nanswers within: 500 ms\nmemory megabytes: 64\n");
  CHECK(said.manifest.starts_within == 120s);
  CHECK(said.manifest.answers_within == 500ms);
  CHECK(said.manifest.memory_bytes == 64U << 20U);
}

TEST_CASE("manifest: mistakes are told at their place with what would be right", "[plugin]") {
  CHECK(wrong_of("plugin: extras\nabout: more\nform: proces\nprogram: extras.py\n") ==
        "plugin.yaml:3:7: 'form': unknown word 'proces', expected 'process' or 'library'; write form: process\n");
  CHECK(wrong_of("plugin: other\nabout: more\nform: process\nprogram: extras.py\n") ==
        "plugin.yaml:1:9: 'plugin': the name is 'other', the folder 'extras'; call both the same, so that a plugin is "
        "found by its name\n");
  CHECK(wrong_of("plugin: extras\nabout: more\nform: process\nprogram: ../../bin/sh\n") ==
        "plugin.yaml:4:10: 'program': '../../bin/sh' is no name of a file in this folder; put the file beside this one "
        "and write its name alone\n");
  CHECK(wrong_of(good + "answers within: 1 h\n") ==
        "plugin.yaml:5:17: 'answers within': from 100 ms to 10 min can be given; write answers within: 10 s\n");
  CHECK(wrong_of(good + "starts within: 1 ms\n") ==
        "plugin.yaml:5:16: 'starts within': from 100 ms to 10 min can be given; write starts within: 10 s\n");
  CHECK(wrong_of(good + "memory megabytes: 1\n") ==
        "plugin.yaml:5:19: 'memory megabytes': from 16 to 65536 can be given; write memory megabytes: 512\n");
  CHECK(wrong_of("plugin: extras\nabout: more\nform: library\nprogram: a.so\nmemory megabytes: 64\n") ==
        "plugin.yaml:5:19: a library shares the memory of the program; leave it out, or make the plugin a process\n");
}
