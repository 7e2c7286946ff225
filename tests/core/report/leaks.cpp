// SPDX-License-Identifier: Apache-2.0
// What the leak checker of the asan preset may pass over here: fontconfig keeps one pattern for each font that was used
// until the process ends, by pointers that the checker cannot follow. Their number does not grow with the sheets.
// NOLINTBEGIN(bugprone-reserved-identifier): the name that the leak checker calls
extern "C" const char* __lsan_default_suppressions();
extern "C" const char* __lsan_default_suppressions() { return "leak:libfontconfig\n"; }
// NOLINTEND(bugprone-reserved-identifier)
