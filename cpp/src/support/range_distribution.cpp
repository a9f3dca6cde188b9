#include "support/range_distribution.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <mutex>
#include <numbers>
#include <utility>
#include <vector>

namespace steadyfilm::support {

namespace {

constexpr double reach = 9.0;  // the normal density is below 1e-18 there

double cdf(double x) { return 0.5 * std::erfc(-x / std::numbers::sqrt2); }

double density(double x) { return std::exp(-0.5 * x * x) * 0.5 * std::numbers::inv_sqrtpi * std::numbers::sqrt2; }

/// P(range of n <= q) = n int density(x) (cdf(x + q) - cdf(x))^(n-1) dx. The trapezoidal rule converges
/// exponentially for such an integrand.
double below_range(double n, double q) {
  constexpr double step = 1.0 / 16.0;
  double sum = 0.0;
  for (double x = -reach; x <= reach; x += step) sum += density(x) * std::pow(cdf(x + q) - cdf(x), n - 1.0);
  return n * step * sum;
}

double solve_range_median(std::size_t n) {
  const auto size = static_cast<double>(n);
  double low = 0.0, high = 2.0 * reach;
  // Halving to the last bit: about 60 turns, once a size.
  while (true) {
    const double middle = 0.5 * (low + high);
    if (middle <= low || middle >= high) return middle;
    (below_range(size, middle) < 0.5 ? low : high) = middle;
  }
}

/// Covariance of two overlapping ranges on a grid of this step, by Hoeffding's formula
/// cov(X, Y) = int int P(X <= a, Y <= b) - P(X <= a) P(Y <= b), for the two maxima and for maximum against minimum;
/// the minima follow by symmetry.
double range_covariance_on_grid(std::size_t span, std::size_t lag, int points_per_unit) {
  const auto all = static_cast<double>(span), own = static_cast<double>(lag);
  const double shared = all - own;
  const double step = 1.0 / points_per_unit;
  const int half = static_cast<int>(reach) * points_per_unit;
  const std::size_t count = 2 * static_cast<std::size_t>(half) + 1;
  std::vector<double> f(count), f_all(count), f_own(count), g_all(count), g_own(count);
  for (std::size_t i = 0; i < count; ++i) {
    const double x = (static_cast<double>(i) - half) * step;
    f[i] = cdf(x);
    f_all[i] = std::pow(f[i], all);
    f_own[i] = std::pow(f[i], own);
    const double above = cdf(-x);
    g_all[i] = std::pow(above, all);
    g_own[i] = std::pow(above, own);
  }
  double maxima = 0.0, opposite = 0.0;
  for (std::size_t i = 0; i < count; ++i) {
    for (std::size_t j = 0; j < count; ++j) {
      const std::size_t low = std::min(i, j), high = std::max(i, j);
      maxima += f_all[low] * f_own[high] - f_all[i] * f_all[j];
      const double between = i > j ? std::pow(f[i] - f[j], shared) : 0.0;
      opposite += f_all[i] * g_all[j] - f_own[i] * between * g_own[j];
    }
  }
  return 2.0 * (maxima - opposite) * step * step;
}

double solve_range_covariance(std::size_t span, std::size_t lag) {
  // The integrand has a crease along a = b, which leaves an error in even powers of the step; two extrapolations remove
  // the first two of them.
  const double coarse = range_covariance_on_grid(span, lag, 8);
  const double middle = range_covariance_on_grid(span, lag, 16);
  const double fine = range_covariance_on_grid(span, lag, 32);
  const double one = middle + (middle - coarse) / 3.0;
  const double two = fine + (fine - middle) / 3.0;
  return two + (two - one) / 15.0;
}

/// Compute once a key; the lock is not held while computing.
template <typename Key, typename Compute>
double once(std::map<Key, double>& known, std::mutex& lock, const Key& key, Compute compute) {
  {
    const std::lock_guard guard(lock);
    if (const auto found = known.find(key); found != known.end()) return found->second;
  }
  const double value = compute();
  const std::lock_guard guard(lock);
  return known.emplace(key, value).first->second;
}

}  // namespace

double range_cdf(std::size_t n, double range) {
  return range > 0.0 ? std::min(1.0, below_range(static_cast<double>(n), range)) : 0.0;
}

double range_median(std::size_t n) {
  static std::map<std::size_t, double> known;
  static std::mutex lock;
  return once(known, lock, n, [n] { return solve_range_median(n); });
}

double range_covariance(std::size_t span, std::size_t lag) {
  static std::map<std::pair<std::size_t, std::size_t>, double> known;
  static std::mutex lock;
  return once(known, lock, std::pair{span, lag}, [span, lag] { return solve_range_covariance(span, lag); });
}

double range_of_two_density(double range) { return std::numbers::sqrt2 * density(range / std::numbers::sqrt2); }

double both_ranges_of_two_below(double range) {
  constexpr double step = 1.0 / 16.0;
  double sum = 0.0;
  for (double x = -reach; x <= reach; x += step) {
    const double near = cdf(x + range) - cdf(x - range);
    sum += density(x) * near * near;
  }
  return step * sum;
}

}  // namespace steadyfilm::support
