// SPDX-License-Identifier: Apache-2.0
// The border of pipe.hpp without a cable: the packets go to a UsbtmcServer of this process, in no time. It is the null
// implementation that whoever writes another one reads first.
#pragma once

#include <memory>

#include "instruments/transport/usbtmc/pipe.hpp"
#include "instruments/transport/usbtmc/server.hpp"

namespace eyelevel::transport::usbtmc {

std::shared_ptr<Pipe> simulated_pipe(std::shared_ptr<UsbtmcServer> server);

}  // namespace eyelevel::transport::usbtmc
