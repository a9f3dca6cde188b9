// Intervals for weighted sums of independent mean squares, weights of either sign, and for ratios of two such sums.
//
// Modified large sample: Ting, Burdick, Graybill, Jeyaratnam and Lu (1990), of which Graybill and Wang (1980) is the
// case without negative weights; Burdick and Graybill (1992), section 3.3 (from memory). The terms for pairs of equal
// sign, which vanish as degrees of freedom grow, are left out.
#pragma once

#include <cstddef>
#include <span>
#include <vector>

#include "support/mean_squares.hpp"

namespace steadyfilm::support {

/// Mean squares with the quantiles that their intervals need, each worked out once.
class MeanSquareSet {
 public:
  MeanSquareSet(std::vector<MeanSquare> squares, double confidence_level);

  [[nodiscard]] std::size_t size() const { return squares_.size(); }
  [[nodiscard]] const MeanSquare& operator[](std::size_t i) const { return squares_[i]; }

  /// sum of weight x mean square
  [[nodiscard]] double value(std::span<const double> weights) const;
  /// Modified large sample; ends as they come.
  [[nodiscard]] Interval interval(std::span<const double> weights);
  [[nodiscard]] double lower(std::span<const double> weights);
  [[nodiscard]] double upper(std::span<const double> weights);
  /// Degrees of freedom by Satterthwaite; 0 for a sum of 0.
  [[nodiscard]] double degrees_of_freedom(std::span<const double> weights) const;
  /// Satterthwaite; NaN for an estimate that is not positive, or has less than one degree of freedom.
  [[nodiscard]] Interval satterthwaite(std::span<const double> weights) const;
  /// Shares c of `part` in `whole` for which 0 lies inside the interval of part - c whole; within 0 and 1.
  [[nodiscard]] Interval share(std::span<const double> part, std::span<const double> whole);
  /// F quantile above which a ratio of mean square i to mean square j lies with the upper tail's chance.
  [[nodiscard]] double f_upper(std::size_t i, std::size_t j);
  /// F quantile of the lower tail.
  [[nodiscard]] double f_lower(std::size_t i, std::size_t j) { return 1.0 / f_upper(j, i); }
  [[nodiscard]] double reach_down(std::size_t i) const { return down_[i]; }
  [[nodiscard]] double reach_up(std::size_t i) const { return up_[i]; }

 private:
  double tail_ = 0.0;
  std::vector<MeanSquare> squares_;
  std::vector<double> down_, up_;  ///< G and H of each mean square
  std::vector<double> f_;          ///< upper F quantiles by pair, 0 where not yet asked for
};

}  // namespace steadyfilm::support
