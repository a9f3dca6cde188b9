/// @file
/// Moments of a set of readings that survive a large common offset.
#pragma once

#include <cstddef>
#include <span>

namespace steadyfilm {

/// Moments of n values, in the unit of the data unless said.
struct Summary {
  std::size_t count = 0;
  double sum = 0.0;
  double mean = 0.0;
  double sum_squares = 0.0;  ///< sum of squared deviations from the mean, unit squared
  double sd = 0.0;           ///< root of sum_squares / (n - 1); 0 for one value
  double minimum = 0.0;
  double maximum = 0.0;
  double lag1_autocorrelation = 0.0;  ///< without unit; 0 for constant data
  double skewness = 0.0;              ///< m3 / m2^(3/2) with divisor n, without unit; 0 for constant data
  double excess_kurtosis = 0.0;       ///< m4 / m2^2 - 3 with divisor n, without unit; 0 for constant data
};

/// Mean, spread and shape of values in production order.
///
/// Sums run in twice the working precision, so that mean and sum_squares agree with exact rational arithmetic on the
/// same doubles to 14 digits, also for a spread of 1 on top of 1e12.
///
/// @param values  at least one finite value.
/// @throws InvalidInput  no value, or one that is not finite, or values so large that their squares overflow.
/// @note   Constant data is an answer: sd 0, shape figures 0.
/// @see    cpp/methods/summary.md
[[nodiscard]] Summary summarize(std::span<const double> values);

}  // namespace steadyfilm
