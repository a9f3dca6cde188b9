#include "mixed_likelihood.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

#include <steadyfilm/core.hpp>

namespace steadyfilm::support {

namespace {

constexpr double infinite = std::numeric_limits<double>::infinity();
constexpr double finished = 1e-20;    // decrement: 1e-10 standard errors from the top
constexpr double near_enough = 1e-7;  // the same where only the deviance counts, which is then taken that much lower
constexpr double near_top = 1e-6;     // decrement below which a step need not show in the deviance
constexpr double usable = 1e-10;      // decrement that still counts as converged when rounding allows no better
constexpr double largest = 1e7;       // relative standard deviation times root of the readings a level
constexpr std::size_t patience = 8;   // steps on a corrected curvature before it is measured
constexpr double vanished = 1e-6;     // part of small_theta below which a term is taken to be 0

Eigen::Index at(std::size_t i) { return static_cast<Eigen::Index>(i); }

}  // namespace

MixedLikelihood::MixedLikelihood(const MixedData& data, bool restricted, std::function<bool()> keep_going)
    : data_(data),
      restricted_(restricted),
      degrees_of_freedom_(static_cast<double>(data.readings) - (restricted ? static_cast<double>(data.fixed) : 0.0)),
      keep_going_(std::move(keep_going)),
      factor_(data) {
  for (std::size_t k = 0; k < data.terms(); ++k) {
    const double levels = static_cast<double>(data.term_start[k + 1] - data.term_start[k]);
    small_theta_.push_back(0.3 / std::sqrt(static_cast<double>(data.readings) / levels));
  }
}

MixedPoint MixedLikelihood::evaluate(const Eigen::VectorXd& theta) {
  if (keep_going_ && !keep_going_()) throw Stopped("mixed_components: stopped by the caller");
  ++evaluations_;
  MixedPoint out;
  out.theta = theta.cwiseAbs().cwiseMax(relative_zero);
  const std::size_t terms = data_.terms();
  const auto q = at(data_.columns()), p = at(data_.fixed);
  if (!factor_.factorize({out.theta.data(), terms})) {
    out.log_determinant = infinite;
    return out;
  }
  out.log_determinant = factor_.log_determinant(restricted_);
  out.solution.resize(q + p);
  for (Eigen::Index j = 0; j < q; ++j) {
    out.solution[j] = out.theta[data_.term[static_cast<std::size_t>(j)]] * data_.zy[j];
  }
  out.solution.tail(p) = data_.xy;
  factor_.solve(out.solution);
  // Residuals cell by cell: a difference of large sums of squares would lose what matters when parts vary far more
  // than repeats.
  const Eigen::VectorXd beta = out.solution.tail(p);
  Eigen::VectorXd random(q), score = Eigen::VectorXd::Zero(q);
  for (Eigen::Index j = 0; j < q; ++j) {
    random[j] = out.theta[data_.term[static_cast<std::size_t>(j)]] * out.solution[j];
  }
  out.penalized = data_.within + out.solution.head(q).squaredNorm();
  for (std::size_t c = 0; c < data_.cells.size(); ++c) {
    double rest = data_.cells[c].mean - fixed_part(data_, c, beta);
    for (std::size_t k = 0; k < terms; ++k) rest -= random[data_.column[k][c]];
    const double weighted = data_.cells[c].size * rest;
    out.penalized += weighted * rest;
    for (std::size_t k = 0; k < terms; ++k) score[data_.column[k][c]] += weighted;
  }
  out.squares = Eigen::VectorXd::Zero(at(terms));
  Eigen::VectorXd effects = out.squares, left = out.squares;
  for (Eigen::Index j = 0; j < q; ++j) {
    const auto k = data_.term[static_cast<std::size_t>(j)];
    out.squares[k] += score[j] * score[j];
    effects[k] += out.solution[j] * out.solution[j];
  }
  factor_.invert(restricted_);
  out.traces = factor_.traces();
  for (std::size_t j = 0; j < data_.columns(); ++j) left[data_.term[j]] += 1.0 - factor_.inverse_diagonal(j);
  // The same two by u = theta Z' residual and by the diagonal of M M^-1 = I, which is exact where theta is large and
  // residuals are small differences.
  for (std::size_t k = 0; k < terms; ++k) {
    if (out.theta[at(k)] < 4.0 * small_theta_[k]) continue;
    const double square = out.theta[at(k)] * out.theta[at(k)];
    out.squares[at(k)] = effects[at(k)] / square;
    out.traces[at(k)] = left[at(k)] / square;
  }
  out.score = std::move(score);
  return out;
}

double MixedLikelihood::residual_variance(const MixedPoint& point, const Held& held) const {
  switch (held.what) {
    case Held::What::residual:
      return held.variance;
    case Held::What::component:
      return held.variance / std::pow(point.theta[at(held.component)], 2);
    case Held::What::nothing:
      break;
  }
  return point.penalized / degrees_of_freedom_;
}

double MixedLikelihood::deviance(const MixedPoint& point, const Held& held) const {
  if (!(point.log_determinant < infinite)) return infinite;
  const double variance = residual_variance(point, held);
  const double found = point.log_determinant + degrees_of_freedom_ * std::log(variance) + point.penalized / variance;
  return std::isnan(found) ? infinite : found;
}

Eigen::VectorXd MixedLikelihood::square_slope(const MixedPoint& point, const Held& held) const {
  const double variance = residual_variance(point, held);
  Eigen::VectorXd out = point.traces - point.squares / variance;
  if (held.what == Held::What::component) {
    const double square = std::pow(point.theta[at(held.component)], 2);
    out[at(held.component)] += (point.penalized / variance - degrees_of_freedom_) / square;
  }
  return out;
}

Eigen::MatrixXd MixedLikelihood::average_curvature(const MixedPoint& point, const Held& held) const {
  const std::size_t terms = data_.terms();
  const auto q = at(data_.columns()), k_end = at(terms);
  // w_k = Z_k Z_k' rest, one number a cell; its products through P = I - [ZT X] M^-1 [ZT X]'.
  Eigen::MatrixXd sides = Eigen::MatrixXd::Zero(q + at(data_.fixed), k_end);
  Eigen::MatrixXd forms = Eigen::MatrixXd::Zero(k_end, k_end);
  Eigen::VectorXd own(k_end);
  for (std::size_t c = 0; c < data_.cells.size(); ++c) {
    const double size = data_.cells[c].size;
    for (std::size_t k = 0; k < terms; ++k) own[at(k)] = point.score[data_.column[k][c]];
    for (std::size_t k = 0; k < terms; ++k) {
      const double weighted = size * own[at(k)];
      for (std::size_t l = 0; l < terms; ++l) sides(data_.column[l][c], at(k)) += weighted;
      for (std::size_t l = 0; l <= k; ++l) forms(at(k), at(l)) += weighted * own[at(l)];
      for (std::size_t e = c * data_.width; e < (c + 1) * data_.width; ++e) {
        sides(q + data_.x_column[e], at(k)) += weighted * data_.x_entry[e];
      }
    }
  }
  for (Eigen::Index j = 0; j < q; ++j) sides.row(j) *= point.theta[data_.term[static_cast<std::size_t>(j)]];
  for (Eigen::Index k = 0; k < k_end; ++k) {
    Eigen::VectorXd solved = sides.col(k);
    factor_.solve(solved);
    for (Eigen::Index l = 0; l <= k; ++l) {
      forms(k, l) -= solved.dot(sides.col(l));
      forms(l, k) = forms(k, l);
    }
  }
  const double variance = residual_variance(point, held);
  Eigen::MatrixXd out = forms / variance;
  if (held.what == Held::What::nothing) {
    out -= point.squares * point.squares.transpose() / (variance * variance * degrees_of_freedom_);
  } else if (held.what == Held::What::component) {
    const auto h = at(held.component);
    out(h, h) += degrees_of_freedom_ / std::pow(point.theta[h], 4);
    out.row(h) -= point.squares.transpose() / held.variance;
    out.col(h) -= point.squares / held.variance;
  }
  out = 4.0 * (point.theta.asDiagonal() * out * point.theta.asDiagonal());
  out.diagonal() += 2.0 * square_slope(point, held);
  return out;
}

double MixedLikelihood::held_slope(const MixedPoint& point, const Held& held) const {
  return degrees_of_freedom_ - point.penalized / residual_variance(point, held);
}

namespace {

/// The search in scaled variables x = theta / unit; the deviance is even in each of them, so that a sign means nothing.
class Climber {
 public:
  Climber(MixedLikelihood& likelihood, const Held& held, const Eigen::VectorXd& start, const std::vector<bool>& pinned)
      : likelihood_(likelihood),
        held_(held),
        pinned_(pinned),
        finished_(held.what == Held::What::nothing && pinned.empty() ? finished : near_enough) {
    const std::size_t terms = likelihood.data().terms();
    unit_.resize(start.size());
    if (pinned_.empty()) pinned_.assign(terms, false);
    top_.free.assign(terms, true);
    Eigen::VectorXd theta = start;
    for (std::size_t k = 0; k < terms; ++k) {
      unit_[at(k)] = std::max(std::abs(start[at(k)]), likelihood.small_theta(k));
      if (pinned_[k] || gone(k, start[at(k)])) {
        top_.free[k] = false;
        theta[at(k)] = relative_zero;
      }
    }
    move_to(likelihood.evaluate(theta));
  }

