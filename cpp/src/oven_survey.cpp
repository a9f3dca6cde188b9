#include <steadyfilm/oven_survey.hpp>

#include <algorithm>
#include <cmath>
#include <limits>
#include <string>
#include <string_view>
#include <utility>

#include <steadyfilm/core.hpp>

#include "support/trace.hpp"

namespace steadyfilm {
namespace {

constexpr TraceRule no_gaps{.gap_medians = std::numeric_limits<double>::infinity()};

void require_trace(std::span<const double> time_min, std::span<const double> air_c, std::string_view function) {
  (void)support::checked_trace(time_min, air_c, {}, no_gaps, function);
  support::refuse_temperatures(air_c, {}, function);
}

struct Fit {
  double sum_squares = 0.0;
  double drop = 0.0;
};

// The drop that fits best for one time constant.
Fit fit_of(std::span<const double> time, std::span<const double> air, double level, double tau) {
  double xx = 0.0, xy = 0.0, yy = 0.0;
  for (std::size_t i = 0; i < time.size(); ++i) {
    const double x = std::exp(-(time[i] - time[0]) / tau);
    const double y = level - air[i];
    xx += x * x;
    xy += x * y;
    yy += y * y;
  }
  return {.sum_squares = std::max(0.0, yy - xy * xy / xx), .drop = xy / xx};
}

}  // namespace

UniformitySurvey uniformity_survey(std::span<const double> readings, std::size_t places, double target_c,
                                   const CureRate& rate) {
  constexpr std::string_view self = "uniformity_survey";
  if (places == 0 || readings.empty() || readings.size() % places != 0) {
    throw InvalidInput(self, "readings",
                       "must be whole rows of " + std::to_string(places) + " places, got " +
                           std::to_string(readings.size()) + " numbers");
  }
  support::refuse_temperatures(readings, {}, self);
  require_finite(target_c, self, "target_c");
  const CureRate at_target{rate.activation_energy_kj, target_c};
  const std::size_t times = readings.size() / places;
  const double lowest = std::numeric_limits<double>::infinity();
  UniformitySurvey found{.mean_c = std::vector<double>(places, 0.0),
                         .lowest_c = std::vector<double>(places, lowest),
                         .highest_c = std::vector<double>(places, -lowest),
                         .dose_ratio = std::vector<double>(places, 0.0)};
  const double share = 1.0 / static_cast<double>(times);
  for (std::size_t row = 0; row < times; ++row) {
    const auto here = readings.subspan(row * places, places);
    const auto [low, high] = std::ranges::minmax_element(here);
    found.spread_k = std::max(found.spread_k, *high - *low);
    for (std::size_t p = 0; p < places; ++p) {
      found.mean_c[p] += (here[p] - target_c) * share;
      found.lowest_c[p] = std::min(found.lowest_c[p], here[p]);
      found.highest_c[p] = std::max(found.highest_c[p], here[p]);
      found.dose_ratio[p] += cure_rate_factor(here[p], at_target) * share;
    }
  }
  for (double& mean : found.mean_c) mean += target_c;
  const auto at = [](const auto& begin, const auto& it) { return static_cast<std::size_t>(it - begin); };
  found.coldest = at(found.mean_c.begin(), std::ranges::min_element(found.mean_c));
  found.hottest = at(found.mean_c.begin(), std::ranges::max_element(found.mean_c));
  found.coldest_first = at(found.lowest_c.begin(), std::ranges::min_element(found.lowest_c));
  found.below_k = std::max(0.0, target_c - std::ranges::min(found.lowest_c));
  found.above_k = std::max(0.0, std::ranges::max(found.highest_c) - target_c);
  found.uniformity_k = std::max(found.below_k, found.above_k);
  return found;
}

DoseRatio dose_ratio(double target_c, double tolerance_k, double activation_energy_kj) {
  constexpr std::string_view self = "dose_ratio";
  require_finite(tolerance_k, self, "tolerance_k");
  if (tolerance_k < 0.0) throw InvalidInput(self, "tolerance_k", "must be 0 or more (" + to_text(tolerance_k) + ")");
  const CureRate rate{activation_energy_kj, target_c};
  return {.low = cure_rate_factor(target_c - tolerance_k, rate),
          .high = cure_rate_factor(target_c + tolerance_k, rate)};
}

std::vector<AirFall> air_falls(std::span<const double> time_min, std::span<const double> air_c, double level_c,
                               const AirRule& rule) {
  constexpr std::string_view self = "air_falls";
  require_trace(time_min, air_c, self);
  require_finite(level_c, self, "level_c");
  require_positive(rule.band_k, self, "band_k");
  require_positive(rule.least_min, self, "least_min");
  require_positive(rule.recovery_min, self, "recovery_min");
  const double line = level_c - rule.band_k;
  std::vector<AirFall> found;
  std::size_t i = 0;
  while (i < air_c.size() && air_c[i] < line) ++i;  // heating up
  while (i < air_c.size()) {
    if (air_c[i] >= line) {
      ++i;
      continue;
    }
    const std::size_t first = i;
    std::size_t lowest = i;
    double sum = 0.0;
    for (; i < air_c.size() && air_c[i] < line; ++i) {
      sum += air_c[i];
      if (air_c[i] < air_c[lowest]) lowest = i;
    }
    AirFall fall{.from_min = time_min[first - 1],
                 .to_min = time_min[std::min(i, air_c.size() - 1)],
                 .mean_c = sum / static_cast<double>(i - first),
                 .lowest_c = air_c[lowest],
                 .lowest_at_min = time_min[lowest],
                 .came_back = i < air_c.size()};
    if (time_min[i - 1] - time_min[first] < rule.least_min) continue;
    const double depth = level_c - fall.lowest_c;
    const bool rising = !fall.came_back && air_c.back() - fall.lowest_c > 0.5 * depth;
    // What was slow to fall or long at the bottom is no door: a door's air is lowest soon after it fell.
    const bool soon = fall.lowest_at_min - fall.from_min <= rule.recovery_min;
    fall.door = soon && (rising || (fall.came_back && fall.to_min - fall.lowest_at_min <= rule.recovery_min));
    found.push_back(fall);
  }
  return found;
}

AirRecovery air_recovery(std::span<const double> time_min, std::span<const double> air_c, double level_c) {
  constexpr std::string_view self = "air_recovery";
  require_count(time_min.size(), 4, self, "time_min");
  require_trace(time_min, air_c, self);
  require_finite(level_c, self, "level_c");
  if (!(air_c[0] < level_c)) {
    throw InvalidInput(self, "air_c",
                       "must start below the level (" + to_text(air_c[0]) + ", level " + to_text(level_c) + ")", 0);
  }
  // Golden section on the logarithm, about the best of a coarse grid.
  const double low = std::log(0.05), high = std::log(1000.0);
  const auto cost = [&](double x) { return fit_of(time_min, air_c, level_c, std::exp(x)).sum_squares; };
  constexpr int grid = 40;
  double best = low;
  for (int k = 1; k <= grid; ++k) {
    const double x = low + (high - low) * k / grid;
    if (cost(x) < cost(best)) best = x;
  }
  double a = std::max(low, best - (high - low) / grid), b = std::min(high, best + (high - low) / grid);
  constexpr double golden = 0.6180339887498949;
  for (int k = 0; k < 50; ++k) {
    const double c = b - golden * (b - a), d = a + golden * (b - a);
    (cost(c) < cost(d) ? b : a) = cost(c) < cost(d) ? d : c;
  }
  const double tau = std::exp(0.5 * (a + b));
  const Fit fit = fit_of(time_min, air_c, level_c, tau);
  return {.time_constant_min = tau,
          .drop_k = fit.drop,
          .back_min = fit.drop > 1.0 ? tau * std::log(fit.drop) : 0.0,
          .residual_k = std::sqrt(fit.sum_squares / static_cast<double>(time_min.size()))};
}

}  // namespace steadyfilm
