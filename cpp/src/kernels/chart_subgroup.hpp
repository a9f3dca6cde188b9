/// @file
/// Leaf loops of the subgroup chart: means and ranges of equal, consecutive subgroups.
#pragma once

#include <cstddef>

namespace steadyfilm::kernels::chart_subgroup {

/// Lanes of the long sums.
inline constexpr std::size_t sum_lanes = 8;

struct Table {
  /// Mean and range of each subgroup. The mean is the sum of the readings, added from the first to the last, over their
  /// number; of equal readings it is that reading.
  /// @param copies  null, or two places for further copies of means and ranges, written past the caches since they are
  ///                too long to stay there; other threads see them after `fence`. Either may be null.
  /// @return true when all readings and sums are finite; false when one is not, or all together are too large to tell
  bool (*means_and_ranges)(const double* readings, std::size_t size, std::size_t groups, double* means, double* ranges,
                           double* const* copies);
  void (*fence)();
  /// z = (x - center) / sigma, for a sigma above 0.
  void (*standardize)(const double* x, std::size_t count, double center, double sigma, double* z);
  /// Add x[i] to lane i % 8 of a sum held in twice the working precision, high[lane] + low[lane]; `count` from lane 0.
  void (*add)(const double* x, std::size_t count, double* high, double* low);
  /// Widen [lowest, highest] to hold all of x.
  void (*extend)(const double* x, std::size_t count, double* lowest, double* highest);
};

/// Of the chosen instruction set.
[[nodiscard]] const Table& table();

}  // namespace steadyfilm::kernels::chart_subgroup
