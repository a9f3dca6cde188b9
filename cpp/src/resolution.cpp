#include <steadyfilm/resolution.hpp>

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <numbers>
#include <string>
#include <string_view>

#include <steadyfilm/constants.hpp>
#include <steadyfilm/core.hpp>
#include <steadyfilm/distributions.hpp>

#include "support/quadrature.hpp"
#include "support/roots.hpp"

namespace steadyfilm {

namespace {

constexpr double kTie = 1e-9;
constexpr double kOffGrid = 0.02;  // of a step
constexpr double kLargest = 1e15;  // cells are counted in doubles

/// Readings by cell, in steps from one of them; the first derivatives need no large common offset.
struct Cells {
  double origin = 0.0;  ///< multiple of the step that is cell 0
  std::vector<double> at;
  std::vector<double> count;
  double total = 0.0;
};

Cells cells_of(std::span<const double> values, double step, std::string_view function) {
  require_count(values.size(), 2, function);
  require_finite(values, function);
  require_positive(step, function, "step");
  std::map<double, double> counts;
  for (std::size_t i = 0; i < values.size(); ++i) {
    const double place = values[i] / step;
    const double cell = std::round(place);
    if (!(std::abs(cell) < kLargest)) {
      throw InvalidInput(function, "step", "is too small for a reading of " + to_text(values[i]));
    }
    if (std::abs(place - cell) > kOffGrid) {
      throw InvalidInput(function, "values",
                         "is no multiple of the step of " + to_text(step) + " (" + to_text(values[i]) +
                             "); give the step of the display that was read",
                         i);
    }
    counts[cell] += 1.0;
  }
  Cells found;
  found.origin = counts.begin()->first;
  for (const auto& [cell, count] : counts) {
    found.at.push_back(cell - found.origin);
    found.count.push_back(count);
    found.total += count;
  }
  return found;
}

/// Log-likelihood with its slopes in theta = mean / sd and tau = 1 / sd, in which it is concave (Burridge 1981).
struct Slopes {
  double value = 0.0;
  double theta = 0.0, tau = 0.0;
  double theta_theta = 0.0, theta_tau = 0.0, tau_tau = 0.0;
};

class Likelihood {
 public:
  explicit Likelihood(const Cells& cells) : cells_(cells) {}

  [[nodiscard]] Slopes at(double theta, double tau) const {
    Slopes sum;
    for (std::size_t i = 0; i < cells_.at.size(); ++i) {
      const Slopes one = cell(cells_.at[i], theta, tau);
      const double n = cells_.count[i];
      sum.value += n * one.value;
      sum.theta += n * one.theta;
      sum.tau += n * one.tau;
      sum.theta_theta += n * one.theta_theta;
      sum.theta_tau += n * one.theta_tau;
      sum.tau_tau += n * one.tau_tau;
    }
    return sum;
  }

  /// Largest value over theta for one tau.
  [[nodiscard]] double best_for_sd(double tau, double& theta) const {
    Slopes now = at(theta, tau);
    for (int i = 0; i < 200; ++i) {
      double step = -now.theta / std::min(now.theta_theta, -1e-12 * cells_.total);
      if (std::abs(step) <= 1e-13 * (1.0 + std::abs(theta))) break;
      Slopes next = at(theta + step, tau);
      for (int half = 0; half < 60 && !(next.value >= now.value); ++half) next = at(theta + (step *= 0.5), tau);
      if (!(next.value >= now.value)) break;
      theta += step;
      const bool settled = next.value - now.value <= 1e-15 * std::abs(next.value) && std::abs(step) < 1e-9 * (1.0 + std::abs(theta));
      now = next;
      if (settled) break;
    }
    return now.value;
  }

  /// Largest value over the standard deviation for one mean: along theta = mean tau the function is concave in tau.
  [[nodiscard]] double best_for_mean(double mean, double& tau) const {
    // In log tau, where the step cannot leave the positive side.
    const auto slope_at = [&](double log_tau) {
      const double t = std::exp(log_tau);
      const Slopes found = at(mean * t, t);
      return t * (found.theta * mean + found.tau);
    };
    double low = std::log(tau), high = low;
    for (int i = 0; i < 60 && slope_at(low) <= 0.0; ++i) low -= 1.0;
    for (int i = 0; i < 60 && slope_at(high) > 0.0; ++i) {
      high += 1.0;
      if (high > 14.0) return at(mean * std::exp(high), std::exp(high)).value;  // still rising: no spread at all
    }
    if (low < high) low = support::find_root(slope_at, low, high);
    tau = std::exp(low);
    return at(mean * tau, tau).value;
  }

