// SPDX-License-Identifier: Apache-2.0
#include "instruments/phrasebook/standard.hpp"

#include <algorithm>
#include <filesystem>

#include "core/base/error.hpp"

namespace eyelevel::phrasebook {

Phrasebooks standard_phrasebooks() {
  Phrasebooks all("phrasebook");
  for (const auto& [file, text] : detail::standard_texts()) {
    PhrasebookRead read = read_phrasebook(yaml::load_text(std::string(file), text));
    if (!read.mistakes.fine())
      throw base::Error(base::ErrorCode::defect, yaml::print(read.mistakes.list().front()), "please report it");
    Phrasebook& book = read.phrasebook;
    registers::Declaration declaration{book.name, book.about, phrasebook_table(book.kind), std::string(text)};
    all.add(std::move(declaration), std::move(book));
  }
  return all;
}

Phrasebook find_phrasebook(const Phrasebooks& phrasebooks, std::string_view name) {
  if (name.ends_with(".yaml")) {
    PhrasebookRead read = read_phrasebook(std::filesystem::path(name));
    if (read.mistakes.fine()) return std::move(read.phrasebook);
    const auto first = std::find_if(read.mistakes.list().begin(), read.mistakes.list().end(),
                                    [](const auto& m) { return m.severity == yaml::Severity::error; });
    throw base::Error(base::ErrorCode::bad_input, yaml::print(*first), "check the phrasebook");
  }
  const auto* entry = phrasebooks.find(name);
  if (entry == nullptr)
    throw base::Error(base::ErrorCode::not_found, phrasebooks.unknown(name), "look at the bench file");
  return entry->call;
}

}  // namespace eyelevel::phrasebook
