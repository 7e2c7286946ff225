// SPDX-License-Identifier: Apache-2.0
// What is read and every way in which a file is refused, the messages in full.
#include "core/yaml/load.hpp"
#include "tests/support/mistakes.hpp"

#include <unistd.h>
#include <catch2/catch.hpp>

#include <filesystem>
#include <fstream>
#include <string>

using namespace eyelevel;

namespace {

std::string said(const yaml::Document& document) { return test::printed(document.mistakes); }

std::string said(std::string_view text) { return said(yaml::load_text("f.yaml", text)); }

class TemporaryFile {
 public:
  explicit TemporaryFile(const std::string& name) {
    folder_ = std::filesystem::temp_directory_path() / ("eyelevel-load-" + std::to_string(::getpid()));
    std::filesystem::create_directories(folder_);
    path_ = folder_ / name;
  }
  ~TemporaryFile() { std::filesystem::remove_all(folder_); }
  const std::filesystem::path& path() const { return path_; }
  const std::filesystem::path& folder() const { return folder_; }

 private:
  std::filesystem::path folder_;
  std::filesystem::path path_;
};

}  // namespace

TEST_CASE("load: every value stays the text that was written, and knows its place", "[yaml]") {
  const auto document = yaml::load_text("f.yaml",
                                        "time: 1:30\nserial: 00417\nanswer: NO\nswitch: on\nnothing: ~\nnull: null\n"
                                        "list:\n  - \"a # b\"\n  - 'c'\nwords: two\n  lines\nblock: |\n  x # y\n");
  REQUIRE(said(document).empty());
  const yaml::Node& root = document.root;
  CHECK(root.find("time")->text == "1:30");
  CHECK(root.find("serial")->text == "00417");
  CHECK(root.find("answer")->text == "NO");
  CHECK(root.find("switch")->text == "on");
  CHECK(root.find("nothing")->text == "~");
  CHECK(root.find("null")->text == "null");
  CHECK(root.find("list")->items[0].text == "a # b");
  CHECK_FALSE(root.find("list")->items[0].is_plain);
  CHECK(root.find("list")->items[1].mark == yaml::Mark{9, 5});
  CHECK(root.find("words")->text == "two lines");
  CHECK(root.find("block")->text == "x # y\n");
  CHECK(root.find("serial")->mark == yaml::Mark{2, 9});
  CHECK(root.entries[1].key_mark == yaml::Mark{2, 1});
  CHECK(root.find("serial")->is_plain);
}

TEST_CASE("load: a key without a value has none, wherever the next one stands", "[yaml]") {
  const auto document = yaml::load_text("f.yaml", "a:\nnull: 1\nb: {c: , d: 1}\nlist:\n  -\n  - x\n");
  REQUIRE(said(document).empty());
  CHECK(document.root.find("a")->shape == yaml::Shape::nothing);
  CHECK(document.root.find("a")->mark == yaml::Mark{1, 1});
  CHECK(document.root.find("null")->text == "1");
  CHECK(document.root.find("b")->find("c")->shape == yaml::Shape::nothing);
  CHECK(document.root.find("list")->items[0].shape == yaml::Shape::nothing);
}

TEST_CASE("load: columns count characters, so a sign before does not shift them", "[yaml]") {
  const auto document = yaml::load_text("f.yaml", "limits: {a: ± 5 %, b: 1}\n");
  REQUIRE(said(document).empty());
  CHECK(document.root.find("limits")->find("b")->mark == yaml::Mark{1, 23});
}

TEST_CASE("load: a byte-order mark and lines that end in CR LF are harmless", "[yaml]") {
  const auto document = yaml::load_text("f.yaml",
                                        "\xEF\xBB\xBF"
                                        "a: 1\r\nb: two words\r\n");
  REQUIRE(said(document).empty());
  CHECK(document.root.find("a")->text == "1");
  CHECK(document.root.find("b")->text == "two words");
  CHECK(document.root.entries[1].key_mark == yaml::Mark{2, 1});
}

