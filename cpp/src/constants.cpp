#include <steadyfilm/constants.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <mutex>
#include <numbers>
#include <shared_mutex>

#include <steadyfilm/core.hpp>

#include "support/double_double.hpp"
#include "support/quadrature.hpp"

namespace steadyfilm {
namespace {

using support::DoubleDouble;

double upper_tail(double x) { return 0.5 * std::erfc(x / std::numbers::sqrt2); }

/// Step of the trapezoidal rule. The integrands are entire and die away like exp(-n exp(-a x)) with a near
/// sqrt(2 ln n), where a step of h errs by about exp(-pi^2 / (a h)): 7e-18 for a h = 1/4.
double step(double n) { return 0.25 / std::max(1.0, std::sqrt(2.0 * std::log(n))); }

/// E(R) = integral of 1 - Phi^n - (1 - Phi)^n over the line, which is even in x.
double mean_range(std::size_t size) {
  const auto n = static_cast<double>(size);
  const double h = step(n);
  DoubleDouble sum;
  for (int i = 0;; ++i) {
    const double tail = upper_tail(i * h);
    const double height = -std::expm1(n * std::log1p(-tail)) - std::pow(tail, n);
    sum = sum + (i == 0 ? 0.5 * height : height);
    if (height < 1e-20) break;
  }
  return 2.0 * h * sum.value();
}

/// Density of the range at w: n (n-1) times the integral of phi(u - w/2) phi(u + w/2) [Phi(u + w/2) - Phi(u -
/// w/2)]^(n-2).
double range_density(double n, double w) {
  const double h = step(n);
  const double scale = std::log(n * (n - 1.0) / std::numbers::pi) - 0.25 * w * w;
  double sum = 0.0;
  for (int i = 0;; ++i) {
    const double u = i * h;
    double power = 0.0;
    if (n > 2.0) {
      const double beyond = upper_tail(0.5 * w + u);
      const double before = upper_tail(0.5 * w - u);
      // Far from each other the two points miss little of the mass, close together they hold little of it.
      const double between =
          beyond + before < 0.5 ? std::log1p(-(beyond + before)) : std::log(upper_tail(u - 0.5 * w) - beyond);
      power = (n - 2.0) * between;
    }
    const double height = std::exp(scale + power - u * u);
    sum += i == 0 ? 0.5 * height : height;
    if (!(height > 1e-22) && (i > 0 || height == 0.0)) break;
  }
  return h * sum;
}

/// Var(R) as the mean of (R - d2)^2: every term is positive, so no digits cancel however large n is.
double range_variance(std::size_t size, double mean) {
  const auto n = static_cast<double>(size);
  const double end = 2.0 * std::sqrt(2.0 * std::log(n) + 45.0);
  constexpr double kPanel = 0.75;
  static const support::Nodes nodes = support::gauss_legendre(16);
  double sum = 0.0;
  const auto panels = static_cast<int>(std::ceil(end / kPanel));
  for (int k = 0; k < panels; ++k) {
    double panel = 0.0;
    for (std::size_t i = 0; i < nodes.position.size(); ++i) {
      const double w = kPanel * (k + 0.5 * (1.0 + nodes.position[i]));
      panel += nodes.weight[i] * (w - mean) * (w - mean) * range_density(n, w);
    }
    sum += 0.5 * kPanel * panel;
  }
  return sum;
}

/// Values by subgroup size, computed once; a second thread that meets a missing one may compute it too.
class Kept {
 public:
  template <typename Make>
  double get(std::size_t key, Make&& make) {
    {
      const std::shared_lock lock(mutex_);
      if (const auto found = values_.find(key); found != values_.end()) return found->second;
    }
    const double value = make();
    const std::unique_lock lock(mutex_);
    values_.emplace(key, value);
    return value;
  }

