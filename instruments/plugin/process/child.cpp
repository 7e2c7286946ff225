// SPDX-License-Identifier: Apache-2.0
#include "instruments/plugin/process/child.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <poll.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/syscall.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <boost/asio/buffer.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/posix/stream_descriptor.hpp>
#include <boost/asio/read_until.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/asio/write.hpp>
#include <cerrno>
#include <csignal>
#include <cstring>
#include <utility>

#include "core/base/deadline.hpp"
#include "core/base/error.hpp"
#include "instruments/plugin/declare.hpp"

namespace eyelevel::plugin::process {
namespace asio = boost::asio;
using boost::system::error_code;

namespace {

constexpr std::size_t last_words_most = 2000;
// Of standard error between two questions; then nothing more is taken and the process waits for us in vain.
constexpr std::size_t chatter_most = std::size_t{16} << 20U;

[[noreturn]] void cannot_start(const ChildSetting& setting, std::string_view what, int number) {
  base::ErrorRecord record;
  record.code = base::ErrorCode::no_connection;
  record.message = fmt::format("{} cannot be started: {}{}", setting.program.string(), what, std::strerror(number));
  record.advice = number == EACCES    ? "make it executable: chmod u+x"
                  : number == ENOEXEC ? "let a script begin with #! and its interpreter"
                                      : "is everything there that it needs?";
  throw base::Error(std::move(record));
}

// A pair of ends, closed with this object as far as nobody took them.
struct Pipe {
  std::array<int, 2> ends{-1, -1};
  Pipe() = default;
  Pipe(const Pipe&) = delete;
  Pipe& operator=(const Pipe&) = delete;
  ~Pipe() {
    for (const int end : ends)
      if (end >= 0) ::close(end);
  }
  bool open() { return ::pipe2(ends.data(), O_CLOEXEC) == 0; }
  int take(std::size_t which) { return std::exchange(ends[which], -1); }
};

// Between fork and exec in a process that has threads: system calls only (POSIX.1-2017, fork, "async-signal-safe").
// Connections to instruments, which Asio opens without close-on-exec, are none of the plugin's business.
[[noreturn]] void become(const char* program, const char* folder, std::size_t memory, const std::array<int, 4>& ends,
                         int parent) {
  static const char* const environment[] = {"PATH=/usr/local/bin:/usr/bin:/bin", "LANG=C.UTF-8",
                                            "PYTHONDONTWRITEBYTECODE=1", nullptr};
  const rlimit space{memory, memory}, none{0, 0};
  const bool ready = ::setpgid(0, 0) == 0 && ::prctl(PR_SET_PDEATHSIG, SIGKILL) == 0 && ::getppid() == parent &&
                     ::dup2(ends[0], 0) == 0 && ::dup2(ends[1], 1) == 1 && ::dup2(ends[2], 2) == 2 &&
                     ::close_range(3, ~0U, CLOSE_RANGE_CLOEXEC) == 0 && ::chdir(folder) == 0 &&
                     ::setrlimit(RLIMIT_AS, &space) == 0 && ::setrlimit(RLIMIT_CORE, &none) == 0;
  if (ready) {
    sigset_t all;
    ::sigemptyset(&all);
    ::sigprocmask(SIG_SETMASK, &all, nullptr);
    ::signal(SIGPIPE, SIG_DFL);
    ::signal(SIGXFSZ, SIG_DFL);
    const char* const arguments[] = {program, nullptr};
    ::execve(program, const_cast<char* const*>(arguments), const_cast<char* const*>(environment));  // NOLINT: POSIX
  }
  const int number = errno;
  if (::write(ends[3], &number, sizeof number) < 0) ::_exit(126);
  ::_exit(127);
}

}  // namespace

struct Child::Streams {
  explicit Streams(const asio::any_io_executor& executor)
      : in(executor), out(executor), pid(executor), words(std::make_shared<Words>(executor)) {}
  asio::posix::stream_descriptor in, out, pid;
  std::string unread;  // of `out`
  // Standard error, shared with the coroutine that reads it, which ends when it is closed.
  struct Words {
    explicit Words(const asio::any_io_executor& executor) : err(executor) {}
    asio::posix::stream_descriptor err;
    std::string last;
    std::size_t chatter = 0;  // since the last question
  };
  std::shared_ptr<Words> words;
};

namespace {

task<> listen(auto words) {
  std::array<char, 4096> buffer{};
  while (words->chatter < chatter_most) {
    error_code error;
    const std::size_t got =
        co_await words->err.async_read_some(asio::buffer(buffer), asio::redirect_error(asio::use_awaitable, error));
    if (error) co_return;
    words->chatter += got;
    words->last.append(buffer.data(), got);
    if (words->last.size() > last_words_most) words->last.erase(0, words->last.size() - last_words_most);
  }
}

}  // namespace

Child::Child(std::unique_ptr<Streams> streams) : streams_(std::move(streams)) {}

task<std::unique_ptr<Child>> Child::start(ChildSetting setting) {
  const auto executor = co_await asio::this_coro::executor;
  Pipe in, out, err, failed;
  if (!in.open() || !out.open() || !err.open() || !failed.open()) cannot_start(setting, "", errno);
  const std::string program = setting.program.string(), folder = setting.folder.string();
  const int parent = ::getpid();
  const int pid = ::fork();
  if (pid < 0) cannot_start(setting, "", errno);
  if (pid == 0)
    become(program.c_str(), folder.c_str(), setting.memory_bytes,
           {in.ends[0], out.ends[1], err.ends[1], failed.ends[1]}, parent);
  auto child = std::unique_ptr<Child>(new Child(std::make_unique<Streams>(executor)));
  child->pid_ = pid;
  for (Pipe* pipe : {&out, &err, &failed}) ::close(pipe->take(1));
  ::close(in.take(0));
  int number = 0;
  ssize_t got = 0;
  while ((got = ::read(failed.ends[0], &number, sizeof number)) < 0 && errno == EINTR) {
  }
  if (got != 0) {
    child->kill();
    cannot_start(setting, "", got == sizeof number ? number : EIO);
  }
  Streams& streams = *child->streams_;
  streams.in.assign(in.take(1));
  streams.out.assign(out.take(0));
  streams.words->err.assign(err.take(0));
  // glibc 2.36 declares pidfd_open for C alone.
  if (const auto handle = ::syscall(SYS_pidfd_open, pid, 0); handle >= 0) streams.pid.assign(static_cast<int>(handle));
  asio::co_spawn(executor, listen(streams.words), asio::detached);
  co_return child;
}

Child::~Child() { kill(); }

task<> Child::write(std::string_view bytes) {
  streams_->words->chatter = 0;
  error_code error;
  co_await asio::async_write(streams_->in, asio::buffer(bytes), asio::redirect_error(asio::use_awaitable, error));
  if (error == asio::error::operation_aborted) throw boost::system::system_error(error);
  if (error) throw base::Error(base::ErrorCode::connection_lost, "it takes no question any more");
}

task<std::string> Child::read_line(std::size_t most) {
  Streams& streams = *streams_;
  error_code error;
  const std::size_t size = co_await asio::async_read_until(streams.out, asio::dynamic_buffer(streams.unread, most + 1),
                                                           '\n', asio::redirect_error(asio::use_awaitable, error));
  if (error == asio::error::operation_aborted) throw boost::system::system_error(error);
  if (error == asio::error::not_found)
    throw base::Error(base::ErrorCode::bad_answer,
                      fmt::format("it floods: a line of more than {} bytes in place of an answer", most));
  if (error) throw base::Error(base::ErrorCode::connection_lost, "no answer came");
  std::string line = streams.unread.substr(0, size - 1);
  streams.unread.erase(0, size);
  co_return line;
}

bool Child::has_more() {
  if (!streams_->unread.empty()) return true;
  pollfd look{.fd = streams_->out.native_handle(), .events = POLLIN, .revents = 0};
  return ::poll(&look, 1, 0) == 1 && (look.revents & POLLIN) != 0;
}

task<bool> Child::ended_within(base::Timeline& timeline, base::Duration within) {
  error_code ignored;  // it may be closed already
  streams_->in.close(ignored);
  if (pid_ < 0) co_return true;
  if (!streams_->pid.is_open()) co_return false;
  const bool in_time = co_await base::finished_within(
      timeline, within, streams_->pid.async_wait(asio::posix::stream_descriptor::wait_read, asio::use_awaitable));
  if (in_time) reap(false);
  co_return in_time;
}

void Child::reap(bool wait) noexcept {
  if (pid_ < 0) return;
  int got = 0;
  while ((got = ::waitpid(pid_, &status_, wait ? 0 : WNOHANG)) < 0 && errno == EINTR) {
  }
  if (got != 0) pid_ = -1;
}

void Child::kill() noexcept {
  if (pid_ >= 0) {
    ::kill(-pid_, SIGKILL);
    ::kill(pid_, SIGKILL);  // in case it had no group of its own yet
    reap(true);
  }
  error_code ignored;  // closing what is closed
  for (auto* stream : {&streams_->in, &streams_->out, &streams_->words->err, &streams_->pid}) stream->close(ignored);
}

std::string Child::how_it_ended() const {
  if (pid_ >= 0) return {};
  if (WIFSIGNALED(status_)) return fmt::format("ended by signal {}", WTERMSIG(status_));
  return fmt::format("ended with status {}", WEXITSTATUS(status_));
}

std::string Child::last_words() const {
  std::string text = streams_->words->last;
  while (!text.empty() && text.back() == '\n') text.pop_back();
  const std::size_t begin = text.size() > 300 ? text.size() - 300 : 0;
  return one_line(std::string_view(text).substr(begin), 300);
}

}  // namespace eyelevel::plugin::process