TEST_CASE("load: a text that a # would cut is an error with the quoted form", "[yaml]") {
  CHECK(said("prompt: Insert disc #2\n") ==
        "f.yaml:1:21: '#2' would be cut off: # after a space begins a comment; put the text in quotes: \"Insert disc "
        "#2\"");
  CHECK(said("- Insert disc #2 and wait\n- b\n") ==
        "f.yaml:1:15: '#2 and wait' would be cut off: # after a space begins a comment; put the text in quotes: "
        "\"Insert disc #2 and wait\"");
  CHECK(said("a: {b: disc #2\n  }\n") ==
        "f.yaml:1:13: '#2' would be cut off: # after a space begins a comment; put the text in quotes: \"disc #2\"");
  CHECK(said("a: first\n  second #2\n") ==
        "f.yaml:2:10: '#2' would be cut off: # after a space begins a comment; put the text in quotes: \"first second "
        "#2\"");
  CHECK(said("a: null #2\n") ==
        "f.yaml:1:9: '#2' would be cut off: # after a space begins a comment; put the text in quotes: \"null #2\"");
}

TEST_CASE("load: one space before a comment is a warning, two spaces are how it is written", "[yaml]") {
  CHECK(said("a: Insert disc # 2\n") ==
        "f.yaml:1:16: warning: '# 2' is taken as a comment; put two spaces before a comment, or the text in quotes");
  CHECK(said("a: 45 s  # time to settle\nb: 1   #2\n# whole line\nc: disc#2\nd: \"x\" # y\ne: [1, 2] # z\nf: # g\n  h: "
             "1\n")
            .empty());
}

TEST_CASE("load: equal keys are refused, not the last one kept", "[yaml]") {
  CHECK(said("a: 1\nb:\n  within: 5 s\n  x: 1\n  within: 6 s\na: 2\n") ==
        "f.yaml:5:3: the key 'within' stands here a second time, first in line 3; keep one of them\n"
        "f.yaml:6:1: the key 'a' stands here a second time, first in line 1; keep one of them");
}

TEST_CASE("load: anchors, aliases and tags are refused", "[yaml]") {
  CHECK(said("a: &x 1\n") ==
        "f.yaml:1:4: an anchor (&) is not used in these files; write the value out where it is needed, or quote the "
        "text");
  CHECK(said("a: *x\n") ==
        "f.yaml:1:4: an alias (*) is not used in these files; write the value out, or put the text in quotes");
  CHECK(said("ask: *IDN?\n") ==
        "f.yaml:1:6: an alias (*) is not used in these files; write the value out, or put the text in quotes");
  CHECK(said("a: !!int 1\n") ==
        "f.yaml:1:4: a tag (tag:yaml.org,2002:int) is not used in these files; leave it out: every value is a text");
}

TEST_CASE("load: an alias bomb is refused at its first anchor, at once", "[yaml]") {
  std::string bomb = "a: &a [x, x, x, x, x, x, x, x, x]\n";
  for (char c = 'b'; c <= 'z'; ++c) {
    bomb += std::string(1, c) + ": &" + c + " [";
    for (int i = 0; i < 9; ++i) bomb += std::string(i > 0 ? ", " : "") + "*" + static_cast<char>(c - 1);
    bomb += "]\n";
  }
  CHECK(said(bomb) ==
        "f.yaml:1:4: an anchor (&) is not used in these files; write the value out where it is needed, or quote the "
        "text");
}

TEST_CASE("load: a second document is refused", "[yaml]") {
  CHECK(said("---\na: 1\n").empty());
  CHECK(said("a: 1\n---\nb: 2\n") == "f.yaml:2:1: a second document begins here (---); put it into a file of its own");
}

TEST_CASE("load: an empty file and one of comments only are empty", "[yaml]") {
  CHECK(said("") == "f.yaml:1:1: the file is empty; write at least its first key");
  CHECK(said("# only\n\n") == "f.yaml:1:1: the file is empty; write at least its first key");
  CHECK(said("---\n") == "f.yaml:1:1: the file is empty; write at least its first key");
}

TEST_CASE("load: deep nesting is refused, also when it would take long", "[yaml]") {
  const std::string message = ": nested more than 32 levels deep; put the inner steps into a part of their own";
  CHECK(said(std::string(33, '[') + std::string(33, ']')) == "f.yaml:1:33" + message);
  CHECK(said(std::string(32, '[') + std::string(32, ']')).empty());
  std::string block;
  for (int i = 0; i < 40; ++i) block += std::string(static_cast<std::size_t>(i) * 2, ' ') + "a:\n";
  CHECK(said(block) == "f.yaml:33:65" + message);
}

TEST_CASE("load: a megabyte of opening signs is refused at once", "[yaml]") {
  // The time limit of the test stands against quadratic behaviour: all of these together take less than a second.
  for (const std::string sign : {"[", "{", "- ", "? ", "a: ", "\"", "[a: ", "!", "&a ", "*a ", "|\n", "{a, "}) {
    std::string text;
    while (text.size() < 1'000'000) text += sign;
    INFO("sign " << sign);
    CHECK_FALSE(yaml::load_text("f.yaml", text).mistakes.fine());
  }
}

