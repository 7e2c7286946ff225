// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/verb/note.hpp"

#include "core/sequence/runner/context.hpp"

namespace eyelevel::sequence {

namespace {

class Note final : public Action {
 public:
  explicit Note(std::string text) : text_(std::move(text)) {}

  task<Result> run(RunContext& context, const Step& step) const override {
    context.tell(event::Noted{step.place, text_});
    co_return std::monostate{};
  }

 private:
  std::string text_;
};

ReadStep read(StepReader& reader) {
  const auto text = reader.text("note");
  if (!text) return {};
  return {std::make_shared<Note>(*text), {}, {}};
}

}  // namespace

void register_note(Verbs& verbs) {
  registers::Declaration note{.name = "note",
                              .about = "a remark into the record",
                              .parameters = {.name = "note", .about = "a remark into the record", .keys = {}},
                              .example = "- note: The disc has a scratch\n",
                              .sentence = "Write down: <note>"};
  note.parameters.keys = {{.name = "note",
                           .required = true,
                           .type = yaml::Type::text,
                           .help = "the remark",
                           .example = "The disc has a scratch"}};
  verbs.add(std::move(note), read);
}

}  // namespace eyelevel::sequence
