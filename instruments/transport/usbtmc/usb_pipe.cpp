// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/usbtmc/usb_pipe.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <list>
#include <utility>
#include <vector>

#include "instruments/transport/usbtmc/detail/usb_threads.hpp"

namespace eyelevel::transport::usbtmc {
namespace {

Moved failed(int code) {
  return {.bytes = 0,
          .trouble = code == LIBUSB_ERROR_NO_DEVICE || code == LIBUSB_ERROR_NOT_FOUND ? Trouble::gone
                     : code == LIBUSB_ERROR_PIPE                                      ? Trouble::stall
                                                                                      : Trouble::other,
          .what = libusb_strerror(code)};
}

Moved gone() { return {.bytes = 0, .trouble = Trouble::gone, .what = "the connection is closed"}; }

// A transfer under way: held by the coroutine and, until it has ended, by libusb's thread.
struct Transfer {
  Transfer(std::shared_ptr<UsbHandle> open, boost::asio::any_io_executor loop)
      : raw(libusb_alloc_transfer(0)),
        handle(std::move(open)),
        finish(std::make_shared<detail::Finish>(std::move(loop))) {
    if (raw == nullptr) throw std::bad_alloc();
  }
  Transfer(const Transfer&) = delete;
  Transfer& operator=(const Transfer&) = delete;
  ~Transfer() { libusb_free_transfer(raw); }

  libusb_transfer* raw;
  std::shared_ptr<UsbHandle> handle;
  std::shared_ptr<detail::Finish> finish;
  std::shared_ptr<Transfer> self;  // while it is under way

  static void LIBUSB_CALL ended(libusb_transfer* raw) {
    auto* const transfer = static_cast<Transfer*>(raw->user_data);
    const auto kept = std::move(transfer->self);
    kept->handle->end_transfer();
    detail::Finish::tell(kept->finish);
  }

  Moved moved() const {
    Moved moved{.bytes = static_cast<std::size_t>(std::max(raw->actual_length, 0)), .trouble = {}, .what = {}};
    switch (raw->status) {
      case LIBUSB_TRANSFER_COMPLETED: break;
      case LIBUSB_TRANSFER_STALL:
        moved.trouble = Trouble::stall;
        moved.what = "halted";
        break;
      case LIBUSB_TRANSFER_NO_DEVICE:
        moved.trouble = Trouble::gone;
        moved.what = "no such device any more";
        break;
      case LIBUSB_TRANSFER_OVERFLOW:
        moved.trouble = Trouble::overflow;
        moved.what = "overflow";
        break;
      case LIBUSB_TRANSFER_CANCELLED: return gone();  // by close()
      case LIBUSB_TRANSFER_TIMED_OUT:
      case LIBUSB_TRANSFER_ERROR:
        moved.trouble = Trouble::other;
        moved.what = "the host controller reports an error";
        break;
    }
    return moved;
  }
};

class UsbPipe final : public Pipe {
 public:
  UsbPipe(std::shared_ptr<Usb> usb, std::shared_ptr<UsbHandle> handle, const Endpoints& endpoints)
      : usb_(std::move(usb)), handle_(std::move(handle)), endpoints_(endpoints) {}
  ~UsbPipe() override { UsbPipe::close(); }

  const Endpoints& endpoints() const override { return endpoints_; }

  task<Moved> bulk_out(std::string_view transfer) override {
    // libusb reads from it only.
    return run(LIBUSB_TRANSFER_TYPE_BULK, endpoints_.bulk_out, const_cast<char*>(transfer.data()), transfer.size());
  }

  task<Moved> bulk_in(std::span<char> into) override {
    return run(LIBUSB_TRANSFER_TYPE_BULK, endpoints_.bulk_in, into.data(), into.size());
  }

  task<Moved> interrupt_in(std::span<char> into) override {
    return run(LIBUSB_TRANSFER_TYPE_INTERRUPT, endpoints_.interrupt_in, into.data(), into.size());
  }

  task<Moved> control(const Setup& setup, std::span<char> into) override {
    std::vector<unsigned char> buffer(LIBUSB_CONTROL_SETUP_SIZE + into.size());
    libusb_fill_control_setup(buffer.data(), setup.request_type, setup.request, setup.value, setup.index,
                              static_cast<std::uint16_t>(into.size()));
    auto moved = co_await run(LIBUSB_TRANSFER_TYPE_CONTROL, 0, reinterpret_cast<char*>(buffer.data()), buffer.size());
    moved.bytes = std::min(moved.bytes, into.size());
    std::copy_n(buffer.begin() + LIBUSB_CONTROL_SETUP_SIZE, moved.bytes, into.begin());
    co_return moved;
  }

