// Intervals for variances that are sums or differences of independent mean squares.
//
// Sum: Graybill and Wang (1980). Difference: Ting, Burdick, Graybill, Jeyaratnam and Lu (1990). Both as in Burdick and
// Graybill, Confidence Intervals on Variance Components (1992), sections 3.2 and 3.3 (from memory).
#pragma once

#include <algorithm>
#include <cmath>
#include <vector>

#include <steadyfilm/distributions.hpp>

namespace steadyfilm::support {

struct MeanSquare {
  double value = 0.0;
  double degrees_of_freedom = 0.0;
};

struct WeightedMeanSquare {
  double weight = 0.0;
  MeanSquare square;
};

struct Interval {
  double lower = 0.0;
  double upper = 0.0;
};

/// How far below a mean square the expectation may lie, as a part of it: 1 - 1/F(1 - tail; n, infinity).
inline double reach_down(double tail, double degrees_of_freedom) {
  return 1.0 - degrees_of_freedom / chi_square_quantile(1.0 - tail, degrees_of_freedom);
}

/// How far above: 1/F(tail; n, infinity) - 1.
inline double reach_up(double tail, double degrees_of_freedom) {
  return degrees_of_freedom / chi_square_quantile(tail, degrees_of_freedom) - 1.0;
}

/// Two-sided interval of a sum with weights of 0 or more; exact for a single term.
inline Interval sum_interval(const std::vector<WeightedMeanSquare>& terms, double confidence_level) {
  const double tail = 0.5 - 0.5 * confidence_level;
  double value = 0.0, down = 0.0, up = 0.0;
  for (const auto& [weight, square] : terms) {
    const double part = weight * square.value;
    value += part;
    down = std::hypot(down, reach_down(tail, square.degrees_of_freedom) * part);
    up = std::hypot(up, reach_up(tail, square.degrees_of_freedom) * part);
  }
  return {value - down, value + up};
}

/// Two-sided interval of E(first) - E(second); its ends may lie below 0.
inline Interval difference_interval(MeanSquare first, MeanSquare second, double confidence_level) {
  const double tail = 0.5 - 0.5 * confidence_level;
  const double n1 = first.degrees_of_freedom, n2 = second.degrees_of_freedom;
  const double s1 = first.value, s2 = second.value;
  const double g1 = reach_down(tail, n1), g2 = reach_down(tail, n2);
  const double h1 = reach_up(tail, n1), h2 = reach_up(tail, n2);
  const double high = f_quantile(1.0 - tail, n1, n2), low = f_quantile(tail, n1, n2);
  const double g12 = (std::pow(high - 1.0, 2) - std::pow(g1 * high, 2) - h2 * h2) / high;
  const double h12 = (std::pow(1.0 - low, 2) - std::pow(h1 * low, 2) - g2 * g2) / low;
  const double down = std::pow(g1 * s1, 2) + std::pow(h2 * s2, 2) + g12 * s1 * s2;
  const double up = std::pow(h1 * s1, 2) + std::pow(g2 * s2, 2) + h12 * s1 * s2;
  return {s1 - s2 - std::sqrt(std::max(0.0, down)), s1 - s2 + std::sqrt(std::max(0.0, up))};
}

/// Degrees of freedom of the chi-square with the same mean and variance: Satterthwaite (1946). 0 for a sum of 0.
inline double satterthwaite_degrees_of_freedom(const std::vector<WeightedMeanSquare>& terms) {
  double value = 0.0, spread = 0.0;
  for (const auto& [weight, square] : terms) {
    value += weight * square.value;
    spread += std::pow(weight * square.value, 2) / square.degrees_of_freedom;
  }
  return spread > 0.0 ? value * value / spread : 0.0;
}

}  // namespace steadyfilm::support
