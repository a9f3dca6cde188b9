// Means of groups and squares of deviations in twice the working precision.
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <span>
#include <vector>

#include "support/double_double.hpp"

namespace steadyfilm::support {

/// Mean of numbers in twice the working precision.
inline DoubleDouble mean_of(std::span<const DoubleDouble> values) {
  DoubleDouble sum;
  for (const DoubleDouble& x : values) sum = sum + x;
  return divide(sum, static_cast<double>(values.size()));
}

inline std::vector<DoubleDouble> widened(std::span<const double> values) {
  std::vector<DoubleDouble> out;
  out.reserve(values.size());
  for (const double x : values) out.push_back({x, 0.0});
  return out;
}

/// Means of runs of `size` numbers each.
inline std::vector<DoubleDouble> means_of_runs(std::span<const DoubleDouble> values, std::size_t size) {
  std::vector<DoubleDouble> out;
  out.reserve(values.size() / size);
  for (std::size_t i = 0; i < values.size(); i += size) out.push_back(mean_of(values.subspan(i, size)));
  return out;
}

/// Squares deviations and adds them; a rest of rounding on a deviation that is zero counts as zero.
class Squares {
 public:
  explicit Squares(std::span<const double> values) {
    for (const double x : values) rounding_ = std::max(rounding_, std::abs(x));
    // A deviation of doubles from the mean of up to 1e6 of them is 0 or above 1e-22 of the largest; that of exact
    // zeros comes out below 1e-30 of it.
    rounding_ *= 1e-27;
  }

  /// Whether a deviation is more than a rest of rounding.
  [[nodiscard]] bool counts(DoubleDouble deviation) const { return std::abs(deviation.value()) > rounding_; }

  void add(DoubleDouble deviation) {
    if (counts(deviation)) sum_ = sum_ + deviation * deviation;
  }

  /// The sum so far, each square counted `times`; starts anew.
  double take(double times) {
    const double sum = (sum_ * DoubleDouble{times, 0.0}).value();
    sum_ = {};
    return sum;
  }

 private:
  double rounding_ = 0.0;
  DoubleDouble sum_;
};

}  // namespace steadyfilm::support
