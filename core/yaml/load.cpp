// SPDX-License-Identifier: Apache-2.0
#include "core/yaml/load.hpp"

#include <fmt/format.h>
#include <yaml-cpp/exceptions.h>
#include <yaml-cpp/parser.h>

#include <algorithm>
#include <array>
#include <sstream>
#include <string>
#include <system_error>
#include <utility>

#include "core/base/error.hpp"
#include "core/base/mapped_file.hpp"
#include "core/yaml/colon.hpp"
#include "core/yaml/source.hpp"
#include "core/yaml/tree_builder.hpp"

namespace eyelevel::yaml {
namespace {

struct Saying {
  std::string_view theirs;
  std::string_view ours;
  std::string_view suggestion;
};

// yaml-cpp's messages in words for somebody who does not know YAML.
constexpr std::array sayings{
    Saying{"illegal map value", "a colon followed by a space where no key may stand",
           "put a text that holds ': ' in quotes, and indent the keys of one group alike"},
    Saying{"end of map not found", "this line does not belong to the group above it",
           "indent the keys of one group alike, each with its colon"},
    Saying{"end of sequence not found", "this line does not belong to the list above it",
           "begin every entry with '- ' and indent the entries alike"},
    Saying{"end of map flow not found", "a group in braces is not closed", "add the missing , or }"},
    Saying{"end of sequence flow not found", "a list in brackets is not closed", "add the missing , or ]"},
    Saying{"illegal EOF in scalar", "a quotation mark is not closed", "add the closing quotation mark"},
    Saying{"illegal document indicator in scalar", "a quotation mark is not closed", "add the closing quotation mark"},
    Saying{"unknown escape character", "an unknown sign after a backslash in double quotes",
           "write two backslashes, or use single quotes"},
    Saying{"bad character found while scanning hex number", "a wrong number after a backslash in double quotes",
           "write two backslashes, or use single quotes"},
    Saying{"invalid unicode", "a number after a backslash that is no character", "write the character itself"},
    Saying{"unknown token", "a text may not begin with this sign", "put the text in quotes"},
    Saying{"illegal character in scalar", "a sign that may not stand in an unquoted text", "put the text in quotes"},
    Saying{"illegal block entry", "a list entry ('- ') where none may stand", "put it on a line of its own"},
    Saying{"illegal map key", "a key where none may stand", "put it on a line of its own"},
    Saying{"illegal flow end", "a closing bracket without an opening one", "remove it, or put the text in quotes"},
    Saying{"the referenced anchor is not defined", "an alias (*) is not used in these files",
           "write the value out, or put the text in quotes"},
    Saying{"alias not found after *", "an alias (*) is not used in these files",
           "write the value out, or put the text in quotes"},
    Saying{"anchor not found after &", "an anchor (&) is not used in these files",
           "write the value out where it is needed, or quote the text"},
    Saying{"illegal character found while scanning alias", "an alias (*) is not used in these files",
           "write the value out, or put the text in quotes"},
    Saying{"illegal character found while scanning anchor", "an anchor (&) is not used in these files",
           "write the value out where it is needed, or quote the text"},
    Saying{"cannot set zero indentation for a block scalar", "0 after | or >", "leave the 0 out"},
    Saying{"unexpected character in block scalar", "a text after | or > on the same line", "begin it on the next line"},
};

void report(const YAML::Exception& error, const Source& source, Mistakes& mistakes) {
  const auto offset = static_cast<std::size_t>(std::max(error.mark.pos, 0));
  const Mark at = source.mark_of(offset);
  if (std::string_view(error.msg).starts_with("illegal map value")) {
    if (const auto line = line_without_colon_before(source.text(), offset)) {
      const ColonTrouble trouble = colon_trouble(line_at(source.text(), *line));
      mistakes.add(source.mark_of(*line), trouble.message, trouble.suggestion);
      return;
    }
  }
  for (const Saying& saying : sayings) {
    if (!std::string_view(error.msg).starts_with(saying.theirs)) continue;
    mistakes.add(at, std::string(saying.ours), std::string(saying.suggestion));
    return;
  }
  mistakes.add(at, fmt::format("this cannot be read as YAML ({})", error.msg), "look at the line above too");
}

void build(Document& document, std::string_view text, const Limits& limits) {
  const Source source(text);
  if (!source.check_bytes(document.mistakes, limits.mistakes)) return;
  TreeBuilder builder(source, limits, document.mistakes);
  std::istringstream stream{std::string(text)};
  try {
    YAML::Parser parser(stream);
    while (parser.HandleNextDocument(builder)) {
    }
    document.root = builder.take();
  } catch (const Refused&) {
    return;  // the reason is among the mistakes
  } catch (const YAML::Exception& error) {
    report(error, source, document.mistakes);
    return;
  }
  if (document.root.shape == Shape::nothing)
    document.mistakes.add({1, 1}, "the file is empty", "write at least its first key");
}

std::string size_in_words(std::uintmax_t bytes) {
  return bytes < 1'000'000 ? fmt::format("{} bytes", bytes)
                           : fmt::format("{:.1f} MB", static_cast<double>(bytes) / 1e6);
}

}  // namespace

Document load_text(std::string file_name, std::string_view text, const Limits& limits) {
  Document document{file_name, {}, {}, Mistakes(std::move(file_name))};
  if (text.size() > limits.bytes) {
    document.mistakes.add(
        {1, 1},
        fmt::format("the file has {}, at most {} are read", size_in_words(text.size()), size_in_words(limits.bytes)),
        "is this the right file?");
    return document;
  }
  if (text.starts_with("\xEF\xBB\xBF")) text.remove_prefix(3);
  document.source = text;
  build(document, document.source, limits);
  return document;
}

Document load_file(const std::filesystem::path& path, const Limits& limits) {
  const std::string name = path.string();
  Document document{name, {}, {}, Mistakes(name)};
  std::error_code failed;
  const auto status = std::filesystem::status(path, failed);
  if (!std::filesystem::exists(status)) {
    document.mistakes.add({1, 1}, "there is no such file", "look at the spelling of its path");
    return document;
  }
  if (!std::filesystem::is_regular_file(status)) {
    document.mistakes.add({1, 1},
                          std::filesystem::is_directory(status) ? "this is a folder" : "this is no regular file",
                          "name a YAML file");
    return document;
  }
  const std::uintmax_t size = std::filesystem::file_size(path, failed);
  if (!failed && size > limits.bytes) {
    document.mistakes.add(
        {1, 1}, fmt::format("the file has {}, at most {} are read", size_in_words(size), size_in_words(limits.bytes)),
        "is this the right file?");
    return document;
  }
  try {
    const base::MappedFile file(path);
    return load_text(name, file.text(), limits);
  } catch (const base::Error& error) {
    document.mistakes.add({1, 1}, error.record().message, error.record().advice);
    return document;
  }
}

}  // namespace eyelevel::yaml
