#include <steadyfilm/summary.hpp>

#include <algorithm>
#include <cmath>

#include <steadyfilm/core.hpp>

#include "support/double_double.hpp"

namespace steadyfilm {

using support::DoubleDouble;

Summary summarize(std::span<const double> values) {
  require_count(values.size(), 1, "summarize");
  require_finite(values, "summarize");

  const auto n = static_cast<double>(values.size());
  DoubleDouble total;
  for (const double x : values) total = total + x;
  const DoubleDouble mean = support::divide(total, n);

  DoubleDouble squares, cubes, fourths, products;
  DoubleDouble previous;
  for (std::size_t i = 0; i < values.size(); ++i) {
    const DoubleDouble deviation = DoubleDouble{values[i], 0.0} + -mean;
    const DoubleDouble square = deviation * deviation;
    squares = squares + square;
    cubes = cubes + square * deviation;
    fourths = fourths + square * square;
    if (i > 0) products = products + previous * deviation;
    previous = deviation;
  }

  const auto [low, high] = std::minmax_element(values.begin(), values.end());
  Summary found{.count = values.size(),
                .sum = total.value(),
                .mean = mean.value(),
                .sum_squares = squares.value(),
                .sd = 0.0,
                .minimum = *low,
                .maximum = *high};
  require_finite(found.mean, "summarize", "mean of values");
  // A constant set may leave a rest of rounding in the mean; its spread is exactly zero.
  if (*low == *high) {
    found.mean = *low;
    found.sum_squares = 0.0;
    return found;
  }
  require_finite(found.sum_squares, "summarize", "sum of squares of values");
  found.sd = std::sqrt(found.sum_squares / (n - 1.0));
  found.lag1_autocorrelation = products.value() / found.sum_squares;
  const double variance = found.sum_squares / n;
  found.skewness = cubes.value() / n / (variance * std::sqrt(variance));
  found.excess_kurtosis = fourths.value() / n / (variance * variance) - 3.0;
  return found;
}

}  // namespace steadyfilm
