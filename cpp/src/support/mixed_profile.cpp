#include "mixed_profile.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <vector>

#include <steadyfilm/distributions.hpp>

namespace steadyfilm::support {

namespace {

constexpr double infinite = std::numeric_limits<double>::infinity();
constexpr double none = std::numeric_limits<double>::quiet_NaN();
constexpr double close_enough = 1e-4;  // of the root of the rise, before a last step along its slope
constexpr double surely_above = 0.2;   // log_sd_standard_error below which 0 is hardly inside the interval
constexpr double next_to_zero = 0.05;  // part of small_theta
constexpr std::size_t most_steps = 60;

Eigen::Index as_index(std::size_t i) { return static_cast<Eigen::Index>(i); }

/// Root of the rise of the deviance, and its slope in ln variance.
struct Rise {
  double root = 0.0;
  double slope = none;
};

/// Walks along the profile of one component, each point from the ones before.
class Profile {
 public:
  Profile(MixedLikelihood& likelihood, const Top& top, const Information& information, std::size_t component)
      : likelihood_(likelihood), top_(top), component_(component), residual_(component == likelihood.data().terms()) {
    best_ = top.point.penalized / likelihood.degrees_of_freedom();
    if (!residual_) {
      const double own = top.point.theta[as_index(component)];
      best_ *= top.free[component] ? own * own : 0.0;
    }
    if (best_ > 0.0 && information.covariance.size() > 0) look_ahead(information);
    restart();
  }

  [[nodiscard]] double best() const { return best_; }

  /// Of ln sd at the top; NaN when unknown.
  [[nodiscard]] double log_sd_standard_error() const { return log_sd_standard_error_; }

  Rise at(double variance) {
    const Held held{residual_ ? Held::What::residual : Held::What::component, component_, variance};
    Top found = climb(likelihood_, held, start_at(variance), most_steps, curvature_);
    if (!std::isfinite(found.deviance)) {
      restart();
      found = climb(likelihood_, held, start_at(variance), most_steps, {});
      if (!std::isfinite(found.deviance)) return {infinite, none};
    }
    const double log_variance = std::log(variance);
    if (last_ > 0.0 && std::abs(log_variance - std::log(last_)) > 1e-9) {
      for (Eigen::Index k = 0; k < slope_.size(); ++k) {
        const bool away = found.point.theta[k] > relative_zero && theta_[k] > relative_zero;
        slope_[k] = away ? std::log(found.point.theta[k] / theta_[k]) / (log_variance - std::log(last_)) : 0.0;
      }
    }
    curvature_ = found.curvature;
    theta_ = found.point.theta;
    last_ = variance;
    Rise out;
    out.root = std::sqrt(std::max(0.0, found.deviance - 0.5 * found.decrement - top_.deviance));
    out.slope = likelihood_.held_slope(found.point, held) / (2.0 * std::max(out.root, 1e-300));
    return out;
  }

  /// Rise of the deviance at 0.
  double at_zero() {
    std::vector<bool> pinned(likelihood_.data().terms(), false);
    pinned[component_] = true;
    const Top found = climb(likelihood_, Held{}, top_.point.theta, most_steps, {}, pinned);
    return std::max(0.0, found.deviance - 0.5 * found.decrement - top_.deviance);
  }

  /// A variance of a term that is as good as 0.
  [[nodiscard]] double tiny() const {
    if (residual_) return 0.0;
    const double theta = next_to_zero * likelihood_.small_theta(component_);
    return theta * theta * top_.point.penalized / likelihood_.degrees_of_freedom();
  }

  /// Begin again at the top.
  void restart() {
    theta_ = top_.point.theta;
    last_ = best_;
    slope_ = first_slope_;
    curvature_ = first_curvature_;
  }

 private:
  /// Near the top the deviance is a parabola in ln theta and ln of the residual sd: what the others do when this
  /// component moves, and the curvature while it is held.
  void look_ahead(const Information& information) {
    const auto terms = top_.point.theta.size();
    const auto end = as_index(information.terms.size());  // the residual's place
    Eigen::Index own = end;
    for (Eigen::Index a = 0; a < end; ++a) {
      if (information.terms[static_cast<std::size_t>(a)] == component_) own = a;
    }
    const Eigen::MatrixXd& spread = information.covariance;
    log_sd_standard_error_ = std::sqrt(spread(own, own));
    Eigen::MatrixXd turn = Eigen::MatrixXd::Zero(end + 1, end);
    turn.topRows(end).setIdentity();
    if (!residual_) turn(end, own) = -1.0;  // ln theta + ln of the residual sd is held
    const Eigen::MatrixXd inner = turn.transpose() * information.second * turn;
    first_slope_ = Eigen::VectorXd::Zero(terms);
    first_curvature_ = Eigen::MatrixXd::Identity(terms, terms);
    for (Eigen::Index a = 0; a < end; ++a) {
      const auto k = as_index(information.terms[static_cast<std::size_t>(a)]);
      first_slope_[k] = 0.5 * (spread(a, own) - spread(end, own)) / spread(own, own);
      for (Eigen::Index b = 0; b < end; ++b) {
        first_curvature_(k, as_index(information.terms[static_cast<std::size_t>(b)])) = inner(a, b);
      }
    }
  }

