// SPDX-License-Identifier: Apache-2.0
#include "instruments/scpi/error.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>

namespace eyelevel::scpi {
namespace {

struct Row {
  int number;
  std::string_view text;
};

// SCPI-99 Vol. 2, 21.8.9 and following; in falling order of the number.
constexpr std::array rows{
    Row{0, "No error"},
    Row{-100, "Command error"},
    Row{-101, "Invalid character"},
    Row{-102, "Syntax error"},
    Row{-103, "Invalid separator"},
    Row{-104, "Data type error"},
    Row{-105, "GET not allowed"},
    Row{-108, "Parameter not allowed"},
    Row{-109, "Missing parameter"},
    Row{-110, "Command header error"},
    Row{-111, "Header separator error"},
    Row{-112, "Program mnemonic too long"},
    Row{-113, "Undefined header"},
    Row{-114, "Header suffix out of range"},
    Row{-115, "Unexpected number of parameters"},
    Row{-120, "Numeric data error"},
    Row{-121, "Invalid character in number"},
    Row{-123, "Exponent too large"},
    Row{-124, "Too many digits"},
    Row{-128, "Numeric data not allowed"},
    Row{-130, "Suffix error"},
    Row{-131, "Invalid suffix"},
    Row{-134, "Suffix too long"},
    Row{-138, "Suffix not allowed"},
    Row{-140, "Character data error"},
    Row{-141, "Invalid character data"},
    Row{-144, "Character data too long"},
    Row{-148, "Character data not allowed"},
    Row{-150, "String data error"},
    Row{-151, "Invalid string data"},
    Row{-158, "String data not allowed"},
    Row{-160, "Block data error"},
    Row{-161, "Invalid block data"},
    Row{-168, "Block data not allowed"},
    Row{-170, "Expression error"},
    Row{-171, "Invalid expression"},
    Row{-178, "Expression data not allowed"},
    Row{-180, "Macro error"},
    Row{-181, "Invalid outside macro definition"},
    Row{-183, "Invalid inside macro definition"},
    Row{-184, "Macro parameter error"},
    Row{-200, "Execution error"},
    Row{-201, "Invalid while in local"},
    Row{-202, "Settings lost due to rtl"},
    Row{-203, "Command protected"},
    Row{-210, "Trigger error"},
    Row{-211, "Trigger ignored"},
    Row{-212, "Arm ignored"},
    Row{-213, "Init ignored"},
    Row{-214, "Trigger deadlock"},
    Row{-215, "Arm deadlock"},
    Row{-220, "Parameter error"},
    Row{-221, "Settings conflict"},
    Row{-222, "Data out of range"},
    Row{-223, "Too much data"},
    Row{-224, "Illegal parameter value"},
    Row{-225, "Out of memory"},
    Row{-226, "Lists not same length"},
    Row{-230, "Data corrupt or stale"},
    Row{-231, "Data questionable"},
    Row{-232, "Invalid format"},
    Row{-233, "Invalid version"},
    Row{-240, "Hardware error"},
    Row{-241, "Hardware missing"},
    Row{-250, "Mass storage error"},
    Row{-251, "Missing mass storage"},
    Row{-252, "Missing media"},
    Row{-253, "Corrupt media"},
    Row{-254, "Media full"},
    Row{-255, "Directory full"},
    Row{-256, "File name not found"},
    Row{-257, "File name error"},
    Row{-258, "Media protected"},
    Row{-260, "Expression error"},
    Row{-261, "Math error in expression"},
    Row{-270, "Macro error"},
    Row{-271, "Macro syntax error"},
    Row{-272, "Macro execution error"},
    Row{-273, "Illegal macro label"},
    Row{-274, "Macro parameter error"},
    Row{-275, "Macro definition too long"},
    Row{-276, "Macro recursion error"},
    Row{-277, "Macro redefinition not allowed"},
    Row{-278, "Macro header not found"},
    Row{-280, "Program error"},
    Row{-281, "Cannot create program"},
    Row{-282, "Illegal program name"},
    Row{-283, "Illegal variable name"},
    Row{-284, "Program currently running"},
    Row{-285, "Program syntax error"},
    Row{-286, "Program runtime error"},
    Row{-290, "Memory use error"},
    Row{-291, "Out of memory"},
    Row{-292, "Referenced name does not exist"},
    Row{-293, "Referenced name already exists"},
    Row{-294, "Incompatible type"},
    Row{-300, "Device-specific error"},
    Row{-310, "System error"},
    Row{-311, "Memory error"},
    Row{-312, "PUD memory lost"},
    Row{-313, "Calibration memory lost"},
    Row{-314, "Save/recall memory lost"},
    Row{-315, "Configuration memory lost"},
    Row{-320, "Storage fault"},
    Row{-321, "Out of memory"},
    Row{-330, "Self-test failed"},
    Row{-340, "Calibration failed"},
    Row{-350, "Queue overflow"},
    Row{-360, "Communication error"},
    Row{-361, "Parity error in program message"},
    Row{-362, "Framing error in program message"},
    Row{-363, "Input buffer overrun"},
    Row{-365, "Time out error"},
    Row{-400, "Query error"},
    Row{-410, "Query INTERRUPTED"},
    Row{-420, "Query UNTERMINATED"},
    Row{-430, "Query DEADLOCKED"},
    Row{-440, "Query UNTERMINATED after indefinite response"},
    Row{-500, "Power on"},
    Row{-600, "User request"},
    Row{-700, "Request control"},
    Row{-800, "Operation complete"},
};

const Row* row_of(int number) {
  const auto* at = std::lower_bound(rows.begin(), rows.end(), number,
                                    [](const Row& row, int wanted) { return row.number > wanted; });
  return at != rows.end() && at->number == number ? at : nullptr;
}

}  // namespace

std::string_view standard_text(int number) {
  if (const Row* row = row_of(number)) return row->text;
  if (number > 0) return "Device-specific error";
  if (const Row* row = row_of(number / 100 * 100)) return row->text;
  return "Device-specific error";
}

std::uint8_t event_status_bit(int number) {
  if (number == 0) return 0;
  if (number > 0) return 1U << 3U;
  switch (-number / 100) {
    case 1: return 1U << 5U;  // CME
    case 2: return 1U << 4U;  // EXE
    case 3: return 1U << 3U;  // DDE
    case 4: return 1U << 2U;  // QYE
    case 5: return 1U << 7U;  // PON
    case 6: return 1U << 6U;  // URQ
    case 7: return 1U << 1U;  // RQC
    case 8: return 1U << 0U;  // OPC
    default: return 1U << 3U;
  }
}

CommandError::CommandError(int number, std::string detail) : number_(number), detail_(std::move(detail)) {
  text_ = detail_.empty() ? fmt::format("{},\"{}\"", number_, standard_text(number_))
                          : fmt::format("{},\"{};{}\"", number_, standard_text(number_), detail_);
}

}  // namespace eyelevel::scpi
