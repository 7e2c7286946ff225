// SPDX-License-Identifier: Apache-2.0
#include "sim/instrument/misbehaviour.hpp"

#include <array>
#include <limits>
#include <utility>

#include "instruments/scpi/block.hpp"

namespace eyelevel::sim {
namespace {

constexpr std::string_view garbage_bytes = "\x01\xff~?~,;,#9xyz";
constexpr std::size_t wrong_by_bytes = 4;

// Replaces the header of a block at the beginning by one that announces another length.
void announce(std::string& bytes, bool more) {
  const auto header = scpi::read_block_header(bytes);
  if (header.state != scpi::BlockHeaderState::complete || header.data_bytes < wrong_by_bytes) return;
  std::string changed;
  scpi::append_block_header(changed, more ? header.data_bytes + wrong_by_bytes : header.data_bytes - wrong_by_bytes);
  bytes.replace(0, header.header_bytes, changed);
}

// NaN into the middle of a block of 32-bit reals (all ones are NaN in either byte order), or instead of a number.
void put_not_a_number(std::string& bytes) {
  const auto header = scpi::read_block_header(bytes);
  if (header.state == scpi::BlockHeaderState::complete && header.data_bytes >= 4) {
    const std::size_t middle = header.data_bytes / 8 * 4;
    const std::size_t at = header.header_bytes + std::min(middle, header.data_bytes - 4);
    bytes.replace(at, 4, 4, '\xff');
    return;
  }
  const std::size_t end = bytes.find_first_of(",;");
  const bool number = !bytes.empty() && bytes.find_first_not_of("+-.0123456789Ee,;") == std::string::npos;
  if (number) bytes.replace(0, end == std::string::npos ? bytes.size() : end, "9.91E+37");
}

}  // namespace

std::string_view name_of(Misbehaviour kind) {
  switch (kind) {
    case Misbehaviour::silent: return "silent";
    case Misbehaviour::late: return "late";
    case Misbehaviour::garbage: return "garbage";
    case Misbehaviour::close_in_answer: return "close-in-answer";
    case Misbehaviour::block_too_short: return "block-too-short";
    case Misbehaviour::block_too_long: return "block-too-long";
    case Misbehaviour::not_a_number: return "not-a-number";
    case Misbehaviour::error_in_queue: return "error-in-queue";
    case Misbehaviour::setting_not_taken: return "setting-not-taken";
    case Misbehaviour::stops_within_answer: return "stops-within-answer";
  }
  return "silent";
}

const std::vector<Misbehaviour>& all_misbehaviours() {
  static const std::vector<Misbehaviour> all{Misbehaviour::silent,
                                             Misbehaviour::late,
                                             Misbehaviour::garbage,
                                             Misbehaviour::close_in_answer,
                                             Misbehaviour::block_too_short,
                                             Misbehaviour::block_too_long,
                                             Misbehaviour::not_a_number,
                                             Misbehaviour::error_in_queue,
                                             Misbehaviour::setting_not_taken,
                                             Misbehaviour::stops_within_answer};
  return all;
}

MisbehavingDevice::MisbehavingDevice(base::Timeline& timeline, std::shared_ptr<ScpiInstrument> inner)
    : timeline_(timeline), inner_(std::move(inner)) {}

void MisbehavingDevice::add(Fault fault) {
  if (fault.kind == Misbehaviour::setting_not_taken) {
    inner_->ignore_command(fault.header);
    return;
  }
  faults_.push_back({std::move(fault), 0});
}

void MisbehavingDevice::clear() { inner_->clear(); }

task<> MisbehavingDevice::spoil(const Fault& fault, transport::Reply& reply) {
  switch (fault.kind) {
    case Misbehaviour::silent: reply.bytes.clear(); break;
    case Misbehaviour::late: co_await timeline_.sleep(base::from_seconds(fault.delay_s)); break;
    case Misbehaviour::garbage: reply.bytes = garbage_bytes; break;
    case Misbehaviour::close_in_answer:
      reply.bytes.resize(reply.bytes.size() / 2);
      reply.close_after = true;
      break;
    case Misbehaviour::block_too_short: announce(reply.bytes, true); break;
    case Misbehaviour::block_too_long: announce(reply.bytes, false); break;
    case Misbehaviour::not_a_number: put_not_a_number(reply.bytes); break;
    case Misbehaviour::error_in_queue: inner_->raise_error(fault.error, "simulated"); break;
    case Misbehaviour::setting_not_taken: break;  // done when it was added
    case Misbehaviour::stops_within_answer:
      reply.bytes.resize(reply.bytes.size() / 2);
      reply.terminated = false;
      break;
  }
}

task<> MisbehavingDevice::execute(std::string_view message, transport::Reply& reply) {
  co_await inner_->execute(message, reply);
  if (reply.bytes.empty()) co_return;
  // The list may change while a late answer waits: what applies is settled first.
  std::vector<Fault> now;
  for (auto& active : faults_) {
    const int number = ++active.seen - active.fault.from_query;
    if (number >= 0 && (active.fault.queries == 0 || number < active.fault.queries)) now.push_back(active.fault);
  }
  for (const auto& fault : now) co_await spoil(fault, reply);
}

}  // namespace eyelevel::sim
