/// @file
/// The yardstick: how fast memory can be read at all.
#pragma once

#include <cstddef>

namespace steadyfilm::kernels::read {

struct Table {
  /// Sum by eight vector accumulators, asking for memory ahead as the measured loops do.
  double (*sum)(const double* x, std::size_t count);
};

/// Of the chosen instruction set.
[[nodiscard]] const Table& table();

}  // namespace steadyfilm::kernels::read
