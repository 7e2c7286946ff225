// SPDX-License-Identifier: Apache-2.0
// Catch2 without its main, for fuzz targets that share a harness with tests.
#define CATCH_CONFIG_RUNNER
#include <catch2/catch.hpp>
