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

  const auto [low, high] = std::minmax_element(values.begin(), values.end());
  require_finite(*high - *low, "summarize", "range of values");
  // Deviations are counted in a power of two near the range, so that their powers neither vanish nor overflow.
  const int exponent = *low < *high ? std::ilogb(*high - *low) : 0;

  DoubleDouble squares, cubes, fourths, products;
  DoubleDouble previous;
  for (std::size_t i = 0; i < values.size(); ++i) {
    DoubleDouble deviation = DoubleDouble{values[i], 0.0} + -mean;
    deviation = {std::ldexp(deviation.high, -exponent), std::ldexp(deviation.low, -exponent)};
    const DoubleDouble square = deviation * deviation;
    squares = squares + square;
    cubes = cubes + square * deviation;
    fourths = fourths + square * square;
    if (i > 0) products = products + previous * deviation;
    previous = deviation;
  }

  Summary found{.count = values.size(),
                .sum = total.value(),
                .mean = mean.value(),
                .sum_squares = std::ldexp(squares.value(), 2 * exponent),
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
  found.sd = std::ldexp(std::sqrt(squares.value() / (n - 1.0)), exponent);
  found.lag1_autocorrelation = products.value() / squares.value();
  const double variance = squares.value() / n;
  found.skewness = cubes.value() / n / (variance * std::sqrt(variance));
  found.excess_kurtosis = fourths.value() / n / (variance * variance) - 3.0;
  return found;
}

}  // namespace steadyfilm