 private:
  std::shared_mutex mutex_;
  std::map<std::size_t, double> values_;
};

void require_pair(std::size_t subgroup_size, std::string_view function) {
  if (subgroup_size < 2) {
    throw InvalidInput(function, "subgroup_size", "must be at least 2, got " + std::to_string(subgroup_size));
  }
}

/// ln c4(nu + 1) = ln [Gamma(z + 1/2) / (Gamma(z) sqrt z)], z = nu / 2.
double log_c4(double nu) {
  double z = 0.5 * nu;
  // Gamma(z + 1) = z Gamma(z) moves z up to where the series below holds; all terms have one sign.
  double moved = 0.0;
  while (z < 16.0) {
    moved -= 0.5 * std::log1p(0.25 / (z * (z + 1.0)));
    z += 1.0;
  }
  // Stirling's series of both gamma functions: terms (2^(1-k) - 2) B_k / (k (k-1) z^(k-1)), k = 2, 4, ..., 14.
  constexpr std::array<double, 7> kTerms = {-1.0 / 8,      1.0 / 192,      -1.0 / 640,      17.0 / 14336,
                                            -31.0 / 18432, 691.0 / 180224, -5461.0 / 425984};
  const double square = 1.0 / (z * z);
  double series = 0.0;
  for (auto term = kTerms.rbegin(); term != kTerms.rend(); ++term) series = series * square + *term;
  return moved + series / z;
}

void require_above_one(double n, std::string_view function) {
  if (!(n > 1.0) || !std::isfinite(n)) {
    throw InvalidInput(function, "n", "must be finite and greater than 1, got " + to_text(n));
  }
}

}  // namespace

double d2(std::size_t subgroup_size) {
  require_pair(subgroup_size, "d2");
  static Kept kept;
  return kept.get(subgroup_size, [&] { return mean_range(subgroup_size); });
}

double d3(std::size_t subgroup_size) {
  require_pair(subgroup_size, "d3");
  static Kept kept;
  return kept.get(subgroup_size, [&] { return std::sqrt(range_variance(subgroup_size, d2(subgroup_size))); });
}

double c4(double n) {
  require_above_one(n, "c4");
  return std::exp(log_c4(n - 1.0));
}

double c5(double n) {
  require_above_one(n, "c5");
  return std::sqrt(-std::expm1(2.0 * log_c4(n - 1.0)));
}

ChartFactors chart_factors(std::size_t subgroup_size) {
  require_pair(subgroup_size, "chart_factors");
  const auto n = static_cast<double>(subgroup_size);
  const double root = std::sqrt(n);
  ChartFactors f;
  f.subgroup_size = subgroup_size;
  f.d2 = d2(subgroup_size);
  f.d3 = d3(subgroup_size);
  f.c4 = c4(n);
  f.c5 = c5(n);
  f.A = 3.0 / root;
  f.A2 = 3.0 / (f.d2 * root);
  f.A3 = 3.0 / (f.c4 * root);
  f.B3 = std::max(0.0, 1.0 - 3.0 * f.c5 / f.c4);
  f.B4 = 1.0 + 3.0 * f.c5 / f.c4;
  f.B5 = std::max(0.0, f.c4 - 3.0 * f.c5);
  f.B6 = f.c4 + 3.0 * f.c5;
  f.D1 = std::max(0.0, f.d2 - 3.0 * f.d3);
  f.D2 = f.d2 + 3.0 * f.d3;
  f.D3 = std::max(0.0, 1.0 - 3.0 * f.d3 / f.d2);
  f.D4 = 1.0 + 3.0 * f.d3 / f.d2;
  f.E2 = 3.0 / f.d2;
  f.E3 = 3.0 / f.c4;
  return f;
}

D2Star d2_star(std::size_t groups, std::size_t subgroup_size) {
  require_pair(subgroup_size, "d2_star");
  if (groups < 1) throw InvalidInput("d2_star", "groups", "must be at least 1, got 0");
  const double mean = d2(subgroup_size);
  const double variance = d3(subgroup_size) * d3(subgroup_size) / static_cast<double>(groups);
  return {.d2_star = std::sqrt(mean * mean + variance),
          .degrees_of_freedom = chi_match_degrees_of_freedom(variance / (mean * mean))};
}

double chi_match_degrees_of_freedom(double relative_variance) {
  require_positive(relative_variance, "chi_match_degrees_of_freedom", "relative_variance");
  // 1 / c4^2 = 1 + relative variance; the reciprocal of -2 ln c4 is nearly linear in nu, so that the secant settles
  // fast.
  const double aim = 1.0 / std::log1p(relative_variance);
  const auto reciprocal = [](double nu) { return -0.5 / log_c4(nu); };
  double before = 0.5 * aim;
  double nu = before + 0.1 * std::min(1.0, before);
  double error_before = reciprocal(before) - aim;
  for (int i = 0; i < 60; ++i) {
    const double error = reciprocal(nu) - aim;
    if (error == error_before || std::abs(nu - before) <= 2e-16 * nu) break;
    const double next = nu - error * (nu - before) / (error - error_before);
    before = nu;
    error_before = error;
    nu = next > 0.0 ? next : 0.5 * before;
  }
  return nu;
}

double moving_range_degrees_of_freedom(std::size_t ranges, std::size_t adjacent_ranges) {
  if (ranges < 1) throw InvalidInput("moving_range_degrees_of_freedom", "ranges", "must be at least 1, got 0");
  if (adjacent_ranges >= ranges) {
    throw InvalidInput(
        "moving_range_degrees_of_freedom", "adjacent_ranges",
        "must be less than ranges (" + std::to_string(ranges) + "), got " + std::to_string(adjacent_ranges));
  }
  // Ranges of neighbours share a reading: their differences are correlated by -1/2, and for unit normals correlated by
  // r E|XY| = (2/pi) (sqrt(1 - r^2) + r asin r). All over the squared mean range, 4/pi.
  constexpr double kVariance = 0.5 * std::numbers::pi - 1.0;
  constexpr double kCovariance = 0.5 * std::numbers::sqrt3 + std::numbers::pi / 12.0 - 1.0;
  const auto k = static_cast<double>(ranges);
  const auto pairs = static_cast<double>(adjacent_ranges);
  return chi_match_degrees_of_freedom((k * kVariance + 2.0 * pairs * kCovariance) / (k * k));
}

}  // namespace steadyfilm
