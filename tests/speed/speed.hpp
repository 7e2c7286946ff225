// SPDX-License-Identifier: Apache-2.0
// Benchmarks of tests/speed: each folder adds NAME_speed.cpp with one function that is declared here and listed in
// main.cpp. Every figure is a ratio to something plain done in the same run on the same data, because absolute times
// differ from machine to machine. Targets are the project's own; a miss is printed, never an error: this is no gate.
#pragma once

#include <functional>
#include <string>
#include <vector>

namespace eyelevel::speed {

struct Row {
  std::string what;      // "histogram, smallest, largest, mean of int8 samples"
  std::string against;   // "one plain read of the same buffer"
  double figure = 0;     // the ratio, or the rate
  std::string unit;      // "x the time", "units a minute"
  double target = 0;     // what the design wants
  double tolerated = 0;  // what is still let pass for now
  bool less_is_better = true;
  std::string detail;  // absolute numbers, for curiosity
};

class Table {
 public:
  void add(Row row) { rows_.push_back(std::move(row)); }
  const std::vector<Row>& rows() const { return rows_; }

 private:
  std::vector<Row> rows_;
};

// The shortest of `rounds` runs, seconds. The work must leave a result that the caller checks, or it may be left out by
// the compiler.
double shortest_s(int rounds, const std::function<void()>& work);

// One after the other in each round, so that a busy moment of the machine hits both alike: {first, second}.
struct Pair {
  double first_s = 0;
  double second_s = 0;
};
Pair shortest_of_both(int rounds, const std::function<void()>& first, const std::function<void()>& second);

// Throws std::runtime_error: a fast wrong answer is no benchmark.
void require(bool is_right, const char* what);

void signal_speed(Table& table);
void metrology_speed(Table& table);
void transport_speed(Table& table);
void instrument_speed(Table& table);
void disc_speed(Table& table);
void rehearsal_speed(Table& table);
void sequence_speed(Table& table);

}  // namespace eyelevel::speed