 private:
  /// One cell: the integral of phi(z) over it, and its moments, by panels about where the density is largest.
  [[nodiscard]] Slopes cell(double place, double theta, double tau) const {
    const double a = tau * (place - 0.5) - theta;
    const double b = tau * (place + 0.5) - theta;
    const double peak = std::clamp(0.0, a, b);
    // Beyond this the density is 1e-22 of its largest value in the cell.
    const double reach = std::sqrt(peak * peak + 100.0);
    const double low = std::max(a, -reach);
    const double high = std::min(b, reach);
    const double steepness = std::max(1.0, std::abs(peak) + 0.5 * (high - low));
    const auto panels = static_cast<std::size_t>(std::clamp(std::ceil((high - low) * steepness / 4.0), 1.0, 40.0));
    const double width = (high - low) / static_cast<double>(panels);

    double mass = 0.0, mean_z = 0.0, mean_x = 0.0, mean_xz = 0.0, mean_xx = 0.0;
    z_.clear();
    weight_.clear();
    for (std::size_t p = 0; p < panels; ++p) {
      const double middle = low + (static_cast<double>(p) + 0.5) * width;
      for (std::size_t k = 0; k < nodes_.position.size(); ++k) {
        const double z = middle + 0.5 * width * nodes_.position[k];
        const double w = 0.5 * width * nodes_.weight[k] * std::exp(-0.5 * (z - peak) * (z + peak));
        z_.push_back(z);
        weight_.push_back(w);
        const double x = (z + theta) / tau;
        mass += w;
        mean_z += w * z;
        mean_x += w * x;
        mean_xz += w * x * z;
        mean_xx += w * x * x;
      }
    }
    mean_z /= mass;
    mean_x /= mass;
    mean_xz /= mass;
    mean_xx /= mass;
    double var_z = 0.0, var_xz = 0.0, both = 0.0;
    for (std::size_t k = 0; k < z_.size(); ++k) {
      const double dz = z_[k] - mean_z;
      const double dxz = z_[k] * (z_[k] + theta) / tau - mean_xz;
      var_z += weight_[k] * dz * dz;
      var_xz += weight_[k] * dxz * dxz;
      both += weight_[k] * dz * dxz;
    }
    Slopes found;
    found.value = -0.5 * peak * peak - 0.5 * std::log(2.0 * std::numbers::pi) + std::log(mass);
    found.theta = mean_z;
    found.tau = 1.0 / tau - mean_xz;
    found.theta_theta = -1.0 + var_z / mass;
    found.theta_tau = mean_x - both / mass;
    found.tau_tau = -1.0 / (tau * tau) - mean_xx + var_xz / mass;
    return found;
  }

