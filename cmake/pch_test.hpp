// SPDX-License-Identifier: Apache-2.0
// The standard headers, Asio's coroutines and Catch2; precompiled once, for tests. Not to be included by hand.
#pragma once

#include "cmake/pch_asio.hpp"

#include <catch2/catch.hpp>