  Top run(std::size_t most_steps, const Eigen::MatrixXd& curvature) {
    if (!(top_.deviance < infinite)) return std::move(top_);  // a start beyond what can be computed
    if (curvature.size() > 0) {
      curvature_ = curvature;
      scale_curvature(unit_.cwiseQuotient(top_.point.theta));
    }
    while (top_.steps < most_steps) {
      const bool done = climb_free(most_steps);
      if (!release()) {
        top_.converged = done;
        break;
      }
      curvature_.resize(0, 0);
    }
    if (curvature_.size() > 0) {
      scale_curvature(top_.point.theta.cwiseQuotient(unit_));
      top_.curvature = std::move(curvature_);
    }
    return std::move(top_);
  }

 private:
  [[nodiscard]] bool gone(std::size_t k, double theta) const {
    const bool held = held_.what == Held::What::component && held_.component == k;
    return !held && std::abs(theta) < vanished * likelihood_.small_theta(k);
  }

  void move_to(MixedPoint&& point) {
    top_.point = std::move(point);
    top_.deviance = likelihood_.deviance(top_.point, held_);
  }

  [[nodiscard]] Eigen::VectorXd slope(const MixedPoint& point) const {
    Eigen::VectorXd out = 2.0 * likelihood_.square_slope(point, held_).cwiseProduct(point.theta).cwiseProduct(unit_);
    for (std::size_t k = 0; k < top_.free.size(); ++k) {
      if (!top_.free[k]) out[at(k)] = 0.0;
    }
    return out;
  }

