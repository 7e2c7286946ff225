// SPDX-License-Identifier: Apache-2.0
// Catch2's main, compiled once. Under the locale of who runs it: where numbers are written with a comma, ours keep the
// point.
#define CATCH_CONFIG_RUNNER
#include <catch2/catch.hpp>
#include <clocale>

int main(int argc, char** argv) {
  std::setlocale(LC_ALL, "");
  std::setlocale(LC_MESSAGES, "C");  // what the system says of an error is compared in English
  return Catch::Session().run(argc, argv);
}
