// SPDX-License-Identifier: Apache-2.0
// `eyelevel rehearse --expect DIR`: the expectations beside sequences, rehearsed as their tests.
#pragma once

#include <string>
#include <vector>

namespace eyelevel::program {

struct ExpectWish {
  std::string where;     // a folder, or one file
  std::string sequence;  // only those of this sequence; empty: all
  std::string bench;     // empty: the embedded ones
  std::string model;
  std::vector<std::string> plugins;
  std::string junit;
  bool as_json = false;
};

// 0 when every expectation is met, 1 otherwise, 3 when stopped by request. Throws base::Error(bad_input) after printing
// every mistake of every file.
int rehearse_expectations(const ExpectWish& wish);

}  // namespace eyelevel::program
