#include <steadyfilm/chart_nested.hpp>

#include <algorithm>
#include <cmath>
#include <limits>
#include <string>

#include <steadyfilm/constants.hpp>
#include <steadyfilm/distributions.hpp>

#include "support/chart.hpp"
#include "support/double_double.hpp"
#include "support/grouped_means.hpp"
#include "support/range_distribution.hpp"

namespace steadyfilm {

using support::DoubleDouble;

namespace {

constexpr double none = std::numeric_limits<double>::quiet_NaN();
constexpr auto function = "nested_chart";

/// Readings of all units, and which units can be used.
struct Units {
  std::span<const double> values;
  std::size_t locations = 0;
  std::size_t repeats = 0;
  std::size_t count = 0;
  std::vector<std::uint8_t> whole;       ///< has all its readings
  std::vector<std::uint8_t> takes_part;  ///< whole and not excluded

  [[nodiscard]] std::span<const double> of(std::size_t unit) const {
    return values.subspan(unit * locations * repeats, locations * repeats);
  }

  /// What lies inside a unit: averages of its locations, or its readings when there is one location.
  [[nodiscard]] std::vector<DoubleDouble> inside(std::size_t unit) const {
    return support::means_of_runs(support::widened(of(unit)), locations > 1 ? repeats : 1);
  }
};

Units units_of(std::span<const double> values, std::size_t location_count, std::size_t repeats,
               std::span<const std::uint8_t> takes_part) {
  if (location_count < 1) throw InvalidInput(function, "location_count", "must be 1 or more");
  if (repeats < 1) throw InvalidInput(function, "repeats", "must be 1 or more");
  if (location_count == 1 && repeats == 1) {
    throw InvalidInput(function, "repeats",
                       "of 1 at a single location leave no spread inside a unit; chart single values by themselves");
  }
  require_count(values.size(), 1, function);
  const std::size_t count = values.size() / location_count / repeats;
  if (values.size() % location_count != 0 || values.size() / location_count % repeats != 0) {
    throw InvalidInput(function, "values",
                       "number " + std::to_string(values.size()) + ", not a multiple of " +
                           std::to_string(location_count) + " locations by " + std::to_string(repeats) + " readings");
  }
  support::require_mask(takes_part, count, function, "takes_part");
  Units units{values, location_count, repeats, count, {}, {}};
  for (std::size_t i = 0; i < values.size(); ++i) {
    if (std::isinf(values[i])) throw InvalidInput(function, "values", "is not finite (" + to_text(values[i]) + ")", i);
  }
  for (std::size_t u = 0; u < count; ++u) {
    const auto unit = units.of(u);
    units.whole.push_back(std::none_of(unit.begin(), unit.end(), [](double x) { return std::isnan(x); }) ? 1 : 0);
    units.takes_part.push_back(units.whole[u] != 0 && support::takes_part_at(takes_part, u) ? 1 : 0);
  }
  return units;
}

/// Mean of each location over the units that take part.
std::vector<DoubleDouble> location_means(const Units& units, std::size_t taking_part) {
  std::vector<DoubleDouble> sums(units.locations);
  for (std::size_t u = 0; u < units.count; ++u) {
    if (units.takes_part[u] == 0) continue;
    const auto inside = support::means_of_runs(support::widened(units.of(u)), units.repeats);
    for (std::size_t l = 0; l < units.locations; ++l) sums[l] = sums[l] + inside[l];
  }
  for (DoubleDouble& sum : sums) sum = support::divide(sum, static_cast<double>(taking_part));
  return sums;
}

/// Standard deviation about their own mean, or range, of the inside values less the location means.
double spread_of(std::vector<DoubleDouble> inside, std::span<const DoubleDouble> means, InsideSpread kind,
                 support::Squares& squares) {
  if (means.size() == inside.size() && means.size() > 1) {
    for (std::size_t l = 0; l < inside.size(); ++l) inside[l] = inside[l] + -means[l];
  }
  if (kind == InsideSpread::range) {
    const auto below = [](DoubleDouble a, DoubleDouble b) { return (a + -b).value() < 0.0; };
    const auto [low, high] = std::minmax_element(inside.begin(), inside.end(), below);
    const DoubleDouble range = *high + -*low;
    return squares.counts(range) ? range.value() : 0.0;
  }
  const DoubleDouble middle = support::mean_of(inside);
  for (const DoubleDouble& x : inside) squares.add(x + -middle);
  return std::sqrt(squares.take(1.0) / static_cast<double>(inside.size() - 1));
}

void check(const NestedOptions& options, const Units& units) {
  support::require_sigma(options.sigma_inside, function, "sigma_inside");
  if (options.location_means.empty()) return;
  require_finite(options.location_means, function, "location_means");
  if (options.location_means.size() != units.locations) {
    throw InvalidInput(function, "location_means",
                       "has " + std::to_string(options.location_means.size()) + " elements for " +
                           std::to_string(units.locations) + " locations");
  }
}

bool has_neighbors(const Units& units, std::span<const std::uint8_t> break_before) {
  for (std::size_t u = 1; u < units.count; ++u) {
    if (units.takes_part[u] != 0 && units.takes_part[u - 1] != 0 && !support::break_before_at(break_before, u)) {
      return true;
    }
  }
  return false;
}

/// Chance of a range of `n` normal values outside center -+ multiple sd, all in sigma.
double range_chance(std::size_t n, double multiple) {
  const double low = d2(n) - multiple * d3(n);
  return 1.0 - support::range_cdf(n, d2(n) + multiple * d3(n)) + (low > 0.0 ? support::range_cdf(n, low) : 0.0);
}

/// The same of a standard deviation.
double sd_chance(std::size_t n, double multiple) {
  const double nu = static_cast<double>(n) - 1.0;
  const double center = c4(nu + 1.0), reach = multiple * c5(nu + 1.0);
  const double low = center - reach;
  return chi_square_survival(nu * std::pow(center + reach, 2), nu) +
         (low > 0.0 ? chi_square_cdf(nu * low * low, nu) : 0.0);
}

/// Sigma of an inside value and the lines of the spread chart.
void add_spread_lines(NestedChart& chart, const Units& units, const NestedOptions& options, bool own_means) {
  const bool by_range = options.spread == InsideSpread::range;
  const std::size_t k = chart.inside_count;
  chart.spread_factor = by_range ? d2(k) : c4(static_cast<double>(k));
  chart.spread_sd_factor = by_range ? d3(k) : c5(static_cast<double>(k));
  chart.spread_chance = by_range ? range_chance(k, options.sigma_multiple) : sd_chance(k, options.sigma_multiple);
  chart.moving_range_chance = range_chance(2, options.sigma_multiple);
  DoubleDouble sum;
  for (std::size_t u = 0; u < units.count; ++u) {
    if (units.takes_part[u] != 0) sum = sum + chart.spreads[u];
  }
  chart.spread_sum = sum.value();
  const auto count = static_cast<double>(chart.spread_count);
  chart.own_mean_factor = own_means ? std::sqrt(1.0 - 1.0 / count) : 1.0;
  const double mean_spread = chart.spread_sum / count;
  if (options.sigma_inside) {
    chart.sigma_inside = *options.sigma_inside;
    chart.inside_degrees_of_freedom = none;
  } else {
    if (chart.own_mean_factor == 0.0) {
      throw InvalidInput(function, "values",
                         "hold one unit: its location means are its own; give location_means or sigma_inside");
    }
    chart.sigma_inside = mean_spread / (chart.spread_factor * chart.own_mean_factor);
    require_finite(chart.sigma_inside, function, "sigma_inside of values");
    const double relative = std::pow(chart.spread_sd_factor / chart.spread_factor, 2);
    chart.inside_degrees_of_freedom = chi_match_degrees_of_freedom(relative / (own_means ? count - 1.0 : count));
  }
  const double sigma = chart.own_mean_factor * chart.sigma_inside;
  const double center = options.sigma_inside ? chart.spread_factor * sigma : mean_spread;
  chart.spread_limits = support::spread_lines(center, options.sigma_multiple * chart.spread_sd_factor * sigma);
  for (const double spread : chart.spreads) {
    chart.spread_standardized.push_back(support::standardized(spread, center, chart.spread_sd_factor * sigma));
  }
}

}  // namespace

NestedChart nested_chart(std::span<const double> values, std::size_t location_count, std::size_t repeats,
                         std::span<const std::uint8_t> takes_part, std::span<const std::uint8_t> break_before,
                         const NestedOptions& options) {
  const Units units = units_of(values, location_count, repeats, takes_part);
  check(options, units);
  support::require_mask(break_before, units.count, function, "break_before");

  NestedChart chart;
  chart.inside_count = location_count > 1 ? location_count : repeats;
  for (const std::uint8_t here : units.takes_part) chart.spread_count += here;
  require_count(chart.spread_count, 1, function, "units that take part");
  for (std::size_t u = 0; u < units.count; ++u) {
    const bool whole = units.whole[u] != 0;
    chart.averages.push_back(whole ? support::mean_of(support::widened(units.of(u))).value() : none);
    if (whole) require_finite(chart.averages.back(), function, "average of values");
  }
  if (!options.sigma_average && !has_neighbors(units, break_before)) {
    throw InvalidInput(function, "values",
                       "hold no two neighboring units without a break, so that there is no change to set limits from; "
                       "give sigma_average");
  }
  chart.average = individuals_chart(chart.averages, units.takes_part, break_before,
                                    {.span = 2,
                                     .estimator = options.estimator,
                                     .sigma_multiple = options.sigma_multiple,
                                     .center = options.center,
                                     .sigma_within = options.sigma_average,
                                     .divisor = std::nullopt});

  const bool given = !options.location_means.empty();
  const auto means = given ? support::widened(options.location_means) : location_means(units, chart.spread_count);
  for (const DoubleDouble& mean : means) chart.location_means.push_back(mean.value());
  double largest = 0.0;
  for (const double x : values) largest = std::isnan(x) ? largest : std::max(largest, std::abs(x));
  for (const double x : options.location_means) largest = std::max(largest, std::abs(x));
  support::Squares squares(std::span<const double>(&largest, 1));
  for (std::size_t u = 0; u < units.count; ++u) {
    chart.spreads.push_back(units.whole[u] != 0 ? spread_of(units.inside(u), means, options.spread, squares) : none);
  }
  add_spread_lines(chart, units, options, !given && location_count > 1);

  const double within = chart.sigma_inside / std::sqrt(static_cast<double>(chart.inside_count));
  const double average = chart.average.sigma_within;
  chart.sigma_between = average > within ? std::sqrt((average - within) * (average + within)) : 0.0;
  chart.sigma_total = std::hypot(chart.sigma_between, chart.sigma_inside);
  return chart;
}

NestedFalseAlarm nested_false_alarm(double sigma_unit, double sigma_location, double sigma_repeat,
                                    std::size_t location_count, std::size_t readings_per_location, double location_rms,
                                    double sigma_multiple) {
  constexpr auto where = "nested_false_alarm";
  support::require_sigma(sigma_unit, where, "sigma_unit");
  support::require_sigma(sigma_location, where, "sigma_location");
  support::require_sigma(sigma_repeat, where, "sigma_repeat");
  support::require_sigma(location_rms, where, "location_rms");
  require_positive(sigma_multiple, where, "sigma_multiple");
  if (location_count < 1) throw InvalidInput(where, "location_count", "must be 1 or more");
  if (readings_per_location < 1) throw InvalidInput(where, "readings_per_location", "must be 1 or more");
  const auto a = static_cast<double>(location_count), b = static_cast<double>(readings_per_location);
  if (a * b < 2.0) {
    throw InvalidInput(where, "readings_per_location", "of 1 at a single location leave no spread inside a unit");
  }
  if (location_count == 1 && location_rms > 0.0) {
    throw InvalidInput(where, "location_rms", "must be 0 with a single location, got " + to_text(location_rms));
  }
  const double location = sigma_location * std::sqrt(b * (a - 1.0) / (a * b - 1.0));
  const double pattern = location_rms * std::sqrt(a * b / (a * b - 1.0));
  NestedFalseAlarm out;
  out.sd_inside = std::hypot(std::hypot(location, sigma_repeat), pattern);
  out.sd_average = std::hypot(sigma_unit, sigma_location / std::sqrt(a), sigma_repeat / std::sqrt(a * b));
  if (!(out.sd_average > 0.0)) {
    throw InvalidInput(where, "sigma_unit", "and the other sigmas are all 0: there is nothing that could signal");
  }
  out.limit_sigma_multiple = sigma_multiple * out.sd_inside / std::sqrt(a * b) / out.sd_average;
  out.false_alarm_probability = 2.0 * normal_survival(out.limit_sigma_multiple);
  return out;
}

}  // namespace steadyfilm
