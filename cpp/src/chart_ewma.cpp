#include <steadyfilm/chart_ewma.hpp>

#include <algorithm>
#include <cmath>

#include <steadyfilm/chart_individuals.hpp>
#include <steadyfilm/monitor.hpp>
#include <steadyfilm/run_rules.hpp>

#include "support/chart.hpp"
#include "support/ewma_scan.hpp"

namespace steadyfilm {

namespace {

constexpr auto function = "ewma_chart";

void check(std::span<const double> values, std::span<const std::uint8_t> takes_part,
           std::span<const std::uint8_t> break_before, const EwmaOptions& options) {
  if (!(options.smoothing > 0.0 && options.smoothing <= 1.0)) {
    throw InvalidInput(function, "smoothing", "must lie above 0 and not above 1, got " + to_text(options.smoothing));
  }
  require_positive(options.sigma_multiple, function, "sigma_multiple");
  if (options.center) require_finite(*options.center, function, "center");
  support::require_sigma(options.sigma_point, function, "sigma_point");
  support::require_mask(takes_part, values.size(), function, "takes_part");
  support::require_mask(break_before, values.size(), function, "break_before");
  support::require_finite_points(values, takes_part, function);
  require_count(values.size(), 1, function);
  if (!options.sigma_point) {
    std::vector<double> ranges(values.size());
    moving_ranges(values, takes_part, break_before, 2, ranges);
    if (std::ranges::all_of(ranges, [](double range) { return std::isnan(range); })) {
      throw InvalidInput(function, "values", "hold no 2 neighbors without a break; give sigma_point");
    }
  }
}

}  // namespace

EwmaChart ewma_chart(std::span<const double> values, std::span<const std::uint8_t> takes_part,
                     std::span<const std::uint8_t> break_before, const EwmaOptions& options) {
  check(values, takes_part, break_before, options);

  // Center and sigma of single values are those of the individuals chart.
  const auto single = individuals_chart(values, takes_part, break_before,
                                        {.center = options.center, .sigma_within = options.sigma_point});
  EwmaChart chart{.limits = single.limits,
                  .sigma_point = single.sigma_within,
                  .count = single.count,
                  .sum = single.sum,
                  .moving_range_count = single.moving_range_count,
                  .moving_range_sum = single.moving_range_sum,
                  .divisor = single.divisor,
                  .degrees_of_freedom = single.degrees_of_freedom,
                  .ewma = {},
                  .standardized_ewma = {},
                  .lower = {},
                  .upper = {},
                  .signals = {}};
  const double center = chart.limits.center, sigma = chart.sigma_point;
  const MonitorLimits reach{.smoothing = options.smoothing,
                            .ewma_multiple = options.sigma_multiple,
                            .ewma_time_varying = options.time_varying};
  const double end = options.sigma_multiple * std::sqrt(options.smoothing / (2.0 - options.smoothing));
  chart.limits = support::lines(center, end * sigma);
  require_finite(chart.limits.lower, function, "lower limit of values");
  require_finite(chart.limits.upper, function, "upper limit of values");

  const double scale = sigma > 0.0 ? sigma : 1.0;
  std::vector<double> deviations(values.size(), 0.0), levels(values.size());
  for (std::size_t i = 0; i < values.size(); ++i) {
    if (support::takes_part_at(takes_part, i)) deviations[i] = (values[i] - center) / scale;
  }
  support::ewma_scan(support::EwmaWeights(options.smoothing), deviations, takes_part, break_before, levels, 0);
  std::size_t since_restart = 0, length = 0;
  int side = 0;
  for (std::size_t i = 0; i < values.size(); ++i) {
    if (support::break_before_at(break_before, i)) {
      since_restart = length = 0;
      side = 0;
    }
    const bool present = support::takes_part_at(takes_part, i);
    const double level = levels[i];
    if (present) {
      ++since_restart;
      const int now = (level > 0.0) - (level < 0.0);
      length = now == side ? length + 1 : 1;
      side = now;
    } else if (length > 0) {
      ++length;
    }
    const double ewma = center + scale * level;
    if (!std::isfinite(ewma))
      throw InvalidInput(function, "EWMA of values", "is not finite (" + to_text(ewma) + ")", i);
    const double standardized = sigma > 0.0 ? level : support::standardized(level, 0.0, 0.0);
    const double distance = ewma_reach(reach, since_restart);
    if (present && std::abs(standardized) > distance + on_line) {
      chart.signals.push_back({.point = i, .side = side, .length = length});
    }
    chart.ewma.push_back(ewma);
    chart.standardized_ewma.push_back(standardized);
    chart.lower.push_back(center - distance * sigma);
    chart.upper.push_back(center + distance * sigma);
  }
  return chart;
}

}  // namespace steadyfilm
