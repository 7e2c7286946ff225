# SPDX-License-Identifier: Apache-2.0
# Flags, dependencies and the helpers that every folder uses:
#
#   eyelevel_library(NAME SOURCES ... HEADERS ... [LINK ...] [USE ...] [ASIO])
#       library eyelevel_NAME, alias eyelevel::NAME; HEADERS are public and compile alone; LINK are libraries that a header
#       shows, USE those that only sources need; ASIO takes the precompiled header that holds Asio.
#   eyelevel_tests(FOLDER SOURCES ... LINK ... [LABELS ...] [TIMEOUT S] [POSTGRES FILE ...])
#       one program for the sources of a test folder; each FILE_test.cpp becomes the ctest FOLDER.FILE with dots for slashes.
#       Those named after POSTGRES have a server of their own while they run (tests/support/postgres.py).
#   eyelevel_fuzz(NAME SOURCE [MORE SOURCES...] LINK ... [CORPUS DIR])
#       a libFuzzer target; without a sanitizer preset nothing is built.

set(CMAKE_CXX_STANDARD 20)
set(CMAKE_CXX_STANDARD_REQUIRED ON)
set(CMAKE_CXX_EXTENSIONS OFF)
set(CMAKE_EXPORT_COMPILE_COMMANDS ON)
set(CMAKE_VERIFY_INTERFACE_HEADER_SETS ON)
set(CMAKE_RUNTIME_OUTPUT_DIRECTORY ${PROJECT_BINARY_DIR}/bin)
set(CMAKE_CXX_FLAGS_DEBUG "-O1 -gline-tables-only")
set(CMAKE_CXX_FLAGS_RELEASE "-O2")

find_program(EYELEVEL_CCACHE ccache)
if(EYELEVEL_CCACHE)
  set(CMAKE_CXX_COMPILER_LAUNCHER
      ${CMAKE_COMMAND} -E env CCACHE_SLOPPINESS=pch_defines,time_macros,include_file_mtime,include_file_ctime ${EYELEVEL_CCACHE})
endif()

find_package(Boost 1.81 EXACT REQUIRED COMPONENTS json url)
find_package(Threads REQUIRED)
find_package(fmt REQUIRED)
find_package(Eigen3 3.4 REQUIRED NO_MODULE)

add_library(eyelevel_flags INTERFACE)
target_include_directories(eyelevel_flags INTERFACE ${PROJECT_SOURCE_DIR})
set_property(TARGET eyelevel_flags PROPERTY INTERFACE_COMPILE_OPTIONS
  -Wall -Wextra -Wpedantic -Wshadow -Wconversion -Wsign-conversion -Wnon-virtual-dtor -Wold-style-cast -Woverloaded-virtual
  "SHELL:-Xclang -fno-pch-timestamp" $<$<BOOL:${EYELEVEL_DEVELOPER}>:-Werror>)
target_compile_definitions(eyelevel_flags INTERFACE
  BOOST_ASIO_SEPARATE_COMPILATION BOOST_ASIO_NO_DEPRECATED
  $<$<CONFIG:Debug>:_GLIBCXX_ASSERTIONS>)
target_link_options(eyelevel_flags INTERFACE -fuse-ld=lld-19)
if(EYELEVEL_SANITIZE STREQUAL "address")
  # Null, size and type of what a pointer points at: a tenth of the build's time, for what the address sanitizer and the
  # library's assertions stop as well.
  target_compile_options(eyelevel_flags INTERFACE -fsanitize=address,undefined -fno-sanitize=null,object-size,vptr
    -fno-sanitize-recover=all -fno-omit-frame-pointer)
  if(EYELEVEL_FUZZ)  # what a fuzzer needs to see where it has been; the gate's few hundred runs of each target do not
    target_compile_options(eyelevel_flags INTERFACE -fsanitize=fuzzer-no-link)
  endif()
  target_link_options(eyelevel_flags INTERFACE -fsanitize=address,undefined)
elseif(EYELEVEL_SANITIZE STREQUAL "thread")
  target_compile_options(eyelevel_flags INTERFACE -fsanitize=thread -fno-omit-frame-pointer)
  target_link_options(eyelevel_flags INTERFACE -fsanitize=thread)
endif()
target_link_libraries(eyelevel_flags INTERFACE Boost::headers fmt::fmt Threads::Threads)

