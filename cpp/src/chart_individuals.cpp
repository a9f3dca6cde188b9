#include <steadyfilm/chart_individuals.hpp>

#include <algorithm>
#include <cmath>
#include <limits>

#include <steadyfilm/constants.hpp>

#include "support/chart.hpp"
#include "support/double_double.hpp"
#include "support/range_distribution.hpp"

namespace steadyfilm {

namespace {

constexpr double none = std::numeric_limits<double>::quiet_NaN();
constexpr auto function = "individuals_chart";

void check(const IndividualsOptions& options, std::string_view where) {
  if (options.span < 2) {
    throw InvalidInput(where, "span", "must be 2 or more, got " + std::to_string(options.span));
  }
  require_positive(options.sigma_multiple, where, "sigma_multiple");
  if (options.center) require_finite(*options.center, where, "center");
  support::require_sigma(options.sigma_within, where, "sigma_within");
  if (options.divisor) require_positive(*options.divisor, where, "divisor");
}

double divisor_of(const IndividualsOptions& options) {
  if (options.divisor) return *options.divisor;
  return options.estimator == MovingRangeEstimator::mean_moving_range ? d2(options.span)
                                                                      : support::range_median(options.span);
}

/// Pairs of moving ranges that lie `lag` points apart; with lag below the span they share values.
double pairs_at(std::span<const double> ranges, std::size_t lag) {
  double pairs = 0.0;
  for (std::size_t i = lag; i < ranges.size(); ++i) {
    if (!std::isnan(ranges[i]) && !std::isnan(ranges[i - lag])) pairs += 1.0;
  }
  return pairs;
}

/// Of the mean range: its variance with the covariances of overlapping ranges, matched to a chi.
double degrees_of_mean(std::span<const double> ranges, double count, std::size_t span) {
  double variance = count * d3(span) * d3(span);
  for (std::size_t lag = 1; lag < span; ++lag) {
    const double pairs = pairs_at(ranges, lag);
    if (pairs > 0.0) variance += 2.0 * pairs * support::range_covariance(span, lag);
  }
  const double mean = count * d2(span);
  return chi_match_degrees_of_freedom(variance / (mean * mean));
}

/// Of the median range of two: the large-sample variance of a median of neighbors that share a value.
double degrees_of_median(std::span<const double> ranges, double count, std::size_t span) {
  if (span != 2) return none;
  const double middle = support::range_median(2);
  const double density = support::range_of_two_density(middle);
  const double both = support::both_ranges_of_two_below(middle);
  const double variance =
      (0.25 * count + 2.0 * pairs_at(ranges, 1) * (both - 0.25)) / (count * count * density * density);
  return chi_match_degrees_of_freedom(variance / (middle * middle));
}

/// The averages of the moving ranges that there are.
void average_ranges(IndividualsChart& chart) {
  std::vector<double> present;
  support::DoubleDouble sum;
  for (const double range : chart.moving_range) {
    if (std::isnan(range)) continue;
    present.push_back(range);
    sum = sum + range;
  }
  chart.moving_range_count = present.size();
  chart.moving_range_sum = sum.value();
  chart.mean_moving_range = chart.median_moving_range = chart.median_low = chart.median_high = none;
  if (present.empty()) return;
  chart.mean_moving_range = chart.moving_range_sum / static_cast<double>(present.size());
  const auto middle = present.begin() + static_cast<std::ptrdiff_t>(present.size() / 2);
  std::nth_element(present.begin(), middle, present.end());
  chart.median_low = chart.median_high = *middle;
  if (present.size() % 2 == 0) chart.median_low = *std::max_element(present.begin(), middle);
  chart.median_moving_range = 0.5 * chart.median_low + 0.5 * chart.median_high;
}

ControlLimits range_lines(double middle, double sigma_within, const IndividualsOptions& options) {
  return support::spread_lines(middle, options.sigma_multiple * d3(options.span) * sigma_within);
}

}  // namespace

void moving_ranges(std::span<const double> values, std::span<const std::uint8_t> takes_part,
                   std::span<const std::uint8_t> break_before, std::size_t span, std::span<double> out) {
  if (span < 2) throw InvalidInput("moving_ranges", "span", "must be 2 or more, got " + std::to_string(span));
  support::require_mask(takes_part, values.size(), "moving_ranges", "takes_part");
  support::require_mask(break_before, values.size(), "moving_ranges", "break_before");
  if (out.size() != values.size()) throw InvalidInput("moving_ranges", "out", "must be as long as values");
  std::size_t unbroken = 0;
  for (std::size_t i = 0; i < values.size(); ++i) {
    if (support::break_before_at(break_before, i)) unbroken = 0;
    unbroken = support::takes_part_at(takes_part, i) ? unbroken + 1 : 0;
    out[i] = none;
    if (unbroken < span) continue;
    const auto [low, high] = std::ranges::minmax(values.subspan(i + 1 - span, span));
    out[i] = high - low;
  }
}

IndividualsChart individuals_chart(std::span<const double> values, std::span<const std::uint8_t> takes_part,
                                   std::span<const std::uint8_t> break_before, const IndividualsOptions& options) {
  check(options, function);
  support::require_mask(takes_part, values.size(), function, "takes_part");
  support::require_mask(break_before, values.size(), function, "break_before");
  support::require_finite_points(values, takes_part, function);

  IndividualsChart chart;
  support::DoubleDouble sum;
  double lowest = std::numeric_limits<double>::infinity(), highest = -lowest;
  for (std::size_t i = 0; i < values.size(); ++i) {
    if (!support::takes_part_at(takes_part, i)) continue;
    sum = sum + values[i];
    lowest = std::min(lowest, values[i]);
    highest = std::max(highest, values[i]);
    ++chart.count;
  }
  require_count(chart.count, 1, function);
  chart.sum = sum.value();

  chart.moving_range.resize(values.size());
  moving_ranges(values, takes_part, break_before, options.span, chart.moving_range);
  average_ranges(chart);
  chart.divisor = divisor_of(options);
  chart.range_sd_factor = d3(options.span);

  // The mean of equal values may differ from them by a rounding; then they would all lie off their own center.
  const double mean = lowest == highest ? lowest : support::divide(sum, static_cast<double>(chart.count)).value();
  require_finite(mean, function, "mean of values");
  const double center = options.center.value_or(mean);

  const bool by_mean = options.estimator == MovingRangeEstimator::mean_moving_range;
  chart.degrees_of_freedom = none;
  if (options.sigma_within) {
    chart.sigma_within = *options.sigma_within;
  } else {
    if (chart.moving_range_count == 0) {
      throw InvalidInput(function, "values",
                         "hold no " + std::to_string(options.span) +
                             " neighbors without a break, so that there is no moving range; give sigma_within");
    }
    chart.sigma_within = (by_mean ? chart.mean_moving_range : chart.median_moving_range) / chart.divisor;
    require_finite(chart.sigma_within, function, "sigma_within of values");
    const auto count = static_cast<double>(chart.moving_range_count);
    chart.degrees_of_freedom = by_mean ? degrees_of_mean(chart.moving_range, count, options.span)
                                       : degrees_of_median(chart.moving_range, count, options.span);
  }

  chart.limits = support::lines(center, options.sigma_multiple * chart.sigma_within);
  const bool own_mean = by_mean && !options.sigma_within;
  chart.moving_range_limits = range_lines(own_mean ? chart.mean_moving_range : d2(options.span) * chart.sigma_within,
                                          chart.sigma_within, options);
  require_finite(chart.limits.lower, function, "lower limit of values");
  require_finite(chart.limits.upper, function, "upper limit of values");
  require_finite(chart.moving_range_limits.upper, function, "moving range limit of values");

  const double range_sigma = chart.range_sd_factor * chart.sigma_within;
  chart.standardized.reserve(values.size());
  chart.moving_range_standardized.reserve(values.size());
  for (std::size_t i = 0; i < values.size(); ++i) {
    chart.standardized.push_back(support::standardized(values[i], center, chart.sigma_within));
    chart.moving_range_standardized.push_back(
        support::standardized(chart.moving_range[i], chart.moving_range_limits.center, range_sigma));
  }
  return chart;
}

IndividualsLimits individuals_limits_from_averages(double center, double mean_moving_range,
                                                   const IndividualsOptions& options) {
  constexpr auto where = "individuals_limits_from_averages";
  check(options, where);
  require_finite(center, where, "center");
  if (!std::isfinite(mean_moving_range) || mean_moving_range < 0.0) {
    throw InvalidInput(where, "mean_moving_range", "must be 0 or more, got " + to_text(mean_moving_range));
  }
  const double divisor = divisor_of(options);
  const double sigma_within = options.sigma_within.value_or(mean_moving_range / divisor);
  const bool own_mean = options.estimator == MovingRangeEstimator::mean_moving_range && !options.sigma_within;
  return {.limits = support::lines(options.center.value_or(center), options.sigma_multiple * sigma_within),
          .moving_range_limits =
              range_lines(own_mean ? mean_moving_range : d2(options.span) * sigma_within, sigma_within, options),
          .sigma_within = sigma_within,
          .divisor = divisor,
          .range_sd_factor = d3(options.span)};
}

}  // namespace steadyfilm
