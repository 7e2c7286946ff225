// SPDX-License-Identifier: Apache-2.0
// Private to this folder: the strict pass over yaml-cpp's events that builds our nodes. yaml-cpp's marks are byte
// offsets (it counts bytes as columns); Source turns them into lines and characters.
#pragma once

#include <yaml-cpp/eventhandler.h>
#include <yaml-cpp/mark.h>

#include <cstddef>
#include <string>
#include <vector>

#include "core/yaml/load.hpp"
#include "core/yaml/source.hpp"

namespace eyelevel::yaml {

// Thrown (and caught in load.cpp) after a mistake that makes reading on useless was reported.
struct Refused {};

class TreeBuilder : public YAML::EventHandler {
 public:
  TreeBuilder(const Source& source, const Limits& limits, Mistakes& mistakes)
      : source_(source), limits_(limits), mistakes_(mistakes) {}

  Node take() { return std::move(root_); }

  void OnDocumentStart(const YAML::Mark& mark) override;
  void OnDocumentEnd() override {}
  void OnNull(const YAML::Mark& mark, YAML::anchor_t anchor) override;
  void OnAlias(const YAML::Mark& mark, YAML::anchor_t anchor) override;
  void OnScalar(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                const std::string& value) override;
  void OnSequenceStart(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                       YAML::EmitterStyle::value style) override;
  void OnSequenceEnd() override { close(); }
  void OnMapStart(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                  YAML::EmitterStyle::value style) override;
  void OnMapEnd() override { close(); }

 private:
  struct Open {
    Node node;
    bool has_key = false;  // maps: the key is there, its value is awaited
    std::size_t key_offset = 0;
  };

  std::size_t offset_of(const YAML::Mark& mark) const;
  [[noreturn]] void refuse(std::size_t offset, std::string message, std::string suggestion);
  void refuse_extras(std::size_t offset, const std::string& tag, YAML::anchor_t anchor);
  void open(Shape shape, std::size_t offset);
  void close();
  void put(Node node, std::size_t offset);
  void put_key(const Node& node, std::size_t offset);
  void look_for_colon(const Entry& entry);
  bool awaits_key() const;
  void look_for_cut_text(std::size_t offset, const std::string& value);

  const Source& source_;
  const Limits& limits_;
  Mistakes& mistakes_;
  std::vector<Open> open_;
  Node root_;
  int documents_ = 0;
};

}  // namespace eyelevel::yaml
