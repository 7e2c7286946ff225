// SPDX-License-Identifier: Apache-2.0
#include "core/program/describe.hpp"

#include <fmt/format.h>

#include <vector>

#include "core/base/error.hpp"
#include "core/program/output.hpp"

namespace eyelevel::program {
namespace {

// What troff would take for its own: a backslash, a hyphen that it would break at or replace, a dot or quote that
// begins a line (groff_char(7)).
std::string roff(std::string_view text) {
  std::string out;
  bool begins_line = true;
  for (const char c : text) {
    if (begins_line && (c == '.' || c == '\'')) out += "\\&";
    if (c == '\\')
      out += "\\e";
    else if (c == '-')
      out += "\\-";
    else
      out += c;
    begins_line = c == '\n';
  }
  return out;
}

std::vector<const CLI::Option*> shown_options(const CLI::App& app) {
  std::vector<const CLI::Option*> list;
  for (const auto* option : app.get_options())
    if (!option->get_group().empty()) list.push_back(option);
  return list;
}

std::vector<const CLI::App*> commands(const CLI::App& app) {
  return app.get_subcommands([](const CLI::App*) { return true; });
}

std::string options_part(const CLI::App& app) {
  std::string text;
  for (const auto* option : shown_options(app)) {
    const auto name = option->get_positional() ? option->get_name(true, false) : option->get_name(false, true);
    text += ".TP\n.B " + roff(name);
    if (!option->get_positional() && !option->get_type_name().empty() && option->get_type_size() != 0)
      text += " \\fI" + roff(option->get_type_name()) + "\\fP";
    text += "\n" + roff(option->get_description()) + "\n";
  }
  return text;
}

void add_command(std::string& text, const CLI::App& command, const std::string& before) {
  const auto name = before + command.get_name();
  text += ".SS " + roff(name) + "\n" + roff(command.get_description()) + "\n" + options_part(command);
  for (const auto* inner : commands(command)) add_command(text, *inner, name + " ");
}

// One line of the completion's table: the words so far, then what may follow.
void add_words(std::string& text, const CLI::App& app, const std::string& path) {
  std::string words;
  for (const auto* inner : commands(app)) words += inner->get_name() + " ";
  for (const auto* option : shown_options(app))
    for (const auto& name : option->get_lnames()) words += "--" + name + " ";
  if (!words.empty()) words.pop_back();
  text += fmt::format("    '{}') words='{}' ;;\n", path, words);
  for (const auto* inner : commands(app))
    add_words(text, *inner, path.empty() ? inner->get_name() : path + " " + inner->get_name());
}

void add_commands(std::string& text, const CLI::App& app, const std::string& path) {
  for (const auto* inner : commands(app)) {
    const auto name = path.empty() ? inner->get_name() : path + " " + inner->get_name();
    text += (text.empty() ? "'" : "|'") + name + "'";
    add_commands(text, *inner, name);
  }
}

}  // namespace

std::string man_page(const CLI::App& app, const std::string& version, const std::string& day) {
  const auto& name = app.get_name();
  const auto description = app.get_description();
  const auto colon = description.find(": ");
  const auto about = colon == std::string::npos ? description : description.substr(colon + 2);
  std::string text = fmt::format(".\\\" Made by {} --describe man; not written by hand.\n.TH {} 1 {} \"{}\"\n", name,
                                 name == "eyeleveld" ? "EYELEVELD" : "EYELEVEL", day, version);
  text += ".SH NAME\n" + name + " \\- " + roff(about) + "\n.SH SYNOPSIS\n.B " + name +
          (commands(app).empty() ? "\n[options]\n" : "\n[options] [command] ...\n");
  text += ".SH OPTIONS\n" + options_part(app);
  if (!commands(app).empty()) {
    text += ".SH COMMANDS\n";
    for (const auto* command : commands(app)) add_command(text, *command, "");
  }
  if (!app.get_footer().empty()) text += ".SH NOTES\n.nf\n" + roff(app.get_footer()) + "\n.fi\n";
  return text;
}

std::string bash_completion(const CLI::App& app) {
  const auto& name = app.get_name();
  std::string table;
  add_words(table, app, "");
  std::string paths;
  add_commands(paths, app, "");
  const auto step = paths.empty() ? std::string()
                                  : fmt::format(
                                        "  for ((i = 1; i < COMP_CWORD; ++i)); do\n"
                                        "    case \"${{path:+$path }}${{COMP_WORDS[i]}}\" in\n"
                                        "      {}) path=\"${{path:+$path }}${{COMP_WORDS[i]}}\" ;;\n"
                                        "    esac\n"
                                        "  done\n",
                                        paths);
  return fmt::format(
      "# Made by {0} --describe bash; not written by hand.\n"
      "_{0}() {{\n"
      "  local current=${{COMP_WORDS[COMP_CWORD]}} path='' words='' i\n"
      "{1}"
      "  case \"$path\" in\n"
      "{2}"
      "  esac\n"
      "  mapfile -t COMPREPLY < <(compgen -W \"$words\" -- \"$current\")\n"
      "}}\n"
      "complete -o default -F _{0} {0}\n",
      name, step, table);
}

void add_describe(CLI::App& app, std::string& what) { app.add_option("--describe", what)->group(""); }

void print_description(const CLI::App& app, const std::string& what) {
  if (what == "man")
    put(stdout, man_page(app, app.get_name() + " " EYELEVEL_VERSION, EYELEVEL_DAY));
  else if (what == "bash")
    put(stdout, bash_completion(app));
  else
    throw base::Error(base::ErrorCode::bad_input, "--describe " + what + ": there is no such form", "man or bash");
}

}  // namespace eyelevel::program
