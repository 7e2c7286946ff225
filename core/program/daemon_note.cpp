// SPDX-License-Identifier: Apache-2.0
#include "core/program/daemon_note.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <boost/json.hpp>
#include <cerrno>
#include <cstdlib>
#include <set>
#include <system_error>

#include "core/base/error.hpp"
#include "core/base/mapped_file.hpp"
#include "core/program/output.hpp"
#include "core/program/store_place.hpp"
#include "core/record/journal/json_text.hpp"
#include "instruments/transport/resource_name.hpp"

namespace eyelevel::program {
namespace {

namespace fs = std::filesystem;
namespace json = boost::json;

constexpr const char* folder_of_service = "/run/eyelevel";  // the unit's RuntimeDirectory

// systemd.exec(5): RUNTIME_DIRECTORY holds the paths with colons between.
fs::path own_folder() {
  const char* given = std::getenv("RUNTIME_DIRECTORY");
  if (given == nullptr || *given == '\0') return usual_state_folder() / "daemons";
  const std::string all = given;
  return all.substr(0, all.find(':'));
}

// What is no resource name, of a plugin for example, is compared as it stands.
std::string canonical(const std::string& resource) {
  try {
    return transport::parse_resource_name(resource).canonical();
  } catch (const base::Error&) {
    return resource;
  }
}

json::object to_json(const DaemonNote& note) {
  json::array benches;
  for (const auto& bench : note.benches)
    benches.push_back(json::object{{"name", bench.name}, {"resources", json::value_from(bench.resources)}});
  return {{"version", 1},
          {"url", note.url},
          {"fingerprint", note.fingerprint},
          {"sequences", note.sequences},
          {"models", note.models},
          {"simulated", note.is_simulated},
          {"benches", std::move(benches)}};
}

// Throws what Boost.JSON throws at a field that is missing.
DaemonNote from_json(const json::value& value) {
  const auto text = [](const json::value& in, const char* key) { return json::value_to<std::string>(in.at(key)); };
  DaemonNote note{.url = text(value, "url"),
                  .fingerprint = text(value, "fingerprint"),
                  .sequences = text(value, "sequences"),
                  .models = text(value, "models"),
                  .is_simulated = value.at("simulated").as_bool(),
                  .benches = {}};
  for (const auto& bench : value.at("benches").as_array())
    note.benches.push_back({text(bench, "name"), json::value_to<std::vector<std::string>>(bench.at("resources"))});
  return note;
}

// A file that is held locked, whole before it has its name.
int write_locked(const fs::path& path, const std::string& text) {
  const auto beside = path.string() + ".new";
  const int file = ::open(beside.c_str(), O_RDWR | O_CREAT | O_TRUNC | O_CLOEXEC, 0644);
  const bool is_written = file >= 0 && ::fchmod(file, 0644) == 0 && ::flock(file, LOCK_EX | LOCK_NB) == 0 &&
                          ::write(file, text.data(), text.size()) == static_cast<ssize_t>(text.size()) &&
                          ::rename(beside.c_str(), path.c_str()) == 0;
  if (is_written) return file;
  const int error = errno;
  if (file >= 0) ::close(file);
  throw std::system_error(error, std::generic_category(), path.string());
}

// Whether a daemon holds it. The note of a dead one is taken away.
bool is_alive(const fs::path& path) {
  const int file = ::open(path.c_str(), O_RDONLY | O_CLOEXEC);
  if (file < 0) return false;
  const bool is_free = ::flock(file, LOCK_SH | LOCK_NB) == 0;
  if (is_free) ::unlink(path.c_str());  // may be another user's, who takes it away
  ::close(file);
  return !is_free;
}

void add_notes_of(const fs::path& folder, std::vector<DaemonNote>& notes) {
  std::error_code none;
  for (const auto& entry : fs::directory_iterator(folder, none)) {
    if (entry.path().extension() != ".json" || !is_alive(entry.path())) continue;
    try {
      const base::MappedFile file(entry.path());
      notes.push_back(from_json(record::parse_json(file.text(), entry.path().string())));
    } catch (const std::exception& error) {
      put(stderr, fmt::format("eyelevel: the note of a daemon in {} cannot be read: {}\n", entry.path().string(),
                              error.what()));
    }
  }
}

}  // namespace

NotedBench noted(const bench::BenchFile& bench) {
  NotedBench noted{bench.name, {}};
  for (const auto& entry : bench.instruments) noted.resources.push_back(canonical(entry.resource));
  return noted;
}

OwnDaemonNote::~OwnDaemonNote() {
  if (file_ < 0) return;
  ::unlink(path_.c_str());
  ::close(file_);
}

void OwnDaemonNote::put(const DaemonNote& note) {
  try {
    if (path_.empty()) {
      const auto folder = own_folder();
      fs::create_directories(folder);
      path_ = folder / fmt::format("{}.json", ::getpid());
    }
    const int fresh = write_locked(path_, record::text_of(to_json(note)));
    if (file_ >= 0) ::close(file_);
    file_ = fresh;
  } catch (const std::exception& error) {
    program::put(
        stderr, fmt::format("eyeleveld: no note is left for the command line, which does without: {}\n", error.what()));
  }
}

std::vector<DaemonNote> running_daemons() {
  std::vector<DaemonNote> notes;
  std::set<fs::path> folders = {folder_of_service};
  try {
    folders.insert(own_folder());
  } catch (const base::Error&) {
    // Nothing says where it would be, so no daemon of this user has left anything there.
  }
  for (const auto& folder : folders) add_notes_of(folder, notes);
  return notes;
}

}  // namespace eyelevel::program
