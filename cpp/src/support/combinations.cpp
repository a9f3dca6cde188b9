#include "support/combinations.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include <steadyfilm/distributions.hpp>

namespace steadyfilm::support {

namespace {

constexpr double none = std::numeric_limits<double>::quiet_NaN();

double square(double x) { return x * x; }

}  // namespace

MeanSquareSet::MeanSquareSet(std::vector<MeanSquare> squares, double confidence_level)
    : tail_(0.5 - 0.5 * confidence_level), squares_(std::move(squares)), f_(squares_.size() * squares_.size(), 0.0) {
  for (const MeanSquare& one : squares_) {
    down_.push_back(support::reach_down(tail_, one.degrees_of_freedom));
    up_.push_back(support::reach_up(tail_, one.degrees_of_freedom));
  }
}

double MeanSquareSet::value(std::span<const double> weights) const {
  double sum = 0.0;
  for (std::size_t i = 0; i < size(); ++i) sum += weights[i] * squares_[i].value;
  return sum;
}

double MeanSquareSet::f_upper(std::size_t i, std::size_t j) {
  double& kept = f_[i * size() + j];
  if (kept == 0.0) kept = f_quantile(1.0 - tail_, squares_[i].degrees_of_freedom, squares_[j].degrees_of_freedom);
  return kept;
}

double MeanSquareSet::lower(std::span<const double> weights) {
  double spread = 0.0, sum = 0.0;
  for (std::size_t i = 0; i < size(); ++i) {
    const double part = weights[i] * squares_[i].value;
    sum += part;
    spread += square((part > 0.0 ? down_[i] : up_[i]) * part);
  }
  for (std::size_t i = 0; i < size(); ++i) {
    if (!(weights[i] * squares_[i].value > 0.0)) continue;
    for (std::size_t j = 0; j < size(); ++j) {
      if (!(weights[j] * squares_[j].value < 0.0)) continue;
      const double f = f_upper(i, j);
      const double joint = (square(f - 1.0) - square(down_[i] * f) - square(up_[j])) / f;
      spread -= joint * weights[i] * weights[j] * squares_[i].value * squares_[j].value;
    }
  }
  return sum - std::sqrt(std::max(0.0, spread));
}

double MeanSquareSet::upper(std::span<const double> weights) {
  std::vector<double> turned(weights.begin(), weights.end());
  for (double& weight : turned) weight = -weight;
  return -lower(turned);
}

Interval MeanSquareSet::interval(std::span<const double> weights) { return {lower(weights), upper(weights)}; }

double MeanSquareSet::degrees_of_freedom(std::span<const double> weights) const {
  double sum = 0.0, spread = 0.0;
  for (std::size_t i = 0; i < size(); ++i) {
    const double part = weights[i] * squares_[i].value;
    sum += part;
    spread += part * part / squares_[i].degrees_of_freedom;
  }
  return spread > 0.0 ? sum * sum / spread : 0.0;
}

Interval MeanSquareSet::satterthwaite(std::span<const double> weights) const {
  const double estimate = value(weights), df = degrees_of_freedom(weights);
  if (!(estimate > 0.0) || !(df >= 1.0)) return {none, none};
  return {df * estimate / chi_square_quantile(1.0 - tail_, df), df * estimate / chi_square_quantile(tail_, df)};
}

Interval MeanSquareSet::share(std::span<const double> part, std::span<const double> whole) {
  std::vector<double> weights(size());
  const auto at = [&](double c) -> std::span<const double> {
    for (std::size_t i = 0; i < size(); ++i) weights[i] = part[i] - c * whole[i];
    return weights;
  };
  // An end is where a limit of part - c whole passes 0; it falls as c grows.
  const auto passes = [&](auto&& limit) {
    if (!(limit(at(0.0)) > 0.0)) return 0.0;
    if (limit(at(1.0)) > 0.0) return 1.0;
    double low = 0.0, high = 1.0;
    for (int step = 0; step < 44; ++step) {  // to the last bits that a share shows
      const double middle = 0.5 * (low + high);
      (limit(at(middle)) > 0.0 ? low : high) = middle;
    }
    return 0.5 * (low + high);
  };
  const double low = passes([&](std::span<const double> w) { return lower(w); });
  return {low, std::max(low, passes([&](std::span<const double> w) { return upper(w); }))};
}

}  // namespace steadyfilm::support