  /// To other units; a term that is not free has 1 on the diagonal.
  void scale_curvature(const Eigen::VectorXd& size) {
    curvature_ = (size.asDiagonal() * curvature_ * size.asDiagonal()).eval();
    keep_free();
  }

  void keep_free() {
    for (std::size_t k = 0; k < top_.free.size(); ++k) {
      if (top_.free[k]) continue;
      curvature_.row(at(k)).setZero();
      curvature_.col(at(k)).setZero();
      curvature_(at(k), at(k)) = 1.0;
    }
  }

  void estimate_curvature() {
    curvature_ = likelihood_.average_curvature(top_.point, held_);
    scale_curvature(unit_);
  }

  /// Forward differences of the slope; a term that is not free has 1 on the diagonal.
  void measure_curvature(const Eigen::VectorXd& here) {
    const Eigen::Index terms = here.size();
    curvature_ = Eigen::MatrixXd::Identity(terms, terms);
    for (Eigen::Index k = 0; k < terms; ++k) {
      if (!top_.free[static_cast<std::size_t>(k)]) continue;
      const double step = 1e-6 * std::max(std::abs(top_.point.theta[k]) / unit_[k], 0.1);
      Eigen::VectorXd theta = top_.point.theta;
      theta[k] += step * unit_[k];
      curvature_.col(k) = (slope(likelihood_.evaluate(theta)) - here) / step;
    }
    curvature_ = 0.5 * (curvature_ + curvature_.transpose()).eval();
    newton_ = true;
  }

  /// Downhill step: Newton's with the curvature made positive.
  [[nodiscard]] Eigen::VectorXd direction(const Eigen::VectorXd& here) {
    const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> parts(curvature_);
    const double floor = 1e-8 * std::max(1e-8, parts.eigenvalues().cwiseAbs().maxCoeff());
    const Eigen::VectorXd size = parts.eigenvalues().cwiseAbs().cwiseMax(floor);
    const Eigen::VectorXd turned = parts.eigenvectors().transpose() * here;
    top_.decrement = turned.cwiseProduct(turned).cwiseQuotient(size).sum();
    return -(parts.eigenvectors() * turned.cwiseQuotient(size));
  }

