// SPDX-License-Identifier: Apache-2.0
// Everything that `eyelevel analyse` and the verb `measure` can say of one waveform. Definitions: ECMA-130 2nd ed.
// clauses 12, 18, 19, 22 and annexes C to E. A value that cannot be had is empty, and a warning says why; nothing is
// guessed.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "core/signal/waveform.hpp"

namespace eyelevel::disc {

namespace eye {
struct Run;
}

// Volts at the input, noise averaged out.
struct Levels {
  std::optional<double> peak_to_peak_v;  // settled level of 11T runs, high minus low (= i11_v)
  std::optional<double> i11_v;
  std::optional<double> i3_v;      // the same of 3T runs, level at their centre
  std::optional<double> top_v;     // settled level of 11T lands (more light)
  std::optional<double> bottom_v;  // settled level of 11T pits
  std::optional<double> mean_v;    // what a d.c. multimeter would show over the record
};

// Runs of one nominal length, pits or lands. Length error: mean length minus t channel bits; jitter: standard deviation
// of the length about that mean, in units of the local clock. At the pad as our slicer sees it.
struct RunLengths {
  int t = 0;  // nominal length, channel bits, 3 to 11
  bool is_land = false;
  std::int64_t count = 0;
  std::optional<double> level_v;          // mean level at the centre of the runs
  std::optional<double> length_error_ns;  // positive: longer than nominal
  std::optional<double> jitter_ns;        // needs two runs
  std::optional<double> jitter_percent_t;
};

// Subcode blocks and sectors come 75 times a second; of a long record not all are listed, so that it can be of any
// length.
inline constexpr std::size_t listed_most = 10000;

enum class Content { unknown, audio, data };

struct MinSecFrame {
  int minute = 0, second = 0, frame = 0;
  auto operator<=>(const MinSecFrame&) const = default;
};

// One 98-frame subcode block (section) of the Q channel. ECMA-130 22.3.
struct QBlock {
  bool crc = false;
  int control = 0;
  int adr = 0;
  int track = 0;                        // 0 lead-in, 1..99, 0xAA lead-out
  std::optional<int> index;             // decimal; in the lead-in POINT of a track item, empty for A0..A2
  std::optional<int> point;             // lead-in only: the raw POINT byte (two hexadecimal digits)
  std::optional<MinSecFrame> relative;  // empty for ADR 2, 3
  std::optional<MinSecFrame> absolute;
  std::optional<int> absolute_frame;  // A-FRAC, also of ADR 2 and 3
  double start_s = 0;                 // of the section's first frame, from the first sample
};

// The table of contents in the lead-in, as far as it was read. ECMA-130 22.3.4.
struct ContentsTrack {
  MinSecFrame start;  // INDEX 01
  bool is_data = false;
};
struct TableOfContents {
  std::optional<int> first_track, last_track;
  std::optional<MinSecFrame> lead_out;
  std::map<int, ContentsTrack> tracks;
  bool complete = false;
  std::string mark;  // the same for the same disc; empty while not complete
};

// Counts are events of our decoder's words. The standard fixes the code and not the decoder, so that they hang on the
// strategy. E11, E21: a C1 word corrected with one, with two wrong symbols; E31: not correctable.
struct C1Counts {
  std::int64_t words = 0, e11 = 0, e21 = 0, e31 = 0;
  std::int64_t e21_beside_e31 = 0;         // of e21: next to an E31, where three wrong symbols may pass for two
  std::int64_t uncorrectable_longest = 0;  // words in a row that were E31
  std::int64_t wrong_longest = 0;          // words in a row that were E11, E21 or E31
};
inline std::int64_t wrong_words(const C1Counts& c1) { return c1.e11 + c1.e21 + c1.e31; }
// E12, E22: a C2 word corrected with one, with two or more (erasures allow up to four) wrong symbols; E32: not
// correctable, its flagged symbols are lost.
struct C2Counts {
  std::int64_t words = 0, e12 = 0, e22 = 0, e32 = 0;
};

// C1 words in equal stretches of time from the first sample on.
struct ErrorsOverTime {
  struct Stretch {
    std::int64_t words = 0, wrong = 0;
  };
  double stretch_s = 0;
  std::vector<Stretch> stretches;  // at most 512
};

// One sector of a data track, as ECMA-130 clause 14 lays it out.
struct SectorRead {
  std::optional<MinSecFrame> address;  // of the header; empty where it is damaged or no time
  std::optional<int> mode;             // 0, 1, 2; empty where the header is damaged
  std::optional<bool> edc_ok;          // empty in modes 0 and 2, which have no EDC in that standard
};
struct Sectors {
  std::int64_t sectors = 0, edc_ok = 0, edc_bad = 0;
  std::vector<SectorRead> list;  // the first ones, listed_most at most
};

// Limits of the 95 % interval.
struct RateInterval {
  double low_per_s = 0, high_per_s = 0;
};

// Sound of an audio track: 16 bit, 44.1 kHz, left and right in turn.
using SoundSink = std::function<void(std::span<const std::int16_t> samples)>;
struct Sound {
  std::int64_t sample_pairs = 0;
  // Of one channel:
  std::int64_t interpolated = 0;  // not correctable: on a straight line between good neighbours
  std::int64_t held = 0;          // not correctable over a longer time: the last good one again
};

// A swing of the eye's height (focus, dirt, axial run-out) or of its middle (light as a whole), in per cent of the mean
// height: amplitude, so half of what lies between its ends.
struct OnceAround {
  double hz = 0;
  double height_percent = 0, middle_percent = 0;
};
struct SwingAt {
  double hz = 0;
  double percent = 0;
};
// The outline of the eye over time. Heights are between extremes and so hold the noise, too: not the level.
struct EnvelopeFigures {
  std::optional<double> height_v;         // mean
  std::optional<double> settled_after_s;  // from then on within 10 % of the height in the last quarter
  std::optional<double> fast_percent;     // scatter from frame to frame, rms
  std::optional<double> openings_per_s;   // of an eye that closes and opens: tracks crossed
  std::optional<OnceAround> once_around;  // with the turns of the disc
  std::vector<SwingAt> hum;               // at 50, 60, 100, 120 Hz, where it stands out
  std::vector<SwingAt> lines;             // the strongest of the height's spectrum (Hann window), strongest first
  std::vector<std::string> missing;       // what cannot be said, and why
};
struct Fault {
  double start_s = 0, length_s = 0;
};

struct CircStrategy {
  int c1_corrects = 2;      // wrong symbols that C1 corrects, 1 or 2; a word with more is flagged
  bool c2_erasures = true;  // C2 takes one to four flags of C1 as erasures; else it looks for two errors itself
};

struct Analysis {
  std::size_t samples = 0;
  double duration_s = 0;

