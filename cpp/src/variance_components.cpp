#include <steadyfilm/variance_components.hpp>

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

#include <steadyfilm/distributions.hpp>

#include "support/double_double.hpp"
#include "support/grouped_means.hpp"
#include "support/mean_squares.hpp"

namespace steadyfilm {

using support::DoubleDouble;
using support::mean_of;
using support::means_of_runs;
using support::Squares;
using support::widened;

namespace {

constexpr double none = std::numeric_limits<double>::quiet_NaN();

double ratio_or_none(double above, double below) { return above == 0.0 && below == 0.0 ? none : above / below; }

AnovaLine line(std::string source, double sum_squares, double degrees_of_freedom, std::string_view function) {
  require_finite(sum_squares, function, "sum of squares of values");
  return {.source = std::move(source),
          .sum_squares = sum_squares,
          .degrees_of_freedom = degrees_of_freedom,
          .mean_square = sum_squares / degrees_of_freedom,
          .f = none,
          .denominator_mean_square = none,
          .denominator_degrees_of_freedom = none,
          .p = none};
}

void test_against(AnovaLine& tested, const AnovaLine& base) {
  tested.f = ratio_or_none(tested.mean_square, base.mean_square);
  tested.denominator_mean_square = base.mean_square;
  tested.denominator_degrees_of_freedom = base.degrees_of_freedom;
  tested.p = std::isnan(tested.f)   ? none
             : std::isinf(tested.f) ? 0.0
                                    : f_survival(tested.f, tested.degrees_of_freedom, base.degrees_of_freedom);
}

/// A mean square of the chain from the outermost random source to the last, whose expectations differ by `readings`
/// times one component each.
struct Stratum {
  std::string source;
  double mean_square = 0.0;
  double degrees_of_freedom = 0.0;
  double readings = 1.0;
};

VarianceComponent component(const Stratum& own, const Stratum* next, double confidence_level) {
  VarianceComponent out;
  out.source = own.source;
  out.mean_square = own.mean_square;
  out.mean_square_degrees_of_freedom = own.degrees_of_freedom;
  out.readings = own.readings;
  const support::MeanSquare top{own.mean_square, own.degrees_of_freedom};
  support::Interval found;
  if (next == nullptr) {
    out.variance = own.mean_square;
    out.degrees_of_freedom = own.degrees_of_freedom;
    found = support::sum_interval({{1.0, top}}, confidence_level);
  } else {
    const support::MeanSquare base{next->mean_square, next->degrees_of_freedom};
    out.next_mean_square = next->mean_square;
    out.variance = (own.mean_square - next->mean_square) / own.readings;
    out.degrees_of_freedom =
        support::satterthwaite_degrees_of_freedom({{1.0 / own.readings, top}, {-1.0 / own.readings, base}});
    found = support::difference_interval(top, base, confidence_level);
    found = {found.lower / own.readings, found.upper / own.readings};
  }
  out.variance_lower = std::max(0.0, found.lower);
  out.variance_upper = std::max(0.0, found.upper);
  out.sd = std::sqrt(std::max(0.0, out.variance));
  out.sd_lower = std::sqrt(out.variance_lower);
  out.sd_upper = std::sqrt(out.variance_upper);
  return out;
}

std::vector<VarianceComponent> components_of(const std::vector<Stratum>& chain, double confidence_level) {
  std::vector<VarianceComponent> out;
  double whole = 0.0;
  for (std::size_t k = 0; k < chain.size(); ++k) {
    out.push_back(component(chain[k], k + 1 < chain.size() ? &chain[k + 1] : nullptr, confidence_level));
    whole += std::max(0.0, out.back().variance);
  }
  for (VarianceComponent& one : out) one.share = whole > 0.0 ? std::max(0.0, one.variance) / whole : 0.0;
  return out;
}

/// Sum over the chain of component / divisor, written in the mean squares: all weights are positive while divisors
/// do not fall faster than readings.
VarianceSum sum_of(const std::vector<Stratum>& chain, std::span<const double> divisors, double confidence_level) {
  std::vector<support::WeightedMeanSquare> terms;
  VarianceSum out;
  double before = 0.0;
  for (std::size_t k = 0; k < chain.size(); ++k) {
    const double own = 1.0 / (chain[k].readings * divisors[k]);
    terms.push_back({own - before, {chain[k].mean_square, chain[k].degrees_of_freedom}});
    out.variance += terms.back().weight * chain[k].mean_square;
    before = own;
  }
  const auto found = support::sum_interval(terms, confidence_level);
  out.variance_lower = std::max(0.0, found.lower);
  out.variance_upper = found.upper;
  out.sd = std::sqrt(std::max(0.0, out.variance));
  out.sd_lower = std::sqrt(out.variance_lower);
  out.sd_upper = std::sqrt(out.variance_upper);
  out.degrees_of_freedom = support::satterthwaite_degrees_of_freedom(terms);
  return out;
}

MeanEstimate mean_estimate(double value, double variance, double degrees_of_freedom, double confidence_level) {
  const double error = std::sqrt(variance);
  const double reach = student_t_quantile(0.5 + 0.5 * confidence_level, degrees_of_freedom) * error;
  return {.value = value,
          .standard_error = error,
          .degrees_of_freedom = degrees_of_freedom,
          .lower = value - reach,
          .upper = value + reach};
}

void require_product(std::span<const std::size_t> counts, std::size_t have, std::string_view function) {
  std::size_t product = 1;
  for (const std::size_t count : counts) {
    if (count != 0 && product > have / count)
      product = have + 1;  // no overflow, and surely unequal
    else
      product *= count;
  }
  if (product != have) {
    throw InvalidInput(function, "counts", "do not multiply to the " + std::to_string(have) + " values");
  }
}

}  // namespace

OneWayAnova one_way_anova(std::span<const double> values, std::span<const std::size_t> offsets) {
  constexpr auto function = "one_way_anova";
  require_finite(values, function);
  if (offsets.size() < 3) throw InvalidInput(function, "offsets", "must cut two groups or more");
  if (offsets.front() != 0 || offsets.back() != values.size()) {
    throw InvalidInput(function, "offsets", "must run from 0 to the number of values");
  }
  for (std::size_t i = 0; i + 1 < offsets.size(); ++i) {
    if (offsets[i + 1] <= offsets[i]) throw InvalidInput(function, "offsets", "leave a group without values", i);
  }
  const std::size_t groups = offsets.size() - 1;
  if (values.size() == groups) throw InvalidInput(function, "offsets", "leave one value a group: nothing to compare");

  const auto wide = widened(values);
  const DoubleDouble grand = mean_of(wide);
  Squares squares(values);
  double between = 0.0;
  DoubleDouble within;
  OneWayAnova out;
  out.count = values.size();
  out.group_count = groups;
  out.mean = grand.value();
  for (std::size_t i = 0; i < groups; ++i) {
    const std::size_t size = offsets[i + 1] - offsets[i];
    const auto group = std::span<const DoubleDouble>(wide).subspan(offsets[i], size);
    const DoubleDouble mean = mean_of(group);
    out.group_means.push_back(mean.value());
    for (const DoubleDouble& x : group) squares.add(x + -mean);
    within = within + squares.take(1.0);
    squares.add(mean + -grand);
    between += squares.take(static_cast<double>(size));
  }
  require_finite(out.mean, function, "mean of values");
  const double within_squares = within.value();
  out.between = line("between", between, static_cast<double>(groups - 1), function);
  out.within = line("within", within_squares, static_cast<double>(values.size() - groups), function);
  test_against(out.between, out.within);
  out.r_squared = ratio_or_none(between, between + within_squares);
  out.residual_sd = std::sqrt(out.within.mean_square);
  return out;
}

NestedComponents nested_components(std::span<const double> values, std::span<const std::size_t> counts,
                                   double confidence_level) {
  constexpr auto function = "nested_components";
  require_finite(values, function);
  require_open_unit(confidence_level, function, "confidence_level");
  if (counts.size() < 2) throw InvalidInput(function, "counts", "need a level and the readings in it");
  for (std::size_t k = 0; k < counts.size(); ++k) {
    if (counts[k] < 2) {
      throw InvalidInput(function, "counts", "must be 2 or more, got " + std::to_string(counts[k]), k);
    }
  }
  require_product(counts, values.size(), function);

  // Means of each level from the innermost outward; a group's mean is that of the means inside it.
  const std::size_t levels = counts.size() - 1;
  std::vector<std::vector<DoubleDouble>> means(levels + 1);  // of level k; the last holds the values themselves
  means[levels] = widened(values);
  for (std::size_t k = levels; k-- > 0;) means[k] = means_of_runs(means[k + 1], counts[k + 1]);
  const DoubleDouble grand = mean_of(means[0]);

  NestedComponents out;
  std::vector<Stratum> chain;
  Squares squares(values);
  double groups = 1.0;  // of the level outside
  double readings = static_cast<double>(values.size());
  for (std::size_t k = 0; k <= levels; ++k) {
    const auto count = static_cast<double>(counts[k]);
    readings /= count;
    for (std::size_t i = 0; i < means[k].size(); ++i) {
      squares.add(means[k][i] + -(k == 0 ? grand : means[k - 1][i / counts[k]]));
    }
    const std::string source = k < levels ? "level " + std::to_string(k + 1) : "residual";
    out.lines.push_back(line(source, squares.take(readings), groups * (count - 1.0), function));
    chain.push_back({source, out.lines.back().mean_square, out.lines.back().degrees_of_freedom, readings});
    groups *= count;
  }
  for (std::size_t k = 0; k < levels; ++k) test_against(out.lines[k], out.lines[k + 1]);

  out.components = components_of(chain, confidence_level);
  out.total = sum_of(chain, std::vector<double>(chain.size(), 1.0), confidence_level);
  require_finite(grand.value(), function, "mean of values");
  out.mean = mean_estimate(grand.value(), chain[0].mean_square / static_cast<double>(values.size()),
                           chain[0].degrees_of_freedom, confidence_level);

  const Stratum &inner = chain[levels - 1], &rest = chain[levels];
  const double f = rest.mean_square > 0.0 ? inner.mean_square / rest.mean_square : none;
  const double tail = 0.5 - 0.5 * confidence_level;
  const auto as_ratio = [&](double scaled) { return (scaled - 1.0) / inner.readings; };
  out.innermost_ratio = {
      .value = as_ratio(f),
      .lower = as_ratio(f / f_quantile(1.0 - tail, inner.degrees_of_freedom, rest.degrees_of_freedom)),
      .upper = as_ratio(f / f_quantile(tail, inner.degrees_of_freedom, rest.degrees_of_freedom))};
  return out;
}

namespace {

/// Means of the body model in twice the working precision.
struct BodyMeans {
  std::vector<DoubleDouble> cells;  ///< of a location of a unit, unit after unit
  std::vector<DoubleDouble> units;
  std::vector<DoubleDouble> locations;
  std::vector<DoubleDouble> days;  ///< of the units of a day; the grand mean alone without days
  DoubleDouble grand;
};

BodyMeans body_means(std::span<const DoubleDouble> values, std::size_t location_count, std::size_t repeats,
                     std::span<const std::size_t> units_per_day) {
  BodyMeans out;
  out.cells = means_of_runs(values, repeats);
  out.units = means_of_runs(out.cells, location_count);
  out.grand = mean_of(out.units);
  for (std::size_t l = 0; l < location_count; ++l) {
    DoubleDouble sum;
    for (std::size_t u = 0; u < out.units.size(); ++u) sum = sum + out.cells[u * location_count + l];
    out.locations.push_back(support::divide(sum, static_cast<double>(out.units.size())));
  }
  std::size_t first = 0;
  for (const std::size_t size : units_per_day) {
    out.days.push_back(mean_of(std::span<const DoubleDouble>(out.units).subspan(first, size)));
    first += size;
  }
  return out;
}

/// The line of the days, and what its component is estimated from: the spread of the day means, each counted once.
Stratum day_stratum(BodyComponents& out, const BodyMeans& means, std::span<const std::size_t> units_per_day,
                    double readings_a_unit, Squares& squares, std::string_view function) {
  const auto days = static_cast<double>(units_per_day.size());
  double sum_squares = 0.0, inverse_sizes = 0.0;
  for (std::size_t d = 0; d < units_per_day.size(); ++d) {
    const auto size = static_cast<double>(units_per_day[d]);
    squares.add(means.days[d] + -means.grand);
    sum_squares += squares.take(size * readings_a_unit);
    inverse_sizes += 1.0 / size;
  }
  out.lines.push_back(line("day", sum_squares, days - 1.0, function));
  const bool equal = std::ranges::all_of(units_per_day, [&](std::size_t size) { return size == units_per_day[0]; });
  if (equal) return {"day", out.lines.back().mean_square, days - 1.0, readings_a_unit * days / inverse_sizes};
  const DoubleDouble middle = mean_of(means.days);
  for (const DoubleDouble& day : means.days) squares.add(day + -middle);
  const double readings = readings_a_unit * days / inverse_sizes;
  return {"day", squares.take(readings) / (days - 1.0), days - 1.0, readings};
}

/// Variance of the mean of all readings, whose error is that of the outermost random source.
double mean_variance(const std::vector<Stratum>& chain, std::span<const std::size_t> units_per_day, double readings) {
  if (units_per_day.empty()) return chain[0].mean_square / readings;
  double units = 0.0, squares = 0.0;
  bool equal = true;
  for (const std::size_t size : units_per_day) {
    const auto n = static_cast<double>(size);
    units += n;
    squares += n * n;
    equal = equal && size == units_per_day[0];
  }
  if (equal) return chain[0].mean_square / readings;
  const double day = std::max(0.0, (chain[0].mean_square - chain[1].mean_square) / chain[0].readings);
  return day * squares / (units * units) + chain[1].mean_square / readings;
}

void require_body(std::size_t have, std::size_t location_count, std::size_t repeats,
                  std::span<const std::size_t> units_per_day, std::string_view function) {
  if (location_count < 1) throw InvalidInput(function, "location_count", "must be 1 or more");
  if (repeats < 1) throw InvalidInput(function, "repeats", "must be 1 or more");
  // Divisions, so that large numbers cannot overflow their product.
  const std::size_t units = have / location_count / repeats;
  if (have % location_count != 0 || have / location_count % repeats != 0) {
    throw InvalidInput(function, "values",
                       "number " + std::to_string(have) + ", not a multiple of " + std::to_string(location_count) +
                           " locations by " + std::to_string(repeats) + " readings");
  }
  if (units < 2) {
    throw InvalidInput(function, "values", "must hold two units or more, got " + std::to_string(units));
  }
  if (units_per_day.empty()) return;
  std::size_t sum = 0;
  for (std::size_t d = 0; d < units_per_day.size(); ++d) {
    if (units_per_day[d] == 0) throw InvalidInput(function, "units_per_day", "has a day without units", d);
    sum += std::min(units_per_day[d], units + 1);
  }
  if (sum != units) {
    throw InvalidInput(function, "units_per_day", "do not add up to the " + std::to_string(units) + " units");
  }
  if (units_per_day.size() < 2) throw InvalidInput(function, "units_per_day", "must be two days or more");
  if (units_per_day.size() == units) {
    throw InvalidInput(function, "units_per_day", "have one unit each: day and unit cannot be told apart");
  }
}

}  // namespace

BodyComponents body_components(std::span<const double> values, std::size_t location_count, std::size_t repeats,
                               std::span<const std::size_t> units_per_day, double confidence_level) {
  constexpr auto function = "body_components";
  require_finite(values, function);
  require_open_unit(confidence_level, function, "confidence_level");
  require_body(values.size(), location_count, repeats, units_per_day, function);

  const auto wide = widened(values);
  const BodyMeans means = body_means(wide, location_count, repeats, units_per_day);
  const auto locations = static_cast<double>(location_count), readings = static_cast<double>(repeats);
  const auto units = static_cast<double>(means.units.size());
  const double readings_a_unit = locations * readings;
  require_finite(means.grand.value(), function, "mean of values");

  BodyComponents out;
  Squares squares(values);
  std::vector<Stratum> chain;
  const auto take_line = [&](const char* source, double sum_squares, double degrees_of_freedom, double multiple) {
    out.lines.push_back(line(source, sum_squares, degrees_of_freedom, function));
    chain.push_back({source, out.lines.back().mean_square, degrees_of_freedom, multiple});
  };

  if (!units_per_day.empty()) {
    chain.push_back(day_stratum(out, means, units_per_day, readings_a_unit, squares, function));
  }
  const std::size_t all_units[] = {means.units.size()};
  std::size_t first = 0;
  for (const std::size_t size : units_per_day.empty() ? std::span<const std::size_t>(all_units) : units_per_day) {
    const auto group = std::span<const DoubleDouble>(means.units).subspan(first, size);
    const DoubleDouble middle = units_per_day.empty() ? means.grand : mean_of(group);
    for (const DoubleDouble& unit : group) squares.add(unit + -middle);
    first += size;
  }
  const double day_count = units_per_day.empty() ? 1.0 : static_cast<double>(units_per_day.size());
  take_line("unit", squares.take(readings_a_unit), units - day_count, readings_a_unit);
  if (location_count > 1) {
    for (const DoubleDouble& location : means.locations) squares.add(location + -means.grand);
    out.lines.push_back(line("location", squares.take(units * readings), locations - 1.0, function));
    for (std::size_t i = 0; i < means.cells.size(); ++i) {
      squares.add(means.cells[i] + -means.units[i / location_count] + -means.locations[i % location_count] +
                  means.grand);
    }
    take_line("unit_location", squares.take(readings), (units - 1.0) * (locations - 1.0), readings);
  }
  if (repeats > 1) {
    for (std::size_t i = 0; i < wide.size(); ++i) squares.add(wide[i] + -means.cells[i / repeats]);
    take_line("repeat", squares.take(1.0), units * locations * (readings - 1.0), 1.0);
  }

  // Each line is tested over the next random one; locations over unit x location.
  for (std::size_t i = 0; i + 1 < out.lines.size(); ++i) {
    const std::size_t next = i + 1 + (out.lines[i + 1].source == "location" ? 1U : 0U);
    test_against(out.lines[i], out.lines[next]);
  }
  out.components = components_of(chain, confidence_level);
  out.total = sum_of(chain, std::vector<double>(chain.size(), 1.0), confidence_level);
  std::vector<double> divisors;
  divisors.reserve(chain.size());
  for (const Stratum& one : chain) {
    divisors.push_back(one.source == "unit_location" ? locations : one.source == "repeat" ? readings_a_unit : 1.0);
  }
  out.unit_average = sum_of(chain, divisors, confidence_level);
  out.mean = mean_estimate(means.grand.value(), mean_variance(chain, units_per_day, units * readings_a_unit),
                           chain[0].degrees_of_freedom, confidence_level);

  out.effect_standard_error = out.effect_degrees_of_freedom = none;
  double reach = none;
  if (location_count > 1) {
    const Stratum& base = chain[chain.size() - (repeats > 1 ? 2U : 1U)];
    out.effect_degrees_of_freedom = base.degrees_of_freedom;
    out.effect_standard_error = std::sqrt(base.mean_square / (units * readings) * (1.0 - 1.0 / locations));
    reach = student_t_quantile(0.5 + 0.5 * confidence_level, base.degrees_of_freedom) * out.effect_standard_error;
  }
  for (const DoubleDouble& location : means.locations) {
    const double effect = (location + -means.grand).value();
    squares.add(location + -means.grand);
    out.locations.push_back(
        {.mean = location.value(), .effect = effect, .lower = effect - reach, .upper = effect + reach});
  }
  out.location_rms = std::sqrt(squares.take(1.0) / locations);
  return out;
}

}  // namespace steadyfilm
