// SPDX-License-Identifier: Apache-2.0
// The one table of what stands in each event: name of the event, names of its fields. Reading and writing walk the same
// rows, so they cannot drift apart. A new event type gets its row here and nothing else.
#pragma once

#include "core/event/event.hpp"

namespace eyelevel::record {

template <class T>
struct Fields;

template <>
struct Fields<event::Place> {
  static void walk(auto& io, auto& x) {
    io("part", x.part), io("number", x.number), io("verb", x.verb), io("text", x.text);
    io("line", x.line), io("column", x.column), io("file", x.file);
  }
};

template <>
struct Fields<event::InstrumentUsed> {
  static void walk(auto& io, auto& x) {
    io("role", x.role), io("kind", x.kind), io("resource", x.resource), io("identity", x.identity);
    io("calibration_due", x.calibration_due);
  }
};

template <>
struct Fields<metrology::Contribution> {
  static void walk(auto& io, auto& x) {
    io("source", x.source), io("type", x.type), io("shape", x.shape), io("effect", x.effect);
    io("degrees_of_freedom", x.degrees_of_freedom);
  }
};

template <>
struct Fields<metrology::Interval> {
  static void walk(auto& io, auto& x) {
    io("standard_uncertainty", x.standard_uncertainty), io("expanded_uncertainty", x.expanded_uncertainty);
    io("coverage_probability", x.coverage_probability), io("degrees_of_freedom", x.degrees_of_freedom);
  }
};

template <>
struct Fields<metrology::Limit> {
  static void walk(auto& io, auto& x) { io("at_least", x.at_least), io("at_most", x.at_most); }
};

template <>
struct Fields<metrology::Reading> {
  static void walk(auto& io, auto& x) {
    io("name", x.name), io("value", x.value), io("unit", x.unit), io("interval", x.interval), io("count", x.count);
    io("tried", x.tried), io("contributions", x.contributions), io("limit", x.limit), io("judgement", x.judgement);
    io("measure", x.measure), io("of", x.of), io("inputs", x.inputs), io("from_s", x.from_s), io("until_s", x.until_s);
    io("notes", x.notes);
  }
};

template <>
struct Fields<base::ErrorRecord> {
  static void walk(auto& io, auto& x) {
    io("code", x.code), io("where", x.where), io("message", x.message), io("attempted", x.attempted);
    io.bytes("sent", x.sent), io.bytes("received", x.received), io("expected", x.expected);
    io("elapsed_s", x.elapsed_s), io("advice", x.advice), io("cause", x.cause);
  }
};

template <>
struct Fields<event::BenchProof> {
  static void walk(auto& io, auto& x) {
    io("run", x.run), io("at_utc", x.at_utc), io("judgement", x.judgement), io("is_old", x.is_old);
  }
};

template <>
struct Fields<event::PartSource> {
  static void walk(auto& io, auto& x) { io("file", x.file), io("source", x.source); }
};

template <>
struct Fields<event::GivenAtStart> {
  static void walk(auto& io, auto& x) { io("name", x.name), io("value", x.value); }
};

template <>
struct Fields<event::Begun> {
  static constexpr const char* name = "begun";
  static void walk(auto& io, auto& x) {
    io("sequence", x.sequence), io("about", x.about), io("file", x.file), io("source", x.source);
    io("parts", x.parts), io("given", x.given), io("bench", x.bench), io("serial", x.serial), io("model", x.model),
        io("cautions", x.cautions), io("seed", x.seed);
    io("proves", x.proves), io("proof", x.proof), io("goes_on_from", x.goes_on_from);
  }
};

template <>
struct Fields<event::Connected> {
  static constexpr const char* name = "connected";
  static void walk(auto& io, auto& x) { io("instrument", x.instrument); }
};

template <>
struct Fields<event::Waiting> {
  static constexpr const char* name = "waiting";
  static void walk(auto& io, auto& x) { io("place", x.place), io("what", x.what), io("within_s", x.within_s); }
};

template <>
struct Fields<event::Prompted> {
  static constexpr const char* name = "prompted";
  static void walk(auto& io, auto& x) {
    io("place", x.place), io("text", x.text), io("within_s", x.within_s), io("wants", x.wants);
    io("choices", x.choices), io("allowed", x.allowed);
  }
};

template <>
struct Fields<event::Answered> {
  static constexpr const char* name = "answered";
  static void walk(auto& io, auto& x) {
    io("place", x.place), io("answer", x.answer), io("by", x.by), io("name", x.name);
  }
};

template <>
struct Fields<event::Set> {
  static constexpr const char* name = "set";
  static void walk(auto& io, auto& x) {
    io("place", x.place), io("role", x.role), io("setting", x.setting), io("asked", x.asked);
    io("read_back", x.read_back);
  }
};

template <>
struct Fields<event::Captured> {
  static constexpr const char* name = "captured";
  static void walk(auto& io, auto& x) {
    io("place", x.place), io("name", x.name), io("signal", x.signal), io("index", x.index);
    io("not_kept", x.not_kept), io.waveform("waveform", x.waveform, x.samples_left_out);
  }
};

template <>
struct Fields<event::Seen> {
  static constexpr const char* name = "seen";
  static void walk(auto& io, auto& x) { io("place", x.place), io("what", x.what); }
};

template <>
struct Fields<event::Measured> {
  static constexpr const char* name = "measured";
  static void walk(auto& io, auto& x) { io("place", x.place), io("reading", x.reading); }
};

template <>
struct Fields<event::Judged> {
  static constexpr const char* name = "judged";
  static void walk(auto& io, auto& x) {
    io("place", x.place), io("reading", x.reading), io("judgement", x.judgement), io("limit", x.limit);
  }
};

template <>
struct Fields<event::Proved> {
  static constexpr const char* name = "proved";
  static void walk(auto& io, auto& x) {
    io("place", x.place), io("item", x.item), io("of", x.of), io("judgement", x.judgement), io("found", x.found);
  }
};

template <>
struct Fields<event::Aimed> {
  static constexpr const char* name = "aimed";
  static void walk(auto& io, auto& x) {
    io("place", x.place), io("reading", x.reading), io("unit", x.unit), io("least", x.least), io("most", x.most);
    io("ceiling", x.ceiling);
  }
};

template <>
struct Fields<event::Advised> {
  static constexpr const char* name = "advised";
  static void walk(auto& io, auto& x) {
    io("place", x.place), io("turn", x.turn), io("clockwise_deg", x.clockwise_deg), io("words", x.words);
    io("belief", x.belief), io("from", x.from), io("from_uncertainty", x.from_uncertainty);
    io("expected", x.expected), io("low", x.low), io("high", x.high), io("last_did_nothing", x.last_did_nothing);
  }
};

template <>
struct Fields<event::Found> {
  static constexpr const char* name = "found";
  static void walk(auto& io, auto& x) { io("place", x.place), io("cause", x.cause), io("because", x.because); }
};

template <>
struct Fields<event::Noted> {
  static constexpr const char* name = "noted";
  static void walk(auto& io, auto& x) { io("place", x.place), io("text", x.text); }
};

template <>
struct Fields<event::Finding> {
  static void walk(auto& io, auto& x) { io("cause", x.cause), io("because", x.because), io("belief", x.belief); }
};

template <>
struct Fields<event::Diagnosed> {
  static constexpr const char* name = "diagnosed";
  static void walk(auto& io, auto& x) {
    io("place", x.place), io("findings", x.findings), io("next_check", x.next_check);
  }
};

template <>
struct Fields<event::Enclosed> {
  static constexpr const char* name = "enclosed";
  static void walk(auto& io, auto& x) {
    io("place", x.place), io("name", x.name), io("about", x.about), io("file_name", x.file_name), io("by", x.by);
    io("size_bytes", x.size_bytes);
  }
};

template <>
struct Fields<event::ToldAnswer> {
  static void walk(auto& io, auto& x) { io("name", x.name), io("answer", x.answer); }
};

template <>
struct Fields<event::Reached> {
  static constexpr const char* name = "reached";
  static void walk(auto& io, auto& x) {
    io("place", x.place), io("readings", x.readings), io("answers", x.answers), io("cannot_pass", x.cannot_pass);
    io("judgements", x.judgements), io("proofs", x.proofs), io("can_pass", x.can_pass);
  }
};

template <>
struct Fields<event::BrokenOff> {
  static constexpr const char* name = "broken off";
  static void walk(auto& io, auto& x) { io("place", x.place), io("error", x.error); }
};

template <>
struct Fields<event::Closed> {
  static constexpr const char* name = "closed";
  static void walk(auto& io, auto& x) { io("ended", x.ended), io("judgement", x.judgement); }
};

}  // namespace eyelevel::record
