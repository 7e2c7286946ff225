// SPDX-License-Identifier: Apache-2.0
// What happens in a run, as plain data. The runner emits events, the record stores them first, then everybody else is
// told.
#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "core/base/error.hpp"
#include "core/base/timeline.hpp"
#include "core/metrology/reading.hpp"
#include "core/signal/waveform.hpp"

namespace eyelevel::event {

// Where in the sequence: "steps 3", the verb, its line in the file.
struct Place {
  std::string part;  // "opening", "steps", "closing"
  int number = 0;    // from 1
  std::string verb;
  std::string text;  // the step as the user wrote it, one line
  int line = 0;
  int column = 0;
  std::string file = {};  // of the part it stands in; empty: the sequence's own
};

struct InstrumentUsed {
  std::string role;             // "scope"
  std::string kind;             // "oscilloscope"
  std::string resource;         // canonical resource name
  std::string identity;         // answer to *IDN?
  std::string calibration_due;  // YYYY-MM-DD or empty
};

// What the record knew of the bench when a run began: its last proof.
struct BenchProof {
  std::string run;     // empty: the bench has never been proven
  std::string at_utc;  // when that run ended, RFC 3339
  std::optional<metrology::Judgement> judgement;
  bool is_old = false;  // longer ago than the bench file allows
};

// A part of the sequence, as it was run.
struct PartSource {
  std::string file;
  std::string source;  // YAML text
};

// What was given before the run began.
struct GivenAtStart {
  std::string name;
  std::string value;  // "1.20 V"
};

struct Begun {
  std::string sequence;  // its name
  std::string about;
  std::string file;
  std::string source;                  // the YAML text that was run
  std::vector<PartSource> parts = {};  // and those of its parts
  std::vector<GivenAtStart> given = {};
  std::string bench;
  std::string serial;
  std::string model;
  std::vector<std::string> cautions;
  std::optional<std::uint64_t> seed;  // rehearsals
  std::string proves;                 // "bench": this run proves it
  std::optional<BenchProof> proof;    // empty: nobody looked, as in rehearsals
  std::string goes_on_from = {};      // the run that was broken off and is resumed by this one
};
struct Connected {
  InstrumentUsed instrument;
};
struct Waiting {
  Place place;
  std::string what;
  double within_s = 0;
};
struct Prompted {
  Place place;
  std::string text;
  double within_s = 0;
  std::string wants = "done";             // what counts as an answer, as a sequence writes it: "yes or no", "a value"
  std::vector<std::string> choices = {};  // of "one of"
  std::string allowed = {};               // of "a value"
};
struct Answered {
  Place place;
  std::string answer;
  std::string by;
  std::string name = {};  // of the answer in the sequence, where it has one
};
struct Set {
  Place place;
  std::string role;
  std::string setting;
  std::string asked;
  std::string read_back;
};
// Why a capture was not kept; empty when it was.
struct Captured {
  Place place;
  std::string name;    // of the capture step ("pressed")
  std::string signal;  // "rf"
  int index = 0;       // from 1, counts tries
  std::shared_ptr<const signal::Waveform> waveform;
  std::string not_kept;  // "", "no lock", "focus", "clipped"
  // Samples that are not here: they stayed in the store, or were thinned out of it. The waveform then has its scale
  // only.
  std::uint64_t samples_left_out = 0;
};
// What was seen while waiting: "playing an audio track, track 2, 00:31".
struct Seen {
  Place place;
  std::string what;
};
struct Measured {
  Place place;
  metrology::Reading reading;
};
struct Judged {
  Place place;
  std::string reading;
  metrology::Judgement judgement;
  metrology::Limit limit;
};
// An item of a bench proof that is no number.
struct Proved {
  Place place;
  std::string item;                               // "self-test"
  std::string of;                                 // a role or a signal
  std::optional<metrology::Judgement> judgement;  // empty: nothing to hold it against, only told
  std::string found;
};
// An adjustment begins: what its reading is to come to.
struct Aimed {
  Place place;
  std::string reading;  // "eye level of rf"
  std::string unit;
  double least = 0;
  double most = 0;
  std::optional<double> ceiling;  // never to be passed
};
// A turn of the trimmer is about to be asked for. Its readings are in the unit that Aimed names.
struct Advised {
  Place place;
  int turn = 0;              // from 1
  double clockwise_deg = 0;  // below zero: anticlockwise
  std::string words;         // "anticlockwise by 18 degrees, about a twentieth of a turn"
  double belief = 0;         // 0..1: that this way brings the reading nearer
  double from = 0;           // where it stands
  double from_uncertainty = 0;
  double expected = 0;  // when the turn is done as asked; 95 % of the outcomes lie between low and high
  double low = 0;
  double high = 0;
  bool last_did_nothing = false;
};
// What is wrong with the unit, or with the bench, as far as a step can tell.
struct Found {
  Place place;
  std::string cause;    // "the level does not follow the trimmer"
  std::string because;  // what was seen
};
struct Noted {
  Place place;
  std::string text;
};
// A cause that a diagnosis found likely. `belief` is 0..1; empty where nothing is claimed ("don't know").
struct Finding {
  std::string cause;
  std::string because;
  std::optional<double> belief = {};
};
// What a diagnosis came to, the likeliest first, and what to look at next; empty: nothing more would help.
struct Diagnosed {
  Place place;
  std::vector<Finding> findings;
  std::string next_check = {};
};
// Something that the operator handed over for the record: a photo, a text.
struct Enclosed {
  Place place;
  std::string name;   // in the sequence
  std::string about;  // "photo of the lens before cleaning"
  std::string file_name;
  std::string by;
  std::int64_t size_bytes = 0;
  std::shared_ptr<const std::string> content = {};  // may be left in the store
};
struct ToldAnswer {
  std::string name;
  std::string answer;
};
// A step where the sequence may be resumed is about to begin: all that later steps can know of earlier ones.
struct Reached {
  Place place;
  std::vector<metrology::Reading> readings;  // by the names that are unique in the run
  std::vector<ToldAnswer> answers;
  std::vector<std::string> cannot_pass;  // names of readings
  std::vector<metrology::Judgement> judgements;
  std::vector<Proved> proofs;
  bool can_pass = true;
};
struct BrokenOff {
  Place place;
  base::ErrorRecord error;
};
struct Closed {
  std::string ended;  // "finished" or "stopped"
  std::optional<metrology::Judgement> judgement;
};

using Body = std::variant<Begun, Connected, Waiting, Prompted, Answered, Set, Captured, Seen, Measured, Judged, Proved,
                          Aimed, Advised, Found, Noted, Diagnosed, Enclosed, Reached, BrokenOff, Closed>;

struct Event {
  std::string run;          // id of the run
  std::int64_t number = 0;  // from 1 within the run
  double time_s = 0;        // on the run's Timeline, from its beginning
  base::UtcTime utc{};
  Body body;
};

// Takes the events of one run, in order. The record implements it; it returns only when the event can be announced.
class Journal {
 public:
  virtual ~Journal() = default;
  // Throws Error(not_recording) when the event could not be made safe; the run then closes.
  virtual task<> append(const Event& event) = 0;
  // Makes everything appended since the last call visible together (one transaction per step).
  virtual task<> commit() = 0;
};

// Told of an event after it is in the journal. Must not block.
class Listener {
 public:
  virtual ~Listener() = default;
  virtual void told(const Event& event) = 0;
};

}  // namespace eyelevel::event