  bool has_eye = false;                   // a channel clock is locked and the runs are those of the channel code
  std::optional<double> speed;            // channel rate over 4.3218 Mbit/s: 1, 2, 4, ..., or as it is if 15 % off
  std::optional<double> channel_rate_hz;  // channel bits per second
  double locked_share = 0;                // share of the record with the clock locked, 0..1
  double clipped_share = 0;               // share of samples at either end of the converter, 0..1

  Levels level;
  std::optional<double> level_noise_v;           // standard deviation of one settled sample about its run's level
  std::size_t level_runs = 0;                    // 11T runs behind peak_to_peak_v, high and low together
  std::optional<double> level_standard_error_v;  // type A of peak_to_peak_v from this record alone
  std::optional<double> i3_over_i11;
  std::optional<double> i11_over_top;  // needs the dark level
  std::optional<double> asymmetry;     // ECMA-130 12.3; positive: 3T centre below the 11T centre, in light
  std::optional<double> beta;
  std::optional<double> slice_v;  // level at which the running digital sum balances

  std::optional<double> jitter_all_ns;                // pooled over all groups
  std::array<std::optional<double>, 12> jitter_ns{};  // [3]..[11], pits and lands pooled by count
  std::array<std::int64_t, 12> runs{};                // [3]..[11], pits and lands together
  std::optional<double> edge_jitter_ns;               // standard deviation of edges against the recovered clock
  std::optional<double> edge_jitter_loop_hz;          // what is slower, the clock follows
  // Of these two at most so much comes from the oscilloscope: its noise over the slope, and straight lines between
  // samples.
  std::optional<double> jitter_of_instrument_ns, edge_jitter_of_instrument_ns;
  std::vector<RunLengths> run_lengths;  // 3T pits, 3T lands, ... 11T lands; empty without an eye

