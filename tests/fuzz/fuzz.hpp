/// @file
/// What the fuzz targets share: numbers from bytes, and a check that stops the program.
#pragma once

#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <vector>

/// The one function of a target; called by the fuzzer, or by replay.cpp for the kept inputs.
extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size);

namespace fuzz {

/// Every eight bytes one double, any bit pattern.
inline std::vector<double> doubles(const std::uint8_t* data, std::size_t size) {
  std::vector<double> values(size / sizeof(double));
  if (!values.empty()) std::memcpy(values.data(), data, values.size() * sizeof(double));
  return values;
}

/// Stops with the text when a property does not hold.
inline void require(bool holds, const char* property) {
  if (holds) return;
  std::fprintf(stderr, "fuzz: does not hold: %s\n", property);
  std::abort();
}

}  // namespace fuzz
