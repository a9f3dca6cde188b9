/// @file
/// Leaf loop of the EWMA: whole blocks of eight points, as support/ewma.hpp defines them.
#pragma once

#include <cstddef>

namespace steadyfilm::kernels::chart_ewma {

inline constexpr std::size_t block_points = 8;
/// Blocks that go together: their results fit the first-level cache.
inline constexpr std::size_t tile_blocks = 64;

struct Table {
  /// z of each point of `blocks` blocks, at most tile_blocks, and the level behind the last.
  /// @param power  b, b^2, ..., b^8 of support/ewma.hpp
  /// @param copy   null, or a place for a further copy of z, written past the caches; seen by others after `fence`
  double (*blocks)(const double* x, std::size_t blocks, double smoothing, const double* power, double level, double* z,
                   double* copy);
  void (*fence)();
};

/// Of the chosen instruction set.
[[nodiscard]] const Table& table();

}  // namespace steadyfilm::kernels::chart_ewma
