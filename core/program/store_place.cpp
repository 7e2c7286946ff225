// SPDX-License-Identifier: Apache-2.0
#include "core/program/store_place.hpp"

#include <cstdlib>
#include <filesystem>
#include <system_error>

#include "core/base/error.hpp"

namespace eyelevel::program {

std::filesystem::path usual_state_folder() {
  const auto from = [](const char* name) -> std::filesystem::path {
    const char* value = std::getenv(name);
    return value == nullptr ? "" : value;
  };
  auto state = from("XDG_STATE_HOME");
  if (state.empty() || state.is_relative()) {
    const auto home = from("HOME");
    if (home.empty())
      throw base::Error(base::ErrorCode::bad_input,
                        "neither XDG_STATE_HOME nor HOME is set, so there is no usual place for records",
                        "name one with --store");
    state = home / ".local" / "state";
  }
  return state / "eyelevel";
}

namespace {

std::filesystem::path usual_place() { return usual_state_folder() / "records.db"; }

}  // namespace

std::unique_ptr<record::Store> open_store_to_write(const std::string& given) {
  if (!given.empty()) return record::open_store(given);
  const auto path = usual_place();
  std::error_code error;
  std::filesystem::create_directories(path.parent_path(), error);
  if (error)
    throw base::Error(base::ErrorCode::bad_input, path.parent_path().string() + ": " + error.message(),
                      "make the folder writable, or name another place with --store FILE");
  return record::open_store(path.string());
}

std::unique_ptr<record::Store> open_store_to_read(const std::string& given) {
  if (record::is_database(given)) return record::open_postgres_store(given, record::Create::no);
  const std::filesystem::path path = given.empty() ? usual_place() : std::filesystem::path(given);
  return record::open_file_store(path, {.create = false, .busy_wait_ms = 5000, .size_bytes_max = {}, .vfs = {}});
}

}  // namespace eyelevel::program