  std::int64_t frames = 0;          // channel frames wholly inside the record
  std::int64_t sync_lost = 0;       // losses between the first and the last sync
  std::vector<QBlock> subcode;      // the first ones, listed_most at most
  std::int64_t subcode_blocks = 0;  // all of them
  bool pre_emphasis = false;        // said by a block of an audio track
  Content content = Content::unknown;
  std::optional<TableOfContents> contents;  // where the lead-in was read
  std::optional<C1Counts> c1;
  std::optional<C2Counts> c2;
  std::optional<double> bler_per_s;
  std::optional<RateInterval> bler_interval_per_s;  // by Garwood, for errors that come one by one
  ErrorsOverTime errors_over_time;
  std::optional<Sectors> sectors;  // where no audio is played
  std::optional<Sound> sound;      // if wanted and audio is played

  EnvelopeFigures envelope;
  std::vector<Fault> faults;               // the first ones where the eye is weak or gone
  std::size_t fault_count = 0;             // all of them
  std::optional<double> radius_m;          // where the pickup stood, from turns and absolute time
  std::optional<double> velocity_m_per_s;  // along the track at 1x

  bool disturbed = false;  // a fault inside the record (dropout, lost focus, slip, clipped): exit status 1
  std::vector<std::string> warnings;
};

struct AnalysisOptions {
  std::optional<double> dark_v;  // voltage without light, amplifier alive
  bool a_c_coupled = false;      // Itop is lost
  bool subcode_wanted = true;    // false: levels, clock and eye measures only (faster)
  bool errors_wanted = true;     // CIRC counts
  CircStrategy strategy = {};
  // Given the sound as it is read; needs subcode and errors, too. Where the analysis ends without `sound`, what was
  // given is none: only the subcode tells audio from data.
  SoundSink on_sound = {};
  // For pictures: called with each part of the record and the runs in it that measures use, some at a time. Places of
  // runs count from the first of the samples; parts overlap, runs come once.
  std::function<void(const signal::CodesView& samples, std::span<const eye::Run> runs)> on_runs = {};
};

// A record whose samples come in blocks. What is held does not grow with its length, but for the lists of an Analysis.
// Blocks of any size give the same result. Never throws on strange samples: it answers with empty values and warnings.
// One StreamAnalyser belongs to one thread.
class StreamAnalyser {
 public:
  // Rate, scale and screen of the samples and the type of their codes; samples that it holds are not looked at.
  explicit StreamAnalyser(const signal::WaveformView& scale, const AnalysisOptions& options = {});
  ~StreamAnalyser();
  StreamAnalyser(StreamAnalyser&&) noexcept;
  StreamAnalyser& operator=(StreamAnalyser&&) noexcept;

  // The next samples, which need not stay. Codes of another type are a defect.
  void take(const signal::CodesView& block);
  // With the last samples, if any are left; afterwards nothing may be taken.
  Analysis finish(const signal::CodesView& last);

 private:
  class Work;
  std::unique_ptr<Work> work_;
};

Analysis analyse(const signal::WaveformView& waveform, const AnalysisOptions& options = {});

}  // namespace eyelevel::disc
