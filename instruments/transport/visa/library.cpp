// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/visa/library.hpp"

#include <dlfcn.h>

#include <fmt/format.h>

#include <array>

#include "core/base/error.hpp"

namespace eyelevel::transport::visa {
namespace {

constexpr const char* advice =
    "install the VISA library that came with the GPIB interface, so that the system's loader finds it";

[[noreturn]] void fail(const std::string& file, const std::string& why) {
  throw base::Error(base::ErrorCode::not_found, fmt::format("the VISA library {} cannot be used: {}", file, why),
                    advice);
}

template <class Function>
void find(void* handle, const char* name, Function& into) {
  into = reinterpret_cast<Function>(::dlsym(handle, name));
}

std::string first_missing(void* handle, Functions& f) {
  find(handle, "viOpenDefaultRM", f.open_default_manager);
  find(handle, "viOpen", f.open);
  find(handle, "viClose", f.close);
  find(handle, "viSetAttribute", f.set_attribute);
  find(handle, "viWrite", f.write);
  find(handle, "viRead", f.read);
  find(handle, "viClear", f.clear);
  find(handle, "viAssertTrigger", f.assert_trigger);
  find(handle, "viReadSTB", f.read_status_byte);
  find(handle, "viLock", f.lock);
  find(handle, "viUnlock", f.unlock);
  find(handle, "viStatusDesc", f.describe);
  find(handle, "viEnableEvent", f.enable_event);
  find(handle, "viWaitOnEvent", f.wait_on_event);
  const std::array needed{std::pair{f.open_default_manager != nullptr, "viOpenDefaultRM"},
                          std::pair{f.open != nullptr, "viOpen"},
                          std::pair{f.close != nullptr, "viClose"},
                          std::pair{f.set_attribute != nullptr, "viSetAttribute"},
                          std::pair{f.write != nullptr, "viWrite"},
                          std::pair{f.read != nullptr, "viRead"},
                          std::pair{f.clear != nullptr, "viClear"},
                          std::pair{f.assert_trigger != nullptr, "viAssertTrigger"},
                          std::pair{f.read_status_byte != nullptr, "viReadSTB"},
                          std::pair{f.lock != nullptr, "viLock"},
                          std::pair{f.unlock != nullptr, "viUnlock"},
                          std::pair{f.describe != nullptr, "viStatusDesc"}};
  for (const auto& [there, name] : needed)
    if (!there) return name;
  return {};
}

}  // namespace

Library::Library(const std::string& file) : handle_(::dlopen(file.c_str(), RTLD_NOW | RTLD_LOCAL)) {
  if (handle_ == nullptr) {
    const char* why = ::dlerror();  // NOLINT(concurrency-mt-unsafe): glibc keeps it per thread
    fail(file, why == nullptr ? "it is not there" : why);
  }
  if (const auto missing = first_missing(handle_, functions_); !missing.empty()) {
    ::dlclose(handle_);
    fail(file, fmt::format("it has no function {}", missing));
  }
  if (const Status status = functions_.open_default_manager(&manager_); status < 0) {
    ::dlclose(handle_);
    fail(file, fmt::format("viOpenDefaultRM gives {:#010x}", static_cast<std::uint32_t>(status)));
  }
}

// What is loaded stays loaded: such libraries start threads of their own that nobody can wait for.
Library::~Library() { functions_.close(manager_); }

std::string Library::words_for(Session session, Status status) const {
  std::array<char, 257> text{};
  if (functions_.describe(session, status, text.data()) < 0) text[0] = '\0';
  text.back() = '\0';
  return fmt::format("{}{}{:#010x}", base::legible(text.data()), text[0] == '\0' ? "" : ", ",
                     static_cast<std::uint32_t>(status));
}

}  // namespace eyelevel::transport::visa