  /// Steps until none helps. False when they ran out, or the top was not reached.
  bool climb_free(std::size_t most_steps) {
    Eigen::VectorXd here = slope(top_.point);
    double last = infinite;
    std::size_t since = 0;
    for (; top_.steps < most_steps; ++top_.steps, ++since) {
      const bool newton = std::exchange(newton_, false);
      if (curvature_.size() == 0) {
        estimate_curvature();
        since = 0;
      } else if (since >= patience) {
        measure_curvature(here);
        since = 0;
      }
      Eigen::VectorXd step = direction(here);
      if (top_.decrement < finished_) return true;
      if (top_.decrement < usable && top_.decrement >= 0.25 * last) {
        if (newton) return true;  // rounding
        measure_curvature(here);
        since = 0;
        step = direction(here);
      }
      last = top_.decrement;
      MixedPoint next;
      if (!search(step, here, next)) {
        if (newton_) return top_.decrement < usable;
        measure_curvature(here);
        since = 0;
        step = direction(here);
        if (top_.decrement < finished_) return true;
        if (!search(step, here, next)) return top_.decrement < usable;
      }
      const Eigen::VectorXd moved = (next.theta - top_.point.theta).cwiseQuotient(unit_);
      const auto before = top_.free;
      move_to(std::move(next));
      drop();
      const Eigen::VectorXd there = slope(top_.point);
      if (before == top_.free) {
        correct(moved, there - here);
      } else {
        curvature_.resize(0, 0);
      }
      here = there;
      require_bounded();
    }
    return false;
  }

  /// Halve the step until it goes down enough; a first step is not longer than a factor of about 3 in a term.
  bool search(const Eigen::VectorXd& step, const Eigen::VectorXd& here, MixedPoint& next) {
    double part = 1.0;
    for (Eigen::Index k = 0; k < step.size(); ++k) {
      const double reach = 2.0 * std::max(top_.point.theta[k] / unit_[k], 0.5);
      part = std::min(part, reach / std::max(reach, std::abs(step[k])));
    }
    const double downhill = here.dot(step);
    const double rounding = 1e-13 * (std::abs(top_.deviance) + likelihood_.degrees_of_freedom());
    for (int i = 0; i < 40; ++i, part *= 0.4) {
      next = likelihood_.evaluate(top_.point.theta + part * step.cwiseProduct(unit_));
      const double found = likelihood_.deviance(next, held_);
      if (found <= top_.deviance + 1e-4 * part * downhill) return true;
      if (top_.decrement > near_top) continue;
      // So near the slopes know more than the deviance, which loses digits where levels differ far more than readings.
      if (found <= top_.deviance + rounding || slope(next).norm() < 0.5 * here.norm()) return true;
    }
    return false;
  }

  void correct(const Eigen::VectorXd& moved, const Eigen::VectorXd& change) {
    const Eigen::VectorXd old = curvature_ * moved;
    const double along = change.dot(moved), had = old.dot(moved);
    if (!(along > 1e-12 * change.norm() * moved.norm()) || !(had > 0.0)) return;
    curvature_ += change * change.transpose() / along - old * old.transpose() / had;
  }

  /// A term that has come down to next to nothing leaves the search.
  void drop() {
    Eigen::VectorXd theta = top_.point.theta;
    bool any = false;
    for (std::size_t k = 0; k < top_.free.size(); ++k) {
      if (top_.free[k] && gone(k, theta[at(k)])) {
        top_.free[k] = false;
        theta[at(k)] = relative_zero;
        any = true;
      }
    }
    if (any) move_to(likelihood_.evaluate(theta));
  }

  /// A term at 0 whose slope says that it should not be there comes back. False when there is none.
  bool release() {
    const Eigen::VectorXd rise = likelihood_.square_slope(top_.point, held_);
    Eigen::VectorXd theta = top_.point.theta;
    bool any = false;
    for (std::size_t k = 0; k < top_.free.size(); ++k) {
      if (top_.free[k] || pinned_[k] || !(rise[at(k)] < -1e-9 * top_.point.traces[at(k)])) continue;
      top_.free[k] = true;
      theta[at(k)] = likelihood_.small_theta(k);
      any = true;
    }
    if (!any) return false;
    // Only downhill: a released term starts where it is better than at 0.
    for (int i = 0; i < 12; ++i) {
      MixedPoint next = likelihood_.evaluate(theta);
      if (likelihood_.deviance(next, held_) < top_.deviance) {
        move_to(std::move(next));
        return true;
      }
      for (std::size_t k = 0; k < top_.free.size(); ++k) {
        if (top_.point.theta[at(k)] == relative_zero && top_.free[k]) theta[at(k)] *= 0.3;
      }
    }
    for (std::size_t k = 0; k < top_.free.size(); ++k) {
      if (top_.point.theta[at(k)] == relative_zero) top_.free[k] = false;
    }
    return false;
  }

