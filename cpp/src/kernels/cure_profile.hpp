/// @file
/// Leaf loops over temperature traces: which readings are at temperature, where the log has gaps, and the dose.
#pragma once

#include <cstddef>
#include <cstdint>

namespace steadyfilm::kernels::cure_profile {

/// What was seen of some readings; start with the initial values.
struct Seen {
  double lowest = 0.0;  ///< of what there was; of no meaning when not `finite`
  double highest = 0.0;
  bool finite = true;  ///< false also where a sum of very large numbers overflows: whoever asks looks again
};

/// What was seen of the intervals between readings.
struct Intervals {
  double shortest = 0.0;  ///< 0 or less, or NaN: the times do not ascend
  std::size_t usual = 0;  ///< intervals of the expected length
};

/// What makes a factor of a temperature in K.
struct Factor {
  double energy_k = 0.0;
  double inverse_reference = 0.0;
};

struct Table {
  /// One bit for each of 64 words readings: whether it is at least `line`.
  void (*at_least)(const double* x, std::size_t words, double line, std::uint64_t* bits, Seen* seen);
  /// One bit for each of 64 words intervals: whether it is longer than `limit`. Reads one time more than that.
  void (*longer)(const double* time, std::size_t words, double limit, double usual_from, double usual_to,
                 std::uint64_t* bits, Intervals* seen);
  /// Shares that `words` times 64 readings have in the integral of f = exp(energy_k (inverse_reference - 1 / T)) over
  /// the intervals on both sides of them, by the trapezoid corrected for slopes and curvatures at the ends, and one bit
  /// for each reading whether the step to the next, |dT| energy_k / T^2, is above `largest`. Reads one element before
  /// and one behind them of each array. Tells the lowest and whether all are finite.
  double (*dose)(const double* time, const double* temperature_c, std::size_t words, const Factor& factor,
                 double largest, std::uint64_t* bits, Seen* seen);
};

/// Of the chosen instruction set.
[[nodiscard]] const Table& table();

}  // namespace steadyfilm::kernels::cure_profile
