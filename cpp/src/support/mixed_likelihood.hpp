// The likelihood of a mixed model in the relative standard deviations, with its exact slope, and the search for its
// top.
#pragma once

#include <Eigen/Dense>

#include <cstddef>
#include <functional>
#include <span>
#include <vector>

#include "mixed_data.hpp"
#include "mixed_factor.hpp"

namespace steadyfilm::support {

/// Smaller relative standard deviations are 0; not 0 itself, so that slopes in the square stay exact there.
inline constexpr double relative_zero = 1e-20;

/// What one evaluation finds, for scaled readings.
struct MixedPoint {
  Eigen::VectorXd theta;         ///< relative standard deviations, relative_zero where 0
  double log_determinant = 0.0;  ///< restricted: of M, full: of its block of Z
  double penalized = 0.0;        ///< min over u, beta of |y - ZTu - X beta|^2 + |u|^2
  Eigen::VectorXd traces;        ///< slope of log_determinant in theta^2
  Eigen::VectorXd squares;       ///< minus the slope of penalized in theta^2: |Z_k' residual|^2
  Eigen::VectorXd score;         ///< Z' rest, a column of Z
  Eigen::VectorXd solution;      ///< u, then beta
};

/// Which parameter is held fixed while the others are at their best.
struct Held {
  enum class What { nothing, residual, component } what = What::nothing;
  std::size_t component = 0;
  double variance = 0.0;  ///< the value that it is held at, scaled; above 0
};

class MixedLikelihood {
 public:
  MixedLikelihood(const MixedData& data, bool restricted, std::function<bool()> keep_going);

  /// @throws Stopped  keep_going said no
  MixedPoint evaluate(const Eigen::VectorXd& theta);

  /// -2 log-likelihood less constants, with the residual variance at its best under what is held.
  [[nodiscard]] double deviance(const MixedPoint& point, const Held& held) const;

  /// Residual variance at its best under what is held, scaled.
  [[nodiscard]] double residual_variance(const MixedPoint& point, const Held& held) const;

  /// Slope of the deviance in theta^2.
  [[nodiscard]] Eigen::VectorXd square_slope(const MixedPoint& point, const Held& held) const;

  /// Curvature of the deviance in theta, with the data's quadratic forms in place of the traces that they estimate: the
  /// average of observed and expected information (Gilmour, Thompson and Cullis 1995, from memory).
  /// @param point  the one evaluated last
  [[nodiscard]] Eigen::MatrixXd average_curvature(const MixedPoint& point, const Held& held) const;

  /// Slope of the least deviance in ln of the held variance.
  [[nodiscard]] double held_slope(const MixedPoint& point, const Held& held) const;

  [[nodiscard]] double degrees_of_freedom() const { return degrees_of_freedom_; }
  [[nodiscard]] const MixedData& data() const { return data_; }
  [[nodiscard]] std::size_t evaluations() const { return evaluations_; }
  /// Usual size of theta at which a term begins to matter.
  [[nodiscard]] double small_theta(std::size_t term) const { return small_theta_[term]; }
  [[nodiscard]] MixedFactor& factor() { return factor_; }

 private:
  const MixedData& data_;
  bool restricted_;
  double degrees_of_freedom_;
  std::function<bool()> keep_going_;
  MixedFactor factor_;
  std::vector<double> small_theta_;
  std::size_t evaluations_ = 0;
};

/// The end of a search.
struct Top {
  MixedPoint point;
  double deviance = 0.0;
  double decrement = 0.0;  ///< what another Newton step would take off the deviance
  bool converged = false;
  std::size_t steps = 0;
  std::vector<bool> free;     ///< terms away from 0
  Eigen::MatrixXd curvature;  ///< of the deviance in ln theta; 1 on the diagonal of a term at 0
};

/// Least deviance under what is held, by quasi-Newton steps from `start`.
///
/// The curvature begins as the average information, or as `curvature`, and is corrected step by step (BFGS); it is
/// measured by differences of the exact slopes where that does not lead to the top soon.
/// @param curvature  as in Top
/// @param pinned     terms that stay at 0
[[nodiscard]] Top climb(MixedLikelihood& likelihood, const Held& held, const Eigen::VectorXd& start,
                        std::size_t most_steps, const Eigen::MatrixXd& curvature = {},
                        const std::vector<bool>& pinned = {});

/// Curvature at the top, and what follows from it, of ln(sd) of the terms away from 0, then of the residual.
struct Information {
  std::vector<std::size_t> terms;  ///< those away from 0
  Eigen::MatrixXd second;          ///< second derivatives of the deviance in ln theta and ln of the residual sd
  Eigen::MatrixXd covariance;      ///< of ln(sd); empty when the information is not positive definite
};

/// By central differences of the exact slopes.
[[nodiscard]] Information observed_information(MixedLikelihood& likelihood, const Top& top);

/// Where to start: the unbiased components, then a few steps of Harville's fixed point.
[[nodiscard]] Eigen::VectorXd starting_point(MixedLikelihood& likelihood);

}  // namespace steadyfilm::support
