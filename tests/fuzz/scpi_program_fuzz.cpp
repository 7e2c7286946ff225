// SPDX-License-Identifier: Apache-2.0
// Any bytes as a program message: parsed and looked up without a crash; what is understood lies inside the message.
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <memory>

#include "instruments/scpi/error.hpp"
#include "instruments/scpi/header_tree.hpp"

using namespace eyelevel::scpi;

namespace {

HeaderTree made() {
  HeaderTree tree;
  std::size_t i = 0;
  for (const char* pattern : {"[SENSe]:VOLTage<1-2>[:DC]:RANGe[:UPPer]", "INITiate[:IMMediate][:ALL]", "*IDN?",
                              "FETCh[:ARRay][:VOLTage]?", "FORMat[:DATA]", "TRACe[:DATA]", "SYSTem:ERRor[:NEXT]?"})
    tree.add(pattern, i++);
  return tree;
}

void require(bool good) {
  if (!good) std::abort();
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  static const HeaderTree tree = made();
  const auto exact = std::make_unique<char[]>(size);
  for (std::size_t i = 0; i < size; ++i) exact[i] = static_cast<char>(data[i]);
  const std::string_view message(exact.get(), size);
  ProgramParser parser(message);
  ProgramUnit unit;
  HeaderTree::Path path;
  try {
    while (parser.next(unit)) {
      for (const auto& p : unit.parameters) {
        require(p.raw.empty() ||
                (p.raw.data() >= message.data() && p.raw.data() + p.raw.size() <= message.data() + size));
        if (p.type == ParameterType::string) require(p.text().size() <= p.raw.size());
        if (p.type == ParameterType::expression) {
          try {
            require(p.channel_list().size() <= 1000);
          } catch (const CommandError&) {  // NOLINT(bugprone-empty-catch): refusing is right, only crashing is not
          }
        }
        try {
          p.number(Unit::volt);
          p.boolean();
        } catch (const CommandError&) {  // NOLINT(bugprone-empty-catch): refusing is right, only crashing is not
        }
      }
      require(tree.find(unit, path).command < 7);
    }
  } catch (const CommandError& error) {
    require(error.number() < 0 && error.number() > -300);
  }
  return 0;
}
