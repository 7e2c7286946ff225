// SPDX-License-Identifier: Apache-2.0
// A link whose bytes a plugin carries. Contract: instruments/transport/link.hpp.
#pragma once

#include <memory>

#include "instruments/plugin/library/library.hpp"
#include "instruments/transport/link.hpp"
#include "instruments/transport/resource_name.hpp"

namespace eyelevel::plugin::library {

// The timeline must outlive the link.
task<std::unique_ptr<transport::Link>> connect(std::shared_ptr<Library> library,
                                               std::shared_ptr<const eyelevel_transport> functions,
                                               transport::ResourceName name, base::Timeline& timeline);

}  // namespace eyelevel::plugin::library
