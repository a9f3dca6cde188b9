#include "mixed_profile.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <vector>

#include <steadyfilm/distributions.hpp>

namespace steadyfilm::support {

namespace {

constexpr double none = std::numeric_limits<double>::quiet_NaN();
constexpr double close_enough = 1e-6;  // of the root of the rise
constexpr std::size_t most_steps = 60;

/// Walks along the profile of one component, each point from the one before.
class Profile {
 public:
  Profile(MixedLikelihood& likelihood, const Top& top, std::size_t component)
      : likelihood_(likelihood), top_(top), component_(component), residual_(component == likelihood.data().terms()) {
    best_ = top.point.penalized / likelihood.degrees_of_freedom();
    theta_ = top.point.theta;
    if (!residual_) {
      const double own = theta_[static_cast<Eigen::Index>(component)];
      best_ *= top.free[component] ? own * own : 0.0;
    }
  }

  [[nodiscard]] double best() const { return best_; }

  /// Root of the rise of the deviance at a variance, and its slope in ln variance.
  struct Rise {
    double root = 0.0;
    double slope = 0.0;
  };
  Rise at(double variance) {
    Held held{residual_ ? Held::What::residual : Held::What::component, component_, variance};
    Eigen::VectorXd start = theta_;
    if (!residual_) {
      auto& own = start[static_cast<Eigen::Index>(component_)];
      own *= std::sqrt(variance / last_);
      if (!(last_ > 0.0)) own = std::sqrt(variance * likelihood_.degrees_of_freedom() / top_.point.penalized);
    }
    const Top found = climb(likelihood_, held, start, most_steps, curvature_);
    if (found.curvature.size() > 0) curvature_ = found.curvature;
    theta_ = found.point.theta;
    last_ = variance;
    Rise out;
    out.root = std::sqrt(std::max(0.0, found.deviance - top_.deviance));
    out.slope = likelihood_.held_slope(found.point, held) / (2.0 * std::max(out.root, 1e-300));
    return out;
  }

  /// Rise of the deviance at 0.
  double at_zero() {
    std::vector<bool> pinned(likelihood_.data().terms(), false);
    pinned[component_] = true;
    const Top found = climb(likelihood_, Held{}, top_.point.theta, most_steps, {}, pinned);
    return std::max(0.0, found.deviance - top_.deviance);
  }

  /// Begin again at the top.
  void restart() {
    theta_ = top_.point.theta;
    last_ = best_;
    curvature_.resize(0, 0);
  }

 private:
  MixedLikelihood& likelihood_;
  const Top& top_;
  std::size_t component_;
  bool residual_;
  double best_ = 0.0;
  double last_ = 0.0;
  Eigen::VectorXd theta_;
  Eigen::MatrixXd curvature_;
};

/// Where the root of the rise reaches `target`, going up (side 1) or down (side -1) from ln(variance) = `from`.
double end_of(Profile& profile, double target, double from, double first, int side) {
  double inside = from, outside = none;
  double where = first;
  for (int i = 0; i < 60; ++i) {
    const auto [root, slope] = profile.at(std::exp(where));
    if (std::abs(root - target) < close_enough * target) return std::exp(where);
    (root < target ? inside : outside) = where;
    double next = where + (target - root) / slope;
    const bool forward = std::isfinite(next) && slope * side > 0.0;
    if (std::isnan(outside)) {
      // The root of the rise bends away from a line; never go more than a factor of 20 at once.
      next = forward ? where + side * std::clamp(side * (next - where), 0.05, 3.0) : where + side * 1.0;
      if (std::abs(next - first) > 100.0) return none;
    } else if (!forward || !(side * (next - inside) > 0.0 && side * (outside - next) > 0.0)) {
      next = 0.5 * (inside + outside);
    }
    if (std::abs(next - where) < 1e-10) return std::exp(next);
    where = next;
  }
  return none;
}

}  // namespace

Interval profile_interval(MixedLikelihood& likelihood, const Top& top, std::size_t component, double confidence_level,
                          double log_sd_standard_error) {
  const bool residual = component == likelihood.data().terms();
  const double target = normal_quantile(0.5 + 0.5 * confidence_level);
  Profile profile(likelihood, top, component);
  Interval out{none, none};
  const double best = profile.best();
  const double step = 2.0 * target * (std::isfinite(log_sd_standard_error) ? log_sd_standard_error : 0.5);
  if (best > 0.0) {
    const double from = std::log(best);
    if (!residual && profile.at_zero() <= target * target) {
      out.lower = 0.0;
    } else {
      profile.restart();
      out.lower = end_of(profile, target, from, from - std::clamp(step, 0.01, 3.0), -1);
    }
    profile.restart();
    out.upper = end_of(profile, target, from, from + std::clamp(step, 0.01, 3.0), 1);
    return out;
  }
  // Highest at 0: the deviance rises at once, by its slope in the variance.
  out.lower = 0.0;
  const double variance = top.point.penalized / likelihood.degrees_of_freedom();
  const Eigen::VectorXd rise = likelihood.square_slope(top.point, Held{});
  const double slope = rise[static_cast<Eigen::Index>(component)] / variance;
  const double small = std::pow(likelihood.small_theta(component), 2) * variance;
  const double first = std::clamp(target * target / std::max(slope, 1e-300), 0.1 * small, 100.0 * small);
  out.upper = end_of(profile, target, std::log(first) - 200.0, std::log(first), 1);
  return out;
}

}  // namespace steadyfilm::support
