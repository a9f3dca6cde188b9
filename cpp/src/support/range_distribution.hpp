/// @file
/// The range of n standard normal values, beyond its mean and standard deviation (those are in constants.hpp).
#pragma once

#include <cstddef>

namespace steadyfilm::support {

/// P(range of n values <= range), n >= 2, to about 14 digits.
[[nodiscard]] double range_cdf(std::size_t n, double range);

/// Median of the range of n values, n >= 2; sqrt(2) z(0.75) for two. Computed once a size, to about 14 digits.
[[nodiscard]] double range_median(std::size_t n);

/// Covariance of the ranges of two windows of `span` successive values, the second `lag` values later, 1 <= lag < span.
/// Computed once a pair, to about 9 digits.
[[nodiscard]] double range_covariance(std::size_t span, std::size_t lag);

/// Density of the range of two values.
[[nodiscard]] double range_of_two_density(double range);

/// P(|X1 - X2| <= range and |X2 - X3| <= range): two neighboring ranges of two share the middle value.
[[nodiscard]] double both_ranges_of_two_below(double range);

}  // namespace steadyfilm::support