# What is precompiled, shared by all: the standard library, the same with Asio's coroutines, and that with Catch2 for tests,
# whose own code is not worth an optimizer's time: without, it is built in half of it.
foreach(kind IN ITEMS std asio test)
  add_library(eyelevel_pch_${kind} OBJECT ${PROJECT_SOURCE_DIR}/cmake/pch.cpp)
  target_link_libraries(eyelevel_pch_${kind} PRIVATE eyelevel_flags)
  if(kind STREQUAL "test")
    target_compile_options(eyelevel_pch_${kind} PRIVATE -O0)
  endif()
  target_precompile_headers(eyelevel_pch_${kind} PRIVATE ${PROJECT_SOURCE_DIR}/cmake/pch_${kind}.hpp)
endforeach()

function(eyelevel_library name)
  cmake_parse_arguments(arg "ASIO" "" "SOURCES;HEADERS;LINK;USE" ${ARGN})
  add_library(eyelevel_${name} STATIC ${arg_SOURCES})
  add_library(eyelevel::${name} ALIAS eyelevel_${name})
  target_sources(eyelevel_${name} PUBLIC FILE_SET HEADERS BASE_DIRS ${PROJECT_SOURCE_DIR} FILES ${arg_HEADERS})
  target_link_libraries(eyelevel_${name} PUBLIC eyelevel_flags ${arg_LINK} PRIVATE ${arg_USE})
  if(arg_ASIO)
    target_precompile_headers(eyelevel_${name} REUSE_FROM eyelevel_pch_asio)
  else()
    target_precompile_headers(eyelevel_${name} REUSE_FROM eyelevel_pch_std)
  endif()
endfunction()

function(eyelevel_tests folder)
  cmake_parse_arguments(arg "" "TIMEOUT" "SOURCES;LINK;LABELS;POSTGRES" ${ARGN})
  string(REPLACE "/" "_" target "tests_${folder}")
  string(REPLACE "/" "." dotted "${folder}")
  add_executable(${target} ${arg_SOURCES})
  target_link_libraries(${target} PRIVATE eyelevel_flags eyelevel_test_main eyelevel_test_eyes ${arg_LINK})
  target_precompile_headers(${target} REUSE_FROM eyelevel_pch_test)
  target_compile_options(${target} PRIVATE -O0)
  if(NOT arg_LABELS)
    set(arg_LABELS unit)
  endif()
  if(NOT arg_TIMEOUT)
    set(arg_TIMEOUT 60)
  endif()
  if(EYELEVEL_SANITIZE)
    math(EXPR arg_TIMEOUT "${arg_TIMEOUT} * 5")  # instrumented code runs two to fifteen times slower
  endif()
  foreach(source IN LISTS arg_SOURCES)
    get_filename_component(file ${source} NAME_WE)
    if(NOT file MATCHES "_test$")
      continue()
    endif()
    string(REGEX REPLACE "_test$" "" short ${file})
    set(with "")
    if(short IN_LIST arg_POSTGRES)
      set(with /usr/bin/python3 ${PROJECT_SOURCE_DIR}/tests/support/postgres.py)
    endif()
    add_test(NAME ${dotted}.${short} COMMAND ${with} $<TARGET_FILE:${target}> "-#" -w NoTests "[#${file}]")
    set_tests_properties(${dotted}.${short} PROPERTIES LABELS "${arg_LABELS}" TIMEOUT ${arg_TIMEOUT}
      WORKING_DIRECTORY ${PROJECT_SOURCE_DIR})
  endforeach()
endfunction()

add_custom_target(fuzz_targets)

function(eyelevel_fuzz name source)
  cmake_parse_arguments(arg "" "CORPUS" "MORE;LINK" ${ARGN})
  if(NOT EYELEVEL_SANITIZE STREQUAL "address")
    return()
  endif()
  add_executable(fuzz_${name} ${source} ${arg_MORE})
  target_link_libraries(fuzz_${name} PRIVATE eyelevel_flags ${arg_LINK})
  target_link_options(fuzz_${name} PRIVATE -fsanitize=fuzzer)
  add_dependencies(fuzz_targets fuzz_${name})
  set(corpus "")
  if(arg_CORPUS)
    # What libFuzzer finds it writes into the first directory: never into the source tree.
    file(MAKE_DIRECTORY ${CMAKE_CURRENT_BINARY_DIR}/found_${name})
    set(corpus ${CMAKE_CURRENT_BINARY_DIR}/found_${name} ${arg_CORPUS})
  endif()
  add_test(NAME fuzz.${name} COMMAND fuzz_${name} -runs=200 -seed=1 -max_len=4096 -rss_limit_mb=1024
    -artifact_prefix=${CMAKE_CURRENT_BINARY_DIR}/ ${corpus})
  set_tests_properties(fuzz.${name} PROPERTIES LABELS fuzz TIMEOUT 60 WORKING_DIRECTORY ${PROJECT_SOURCE_DIR})
endfunction()