TEST_CASE("load: a file beyond the limit is refused before it is read", "[yaml]") {
  const TemporaryFile file("big.yaml");
  std::ofstream(file.path()) << "a: 1\n";
  std::filesystem::resize_file(file.path(), 100'000'000);  // sparse: nothing is written
  CHECK(said(yaml::load_file(file.path())) ==
        file.path().string() + ":1:1: the file has 100.0 MB, at most 1.0 MB are read; is this the right file?");
  yaml::Limits small;
  small.bytes = 3;
  CHECK(said(yaml::load_text("f.yaml", "a: 1\n", small)) ==
        "f.yaml:1:1: the file has 5 bytes, at most 3 bytes are read; is this the right file?");
}

TEST_CASE("load: a file that is not there, or no file, is said so", "[yaml]") {
  const TemporaryFile file("none.yaml");
  CHECK(said(yaml::load_file(file.path())) ==
        file.path().string() + ":1:1: there is no such file; look at the spelling of its path");
  CHECK(said(yaml::load_file(file.folder())) == file.folder().string() + ":1:1: this is a folder; name a YAML file");
}

TEST_CASE("load: what YAML cannot read is said in plain words", "[yaml]") {
  CHECK(said("prompt: Now: start\n") ==
        "f.yaml:1:12: a colon followed by a space where no key may stand; put a text that holds ': ' in quotes, and "
        "indent "
        "the keys of one group alike");
  CHECK(said("a: 1\n  b: 2\n") ==
        "f.yaml:2:4: a colon followed by a space where no key may stand; put a text that holds ': ' in quotes, and "
        "indent "
        "the keys of one group alike");
  CHECK(said("a: 1\nwithin 5 s\n") == "f.yaml:2:1: 'within 5 s' has no colon; write a key, a colon and its value");
  CHECK(said("- a\nb: 1\n") ==
        "f.yaml:2:1: this line does not belong to what stands above it; begin every entry of a list with '- ', every "
        "key with its name and a colon, and indent them alike");
  CHECK(said("a: \"x\" y\n") ==
        "f.yaml:1:8: this line does not belong to the group above it; indent the keys of one group alike, each with "
        "its colon");
  CHECK(said("a: 1\nwithin 5 s\nb: 2\n") ==
        "f.yaml:2:1: 'within 5 s' has no colon; write a key, a colon and its value");
  CHECK(said("- prompt Insert disc\n  within: 10 min\n") ==
        "f.yaml:1:3: 'prompt Insert disc' has no colon; write a key, a colon and its value");
  CHECK(said("a: 1\nwithin:5 s\n") == "f.yaml:2:1: no space behind the colon in 'within:5 s'; write within: 5 s");
  CHECK(said("a: 1\nwithin:5 s\nb: 2\n") == "f.yaml:2:1: no space behind the colon in 'within:5 s'; write within: 5 s");
  CHECK(said("a: {b:1}\n") == "f.yaml:1:5: no space behind the colon in 'b:1'; write b: 1");
  CHECK(said("a: {b: 1\nc: 2\n") == "f.yaml:2:2: a group in braces is not closed; add the missing , or }");
  CHECK(said("a: [1, 2\n") == "f.yaml:2:1: a list in brackets is not closed; add the missing , or ]");
  CHECK(said("a: \"open\nb: 1\n") == "f.yaml:1:4: a quotation mark is not closed; add the closing quotation mark");
  CHECK(said("a: 'it''s open\n") == "f.yaml:1:4: a quotation mark is not closed; add the closing quotation mark");
  CHECK(said("a: \"C:\\path\"\n") ==
        "f.yaml:1:9: an unknown sign after a backslash in double quotes; write two backslashes, or use single quotes");
  CHECK(said("a: @home\n") == "f.yaml:1:4: a text may not begin with this sign; put the text in quotes");
  CHECK(said("a: ]\n") == "f.yaml:1:4: a closing bracket without an opening one; remove it, or put the text in quotes");
  CHECK(said("a: - b\n") == "f.yaml:1:4: a list entry ('- ') where none may stand; put it on a line of its own");
  CHECK(said("? [a]\n: b\n") == "f.yaml:1:3: a key must be a text; write the key as words before the colon");
  CHECK(said(": b\n") == "f.yaml:1:1: a key is missing before the colon; write the key as words before the colon");
}
