#include <steadyfilm/chart_subgroup.hpp>

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <string>
#include <utility>

#include <steadyfilm/constants.hpp>

#include "support/chart.hpp"
#include "support/double_double.hpp"
#include "support/subgroup_scan.hpp"

namespace steadyfilm {

namespace {

constexpr double none = std::numeric_limits<double>::quiet_NaN();
constexpr auto function = "subgroup_chart";

/// Mean and sd of a spread statistic of n readings, for sigma 1.
struct SpreadFactors {
  double center;
  double sd;
};

SpreadFactors factors_of(bool range, std::size_t n) {
  if (range) return {d2(n), d3(n)};
  const auto size = static_cast<double>(n);
  return {c4(size), c5(size)};
}

void require_offsets(std::size_t values, std::span<const std::size_t> offsets, std::string_view where) {
  if (offsets.empty() || offsets.front() != 0 || offsets.back() != values || !std::ranges::is_sorted(offsets)) {
    throw InvalidInput(where, "offsets", "must rise from 0 to the number of readings, " + std::to_string(values));
  }
}

void require_groups(std::size_t have, std::size_t groups, std::string_view where, std::string_view argument) {
  if (have == groups) return;
  throw InvalidInput(where, argument,
                     "has " + std::to_string(have) + " elements for " + std::to_string(groups) + " subgroups");
}

/// The readings of one subgroup.
std::span<const double> group(std::span<const double> values, std::span<const std::size_t> offsets, std::size_t i) {
  return values.subspan(offsets[i], offsets[i + 1] - offsets[i]);
}

/// The size of all subgroups when they have one, else 0.
std::size_t equal_size(std::span<const std::size_t> sizes) {
  if (sizes.empty()) return 0;
  const bool equal = std::ranges::all_of(sizes, [&](std::size_t size) { return size == sizes.front(); });
  return equal ? sizes.front() : 0;
}

double sd_of(std::span<const double> readings) {
  if (readings.size() < 2) return none;
  const auto n = static_cast<double>(readings.size());
  const auto [low, high] = std::ranges::minmax(readings);
  if (low == high) return 0.0;  // the mean of equal readings may differ from them by a rounding
  support::DoubleDouble sum;
  for (const double x : readings) sum = sum + x;
  const support::DoubleDouble mean = support::divide(sum, n);
  support::DoubleDouble squares;
  for (const double x : readings) {
    const support::DoubleDouble deviation = support::DoubleDouble{x, 0.0} + -mean;
    squares = squares + deviation * deviation;
  }
  return std::sqrt(squares.value() / (n - 1.0));
}

WithinSigma pooled(std::span<const std::size_t> sizes, std::span<const double> sds,
                   std::span<const std::uint8_t> takes_part, bool unbiased) {
  WithinSigma found;
  support::DoubleDouble sum, squares;
  double degrees = 0.0;
  for (std::size_t i = 0; i < sizes.size(); ++i) {
    if (!support::takes_part_at(takes_part, i) || sizes[i] < 2) continue;
    const auto own = static_cast<double>(sizes[i] - 1);
    sum = sum + sds[i];
    squares = squares + own * sds[i] * sds[i];
    degrees += own;
    ++found.groups;
  }
  require_count(found.groups, 1, "within_sigma", "subgroups of two or more readings");
  found.spread_sum = sum.value();
  found.sum_squares = squares.value();
  found.degrees_of_freedom = degrees;
  found.divisor = unbiased ? c4(degrees + 1.0) : 1.0;
  found.sigma_within = std::sqrt(found.sum_squares / degrees) / found.divisor;
  return found;
}

WithinSigma averaged(std::span<const std::size_t> sizes, std::span<const double> spreads,
                     std::span<const std::uint8_t> takes_part, bool range) {
  WithinSigma found;
  support::DoubleDouble sum, weighted, weights;
  std::size_t last = 0;
  bool one_size = true;
  SpreadFactors factors{};
  for (std::size_t i = 0; i < sizes.size(); ++i) {
    if (!support::takes_part_at(takes_part, i) || sizes[i] < 2) continue;
    if (sizes[i] != last) {
      one_size = last == 0 && one_size;
      last = sizes[i];
      factors = factors_of(range, last);
    }
    const double ratio = factors.center / factors.sd;
    sum = sum + spreads[i];
    weighted = weighted + ratio * ratio * (spreads[i] / factors.center);
    weights = weights + ratio * ratio;
    ++found.groups;
  }
  require_count(found.groups, 1, "within_sigma", "subgroups of two or more readings");
  const auto groups = static_cast<double>(found.groups);
  found.spread_sum = sum.value();
  found.weighted_sum = weighted.value();
  found.weight_sum = weights.value();
  found.divisor = one_size ? factors.center : none;
  found.sigma_within = one_size ? found.spread_sum / groups / factors.center : found.weighted_sum / found.weight_sum;
  // The weighted mean has relative variance 1 / sum of weights, since each weight is the inverse of its own.
  found.degrees_of_freedom = chi_match_degrees_of_freedom(1.0 / found.weight_sum);
  return found;
}

/// The most frequent size of two or more; of equally frequent ones the larger.
std::size_t most_frequent(std::span<const std::size_t> sizes, std::span<const std::uint8_t> takes_part) {
  std::map<std::size_t, std::size_t> counts;
  for (std::size_t i = 0; i < sizes.size(); ++i) {
    if (support::takes_part_at(takes_part, i) && sizes[i] >= 2) ++counts[sizes[i]];
  }
  std::size_t best = 0, most = 0;
  for (const auto& [size, count] : counts) {
    if (count >= most) {
      best = size;
      most = count;
    }
  }
  return best;
}

/// Sums of the readings that take part, and the checks on each subgroup.
double grand_mean(SubgroupChart& chart, std::span<const std::uint8_t> takes_part) {
  support::DoubleDouble sum;
  double lowest = std::numeric_limits<double>::infinity(), highest = -lowest;
  for (std::size_t i = 0; i < chart.means.size(); ++i) {
    if (!support::takes_part_at(takes_part, i)) continue;
    if (chart.sizes[i] == 0) throw InvalidInput(function, "subgroups", "has no reading and takes part", i);
    if (!std::isfinite(chart.means[i])) {
      throw InvalidInput(function, "mean of subgroups", "is not finite (" + to_text(chart.means[i]) + ")", i);
    }
    sum = sum + support::two_product(static_cast<double>(chart.sizes[i]), chart.means[i]);
    lowest = std::min(lowest, chart.means[i]);
    highest = std::max(highest, chart.means[i]);
    chart.count += chart.sizes[i];
  }
  require_count(chart.count, 1, function, "readings that take part");
  chart.sum = sum.value();
  // The mean of equal means may differ from them by a rounding; then they would all lie off their own center.
  return lowest == highest ? lowest : support::divide(sum, static_cast<double>(chart.count)).value();
}

/// What depends on the size of a subgroup alone.
struct SizeLines {
  std::size_t size = 0;
  double sigma_mean = none;
  double sigma_spread = none;
  ControlLimits limits;
  ControlLimits spread{none, none, none};
};

SizeLines lines_of_size(std::size_t size, double center, double sigma_within, const SubgroupOptions& options) {
  SizeLines found;
  found.size = size;
  found.sigma_mean = sigma_within / std::sqrt(static_cast<double>(size));
  found.limits = support::lines(center, options.sigma_multiple * found.sigma_mean);
  if (size < 2) return found;
  const auto factors = factors_of(options.spread == SubgroupSpread::range, size);
  found.sigma_spread = factors.sd * sigma_within;
  found.spread = support::spread_lines(factors.center * sigma_within, options.sigma_multiple * found.sigma_spread);
  return found;
}

void draw_lines(SubgroupChart& chart, double center, const SubgroupOptions& options) {
  const double sigma_within = chart.within.sigma_within;
  SizeLines own = lines_of_size(chart.nominal_size, center, sigma_within, options);
  const auto factors = factors_of(options.spread == SubgroupSpread::range, chart.nominal_size);
  chart.spread_factor = factors.center;
  chart.spread_sd_factor = factors.sd;
  chart.limits = own.limits;
  chart.spread_limits = own.spread;
  require_finite(chart.limits.lower, function, "lower limit of the averages");
  require_finite(chart.limits.upper, function, "upper limit of the averages");
  require_finite(chart.spread_limits.upper, function, "upper limit of the spread");

  for (auto* line : {&chart.lower, &chart.upper, &chart.spread_lower, &chart.spread_center, &chart.spread_upper,
                     &chart.standardized, &chart.spread_standardized}) {
    line->assign(chart.sizes.size(), none);
  }
  for (std::size_t i = 0; i < chart.sizes.size(); ++i) {
    if (chart.sizes[i] == 0) continue;
    if (chart.sizes[i] != own.size) own = lines_of_size(chart.sizes[i], center, sigma_within, options);
    chart.lower[i] = own.limits.lower;
    chart.upper[i] = own.limits.upper;
    chart.standardized[i] = support::standardized(chart.means[i], center, own.sigma_mean);
    if (own.size < 2) continue;
    chart.spread_lower[i] = own.spread.lower;
    chart.spread_center[i] = own.spread.center;
    chart.spread_upper[i] = own.spread.upper;
    chart.spread_standardized[i] = support::standardized(chart.spreads[i], own.spread.center, own.sigma_spread);
  }
}

void require_equal_subgroups(std::span<const double> values, std::size_t size, std::string_view where) {
  if (size < 2) throw InvalidInput(where, "subgroup_size", "must be 2 or more, got " + std::to_string(size));
  require_count(values.size(), size, where);
}

SubgroupAverages averages_of(const support::SubgroupTotals& totals, std::size_t size, std::string_view where) {
  const auto groups = static_cast<double>(totals.groups);
  const auto readings = static_cast<double>(totals.groups * size);
  const auto sum = totals.means * support::DoubleDouble{static_cast<double>(size), 0.0};
  SubgroupAverages found;
  found.groups = totals.groups;
  found.sum = sum.value();
  // As in grand_mean: equal means have exactly that mean.
  found.mean = totals.lowest_mean == totals.highest_mean ? totals.lowest_mean : support::divide(sum, readings).value();
  found.range_sum = totals.ranges.value();
  found.mean_range = found.range_sum / groups;
  found.sigma_within = found.mean_range / d2(size);
  require_finite(found.mean, where, "mean of values");
  require_finite(found.sigma_within, where, "sigma_within of values");
  return found;
}

}  // namespace

void subgroup_means_ranges(std::span<const double> values, std::span<const std::size_t> offsets,
                           std::span<double> means, std::span<double> ranges) {
  constexpr auto where = "subgroup_means_ranges";
  require_offsets(values.size(), offsets, where);
  const std::size_t groups = offsets.size() - 1;
  require_groups(means.size(), groups, where, "means");
  require_groups(ranges.size(), groups, where, "ranges");
  for (std::size_t i = 0; i < groups; ++i) {
    const auto readings = group(values, offsets, i);
    means[i] = ranges[i] = none;
    if (readings.empty()) continue;
    double sum = readings[0], low = readings[0], high = readings[0];
    for (const double x : readings.subspan(1)) {
      sum += x;
      low = std::min(low, x);
      high = std::max(high, x);
    }
    means[i] = low == high ? low : sum / static_cast<double>(readings.size());
    ranges[i] = high - low;
  }
}

void subgroup_sds(std::span<const double> values, std::span<const std::size_t> offsets, std::span<double> sds) {
  require_offsets(values.size(), offsets, "subgroup_sds");
  require_groups(sds.size(), offsets.size() - 1, "subgroup_sds", "sds");
  for (std::size_t i = 0; i < sds.size(); ++i) sds[i] = sd_of(group(values, offsets, i));
}

WithinSigma within_sigma(std::span<const std::size_t> sizes, std::span<const double> spreads,
                         std::span<const std::uint8_t> takes_part, WithinEstimator estimator) {
  require_groups(spreads.size(), sizes.size(), "within_sigma", "spreads");
  support::require_mask(takes_part, sizes.size(), "within_sigma", "takes_part");
  for (std::size_t i = 0; i < sizes.size(); ++i) {
    const bool used = support::takes_part_at(takes_part, i) && sizes[i] >= 2;
    if (used && !(std::isfinite(spreads[i]) && spreads[i] >= 0.0)) {
      throw InvalidInput("within_sigma", "spreads", "must be 0 or more and finite, got " + to_text(spreads[i]), i);
    }
  }
  WithinSigma found;
  switch (estimator) {
    case WithinEstimator::mean_range:
    case WithinEstimator::mean_sd:
      found = averaged(sizes, spreads, takes_part, estimator == WithinEstimator::mean_range);
      break;
    case WithinEstimator::pooled_sd:
    case WithinEstimator::pooled_sd_c4:
      found = pooled(sizes, spreads, takes_part, estimator == WithinEstimator::pooled_sd_c4);
      break;
  }
  found.mean_spread = found.spread_sum / static_cast<double>(found.groups);
  require_finite(found.sigma_within, "within_sigma", "sigma_within of spreads");
  return found;
}

SubgroupChart subgroup_chart(std::span<const double> values, std::span<const std::size_t> offsets,
                             std::span<const std::uint8_t> takes_part, const SubgroupOptions& options) {
  require_offsets(values.size(), offsets, function);
  const std::size_t groups = offsets.size() - 1;
  require_positive(options.sigma_multiple, function, "sigma_multiple");
  if (options.center) require_finite(*options.center, function, "center");
  support::require_sigma(options.sigma_within, function, "sigma_within");
  support::require_mask(takes_part, groups, function, "takes_part");
  require_finite(values, function);

  SubgroupChart chart;
  chart.sizes.reserve(groups);
  for (std::size_t i = 0; i < groups; ++i) chart.sizes.push_back(offsets[i + 1] - offsets[i]);
  chart.nominal_size = most_frequent(chart.sizes, takes_part);
  if (chart.nominal_size == 0) {
    throw InvalidInput(function, "subgroups",
                       "need two or more readings in at least one of them; single readings go to an individuals chart");
  }

  chart.means.resize(groups);
  std::vector<double> ranges(groups), sds;
  const std::size_t one_size = equal_size(chart.sizes);
  if (one_size >= 2) {
    (void)support::scan_subgroups(values, one_size, chart.means, ranges, 0, function);
  } else {
    subgroup_means_ranges(values, offsets, chart.means, ranges);
  }
  for (std::size_t i = 0; i < groups; ++i) {
    if (chart.sizes[i] < 2) ranges[i] = none;  // one reading has no spread
  }
  const bool by_range = options.estimator == WithinEstimator::mean_range;
  if (options.spread == SubgroupSpread::sd || (!by_range && !options.sigma_within)) {
    sds.resize(groups);
    subgroup_sds(values, offsets, sds);
    for (std::size_t i = 0; i < groups; ++i) {
      if (chart.sizes[i] >= 2 && !std::isfinite(sds[i])) {
        throw InvalidInput(function, "standard deviation of subgroups", "is not finite (" + to_text(sds[i]) + ")", i);
      }
    }
  }

  const double mean = grand_mean(chart, takes_part);
  const double center = options.center.value_or(mean);
  require_finite(center, function, "center of readings");
  if (options.sigma_within) {
    chart.within.sigma_within = *options.sigma_within;
    chart.within.degrees_of_freedom = chart.within.divisor = none;
  } else {
    chart.within = within_sigma(chart.sizes, by_range ? ranges : sds, takes_part, options.estimator);
  }
  chart.spreads = options.spread == SubgroupSpread::range ? std::move(ranges) : std::move(sds);
  draw_lines(chart, center, options);
  return chart;
}

SubgroupAverages subgroup_averages(std::span<const double> values, std::size_t subgroup_size, std::span<double> means,
                                   std::span<double> ranges, std::size_t threads) {
  constexpr auto where = "subgroup_averages";
  require_equal_subgroups(values, subgroup_size, where);
  return averages_of(support::scan_subgroups(values, subgroup_size, means, ranges, threads, where), subgroup_size,
                     where);
}

SubgroupSignals subgroup_signals(std::span<const double> values, std::size_t subgroup_size,
                                 const SubgroupOptions& options, std::span<const RunRule> rules,
                                 const RuleOptions& rule_options, std::span<double> means, std::span<double> ranges) {
  constexpr auto where = "subgroup_signals";
  require_equal_subgroups(values, subgroup_size, where);
  require_positive(options.sigma_multiple, where, "sigma_multiple");
  if (options.center) require_finite(*options.center, where, "center");
  support::require_sigma(options.sigma_within, where, "sigma_within");
  if (options.spread != SubgroupSpread::range || options.estimator != WithinEstimator::mean_range) {
    throw InvalidInput(where, "options", "must have spread range and estimator mean_range");
  }

  SubgroupSignals found;
  found.groups = values.size() / subgroup_size;
  const bool estimated = !options.center || !options.sigma_within;
  SubgroupAverages& averages = found.averages;
  if (estimated) {
    averages = averages_of(support::scan_subgroups(values, subgroup_size, means, ranges, rule_options.threads, where),
                           subgroup_size, where);
  }
  found.sigma_within = options.sigma_within.value_or(averages.sigma_within);
  const SizeLines own =
      lines_of_size(subgroup_size, options.center.value_or(averages.mean), found.sigma_within, options);
  found.limits = own.limits;
  found.spread_limits = own.spread;
  require_finite(found.limits.lower, where, "lower limit of the averages");
  require_finite(found.limits.upper, where, "upper limit of the averages");
  require_finite(found.spread_limits.upper, where, "upper limit of the spread");

  const support::SubgroupLines lines{.center = found.limits.center,
                                     .sigma_point = own.sigma_mean,
                                     .range_center = found.spread_limits.center,
                                     .range_sigma = own.sigma_spread};
  RunRule beyond;
  beyond.zone = options.sigma_multiple;
  const std::span<const RunRule> range_rules(&beyond, 1);
  const bool kept = !means.empty() && !ranges.empty();
  auto both = estimated && kept ? support::find_subgroup_signals(means, ranges, lines, rules, range_rules, rule_options)
                                : support::scan_subgroup_signals(values, subgroup_size, lines, rules, range_rules,
                                                                 rule_options, estimated ? std::span<double>() : means,
                                                                 estimated ? std::span<double>() : ranges, where);
  found.signals = std::move(both.means);
  found.spread_signals = std::move(both.ranges);
  return found;
}

SubgroupLimits subgroup_limits_from_averages(double center, double mean_spread, double mean_factor, double lower_factor,
                                             double upper_factor) {
  constexpr auto where = "subgroup_limits_from_averages";
  require_finite(center, where, "center");
  const auto require = [](double value, std::string_view name) {
    if (!std::isfinite(value) || value < 0.0)
      throw InvalidInput(where, name, "must be 0 or more, got " + to_text(value));
  };
  require(mean_spread, "mean_spread");
  require(mean_factor, "mean_factor");
  require(lower_factor, "lower_factor");
  require(upper_factor, "upper_factor");
  return {.limits = support::lines(center, mean_factor * mean_spread),
          .spread_limits = {
              .lower = lower_factor * mean_spread, .center = mean_spread, .upper = upper_factor * mean_spread}};
}

}  // namespace steadyfilm
