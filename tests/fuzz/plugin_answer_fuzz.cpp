// SPDX-License-Identifier: Apache-2.0
// Any bytes as a plugin's greeting and as its answer: refused with an Error, or taken with every bound kept.
#include <cmath>
#include <cstdint>
#include <string_view>
#include <vector>

#include "core/base/error.hpp"
#include "instruments/plugin/declare.hpp"
#include "instruments/plugin/process/codec.hpp"

using namespace eyelevel;
namespace process = plugin::process;

namespace {

void require(bool holds) {
  if (!holds) __builtin_trap();
}

bool is_legible(std::string_view text) { return plugin::one_line(text, 10000) == text; }

void look_at(const registers::Answer& answer) {
  if (answer.reading) require(std::isfinite(answer.reading->value) && is_legible(answer.reading->unit));
  require(answer.notes.size() <= process::notes_most && answer.numbers.size() <= process::numbers_most);
  for (const auto& note : answer.notes) require(is_legible(note) && note.size() <= process::note_most);
  for (const auto& [name, value] : answer.numbers) require(is_legible(name) && std::isfinite(value));
  require(is_legible(answer.text));
}

void look_at(const process::Hello& hello) {
  require(is_legible(hello.name) && hello.parts.size() <= plugin::parts_most);
  for (const auto& part : hello.parts) {
    require(!part.declaration.name.empty() && is_legible(part.declaration.name) && is_legible(part.declaration.about));
    require(part.declaration.parameters.keys.size() <= plugin::parameters_most + 1);
    for (const auto& key : part.declaration.parameters.keys)
      require(is_legible(key.name) && is_legible(key.help) && is_legible(key.example));
    if (part.kind == registers::PartKind::measure) require(part.takes && part.gives);
  }
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::vector<char> exact(data, data + size);
  const std::string_view line(exact.data(), exact.size());
  try {
    look_at(process::parse_answer(line, 1, "plugin fuzz"));
  } catch (const base::Error& error) {
    const auto code = error.record().code;
    require(code == base::ErrorCode::bad_answer || code == base::ErrorCode::instrument_error);
    require(error.record().where == "plugin fuzz");
  }
  try {
    look_at(process::parse_hello(line, 1, "plugin fuzz"));
  } catch (const base::Error& error) {
    const auto code = error.record().code;
    require(code == base::ErrorCode::bad_answer || code == base::ErrorCode::instrument_error);
  }
  return 0;
}