  void require_bounded() const {
    for (std::size_t k = 0; k < top_.free.size(); ++k) {
      if (top_.point.theta[at(k)] * 0.3 < largest * likelihood_.small_theta(k)) continue;
      throw InvalidInput(
          "mixed_components", "values",
          "leave no residual variation beside the terms: the likelihood has no highest point. Do repeats "
          "agree to the last digit shown?");
    }
  }

  MixedLikelihood& likelihood_;
  Held held_;
  std::vector<bool> pinned_;
  bool newton_ = false;  ///< the curvature was measured for the step just taken
  double finished_;
  Eigen::VectorXd unit_;
  Eigen::MatrixXd curvature_;
  Top top_;
};

}  // namespace

Top climb(MixedLikelihood& likelihood, const Held& held, const Eigen::VectorXd& start, std::size_t most_steps,
          const Eigen::MatrixXd& curvature, const std::vector<bool>& pinned) {
  return Climber(likelihood, held, start, pinned).run(most_steps, curvature);
}

Information observed_information(MixedLikelihood& likelihood, const Top& top) {
  Information out;
  for (std::size_t k = 0; k < top.free.size(); ++k) {
    if (top.free[k]) out.terms.push_back(k);
  }
  const auto free = at(out.terms.size());
  const double variance = top.point.penalized / likelihood.degrees_of_freedom();
  // Second derivatives of -2 ln L in ln theta and ln sigma; those in ln theta as central differences of exact slopes.
  const auto slope = [&](const Eigen::VectorXd& theta) {
    const auto point = likelihood.evaluate(theta);
    Eigen::VectorXd found(free);
    for (Eigen::Index a = 0; a < free; ++a) {
      const auto k = at(out.terms[static_cast<std::size_t>(a)]);
      found[a] = 2.0 * point.theta[k] * point.theta[k] * (point.traces[k] - point.squares[k] / variance);
    }
    return found;
  };
  constexpr double step = 1e-4;
  Eigen::MatrixXd second = Eigen::MatrixXd::Zero(free + 1, free + 1);
  for (Eigen::Index a = 0; a < free; ++a) {
    const auto k = at(out.terms[static_cast<std::size_t>(a)]);
    Eigen::VectorXd up = top.point.theta, down = top.point.theta;
    up[k] *= std::exp(step);
    down[k] *= std::exp(-step);
    second.col(a).head(free) = (slope(up) - slope(down)) / (2.0 * step);
    second(a, free) = 4.0 * top.point.theta[k] * top.point.theta[k] * top.point.squares[k] / variance;
    second(free, a) = second(a, free);
  }
  second.topLeftCorner(free, free) =
      0.5 * (second.topLeftCorner(free, free) + second.topLeftCorner(free, free).transpose()).eval();
  second(free, free) = 4.0 * top.point.penalized / variance;
  out.second = second;
  const Eigen::LLT<Eigen::MatrixXd> factor(second);
  if (factor.info() != Eigen::Success || factor.rcond() < 1e-12) return out;
  // ln sd of a term = ln theta + ln sigma.
  Eigen::MatrixXd turn = Eigen::MatrixXd::Identity(free + 1, free + 1);
  turn.col(free).setOnes();
  out.covariance = turn * factor.solve(2.0 * Eigen::MatrixXd::Identity(free + 1, free + 1)) * turn.transpose();
  return out;
}

Eigen::VectorXd starting_point(MixedLikelihood& likelihood) {
  const MixedData& data = likelihood.data();
  const auto terms = at(data.terms());
  const double least = 1e-3 * data.least_squares_sum / static_cast<double>(data.readings);
  const double residual = std::max(data.unbiased[terms], least);
  Eigen::VectorXd theta(terms);
  for (Eigen::Index k = 0; k < terms; ++k) {
    theta[k] = std::sqrt(std::max(data.unbiased[k], 0.0) / residual);
    theta[k] = std::max(theta[k], likelihood.small_theta(static_cast<std::size_t>(k)));
  }
  for (int i = 0; i < 3; ++i) {
    const MixedPoint point = likelihood.evaluate(theta);
    if (!(point.log_determinant < infinite)) return Eigen::VectorXd::Ones(terms);
    const double variance = point.penalized / likelihood.degrees_of_freedom();
    for (Eigen::Index k = 0; k < terms; ++k) {
      const double ratio = point.squares[k] / (variance * point.traces[k]);
      theta[k] *= std::sqrt(std::clamp(ratio, 1e-2, 1e4));
      theta[k] = std::max(theta[k], 0.1 * likelihood.small_theta(static_cast<std::size_t>(k)));
    }
  }
  return theta;
}

}  // namespace steadyfilm::support
