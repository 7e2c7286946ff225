// SPDX-License-Identifier: Apache-2.0
// Where a message ends on a raw socket: at NL, except that a definite-length block is taken by its length. Both ways:
// program messages on the server, responses on the client. No standard stands behind raw sockets; a quoted NL ends a
// message too, so that an unbalanced quote cannot swallow the next one. No I/O here.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>

namespace eyelevel::transport::socket {

// response_to_end: the carrier tells where the message ends, so that it may hold an indefinite block (#0).
enum class Direction { program, response, response_to_end };

class Framer {
 public:
  Framer(Direction direction, std::size_t most_bytes) : direction_(direction), most_bytes_(most_bytes) {}

  struct Found {
    bool complete = false;
    std::size_t message_bytes = 0;  // without NL or CR NL; valid when complete
    std::size_t consumed = 0;       // with them
    std::size_t missing = 0;        // at least so many bytes are still to come; 0 when unknown
    std::string fault;              // not empty: these bytes can never become a message; says why
  };

  // `buffer` begins with the first byte of the message and has only grown since the last call (reset() between
  // messages). Each byte is looked at once over all calls; bytes inside a block are not looked at.
  Found scan(std::string_view buffer);
  void reset();
  // The rest of the message is an indefinite block.
  bool is_indefinite() const { return indefinite_; }

 private:
  bool element_may_begin_after(char c) const;
  bool step_over_block(std::string_view buffer, Found& found);

  Direction direction_;
  std::size_t most_bytes_;
  std::size_t at_ = 0;
  char before_ = ';';  // last byte that is not white space; a block can begin after ; , or the header's space
  bool spaced_ = false;
  char quote_ = '\0';
  bool after_block_ = false;
  bool indefinite_ = false;
};

}  // namespace eyelevel::transport::socket
