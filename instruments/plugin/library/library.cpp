// SPDX-License-Identifier: Apache-2.0
#include "instruments/plugin/library/library.hpp"

#include <dlfcn.h>
#include <fmt/format.h>

#include <exception>
#include <utility>

#include "core/base/error.hpp"
#include "instruments/plugin/declare.hpp"
#include "instruments/plugin/plugin.hpp"

namespace eyelevel::plugin::library {

namespace {

using Entry = const eyelevel_plugin* (*)(uint32_t);

// What loading came to; owned by the thread that may still be at it.
struct Loading {
  const eyelevel_plugin* plugin = nullptr;
  std::string failure;
};

std::string loader_says() {
  const char* text = ::dlerror();  // NOLINT(concurrency-mt-unsafe): per thread in glibc
  return one_line(text ? text : "unknown", 400);
}

void load(const std::string& path, Loading& loading) {
  void* handle = ::dlopen(path.c_str(), RTLD_NOW | RTLD_LOCAL);
  if (!handle) {
    loading.failure = "it cannot be loaded: " + loader_says();
    return;
  }
  const auto entry = reinterpret_cast<Entry>(::dlsym(handle, "eyelevel_plugin_entry"));  // NOLINT: POSIX dlsym
  if (!entry) {
    loading.failure = "it has no function eyelevel_plugin_entry: " + loader_says();
    return;
  }
  try {
    loading.plugin = entry(EYELEVEL_PLUGIN_ABI);
  } catch (...) {
    loading.failure = "it let an exception out of eyelevel_plugin_entry";
  }
}

[[noreturn]] void fail(base::ErrorCode code, const std::string& from, std::string message, std::string advice) {
  base::ErrorRecord record;
  record.code = code;
  record.where = from;
  record.message = std::move(message);
  record.advice = std::move(advice);
  throw base::Error(std::move(record));
}

// A call under way, owned by the thread that may never come back from it.
struct Call {
  CQuestion question;
  decltype(eyelevel_part::call) function;
  eyelevel_answer answer = empty_answer();
  int32_t outcome = EYELEVEL_FAILED;
  bool has_thrown = false;

  void make() {
    try {
      outcome = function(&question.get(), &answer);
    } catch (...) {
      has_thrown = true;
    }
  }
};

}  // namespace

Library::Library(Manifest manifest) : manifest_(std::move(manifest)), from_(from_of(manifest_)) {
  const auto loading = std::make_shared<Loading>();
  const std::string path = manifest_.program.string();
  if (!hand_->done_blocking(manifest_.starts_within, [path, loading] { load(path, *loading); }))
    fail(base::ErrorCode::time_out, from_, "it hangs while it is loaded", "mend the plugin");
  if (!loading->failure.empty())
    fail(base::ErrorCode::bad_input, from_, loading->failure, "build it as a shared library against eyelevel_plugin.h");
  parts_ = parts_of(loading->plugin, from_);
}

task<registers::Answer> Library::ask(const PartFound& part, registers::Question question, base::Timeline& caller,
                                     base::Duration within) {
  const base::Duration limit = std::min(within, manifest_.answers_within);
  const auto call = std::shared_ptr<Call>(new Call{CQuestion(std::move(question), limit), part.call});
  if (!co_await hand_->done(caller, limit, [call] { call->make(); }))
    fail(base::ErrorCode::time_out, from_, "no answer in time: it hangs, and is not asked again until it returns",
         "try the plugin by itself: eyelevel plugins --try " + manifest_.folder.string());
  if (call->has_thrown)
    fail(base::ErrorCode::bad_answer, from_, "it let an exception out, which the border forbids", "mend the plugin");
  co_return answer_of(call->answer, call->outcome, from_);
}

}  // namespace eyelevel::plugin::library
