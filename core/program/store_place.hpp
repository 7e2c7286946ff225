// SPDX-License-Identifier: Apache-2.0
// Where runs are kept unless --store says otherwise: $XDG_STATE_HOME/eyelevel/records.db, by default under
// ~/.local/state.
#pragma once

#include <filesystem>
#include <memory>
#include <string>

#include "core/record/store/store.hpp"

namespace eyelevel::program {

// $XDG_STATE_HOME/eyelevel. Throws base::Error(bad_input) when nothing says where that is.
std::filesystem::path usual_state_folder();
// `given` is what --store said (a file, or a connection string of a PostgreSQL database), or empty. The folder is made
// when the store is to be written.
std::unique_ptr<record::Store> open_store_to_write(const std::string& given);
// Throws base::Error(not_found) when there is no store yet.
std::unique_ptr<record::Store> open_store_to_read(const std::string& given);

}  // namespace eyelevel::program
