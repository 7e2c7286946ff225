// SPDX-License-Identifier: Apache-2.0
// What went wrong, as one record that every layer fills and nobody loses: what was attempted, where, what was sent and
// received, what was expected, how long it took, what to try. Each layer throws its own type derived from Error; the
// record travels unchanged to the terminal, the store and the JSON.
#pragma once

#include <cstddef>
#include <exception>
#include <optional>
#include <string>
#include <string_view>

namespace eyelevel::base {

// Closed list. The comment says what causes it.
enum class ErrorCode {
  bad_input,          // the user's file, argument or waveform is wrong; nothing was touched
  not_found,          // a named file, run, instrument or resource does not exist
  no_connection,      // the resource could not be opened
  time_out,           // no (complete) answer within the limit
  connection_lost,    // the peer closed, reset, or power was lost
  bad_answer,         // bytes came but do not mean what was asked
  instrument_error,   // the instrument's own error queue holds an error
  setting_not_taken,  // read back differs from what was asked
  wrong_wiring,       // probe factor, range or coupling contradict what is measured
  wait_ran_out,       // a wait ended without what it waited for
  no_answer,          // nobody answered a prompt in time
  not_recording,      // the store could not take an event; the run cannot go on
  stopped,            // somebody stopped the run
  defect,             // we are wrong; please report it
};

enum class ErrorKind { input, outside, defect };  // exit status 2, 3, 3

std::string_view name_of(ErrorCode code);
ErrorKind kind_of(ErrorCode code);

struct ErrorRecord {
  ErrorCode code = ErrorCode::defect;
  std::string where;      // "lf2.yaml:31:5: step \"capture pressed\", scope (TCPIP0::...)", outermost first
  std::string message;    // what happened, with numbers and units; what was expected beside what was there
  std::string attempted;  // what was being done; may be empty
  std::string sent;       // raw bytes; escaped and cut when printed
  std::string received;   // raw bytes; escaped and cut when printed
  std::string expected;
  std::optional<double> elapsed_s;
  std::string advice;  // one thing to do; printed after "try:"
  std::string cause;   // the lower layer's text, if there is one
};

// Several lines for people: "WHERE: MESSAGE", then sent/received/expected if set, then "try: ADVICE".
std::string describe(const ErrorRecord& record);

// Printable form of raw bytes: control characters escaped, cut at `most` bytes with the true length stated.
std::string escaped(std::string_view bytes, std::size_t most = 200);

// An answer as a person reads it: bytes above 0x7F as Latin-1 (ohm, micro and degree signs of older instruments), in
// UTF-8; of control characters only tabs stay as they are, the others are escaped.
std::string legible(std::string_view bytes);

class Error : public std::exception {
 public:
  explicit Error(ErrorRecord record);
  Error(ErrorCode code, std::string message, std::string advice = {});

  const ErrorRecord& record() const noexcept { return record_; }
  // Puts an outer place before the record's own: used once where a layer translates.
  void within(std::string_view outer_place);
  const char* what() const noexcept override { return text_.c_str(); }

 private:
  ErrorRecord record_;
  std::string text_;
};

}  // namespace eyelevel::base