  task<Moved> clear_halt(std::uint8_t endpoint) override {
    return blocking([endpoint](libusb_device_handle* handle) { return libusb_clear_halt(handle, endpoint); });
  }

  task<Moved> reset() override {
    return blocking([](libusb_device_handle* handle) { return libusb_reset_device(handle); });
  }

  // The worker closes behind what it was given before; who opens again later comes after that.
  void close() noexcept override {
    if (!handle_) return;
    for (Transfer* transfer : under_way_) libusb_cancel_transfer(transfer->raw);
    boost::asio::post(usb_->threads().worker, [handle = std::move(handle_)] { handle->shut_down(); });
    handle_ = nullptr;
  }

 private:
  task<Moved> run(libusb_transfer_type type, std::uint8_t endpoint, char* bytes, std::size_t size) {
    if (!handle_) co_return gone();
    const auto transfer = std::make_shared<Transfer>(handle_, co_await boost::asio::this_coro::executor);
    libusb_transfer& raw = *transfer->raw;
    raw.dev_handle = handle_->get();
    raw.type = static_cast<unsigned char>(type);
    raw.endpoint = endpoint;
    raw.buffer = reinterpret_cast<unsigned char*>(bytes);
    raw.length = static_cast<int>(size);
    raw.timeout = 0;  // the caller's deadline cancels
    raw.callback = Transfer::ended;
    raw.user_data = transfer.get();
    transfer->self = transfer;
    handle_->begin_transfer();
    if (const int code = libusb_submit_transfer(&raw); code != 0) {
      handle_->end_transfer();
      transfer->self.reset();
      co_return failed(code);
    }
    const UnderWay under_way(*this, *transfer);
    co_await transfer->finish->wait();
    co_return transfer->moved();
  }

  // However the coroutine ends, by its result, by cancellation or with its loop: the buffer is the caller's again.
  class UnderWay {
   public:
    UnderWay(UsbPipe& pipe, Transfer& transfer)
        : pipe_(pipe), transfer_(transfer), place_(pipe.under_way_.insert(pipe.under_way_.end(), &transfer)) {}
    UnderWay(const UnderWay&) = delete;
    UnderWay& operator=(const UnderWay&) = delete;
    ~UnderWay() {
      pipe_.under_way_.erase(place_);
      if (!transfer_.finish->abandon()) return;
      libusb_cancel_transfer(transfer_.raw);
      transfer_.finish->wait_for_other_thread();  // well below a millisecond
    }

   private:
    UsbPipe& pipe_;
    Transfer& transfer_;
    std::list<Transfer*>::iterator place_;
  };

  task<Moved> blocking(std::function<int(libusb_device_handle*)> call) {
    if (!handle_) co_return gone();
    const int code = co_await detail::on_worker<int>(
        usb_->threads().worker, [handle = handle_, call = std::move(call)] { return call(handle->get()); });
    co_return code == 0 ? Moved{} : failed(code);
  }

  std::shared_ptr<Usb> usb_;
  std::shared_ptr<UsbHandle> handle_;
  Endpoints endpoints_;
  std::list<Transfer*> under_way_;
};

}  // namespace

void UsbHandle::begin_transfer() {
  const std::scoped_lock lock(mutex_);
  ++under_way_;
}

void UsbHandle::end_transfer() {
  const std::scoped_lock lock(mutex_);
  --under_way_;
  changed_.notify_all();
}

void UsbHandle::shut_down() {
  {
    std::unique_lock lock(mutex_);
    changed_.wait(lock, [this] { return under_way_ == 0; });
  }
  release();
}

// Nothing can be done about what fails here: the instrument may be gone already.
void UsbHandle::release() {
  if (handle_ == nullptr) return;
  libusb_release_interface(handle_, interface_);
  if (give_back_) libusb_attach_kernel_driver(handle_, interface_);
  libusb_close(handle_);
  handle_ = nullptr;
}

std::shared_ptr<Pipe> usb_pipe(std::shared_ptr<Usb> usb, std::shared_ptr<UsbHandle> handle,
                               const Endpoints& endpoints) {
  return std::make_shared<UsbPipe>(std::move(usb), std::move(handle), endpoints);
}

}  // namespace eyelevel::transport::usbtmc