  const Cells& cells_;
  const support::Nodes nodes_ = support::gauss_legendre(12);
  mutable std::vector<double> z_, weight_;
};

struct Point {
  double theta = 0.0;
  double tau = 1.0;
};

/// Newton's iteration with halved steps; the function is concave, so that it cannot end elsewhere.
Point maximum(const Likelihood& likelihood, Point from) {
  Slopes now = likelihood.at(from.theta, from.tau);
  for (int i = 0; i < 200; ++i) {
    const double det = now.theta_theta * now.tau_tau - now.theta_tau * now.theta_tau;
    double d_theta = (-now.theta * now.tau_tau + now.tau * now.theta_tau) / det;
    double d_tau = (-now.tau * now.theta_theta + now.theta * now.theta_tau) / det;
    if (!(det > 0.0) || !std::isfinite(d_theta) || !std::isfinite(d_tau)) {
      d_theta = now.theta / -std::min(now.theta_theta, -1e-9);
      d_tau = now.tau / -std::min(now.tau_tau, -1e-9);
    }
    double part = 1.0;
    while (from.tau + part * d_tau <= 0.1 * from.tau) part *= 0.5;
    Slopes next = likelihood.at(from.theta + part * d_theta, from.tau + part * d_tau);
    for (int half = 0; half < 60 && !(next.value >= now.value); ++half) {
      part *= 0.5;
      next = likelihood.at(from.theta + part * d_theta, from.tau + part * d_tau);
    }
    if (!(next.value >= now.value)) break;  // no rise but rounding
    from.theta += part * d_theta;
    from.tau += part * d_tau;
    now = next;
    if (std::abs(part * d_theta) <= 1e-14 * (1.0 + std::abs(from.theta)) && std::abs(part * d_tau) <= 1e-14 * from.tau) break;
  }
  return from;
}

double square(double x) { return x * x; }

}  // namespace

WindowSteps window_steps(double lower, double upper, double step) {
  constexpr auto function = "window_steps";
  require_finite(lower, function, "lower");
  require_finite(upper, function, "upper");
  require_positive(step, function, "step");
  if (!(lower < upper)) {
    throw InvalidInput(function, "lower", "(" + to_text(lower) + ") must lie below upper (" + to_text(upper) + ")");
  }
  if (!(std::max(std::abs(lower), std::abs(upper)) / step < kLargest)) {
    throw InvalidInput(function, "step", "is too small for this window (" + to_text(step) + ")");
  }
  WindowSteps found;
  found.steps = (upper - lower) / step;
  const double first = std::ceil(lower / step - kTie * std::abs(lower / step));
  const double last = std::floor(upper / step + kTie * std::abs(upper / step));
  found.shown_inside = last < first ? 0 : static_cast<std::size_t>(last - first) + 1;
  found.wanted_step = (upper - lower) / 10.0;
  found.standard_uncertainty = step / std::sqrt(12.0);
  return found;
}

ZeroRanges zero_ranges(std::span<const double> values, std::span<const std::size_t> offsets) {
  constexpr auto function = "zero_ranges";
  require_finite(values, function);
  if (offsets.empty() || offsets.front() != 0 || offsets.back() != values.size()) {
    throw InvalidInput(function, "offsets", "must rise from 0 to " + std::to_string(values.size()));
  }
  ZeroRanges found;
  for (std::size_t g = 0; g + 1 < offsets.size(); ++g) {
    if (offsets[g + 1] <= offsets[g]) throw InvalidInput(function, "offsets", "leave a group without readings", g);
    if (offsets[g + 1] - offsets[g] == 1) {
      ++found.single;
      continue;
    }
    ++found.groups;
    const auto group = values.subspan(offsets[g], offsets[g + 1] - offsets[g]);
    if (std::ranges::all_of(group, [&](double x) { return x == group[0]; })) ++found.zero;
  }
  return found;
}

double rounded_log_likelihood(std::span<const double> values, double step, double mean, double sd) {
  constexpr auto function = "rounded_log_likelihood";
  const Cells cells = cells_of(values, step, function);
  require_finite(mean, function, "mean");
  require_positive(sd, function, "sd");
  const double tau = step / sd;
  return Likelihood(cells).at((mean / step - cells.origin) * tau, tau).value;
}

RoundedFit fit_rounded(std::span<const double> values, double step, double confidence_level) {
  constexpr auto function = "fit_rounded";
  const Cells cells = cells_of(values, step, function);
  require_open_unit(confidence_level, function, "confidence_level");
  const Likelihood likelihood(cells);
  RoundedFit found;
  found.count = values.size();
  const double n = cells.total;
  double mean = 0.0, squares = 0.0;
  for (std::size_t i = 0; i < cells.at.size(); ++i) {
    mean += cells.count[i] * cells.at[i] / n;
    found.shown.push_back((cells.origin + cells.at[i]) * step);
    found.counts.push_back(static_cast<std::size_t>(cells.count[i]));
  }
  for (std::size_t i = 0; i < cells.at.size(); ++i) squares += cells.count[i] * square(cells.at[i] - mean);
  found.mean_of_readings = (cells.origin + mean) * step;
  found.sd_of_readings = std::sqrt(squares / (n - 1.0)) * step;
  found.sheppard_sd = std::sqrt(std::max(0.0, squares / (n - 1.0) - 1.0 / 12.0)) * step;

  const bool few = cells.at.size() == 1 || (cells.at.size() == 2 && cells.at[1] == 1.0);
  found.only_an_upper_limit = few;
  Point best;
  double top = 0.0;
  if (few) {
    // A spread of 0 with the mean on the edge between the two gives each its own share as its chance.
    for (const double count : cells.count) top += count * std::log(count / n);
    mean = cells.at.size() == 1 ? 0.0 : 0.5;
    best.tau = 2.0;
    best.theta = best.tau * mean;
  } else {
    const double sd = std::sqrt(std::max(0.1, squares / n - 1.0 / 12.0));
    best = maximum(likelihood, {.theta = mean / sd, .tau = 1.0 / sd});
    top = likelihood.at(best.theta, best.tau).value;
    mean = best.theta / best.tau;
    found.sd = step / best.tau;
    found.sd_unbiased = found.sd * std::sqrt(n / (n - 1.0));
  }
  found.mean = (cells.origin + mean) * step;
  found.log_likelihood = top;

  // Profile likelihood: where the best value falls by half a chi-square quantile.
  const double drop = 0.5 * chi_square_quantile(confidence_level, 1.0);
  double theta = best.theta;
  const auto sd_excess = [&](double log_tau) {
    theta = mean * std::exp(log_tau);  // a start near the ridge
    return likelihood.best_for_sd(std::exp(log_tau), theta) - (top - drop);
  };
  double inner = std::log(best.tau), outer = inner;
  for (int i = 0; few && i < 60 && sd_excess(inner) <= 0.0; ++i) inner += 0.5;
  while (sd_excess(outer) > 0.0) outer -= 0.5;
  found.sd_upper = step * std::exp(-support::find_root(sd_excess, outer, inner));
  if (!few) {
    outer = inner;
    while (sd_excess(outer) > 0.0) outer += 0.5;
    found.sd_lower = step * std::exp(-support::find_root(sd_excess, inner, outer));
  }
  const double guess = few ? 0.5 : 1.0 / best.tau;
  // With two neighbors the largest value is approached from the side of the more frequent one, not on the edge itself.
  double start = mean;
  if (few && cells.at.size() == 2) start += cells.count[0] > cells.count[1] ? -1e-3 : cells.count[0] < cells.count[1] ? 1e-3 : 0.0;
  double tau = best.tau;
  const auto mean_excess = [&](double m) {
    double t = tau;
    return likelihood.best_for_mean(m, t) - (top - drop);
  };
  for (const double sign : {-1.0, 1.0}) {
    double away = start + sign * guess;
    for (int i = 0; i < 200 && mean_excess(away) > 0.0; ++i) away += sign * guess;
    const double end = support::find_root(mean_excess, std::min(start, away), std::max(start, away));
    (sign < 0.0 ? found.mean_lower : found.mean_upper) = (cells.origin + end) * step;
  }
  return found;
}

RoundingEffect rounding_effect(double sigma, double step, double mean, std::size_t subgroup_size) {
  constexpr auto function = "rounding_effect";
  require_positive(sigma, function, "sigma");
  require_positive(step, function, "step");
  require_finite(mean, function, "mean");
  if (subgroup_size < 1 || subgroup_size > 30) {
    throw InvalidInput(function, "subgroup_size", "must be 1 to 30 (" + std::to_string(subgroup_size) + ")");
  }
  const double spread = sigma / step;
  if (!(spread < 1e5) || !(std::abs(mean / step) < kLargest)) {
    throw InvalidInput(function, "step", "is too small beside sigma or mean to be worth a sum (" + to_text(step) + ")");
  }
  const double offset = mean / step - std::round(mean / step);  // of the mean from the displayed value next to it
  const auto n = static_cast<double>(std::max<std::size_t>(2, subgroup_size));
  // Cells k - 1/2 to k + 1/2 that hold all but 1e-19.
  const auto cells = static_cast<long>(std::ceil(9.0 * spread)) + 1;
  std::vector<double> chance;
  double first = 0.0, second = 0.0;
  RoundingEffect found;
  double range = 0.0;
  for (long k = -cells; k <= cells; ++k) {
    const double low = (static_cast<double>(k) - 0.5 - offset) / spread;
    const double high = (static_cast<double>(k) + 0.5 - offset) / spread;
    const double p = low > 0.0 ? normal_survival(low) - normal_survival(high) : normal_cdf(high) - normal_cdf(low);
    chance.push_back(p);
    first += p * static_cast<double>(k);
    found.zero_range_share += std::pow(p, n);
    // Mean range = sum over the edges between cells of the chance that the subgroup lies on both sides.
    range += -std::expm1(n * std::log1p(-normal_survival(high))) - std::pow(normal_survival(high), n);
  }
  for (long k = -cells; k <= cells; ++k) {
    second += chance[static_cast<std::size_t>(k + cells)] * square(static_cast<double>(k) - first);
  }
  found.mean_rounded = (std::round(mean / step) + first) * step;
  found.sd_rounded = std::sqrt(second) * step;
  found.mean_range = std::max(0.0, range) * step;
  found.sigma_from_ranges = found.mean_range / d2(static_cast<std::size_t>(n));
  found.sigma_ratio = found.sigma_from_ranges / sigma;
  found.sd_ratio = found.sd_rounded / sigma;
  const auto size = static_cast<double>(subgroup_size);
  found.limit_distance = 3.0 * found.sigma_from_ranges / std::sqrt(size);

  if (size * static_cast<double>(chance.size()) > 4000.0) {
    found.false_alarm = 2.0 * normal_survival(found.limit_distance * std::sqrt(size) / found.sd_rounded);
    return found;
  }
  std::vector<double> sum{1.0};  // distribution of the sum of the readings, in steps from -cells each
  for (std::size_t i = 0; i < subgroup_size; ++i) {
    std::vector<double> next(sum.size() + chance.size() - 1, 0.0);
    for (std::size_t a = 0; a < sum.size(); ++a) {
      for (std::size_t b = 0; b < chance.size(); ++b) next[a + b] += sum[a] * chance[b];
    }
    sum = std::move(next);
  }
  const double limit = found.limit_distance / step;
  for (std::size_t i = 0; i < sum.size(); ++i) {
    const double average = (static_cast<double>(i) - size * static_cast<double>(cells)) / size;
    // On a line belongs to the inner side, as in the charts.
    if (std::abs(average - first) > limit + kTie * spread) found.false_alarm += sum[i];
  }
  return found;
}

}  // namespace steadyfilm
