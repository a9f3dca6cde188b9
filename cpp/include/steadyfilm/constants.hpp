/// @file
/// Chart factors of any subgroup size, from the normal range and chi distributions, never from a table.
#pragma once

#include <cstddef>

namespace steadyfilm {

/// Factors of subgroups of n normal readings, without unit; lower ones are floored at 0.
/// The letters are those of the trade, and their case matters: d3 is not D3.
struct ChartFactors {
  std::size_t subgroup_size = 0;
  double d2 = 0.0;  ///< mean of the range / sigma
  double d3 = 0.0;  ///< sd of the range / sigma
  double c4 = 0.0;  ///< mean of s / sigma
  double c5 = 0.0;  ///< sd of s / sigma
  double A = 0.0;   ///< 3 / sqrt n: averages, sigma known
  double A2 = 0.0;  ///< 3 / (d2 sqrt n): averages, from the mean range
  double A3 = 0.0;  ///< 3 / (c4 sqrt n): averages, from the mean s
  double B3 = 0.0;  ///< 1 - 3 c5 / c4: s chart, from the mean s
  double B4 = 0.0;  ///< 1 + 3 c5 / c4
  double B5 = 0.0;  ///< c4 - 3 c5: s chart, sigma known
  double B6 = 0.0;  ///< c4 + 3 c5
  double D1 = 0.0;  ///< d2 - 3 d3: range chart, sigma known
  double D2 = 0.0;  ///< d2 + 3 d3
  double D3 = 0.0;  ///< 1 - 3 d3 / d2: range chart, from the mean range
  double D4 = 0.0;  ///< 1 + 3 d3 / d2
  double E2 = 0.0;  ///< 3 / d2: single readings, from the mean range
  double E3 = 0.0;  ///< 3 / c4: single readings, from the mean s
};

/// Divisor that makes the mean of `groups` ranges, squared, an unbiased estimate of the variance.
struct D2Star {
  double d2_star = 0.0;             ///< sqrt(d2^2 + d3^2 / groups)
  double degrees_of_freedom = 0.0;  ///< of the chi distribution with the same coefficient of variation; real
};

/// Mean range of n standard normal values; 14 or more digits, for any n >= 2.
/// Results are kept, so that asking again costs a look-up; safe from several threads.
[[nodiscard]] double d2(std::size_t subgroup_size);

/// Standard deviation of the range of n standard normal values; 13 digits, for any n >= 2. Kept as d2 is.
[[nodiscard]] double d3(std::size_t subgroup_size);

/// Mean of the sample standard deviation (divisor n - 1) over sigma; real n > 1, so that pooled degrees of freedom nu
/// are served by c4(nu + 1).
[[nodiscard]] double c4(double n);

/// Its standard deviation over sigma: sqrt(1 - c4^2), without the cancellation.
[[nodiscard]] double c5(double n);

/// All factors of one subgroup size.
/// @throws InvalidInput  subgroup_size below 2
[[nodiscard]] ChartFactors chart_factors(std::size_t subgroup_size);

/// d2* and its degrees of freedom for `groups` ranges of subgroups of one size.
/// @throws InvalidInput  no group, or subgroup_size below 2
[[nodiscard]] D2Star d2_star(std::size_t groups, std::size_t subgroup_size);

/// Degrees of freedom nu of an estimate of sigma with the given relative variance, variance / mean^2 > 0, by the match
/// to a chi variable: c5(nu + 1)^2 / c4(nu + 1)^2 = relative_variance.
[[nodiscard]] double chi_match_degrees_of_freedom(double relative_variance);

/// Degrees of freedom of a mean moving range of 2 by the chi match.
/// @param ranges           how many moving ranges were averaged, at least 1
/// @param adjacent_ranges  how many pairs of them share a reading: ranges - 1 for an unbroken series, fewer with gaps
[[nodiscard]] double moving_range_degrees_of_freedom(std::size_t ranges, std::size_t adjacent_ranges);

}  // namespace steadyfilm
