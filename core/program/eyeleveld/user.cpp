// SPDX-License-Identifier: Apache-2.0
#include "core/program/eyeleveld/user.hpp"

#include <fmt/format.h>

#include <boost/asio/io_context.hpp>
#include <memory>
#include <string>

#include "core/base/error.hpp"
#include "core/program/eyelevel/command.hpp"
#include "core/program/eyeleveld/password.hpp"
#include "core/program/eyeleveld/state_folder.hpp"
#include "core/program/output.hpp"
#include "core/service/access/access.hpp"
#include "core/service/http/problem.hpp"

namespace eyelevel::program {
namespace {

struct Options {
  std::string state;
  std::string name;
  std::string rights = "look, operate";
};

// Under the lock of the state folder: a daemon that runs holds its users in memory.
int with_access(const Options& options, const std::function<task<>(service::Access&)>& work) {
  const StateFolder state(options.state);
  boost::asio::io_context loop(1);
  const auto timeline = base::wall_timeline(loop);
  service::Ledger ledger(state.access());
  record::StoreThread ledger_thread;
  {
    service::Access access(*timeline, ledger, ledger_thread);
    try {
      timeline->run(work(access));
    } catch (const service::http::Problem& problem) {
      throw base::Error(base::ErrorCode::bad_input, problem.what(), problem.advice());
    }
  }
  ledger_thread.settle();
  return all_met;
}

int add(const Options& options) {
  const auto rights = service::Rights::read(options.rights);
  if (!rights || rights->is_empty())
    throw base::Error(base::ErrorCode::bad_input,
                      fmt::format("--rights {}: not all of these are rights", options.rights),
                      fmt::format("some of {}", service::Rights::all().text()));
  const auto password = ask_password(options.name);
  const auto added = [&](service::Access& access) { return access.add_user(options.name, *rights, password); };
  const int status = with_access(options, added);
  put(stdout, fmt::format("{} may {}\n", options.name, rights->text()));
  return status;
}

int change_password(const Options& options) {
  const auto password = ask_password(options.name);
  return with_access(options, [&](service::Access& access) { return access.set_password(options.name, password, ""); });
}

task<> print_users(service::Access& access) {
  for (const auto& user : access.users()) put(stdout, fmt::format("{:<20} {}\n", user.name, user.rights.text()));
  co_return;
}

}  // namespace

void add_user_command(CLI::App& app, std::function<int()>& chosen) {
  const auto options = std::make_shared<Options>();
  auto* user = app.add_subcommand("user", "users of a daemon that does not run; a running one has them under Settings");
  user->require_subcommand(1);
  const auto command = [&](const char* name, const char* about, const std::function<int(const Options&)>& work) {
    auto* one = user->add_subcommand(name, about);
    one->add_option("--state", options->state, "the state folder of the daemon; usual: $XDG_STATE_HOME/eyelevel");
    one->callback([&chosen, options, work] { chosen = [options, work] { return work(*options); }; });
    return one;
  };
  const auto named = [&](CLI::App* one) { one->add_option("NAME", options->name, "the name of the user")->required(); };
  auto* adding = command("add", "add one; the password is asked for, or the first line of standard input", add);
  named(adding);
  adding->add_option("--rights", options->rights, "some of look, operate, change, administer (usual: look, operate)");
  named(command("password", "give one a new password, which ends all sessions of that user", change_password));
  named(command("remove", "remove one, with sessions and tokens", [](const Options& given) {
    return with_access(given, [&](service::Access& access) { return access.remove_user(given.name); });
  }));
  command("list", "list them with their rights",
          [](const Options& given) { return with_access(given, [](auto& access) { return print_users(access); }); });
}

}  // namespace eyelevel::program
