// SPDX-License-Identifier: Apache-2.0
// A small VISA library for tests, as VPP-4.3.2 has the functions (from memory): one GPIB interface with one instrument
// at address 5. It answers "*IDN?", "BLOC? n" with a block of n bytes 'x', "SLOW? n" after n milliseconds, "NEVER?" not
// at all, "TRIGGERS?" with how often it was triggered; "SRQ" makes it ask for service. A message goes in 1000 bytes at
// a time. It knows nothing of the program that it is loaded into.
#include <algorithm>
#include <chrono>
#include <condition_variable>
#include <cstdint>
#include <cstring>
#include <map>
#include <mutex>
#include <string>
#include <utility>

namespace {

using Clock = std::chrono::steady_clock;

constexpr std::int32_t time_out = static_cast<std::int32_t>(0xBFFF0015);
constexpr std::int32_t locked = static_cast<std::int32_t>(0xBFFF000F);
constexpr std::int32_t not_found = static_cast<std::int32_t>(0xBFFF0011);
constexpr std::int32_t not_locked = static_cast<std::int32_t>(0xBFFF009C);
constexpr std::int32_t most_bytes = 0x3FFF0006;
constexpr std::uint32_t attribute_time_out = 0x3FFF001A;

struct Instrument {
  std::string input, output;
  Clock::time_point ready;
  int triggers = 0;
  bool asks_for_service = false;
  bool event = false;
  std::uint32_t owner = 0;  // of the lock
};

std::mutex guard;
std::condition_variable changed;
Instrument instrument;
std::map<std::uint32_t, std::uint64_t> time_out_ms;  // by session
std::uint32_t next_session = 2;

std::chrono::milliseconds limit_of(std::uint32_t session) { return std::chrono::milliseconds(time_out_ms[session]); }

void execute(const std::string& message) {
  const auto number = [&] { return std::stoul(message.substr(message.find(' ') + 1)); };
  instrument.ready = Clock::now();
  if (message == "*IDN?") instrument.output = "Little,Instrument,0,1.0\n";
  if (message == "TRIGGERS?") instrument.output = std::to_string(instrument.triggers) + "\n";
  if (message.starts_with("SIZE? ")) instrument.output = std::to_string(message.size()) + "\n";
  if (message.starts_with("BLOC? ")) {
    const std::string digits = std::to_string(number());
    instrument.output = "#" + std::to_string(digits.size()) + digits + std::string(number(), 'x') + "\n";
  }
  if (message.starts_with("SLOW? ")) {
    instrument.output = "late\n";
    instrument.ready += std::chrono::milliseconds(number());
  }
  if (message == "SRQ") instrument.asks_for_service = instrument.event = true;
}

bool is_locked_for(std::uint32_t session) { return instrument.owner != 0 && instrument.owner != session; }

}  // namespace

extern "C" {

std::int32_t viOpenDefaultRM(std::uint32_t* session) {
  *session = 1;
  return 0;
}

std::int32_t viOpen(std::uint32_t, const char* name, std::uint32_t, std::uint32_t, std::uint32_t* session) {
  if (std::strcmp(name, "GPIB0::5::INSTR") != 0) return not_found;
  const std::scoped_lock lock(guard);
  *session = next_session++;
  time_out_ms[*session] = 2000;
  return 0;
}

std::int32_t viClose(std::uint32_t session) {
  const std::scoped_lock lock(guard);
  if (instrument.owner == session) instrument.owner = 0;
  time_out_ms.erase(session);
  return 0;
}

std::int32_t viSetAttribute(std::uint32_t session, std::uint32_t attribute, std::uint64_t value) {
  const std::scoped_lock lock(guard);
  if (attribute == attribute_time_out) time_out_ms[session] = value;
  return 0;
}

std::int32_t viWrite(std::uint32_t session, const unsigned char* bytes, std::uint32_t count, std::uint32_t* written) {
  const std::scoped_lock lock(guard);
  *written = 0;
  if (is_locked_for(session)) return locked;
  *written = count > 1000 ? 1000 : count;
  instrument.input.append(reinterpret_cast<const char*>(bytes), *written);
  if (*written < count) return time_out;
  std::string message = std::exchange(instrument.input, {});
  if (message.ends_with('\n')) message.pop_back();
  instrument.output.clear();
  execute(message);
  changed.notify_all();
  return 0;
}

std::int32_t viRead(std::uint32_t session, unsigned char* bytes, std::uint32_t count, std::uint32_t* got) {
  std::unique_lock lock(guard);
  *got = 0;
  if (is_locked_for(session)) return locked;
  const auto until = Clock::now() + limit_of(session);
  while (instrument.output.empty() || Clock::now() < instrument.ready) {
    const auto wake = instrument.output.empty() ? until : std::min(until, instrument.ready);
    changed.wait_until(lock, wake);
    if (Clock::now() >= until) return time_out;
  }
  *got = static_cast<std::uint32_t>(std::min<std::size_t>(count, instrument.output.size()));
  std::memcpy(bytes, instrument.output.data(), *got);
  instrument.output.erase(0, *got);
  return instrument.output.empty() ? 0 : most_bytes;
}

std::int32_t viClear(std::uint32_t session) {
  const std::scoped_lock lock(guard);
  if (is_locked_for(session)) return locked;
  instrument.input.clear();
  instrument.output.clear();
  return 0;
}

std::int32_t viAssertTrigger(std::uint32_t session, std::uint16_t) {
  const std::scoped_lock lock(guard);
  if (is_locked_for(session)) return locked;
  ++instrument.triggers;
  return 0;
}

std::int32_t viReadSTB(std::uint32_t, std::uint16_t* status) {
  const std::scoped_lock lock(guard);
  *status = instrument.asks_for_service ? 0x44 : 0x04;
  instrument.asks_for_service = false;
  return 0;
}

std::int32_t viLock(std::uint32_t session, std::uint32_t, std::uint32_t, const char*, char*) {
  const std::scoped_lock lock(guard);
  if (is_locked_for(session)) return locked;
  instrument.owner = session;
  return 0;
}

std::int32_t viUnlock(std::uint32_t session) {
  const std::scoped_lock lock(guard);
  if (instrument.owner != session) return not_locked;
  instrument.owner = 0;
  return 0;
}

std::int32_t viStatusDesc(std::uint32_t, std::int32_t status, char* text) {
  std::strcpy(text, status == not_found    ? "VI_ERROR_RSRC_NFOUND"
                    : status == not_locked ? "VI_ERROR_SESN_NLOCKED"
                                           : "?");
  return 0;
}

std::int32_t viEnableEvent(std::uint32_t, std::uint32_t, std::uint16_t, std::uint32_t) { return 0; }

std::int32_t viWaitOnEvent(std::uint32_t, std::uint32_t event, std::uint32_t limit_ms, std::uint32_t* which,
                           std::uint32_t* context) {
  std::unique_lock lock(guard);
  if (!changed.wait_for(lock, std::chrono::milliseconds(limit_ms), [] { return instrument.event; })) return time_out;
  instrument.event = false;
  *which = event;
  *context = 0;
  return 0;
}

}  // extern "C"
