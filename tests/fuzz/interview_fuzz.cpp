// SPDX-License-Identifier: Apache-2.0
// An instrument that answers any bytes to an interview: line by line of the input, over and over. Only queries are
// sent, and the phrasebook that comes of it can be read and holds no control characters, whatever the instrument calls
// itself.
#include <cstdint>
#include <cstdlib>
#include <memory>
#include <string>
#include <vector>

#include "core/base/error.hpp"
#include "instruments/find/sighting.hpp"
#include "instruments/phrasebook/interview.hpp"
#include "instruments/transport/memory/client.hpp"
#include "tests/support/run_task.hpp"
#include "tests/support/scripted_device.hpp"

using namespace eyelevel;

namespace {

std::vector<std::string> lines_of(std::string_view text) {
  std::vector<std::string> lines;
  while (true) {
    const auto end = text.find('\n');
    lines.emplace_back(text.substr(0, end));
    if (end == std::string_view::npos) return lines;
    text.remove_prefix(end + 1);
  }
}

bool has_control(std::string_view text) {
  for (const char c : text)
    if ((static_cast<unsigned char>(c) < 0x20 && c != '\n' && c != '\t') || c == 0x7F) return true;
  return false;
}

task<> interview(base::Timeline& timeline, std::shared_ptr<transport::Device> device, phrasebook::Interview& found) {
  transport::Session session(timeline, co_await transport::memory::connect(std::move(device), "MEMORY0::it::INSTR"));
  try {
    found = co_await phrasebook::interview(session, phrasebook::detail::standard_texts(), std::chrono::seconds(1));
  } catch (const base::Error&) {  // NOLINT(bugprone-empty-catch): no identity, nothing asked
  }
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::vector<char> exact(data, data + size);
  const std::string_view text(exact.data(), exact.size());
  if (has_control(find::printable(text)) || has_control(base::legible(text)) || has_control(base::escaped(text)))
    std::abort();
  find::text_of(find::identity_of(text));

  const auto answers = lines_of(text);
  std::size_t asked = 0;
  test::Simulated sim;
  auto device =
      std::make_shared<test::ScriptedDevice>(*sim.timeline, [&](std::string_view message, transport::Reply& reply) {
        if (!message.ends_with('?')) std::abort();
        reply.bytes = answers[asked++ % answers.size()];
        return base::Duration(0);
      });
  phrasebook::Interview found;
  sim.run(interview(*sim.timeline, device, found));
  if (found.tried.empty()) return 0;
  const std::string written = phrasebook::written(found, "fuzzed");
  if (has_control(written)) std::abort();
  if (!phrasebook::read_phrasebook(yaml::load_text("fuzzed.yaml", written)).mistakes.fine()) std::abort();
  return 0;
}