  [[nodiscard]] Eigen::VectorXd start_at(double variance) const {
    Eigen::VectorXd start = theta_;
    if (!(last_ > 0.0)) {
      start[as_index(component_)] = std::sqrt(variance * likelihood_.degrees_of_freedom() / top_.point.penalized);
      return start;
    }
    const double way = std::log(variance / last_);
    if (slope_.size() == 0) {
      if (!residual_) start[as_index(component_)] *= std::exp(0.5 * way);
      return start;
    }
    for (Eigen::Index k = 0; k < start.size(); ++k) {
      if (start[k] > relative_zero) start[k] *= std::exp(std::clamp(slope_[k] * way, -3.0, 3.0));
    }
    return start;
  }

  MixedLikelihood& likelihood_;
  const Top& top_;
  std::size_t component_;
  bool residual_;
  double best_ = 0.0;
  double log_sd_standard_error_ = none;
  Eigen::VectorXd first_slope_;      ///< of ln theta in ln variance, at the top; empty when unknown
  Eigen::MatrixXd first_curvature_;  ///< as Top::curvature

  double last_ = 0.0;
  Eigen::VectorXd theta_, slope_;
  Eigen::MatrixXd curvature_;
};

/// A point of the walk: ln variance, and the rise there.
struct Stop {
  double where = 0.0;
  Rise rise;
};

/// ln variance at which the root of the rise is `target`, by the cubic of ln variance in the root through two stops;
/// NaN without two slopes of the same sign.
double through(const Stop& one, const Stop& two, double target) {
  const double width = two.rise.root - one.rise.root, part = (target - one.rise.root) / width;
  if (!(one.rise.slope * two.rise.slope > 0.0) || !(std::abs(part) < 3.0)) return none;
  const double rest = 1.0 - part;
  return rest * rest * (1.0 + 2.0 * part) * one.where + part * rest * rest * width / one.rise.slope +
         part * part * (3.0 - 2.0 * part) * two.where - part * part * rest * width / two.rise.slope;
}

/// Where the root of the rise reaches `target`, going up (side 1) or down (side -1) from the top; NaN where it does
/// not, or below `least`.
double end_of(Profile& profile, double target, const Stop& top, double first, int side, double least = 0.0) {
  double inside = top.where, outside = none, where = first;
  Stop before = top;
  for (int i = 0; i < 60; ++i) {
    const Stop here{where, profile.at(std::exp(where))};
    const double root = here.rise.root, slope = here.rise.slope;
    const double straight = where + (target - root) / slope;
    const bool forward = std::isfinite(straight) && slope * side > 0.0;
    if (std::abs(root - target) < close_enough * target) return std::exp(forward ? straight : where);
    (root < target ? inside : outside) = where;
    double next = through(before, here, target);
    if (!std::isfinite(next)) next = straight;
    if (std::isnan(outside)) {
      if (where <= std::log(least)) return none;
      // The root of the rise bends away from a line; never go more than a factor of 20 at once.
      next = forward ? where + side * std::clamp(side * (next - where), 0.05, 3.0) : where + side * 1.0;
      if (std::abs(next - first) > 100.0) return none;
    } else if (!forward || !(side * (next - inside) > 0.0 && side * (outside - next) > 0.0)) {
      next = 0.5 * (inside + outside);
    }
    if (std::abs(next - where) < 1e-10) return std::exp(next);
    before = here;
    where = next;
  }
  return none;
}

}  // namespace

Interval profile_interval(MixedLikelihood& likelihood, const Top& top, const Information& information,
                          std::size_t component, double confidence_level) {
  const bool residual = component == likelihood.data().terms();
  const double target = normal_quantile(0.5 + 0.5 * confidence_level);
  Profile profile(likelihood, top, information, component);
  Interval out{none, none};
  const double best = profile.best();
  if (best > 0.0) {
    const double error = profile.log_sd_standard_error();
    const double reach = std::clamp(2.0 * target * (std::isfinite(error) ? error : 0.5), 0.01, 3.0);
    const double from = std::log(best);
    const Stop below{from, {0.0, -0.5 / error}}, above{from, {0.0, 0.5 / error}};
    // A component far above 0 need not be compared with 0, unless its lower end is not met on the way.
    if (residual || error < surely_above) out.lower = end_of(profile, target, below, from - reach, -1, profile.tiny());
    if (!residual && std::isnan(out.lower)) {
      profile.restart();
      const bool zero = profile.at_zero() <= target * target;
      out.lower = zero ? 0.0 : end_of(profile, target, below, from - reach, -1);
    }
    profile.restart();
    out.upper = end_of(profile, target, above, from + reach, 1);
    return out;
  }
  // Highest at 0: the deviance rises at once, by its slope in the variance.
  out.lower = 0.0;
  const double variance = top.point.penalized / likelihood.degrees_of_freedom();
  const Eigen::VectorXd rise = likelihood.square_slope(top.point, Held{});
  const double slope = rise[as_index(component)] / variance;
  const double small = std::pow(likelihood.small_theta(component), 2) * variance;
  const double first = std::clamp(target * target / std::max(slope, 1e-300), 0.1 * small, 100.0 * small);
  out.upper = end_of(profile, target, {std::log(first) - 200.0, {}}, std::log(first), 1);
  return out;
}

}  // namespace steadyfilm::support
