// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/usbtmc/usb.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <fstream>
#include <iterator>
#include <optional>
#include <utility>

#include "instruments/transport/error.hpp"
#include "instruments/transport/usbtmc/detail/usb_threads.hpp"
#include "instruments/transport/usbtmc/usb_pipe.hpp"

namespace eyelevel::transport::usbtmc {
namespace {

constexpr std::uint8_t application_class = 0xFE;  // USBTMC Table 43
constexpr std::uint8_t usbtmc_subclass = 0x03;
constexpr std::uint8_t usb488_protocol = 0x01;  // Table 44
constexpr timeval event_pause{.tv_sec = 60, .tv_usec = 0};

struct DeviceList {
  explicit DeviceList(libusb_context* context) : count(libusb_get_device_list(context, &devices)) {}
  DeviceList(const DeviceList&) = delete;
  DeviceList& operator=(const DeviceList&) = delete;
  ~DeviceList() {
    if (count >= 0) libusb_free_device_list(devices, 1);
  }
  libusb_device** devices = nullptr;
  ssize_t count;
};

struct CloseHandle {
  void operator()(libusb_device_handle* handle) const { libusb_close(handle); }
};
using OpenHandle = std::unique_ptr<libusb_device_handle, CloseHandle>;

std::string same_case(std::string_view text) {
  std::string out(text);
  for (char& c : out) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  return out;
}

std::string place_of(libusb_device* device) {
  std::array<std::uint8_t, 8> ports{};
  const int count = libusb_get_port_numbers(device, ports.data(), ports.size());
  std::string place = std::to_string(libusb_get_bus_number(device));
  for (int i = 0; i < count; ++i)
    place += fmt::format("{}{}", i == 0 ? '-' : '.', ports.at(static_cast<std::size_t>(i)));
  return place;
}

std::string node_of(libusb_device* device) {
  return fmt::format("/dev/bus/usb/{:03}/{:03}", libusb_get_bus_number(device), libusb_get_device_address(device));
}

// USBTMC interfaces of the active configuration with their endpoints.
std::vector<Endpoints> interfaces_of(libusb_device* device) {
  std::vector<Endpoints> found;
  libusb_config_descriptor* config = nullptr;
  if (libusb_get_active_config_descriptor(device, &config) != 0) return found;
  const std::unique_ptr<libusb_config_descriptor, decltype(&libusb_free_config_descriptor)> kept(
      config, &libusb_free_config_descriptor);
  for (std::size_t i = 0; i < config->bNumInterfaces; ++i) {
    if (config->interface[i].num_altsetting < 1) continue;
    const auto& interface = config->interface[i].altsetting[0];
    if (interface.bInterfaceClass != application_class || interface.bInterfaceSubClass != usbtmc_subclass) continue;
    Endpoints ends{.interface = interface.bInterfaceNumber,
                   .bulk_out = 0,
                   .bulk_in = 0,
                   .interrupt_in = 0,
                   .is_usb488 = interface.bInterfaceProtocol == usb488_protocol};
    for (std::size_t e = 0; e < interface.bNumEndpoints; ++e) {
      const auto& endpoint = interface.endpoint[e];
      const bool in = (endpoint.bEndpointAddress & LIBUSB_ENDPOINT_IN) != 0;
      const auto packet = static_cast<std::size_t>(endpoint.wMaxPacketSize & 0x7FFU);
      switch (endpoint.bmAttributes & 0x03U) {
        case LIBUSB_TRANSFER_TYPE_BULK:
          (in ? ends.bulk_in : ends.bulk_out) = endpoint.bEndpointAddress;
          if (in) ends.bulk_in_packet_bytes = packet;
          break;
        case LIBUSB_TRANSFER_TYPE_INTERRUPT:
          if (!in) break;
          ends.interrupt_in = endpoint.bEndpointAddress;
          ends.interrupt_packet_bytes = packet;
          break;
        default: break;
      }
    }
    found.push_back(ends);
  }
  std::sort(found.begin(), found.end(),
            [](const Endpoints& a, const Endpoints& b) { return a.interface < b.interface; });
  return found;
}

bool is_complete(const Endpoints& ends) {
  return ends.bulk_out != 0 && ends.bulk_in != 0 && ends.bulk_in_packet_bytes > 0;
}

struct Texts {
  std::string maker;
  std::string model;
  std::string serial;
};

// What the system has read when the device was plugged in: needs no permission.
std::string system_text(const std::string& place, std::string_view attribute) {
  std::ifstream file(fmt::format("/sys/bus/usb/devices/{}/{}", place, attribute), std::ios::binary);
  std::string text{std::istreambuf_iterator<char>(file), {}};
  while (!text.empty() && (text.back() == '\n' || text.back() == '\0')) text.pop_back();
  return text;
}

std::string text_at(libusb_device_handle* handle, std::uint8_t index) {
  if (index == 0) return {};
  std::array<unsigned char, 256> bytes{};
  const int count = libusb_get_string_descriptor_ascii(handle, index, bytes.data(), static_cast<int>(bytes.size()));
  return {bytes.begin(), bytes.begin() + std::max(count, 0)};
}

Texts texts_of(libusb_device_handle* handle, const libusb_device_descriptor& device, const std::string& place) {
  Texts texts{system_text(place, "manufacturer"), system_text(place, "product"), system_text(place, "serial")};
  if (handle == nullptr) return texts;
  if (texts.maker.empty()) texts.maker = text_at(handle, device.iManufacturer);
  if (texts.model.empty()) texts.model = text_at(handle, device.iProduct);
  if (texts.serial.empty()) texts.serial = text_at(handle, device.iSerialNumber);
  return texts;
}

struct Refusal {
  std::string trouble;
  std::string advice;
};

Refusal refusal(int code, libusb_device* device, const libusb_device_descriptor& descriptor) {
  if (code == LIBUSB_ERROR_ACCESS)
    return {
        fmt::format("no permission to use {}", node_of(device)),
        fmt::format("as root, write this line into /etc/udev/rules.d/60-eyelevel-usbtmc.rules, run \"udevadm control "
                    "--reload\", and plug the instrument in again: {}",
                    udev_rule(descriptor.idVendor, descriptor.idProduct))};
  if (code == LIBUSB_ERROR_BUSY)
    return {"another program uses the instrument", "close that program; USB gives an instrument to one at a time"};
  if (code == LIBUSB_ERROR_NO_DEVICE)
    return {"the instrument was unplugged just now", "look at the USB cable and the instrument's power"};
  return {fmt::format("the system cannot open it: {}", libusb_strerror(code)), "try another USB port and cable"};
}

// --- on the thread for calls that block ---

std::vector<FoundInterface> list_now(libusb_context* context) {
  std::vector<FoundInterface> all;
  const DeviceList list(context);
  for (ssize_t i = 0; i < list.count; ++i) {
    libusb_device* const device = list.devices[i];
    libusb_device_descriptor descriptor{};
    const auto interfaces = interfaces_of(device);
    if (interfaces.empty() || libusb_get_device_descriptor(device, &descriptor) != 0) continue;
    const auto place = place_of(device);
    libusb_device_handle* raw = nullptr;
    const int code = libusb_open(device, &raw);
    const OpenHandle handle(code == 0 ? raw : nullptr);
    const auto texts = texts_of(handle.get(), descriptor, place);
    for (const auto& ends : interfaces) {
      FoundInterface found{.vendor = descriptor.idVendor,
                           .product = descriptor.idProduct,
                           .interface = ends.interface,
                           .is_usb488 = ends.is_usb488,
                           .maker = texts.maker,
                           .model = texts.model,
                           .serial = texts.serial,
                           .place = place,
                           .resource = {},
                           .trouble = {},
                           .advice = {}};
      found.resource.carrier = Carrier::usbtmc;
      found.resource.vendor = found.vendor;
      found.resource.product = found.product;
      found.resource.interface = found.interface;
      if (code != 0) {
        auto why = refusal(code, device, descriptor);
        found.trouble = std::move(why.trouble);
        found.advice = std::move(why.advice);
      } else if (!is_complete(ends)) {
        found.trouble = "the interface has no Bulk-IN or no Bulk-OUT endpoint";
        found.advice = "update the instrument's firmware";
      }
      all.push_back(std::move(found));
    }
  }
  const auto same = [](const FoundInterface& a, const FoundInterface& b) {
    return a.vendor == b.vendor && a.product == b.product && a.interface == b.interface &&
           same_case(a.serial) == same_case(b.serial);
  };
  for (auto& found : all) {
    const auto twins = std::count_if(all.begin(), all.end(), [&](const auto& other) { return same(found, other); });
    found.resource.serial = is_usable_serial(found.serial) && twins == 1 ? found.serial : "@" + found.place;
  }
  use_system_nodes(all, system_nodes());
  std::sort(all.begin(), all.end(), [](const auto& a, const auto& b) {
    return std::tie(a.place, a.interface) < std::tie(b.place, b.interface);
  });
  return all;
}

// The device of this name, opened; empty when it is another one, or cannot be opened: then `refused` says why.
struct Match {
  OpenHandle handle;
  std::vector<Endpoints> interfaces;
};
std::optional<Match> match(libusb_device* device, const ResourceName& name, std::optional<Refusal>& refused) {
  libusb_device_descriptor descriptor{};
  if (libusb_get_device_descriptor(device, &descriptor) != 0) return std::nullopt;
  if (descriptor.idVendor != name.vendor || descriptor.idProduct != name.product) return std::nullopt;
  const auto place = place_of(device);
  const bool by_place = name.serial.starts_with('@');
  if (by_place && name.serial.substr(1) != place) return std::nullopt;
  // The serial as the system knows it tells others apart without opening them.
  const auto known = system_text(place, "serial");
  if (!by_place && !known.empty() && same_case(known) != same_case(name.serial)) return std::nullopt;
  libusb_device_handle* raw = nullptr;
  if (const int code = libusb_open(device, &raw); code != 0) {
    refused = refusal(code, device, descriptor);
    return std::nullopt;
  }
  OpenHandle handle(raw);
  if (!by_place && same_case(texts_of(raw, descriptor, place).serial) != same_case(name.serial)) return std::nullopt;
  return Match{std::move(handle), interfaces_of(device)};
}

struct Opened {
  std::shared_ptr<UsbHandle> handle;
  Endpoints endpoints;
};

Endpoints chosen(const Match& found, const ResourceName& name) {
  for (const auto& ends : found.interfaces)
    if (ends.interface == name.interface && is_complete(ends)) return ends;
  if (name.interface == 0)
    for (const auto& ends : found.interfaces)
      if (is_complete(ends)) return ends;
  std::string known;
  for (const auto& ends : found.interfaces) known += fmt::format("{}{}", known.empty() ? "" : ", ", ends.interface);
  fail(base::ErrorCode::no_connection, name.canonical(),
       known.empty() ? "the device has no USBTMC interface (class FE, subclass 03)"
                     : fmt::format("interface {} is no USBTMC interface; these are: {}", name.interface, known),
       known.empty() ? "is its USB set to test and measurement in its menu, and not to storage or printing?"
                     : "correct the interface number in the resource name");
}

// Claims; the system's driver goes away for as long as the handle lives.
Opened claimed(Match found, const ResourceName& name) {
  const auto ends = chosen(found, name);
  libusb_device_handle* const raw = found.handle.get();
  const bool had_driver = libusb_kernel_driver_active(raw, ends.interface) == 1;
  if (had_driver) {
    const int code = libusb_detach_kernel_driver(raw, ends.interface);
    if (code != 0 && code != LIBUSB_ERROR_NOT_FOUND && code != LIBUSB_ERROR_NOT_SUPPORTED)
      fail(base::ErrorCode::no_connection, name.canonical(),
           fmt::format("a driver of the system holds the interface and does not let go: {}", libusb_strerror(code)),
           "as root, run \"rmmod usbtmc\"");
  }
  if (const int code = libusb_claim_interface(raw, ends.interface); code != 0) {
    if (had_driver) libusb_attach_kernel_driver(raw, ends.interface);
    libusb_device* const device = libusb_get_device(raw);
    libusb_device_descriptor descriptor{};
    libusb_get_device_descriptor(device, &descriptor);
    auto why = refusal(code, device, descriptor);
    fail(base::ErrorCode::no_connection, name.canonical(), std::move(why.trouble), std::move(why.advice));
  }
  return {std::make_shared<UsbHandle>(found.handle.release(), ends.interface, had_driver), ends};
}

Opened open_now(libusb_context* context, const ResourceName& name) {
  const DeviceList list(context);
  std::optional<Refusal> refused;
  for (ssize_t i = 0; i < list.count; ++i)
    if (auto found = match(list.devices[i], name, refused)) return claimed(std::move(*found), name);
  if (refused) fail(base::ErrorCode::no_connection, name.canonical(), refused->trouble, refused->advice);
  fail(base::ErrorCode::no_connection, name.canonical(), "no such instrument is plugged in",
       "look at the USB cable and the instrument's power; eyelevel find lists what is plugged in");
}

void handle_events(UsbThreads& threads) {
  while (!threads.stopping) {
    timeval pause = event_pause;
    libusb_handle_events_timeout_completed(threads.context, &pause, nullptr);
  }
}

}  // namespace

UsbThreads::UsbThreads() {
  if (const int code = libusb_init(&context); code != 0)
    fail(base::ErrorCode::no_connection, "USB",
         fmt::format("this computer's USB cannot be used: {}", libusb_strerror(code)),
         "does this computer, or this container, have USB ports?");
  events = std::thread(handle_events, std::ref(*this));
}

UsbThreads::~UsbThreads() {
  worker.join();
  stopping = true;
  libusb_interrupt_event_handler(context);
  events.join();
  libusb_exit(context);
}

Usb::Usb() : threads_(std::make_unique<UsbThreads>()) {}
Usb::~Usb() = default;

bool is_usable_serial(std::string_view serial) {
  return !serial.empty() && serial.front() != ' ' && serial.back() != ' ' && serial.front() != '@' &&
         std::all_of(serial.begin(), serial.end(), [](char c) {
           return static_cast<unsigned char>(c) >= 0x20 && static_cast<unsigned char>(c) < 0x7F &&
                  std::string_view("\"*/:?\\").find(c) == std::string_view::npos;
         });
}

void use_system_nodes(std::vector<FoundInterface>& found, const std::vector<SystemNode>& nodes) {
  for (auto& one : found) {
    const auto at = std::find_if(nodes.begin(), nodes.end(), [&](const SystemNode& node) {
      return node.usable && node.place == one.place && node.interface == one.interface;
    });
    if (one.trouble.empty() || at == nodes.end()) continue;
    one.resource.host = at->path;
    one.trouble.clear();
    one.advice.clear();
  }
}

std::string udev_rule(std::uint16_t vendor, std::uint16_t product) {
  return fmt::format(R"(SUBSYSTEM=="usb", ATTR{{idVendor}}=="{:04x}", ATTR{{idProduct}}=="{:04x}", )"
                     R"(MODE="0660", GROUP="plugdev", TAG+="uaccess")",
                     vendor, product);
}

task<std::vector<FoundInterface>> list_interfaces(std::shared_ptr<Usb> usb) {
  libusb_context* const context = usb->threads().context;
  co_return co_await detail::on_worker<std::vector<FoundInterface>>(usb->threads().worker,
                                                                    [context] { return list_now(context); });
}

task<std::shared_ptr<Pipe>> open_interface(std::shared_ptr<Usb> usb, ResourceName name) {
  libusb_context* const context = usb->threads().context;
  auto opened =
      co_await detail::on_worker<Opened>(usb->threads().worker, [context, name] { return open_now(context, name); });
  co_return usb_pipe(std::move(usb), std::move(opened.handle), opened.endpoints);
}

}  // namespace eyelevel::transport::usbtmc
