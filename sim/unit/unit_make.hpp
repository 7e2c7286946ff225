// SPDX-License-Identifier: Apache-2.0
// Everything from which one simulated visit is made: the player, the discs in the box, the person, and the bench's
// instruments with this one bench's errors. Drawn healthy from a seed; a trouble (sim/trouble) then changes what it
// wants. Plain data; a SimulatedBench (simulated_bench.hpp) makes it live.
#pragma once

#include <cstdint>
#include <map>
#include <memory>
#include <string>
#include <vector>

#include "core/bench/bench_file.hpp"
#include "core/bench/model_sheet.hpp"
#include "sim/disc/disc.hpp"
#include "sim/instrument/counter.hpp"
#include "sim/instrument/front_end.hpp"
#include "sim/instrument/function_generator.hpp"
#include "sim/instrument/misbehaviour.hpp"
#include "sim/instrument/multimeter.hpp"
#include "sim/instrument/oscilloscope.hpp"
#include "sim/instrument/power_supply.hpp"
#include "sim/operator/simulated_operator.hpp"
#include "sim/player/parameters.hpp"

namespace eyelevel::sim {

// The square wave for probes, as it really is.
struct CalibratorMake {
  double height_v = 1;
  double frequency_hz = 1000;
};

// One instrument of the bench file, as this bench really has it.
struct InstrumentMake {
  std::string role;
  std::string kind;                   // as in the bench file
  ScopeClass scope;                   // of an oscilloscope
  Tongue tongue = Tongue::standard;   // as its phrasebook says
  CalibratorMake calibrator;          // of an oscilloscope
  std::map<int, ProbeWiring> probes;  // by channel; every wired channel goes to the pad, the first may be moved
  MeterClass meter;                   // of a multimeter
  Load meter_load;
  SupplyClass supply;  // of a power supply; nothing hangs on its outputs
  GeneratorClass generator;
  CounterClass counter;  // its first input hangs on the pad, until it is moved
  Load counter_load;
  int relays = 0;               // of a relay box
  int self_test = 0;            // what it answers when it tests itself
  std::string calibration_due;  // as the bench file has it; empty: not stated
  std::vector<Fault> faults;
  bool absent = false;  // switched off: nobody answers at its resource
};

// What happens around a visit.
struct Surroundings {
  int store_full_from = 0;      // the record's disk is full from this writing on, counted from 1; 0: never
  double clock_jumps_at_s = 0;  // when somebody sets the computer's clock, on the Timeline
  double clock_jumps_by_s = 0;
};

struct UnitMake {
  std::uint64_t seed = 0;
  std::uint64_t bench_seed = 0;    // of what the instruments' errors are on this bench
  std::uint64_t person_seed = 0;   // of what the person does
  std::string bench_serial = "0";  // in the instruments' identities
  PlayerParameters player;
  std::vector<std::shared_ptr<const Disc>> box;  // one of each kind, with the same contents
  OperatorTraits person;
  std::vector<InstrumentMake> instruments;
  Surroundings surroundings;

  InstrumentMake* instrument_of_kind(const std::string& kind);
};

// The traits of a model as its sheet states them; what the sheet does not say is as for the invented LF-2.
ModelTraits traits_of(const bench::ModelSheet& sheet);

// A healthy unit on a bench whose instruments are right within the accuracy that the bench file states: each error is
// drawn within its half-width, rectangular.
UnitMake draw_unit(std::uint64_t seed, const ModelTraits& model, const bench::BenchFile& bench);

// Instruments of another bench than the one drawn with the unit: its errors are those of its seed, whichever unit.
void put_on_bench(UnitMake& make, std::uint64_t bench_seed, std::string bench_serial, const bench::BenchFile& bench);

}  // namespace eyelevel::sim
