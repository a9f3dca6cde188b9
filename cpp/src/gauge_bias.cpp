#include <steadyfilm/gauge_bias.hpp>

#include <algorithm>
#include <cmath>
#include <limits>
#include <string>
#include <string_view>

#include <steadyfilm/constants.hpp>
#include <steadyfilm/core.hpp>
#include <steadyfilm/distributions.hpp>
#include <steadyfilm/summary.hpp>

#include "support/double_double.hpp"

namespace steadyfilm {

using support::DoubleDouble;

namespace {

constexpr double none = std::numeric_limits<double>::quiet_NaN();
constexpr double endless = std::numeric_limits<double>::infinity();

double square(double x) { return x * x; }

double ratio(double above, double below) {
  if (below > 0.0) return above / below;
  return above == 0.0 ? none : std::copysign(endless, above);
}

double two_sided_p(double t, double degrees_of_freedom) {
  if (std::isnan(t)) return none;
  return std::isinf(t) ? 0.0 : 2.0 * student_t_survival(std::abs(t), degrees_of_freedom);
}

double two_sided_t(double confidence_level, double degrees_of_freedom) {
  return student_t_quantile(0.5 + 0.5 * confidence_level, degrees_of_freedom);
}

void require_not_negative(double value, std::string_view function, std::string_view argument) {
  require_finite(value, function, argument);
  if (value < 0.0) throw InvalidInput(function, argument, "must be 0 or more, got " + to_text(value));
}

void require_length(std::size_t have, std::size_t need, std::string_view function, std::string_view argument) {
  if (have == need) return;
  throw InvalidInput(function, argument,
                     "has " + std::to_string(have) + " elements, " + std::to_string(need) + " are needed");
}

/// Mean of values less a reference, without losing what is left to the size of both.
double mean_above(std::span<const double> values, double reference) {
  DoubleDouble total;
  for (const double x : values) total = total + (DoubleDouble{x, 0.0} + -DoubleDouble{reference, 0.0});
  return support::divide(total, static_cast<double>(values.size())).value();
}

}  // namespace

// -- one part ---------------------------------------------------------------------------------------------------------

BiasTest bias_test(std::span<const double> values, double reference, double confidence_level,
                   double reference_uncertainty) {
  constexpr auto function = "bias_test";
  require_count(values.size(), 2, function);
  require_finite(values, function);
  require_finite(reference, function, "reference");
  require_open_unit(confidence_level, function, "confidence_level");
  require_not_negative(reference_uncertainty, function, "reference_uncertainty");
  const Summary summary = summarize(values);
  const auto n = static_cast<double>(values.size());
  BiasTest found{.count = values.size(), .mean = summary.mean, .bias = mean_above(values, reference), .sd = summary.sd};
  const double own = square(summary.sd) / n, other = square(reference_uncertainty);
  found.sigma_bias = std::sqrt(own + other);
  // The reference is taken as known with many degrees of freedom.
  found.degrees_of_freedom = own > 0.0 ? (n - 1.0) * square((own + other) / own) : n - 1.0;
  found.t = ratio(found.bias, found.sigma_bias);
  found.t_critical = two_sided_t(confidence_level, found.degrees_of_freedom);
  found.p = two_sided_p(found.t, found.degrees_of_freedom);
  found.lower = found.bias - found.t_critical * found.sigma_bias;
  found.upper = found.bias + found.t_critical * found.sigma_bias;
  return found;
}

BiasRangeTest bias_range_test(std::span<const double> values, double reference, double confidence_level,
                              const BiasRangeOptions& options) {
  constexpr auto function = "bias_range_test";
  require_count(values.size(), 2, function);
  require_finite(values, function);
  require_finite(reference, function, "reference");
  require_open_unit(confidence_level, function, "confidence_level");
  const D2Star exact = d2_star(1, values.size());
  const Summary summary = summarize(values);
  BiasRangeTest found{.count = values.size(), .mean = summary.mean, .bias = mean_above(values, reference)};
  found.d2 = options.d2.value_or(d2(values.size()));
  found.d2_star = options.d2_star.value_or(exact.d2_star);
  found.degrees_of_freedom = options.degrees_of_freedom.value_or(exact.degrees_of_freedom);
  require_positive(found.d2, function, "d2");
  require_positive(found.d2_star, function, "d2_star");
  require_positive(found.degrees_of_freedom, function, "degrees_of_freedom");
  found.range = summary.maximum - summary.minimum;
  found.sigma_repeatability = found.range / found.d2_star;
  found.sigma_bias = found.sigma_repeatability / std::sqrt(static_cast<double>(values.size()));
  found.t = ratio(found.bias, found.sigma_bias);
  found.t_critical = two_sided_t(confidence_level, found.degrees_of_freedom);
  found.p = two_sided_p(found.t, found.degrees_of_freedom);
  const double reach = found.d2 / found.d2_star * found.t_critical * found.sigma_bias;
  found.lower = found.bias - reach;
  found.upper = found.bias + reach;
  return found;
}

SinglePartStudy single_part_study(std::span<const double> values, double reference, const SinglePartOptions& options) {
  constexpr auto function = "single_part_study";
  require_positive(options.tolerance_width, function, "tolerance_width");
  require_positive(options.tolerance_share, function, "tolerance_share");
  if (options.tolerance_share > 1.0) {
    throw InvalidInput(function, "tolerance_share",
                       "must be at most 1 (0.2 for 20 %), got " + to_text(options.tolerance_share));
  }
  require_positive(options.sigma_spread, function, "sigma_spread");
  require_positive(options.required, function, "required");
  require_count(values.size(), 2, function);
  require_finite(values, function);
  require_finite(reference, function, "reference");
  require_open_unit(options.confidence_level, function, "confidence_level");
  const BiasTest bias = bias_test(values, reference, options.confidence_level);
  const double room = options.tolerance_share * options.tolerance_width;
  const double spread = options.sigma_spread * bias.sd;
  const auto n = static_cast<double>(values.size());
  SinglePartStudy found{
      .count = bias.count, .mean = bias.mean, .bias = bias.bias, .sd = bias.sd, .t = bias.t, .p = bias.p};
  found.cg = ratio(room, spread);
  found.cgk = ratio(room / 2.0 - std::abs(bias.bias), spread / 2.0);
  const double tail = 0.5 - 0.5 * options.confidence_level;
  found.cg_lower = found.cg * std::sqrt(chi_square_quantile(tail, n - 1.0) / (n - 1.0));
  found.cg_upper = found.cg * std::sqrt(chi_square_quantile(1.0 - tail, n - 1.0) / (n - 1.0));
  // The index of a window centered on the reference, in units of k/2 standard deviations instead of 3.
  const double reach = normal_quantile(1.0 - tail) *
                       std::sqrt(square(2.0 / options.sigma_spread) / n + square(found.cgk) / (2.0 * (n - 1.0)));
  found.cgk_lower = std::isfinite(found.cgk) ? found.cgk - reach : found.cgk;
  found.cgk_upper = std::isfinite(found.cgk) ? found.cgk + reach : found.cgk;
  found.pct_variation = 100.0 * spread / options.tolerance_width;
  found.minimum_tolerance = options.required * spread / options.tolerance_share;
  found.minimum_tolerance_cgk = (options.required * spread + 2.0 * std::abs(bias.bias)) / options.tolerance_share;
  return found;
}

// -- several references -----------------------------------------------------------------------------------------------

namespace {

/// Least squares of y on x.
struct Line {
  double mean_x = 0.0;
  double mean_y = 0.0;
  double sum_squares_x = 0.0;
  double sum_squares_y = 0.0;
  double slope = 0.0;
  double residual_squares = 0.0;
  std::vector<double> residual;
};

Line fit_line(std::span<const double> x, std::span<const double> y) {
  const auto n = static_cast<double>(x.size());
  DoubleDouble sum_x, sum_y;
  for (const double value : x) sum_x = sum_x + value;
  for (const double value : y) sum_y = sum_y + value;
  const DoubleDouble mean_x = support::divide(sum_x, n), mean_y = support::divide(sum_y, n);
  DoubleDouble xx, xy, yy;
  std::vector<DoubleDouble> from_x, from_y;
  for (std::size_t i = 0; i < x.size(); ++i) {
    from_x.push_back(DoubleDouble{x[i], 0.0} + -mean_x);
    from_y.push_back(DoubleDouble{y[i], 0.0} + -mean_y);
    xx = xx + from_x[i] * from_x[i];
    xy = xy + from_x[i] * from_y[i];
    yy = yy + from_y[i] * from_y[i];
  }
  Line out{.mean_x = mean_x.value(),
           .mean_y = mean_y.value(),
           .sum_squares_x = xx.value(),
           .sum_squares_y = yy.value(),
           .slope = xx.value() > 0.0 ? xy.value() / xx.value() : none,
           .residual_squares = 0.0,
           .residual = {}};
  DoubleDouble squares;
  for (std::size_t i = 0; i < x.size(); ++i) {
    const DoubleDouble rest = from_y[i] + -(from_x[i] * DoubleDouble{out.slope, 0.0});
    out.residual.push_back(rest.value());
    squares = squares + rest * rest;
  }
  // Points on a line leave only rounding, of the slope too.
  const double rounding = 1e-28 * out.sum_squares_y;
  out.residual_squares = squares.value() > rounding ? squares.value() : 0.0;
  return out;
}

/// Where (mean + slope y)^2 exceeds the squared half width of the band, y counted from the mean reference.
std::vector<BiasedStretch> biased_stretches(const Line& line, double variance_multiple, double n, double from,
                                            double to) {
  const double a = square(line.slope) - variance_multiple / line.sum_squares_x;
  const double b = line.mean_y * line.slope;  // half of the linear term
  const double c = square(line.mean_y) - variance_multiple / n;
  std::vector<double> cuts = {from - line.mean_x, to - line.mean_x};
  const double inside = b * b - a * c;
  std::vector<double> roots;
  if (variance_multiple == 0.0) {
    roots = {-line.mean_y / line.slope};  // the line itself; no root when it is level
  } else if (inside > 0.0) {
    const double q = -(b + std::copysign(std::sqrt(inside), b));  // both roots without cancellation
    roots = {q / a, c / q};
  }
  for (const double root : roots) {
    if (root > from - line.mean_x && root < to - line.mean_x) cuts.push_back(root);
  }
  std::sort(cuts.begin(), cuts.end());
  std::vector<BiasedStretch> out;
  for (std::size_t k = 0; k + 1 < cuts.size(); ++k) {
    const double middle = 0.5 * (cuts[k] + cuts[k + 1]);
    if (!((a * middle + 2.0 * b) * middle + c > 0.0)) continue;
    const int side = line.mean_y + line.slope * middle > 0.0 ? 1 : -1;
    const double start = k == 0 ? from : cuts[k] + line.mean_x;
    const double end = k + 2 == cuts.size() ? to : cuts[k + 1] + line.mean_x;
    out.push_back({.from = start, .to = end, .side = side});
  }
  return out;
}

}  // namespace

BiasLinearity bias_linearity(std::span<const double> values, std::span<const double> reference,
                             double confidence_level) {
  constexpr auto function = "bias_linearity";
  require_count(values.size(), 3, function);
  require_length(reference.size(), values.size(), function, "reference");
  require_finite(values, function);
  require_finite(reference, function, "reference");
  require_open_unit(confidence_level, function, "confidence_level");
  BiasLinearity found;
  found.count = values.size();
  found.reference.assign(reference.begin(), reference.end());
  std::sort(found.reference.begin(), found.reference.end());
  found.reference.erase(std::unique(found.reference.begin(), found.reference.end()), found.reference.end());
  if (found.reference.size() < 2) {
    throw InvalidInput(function, "reference",
                       "holds one value only (" + to_text(found.reference[0]) +
                           "): a line needs two or more; one value has a bias test");
  }
  std::vector<double> bias(values.size());
  for (std::size_t i = 0; i < values.size(); ++i) bias[i] = values[i] - reference[i];
  const Line line = fit_line(reference, bias);
  require_finite(line.sum_squares_x + line.sum_squares_y, function, "sum of squares");
  const auto n = static_cast<double>(values.size());
  found.degrees_of_freedom = n - 2.0;
  found.slope = line.slope;
  found.mean_reference = line.mean_x;
  found.mean_bias = line.mean_y;
  found.sum_squares_reference = line.sum_squares_x;
  found.intercept = line.mean_y - line.slope * line.mean_x;
  found.residual_sd = std::sqrt(line.residual_squares / (n - 2.0));
  const auto error_at = [&](double x) {
    return found.residual_sd * std::sqrt(1.0 / n + square(x - line.mean_x) / line.sum_squares_x);
  };
  found.se_slope = found.residual_sd / std::sqrt(line.sum_squares_x);
  found.se_intercept = error_at(0.0);
  found.t_slope = ratio(found.slope, found.se_slope);
  found.t_intercept = ratio(found.intercept, found.se_intercept);
  found.p_slope = two_sided_p(found.t_slope, n - 2.0);
  found.p_intercept = two_sided_p(found.t_intercept, n - 2.0);
  found.r_squared = line.sum_squares_y > 0.0 ? 1.0 - line.residual_squares / line.sum_squares_y : none;
  found.t_critical = two_sided_t(confidence_level, n - 2.0);

  double pure = 0.0;
  for (const double level : found.reference) {
    std::vector<double> own;
    for (std::size_t i = 0; i < values.size(); ++i) {
      if (reference[i] == level) own.push_back(bias[i]);
    }
    const Summary summary = summarize(own);
    const double fit = line.mean_y + line.slope * (level - line.mean_x);
    const double reach = found.t_critical * error_at(level);
    pure += summary.sum_squares;
    found.readings.push_back(static_cast<std::int64_t>(own.size()));
    found.bias_mean.push_back(summary.mean);
    found.band_fit.push_back(fit);
    found.band_lower.push_back(fit - reach);
    found.band_upper.push_back(fit + reach);
  }
  const auto levels = static_cast<double>(found.reference.size());
  const bool testable = levels > 2.0 && n > levels;
  found.lack_of_fit_f =
      testable ? ratio(std::max(0.0, line.residual_squares - pure) / (levels - 2.0), pure / (n - levels)) : none;
  found.lack_of_fit_p = std::isnan(found.lack_of_fit_f)   ? none
                        : std::isinf(found.lack_of_fit_f) ? 0.0
                                                          : f_survival(found.lack_of_fit_f, levels - 2.0, n - levels);
  found.biased = biased_stretches(line, square(found.t_critical * found.residual_sd), n, found.reference.front(),
                                  found.reference.back());
  return found;
}

// -- standards --------------------------------------------------------------------------------------------------------

double verification_limit(double gauge_tolerance, double standard_tolerance) {
  require_not_negative(gauge_tolerance, "verification_limit", "gauge_tolerance");
  require_not_negative(standard_tolerance, "verification_limit", "standard_tolerance");
  return std::hypot(gauge_tolerance, standard_tolerance);
}

StandardCheck check_standard(std::span<const double> readings, double stated, double limit, bool judge_each) {
  constexpr auto function = "check_standard";
  constexpr double same = 1e-9;  // of the largest number: finer than any display
  require_count(readings.size(), 1, function, "readings");
  require_finite(readings, function, "readings");
  require_finite(stated, function, "stated");
  require_not_negative(limit, function, "limit");
  StandardCheck found{.count = readings.size()};
  found.mean = summarize(readings).mean;
  found.deviation = mean_above(readings, stated);
  for (const double reading : readings) {
    const double own = reading - stated;
    if (std::abs(own) > std::abs(found.worst_deviation)) found.worst_deviation = own;
  }
  const double judged = std::abs(judge_each ? found.worst_deviation : found.deviation);
  const double largest = std::max({std::abs(stated), std::abs(found.mean), limit});
  found.passes = judged <= limit + same * largest;
  return found;
}

// -- two gauges -------------------------------------------------------------------------------------------------------

GaugeComparison compare_gauges(std::span<const double> first, std::span<const double> second,
                               const GaugeComparisonOptions& options) {
  constexpr auto function = "compare_gauges";
  require_count(first.size(), 3, function, "first");
  require_length(second.size(), first.size(), function, "second");
  require_finite(first, function, "first");
  require_finite(second, function, "second");
  require_positive(options.margin, function, "margin");
  require_open_unit(options.agreement_share, function, "agreement_share");
  require_open_unit(options.confidence_level, function, "confidence_level");
  if (!(options.significance > 0.0 && options.significance < 0.5)) {
    throw InvalidInput(function, "significance", "must lie between 0 and 0.5, got " + to_text(options.significance));
  }
  std::vector<double> difference(first.size()), middle(first.size());
  for (std::size_t i = 0; i < first.size(); ++i) {
    difference[i] = first[i] - second[i];
    middle[i] = 0.5 * first[i] + 0.5 * second[i];
  }
  const Summary summary = summarize(difference);
  const auto n = static_cast<double>(first.size());
  GaugeComparison found;
  found.count = first.size();
  found.mean_difference = summary.mean;
  found.sd = summary.sd;
  found.standard_error = summary.sd / std::sqrt(n);
  found.degrees_of_freedom = n - 1.0;
  const double reach = two_sided_t(options.confidence_level, n - 1.0) * found.standard_error;
  found.lower = found.mean_difference - reach;
  found.upper = found.mean_difference + reach;
  found.agreement_multiple = normal_quantile(0.5 + 0.5 * options.agreement_share);
  const double tail = 0.5 - 0.5 * options.confidence_level, far = found.agreement_multiple * std::sqrt(n);
  const double near_edge = noncentral_t_quantile(tail, n - 1.0, far) * found.standard_error;
  const double far_edge = noncentral_t_quantile(1.0 - tail, n - 1.0, far) * found.standard_error;
  const double out = found.agreement_multiple * summary.sd, mean = found.mean_difference;
  found.agreement_lower = {.value = mean - out, .lower = mean - far_edge, .upper = mean - near_edge};
  found.agreement_upper = {.value = mean + out, .lower = mean + near_edge, .upper = mean + far_edge};

  found.t_lower = ratio(mean + options.margin, found.standard_error);
  found.t_upper = ratio(mean - options.margin, found.standard_error);
  const auto beyond = [&](double t) {
    if (std::isnan(t)) return 1.0;  // exactly on the margin without spread: not inside
    return std::isinf(t) ? (t > 0.0 ? 0.0 : 1.0) : student_t_survival(t, n - 1.0);
  };
  found.p_lower = beyond(found.t_lower);
  found.p_upper = beyond(-found.t_upper);
  found.p_equivalence = std::max(found.p_lower, found.p_upper);
  found.equivalent = found.p_equivalence < options.significance;
  const double narrow = student_t_quantile(1.0 - options.significance, n - 1.0) * found.standard_error;
  found.equivalence_lower = mean - narrow;
  found.equivalence_upper = mean + narrow;

  const Line line = fit_line(middle, difference);
  found.slope = line.slope;
  found.slope_se = std::isnan(line.slope) ? none : std::sqrt(line.residual_squares / (n - 2.0) / line.sum_squares_x);
  found.slope_p = std::isnan(line.slope) ? none : two_sided_p(ratio(line.slope, found.slope_se), n - 2.0);
  return found;
}

// -- a shift that layers share ----------------------------------------------------------------------------------------

namespace {

/// Weighted mean by what each is known to; those without uncertainty alone count, if there are any.
void pool_gauge(const OffsetEvidence& given, OffsetDiagnosis& found) {
  double weights = 0.0, sum = 0.0, certain = 0.0, certain_sum = 0.0;
  for (std::size_t i = 0; i < given.gauge_deviation.size(); ++i) {
    const double u = given.gauge_uncertainty[i];
    if (u > 0.0) {
      weights += 1.0 / square(u);
      sum += given.gauge_deviation[i] / square(u);
    } else {
      certain += 1.0;
      certain_sum += given.gauge_deviation[i];
    }
  }
  found.gauge_error = certain > 0.0 ? certain_sum / certain : sum / weights;
  found.gauge_error_uncertainty = certain > 0.0 ? 0.0 : 1.0 / std::sqrt(weights);
}

ShiftSignature signature_of(const OffsetDiagnosis& found) {
  if (!found.first_moved && !found.total_moved && !found.upper_moved) return ShiftSignature::none;
  if (found.first_moved && found.total_moved && !found.upper_moved) return ShiftSignature::common_offset;
  if (!found.first_moved && found.total_moved && found.upper_moved) return ShiftSignature::upper_layer;
  if (found.first_moved && !found.total_moved && found.upper_moved) return ShiftSignature::first_reading;
  return ShiftSignature::mixed;
}

OffsetVerdict verdict_of(const OffsetDiagnosis& found) {
  switch (found.signature) {
    case ShiftSignature::none:
      return OffsetVerdict::no_shift;
    case ShiftSignature::upper_layer:
      return OffsetVerdict::upper_layer;
    case ShiftSignature::first_reading:
      return OffsetVerdict::first_reading;
    case ShiftSignature::mixed:
      return OffsetVerdict::mixed;
    case ShiftSignature::common_offset:
      break;
  }
  if (std::isnan(found.gauge_error)) return OffsetVerdict::gauge_or_film;
  if (found.gauge_off) return found.gauge_agrees ? OffsetVerdict::zero_error : OffsetVerdict::gauge_in_part;
  return found.gauge_agrees ? OffsetVerdict::undecided : OffsetVerdict::film;
}

}  // namespace

OffsetDiagnosis diagnose_offset(const OffsetEvidence& given) {
  constexpr auto function = "diagnose_offset";
  require_finite(given.first_shift, function, "first_shift");
  require_finite(given.total_shift, function, "total_shift");
  require_not_negative(given.first_uncertainty, function, "first_uncertainty");
  require_not_negative(given.total_uncertainty, function, "total_uncertainty");
  require_finite(given.correlation, function, "correlation");
  if (std::abs(given.correlation) > 1.0) {
    throw InvalidInput(function, "correlation", "must lie between -1 and 1, got " + to_text(given.correlation));
  }
  require_positive(given.coverage_factor, function, "coverage_factor");
  require_length(given.gauge_uncertainty.size(), given.gauge_deviation.size(), function, "gauge_uncertainty");
  require_finite(given.gauge_deviation, function, "gauge_deviation");
  require_finite(given.gauge_uncertainty, function, "gauge_uncertainty");
  for (std::size_t i = 0; i < given.gauge_uncertainty.size(); ++i) {
    if (given.gauge_uncertainty[i] < 0.0) {
      throw InvalidInput(function, "gauge_uncertainty", "must be 0 or more, got " + to_text(given.gauge_uncertainty[i]),
                         i);
    }
  }
  const double first = square(given.first_uncertainty), total = square(given.total_uncertainty);
  const double shared = given.correlation * given.first_uncertainty * given.total_uncertainty;
  // Shifts that agree but for the last bits are the same, also when they are known without uncertainty.
  const double rounding = 1e-9 * std::max(std::abs(given.first_shift), std::abs(given.total_shift));
  const auto moved = [&](double shift, double uncertainty) {
    return std::abs(shift) > given.coverage_factor * uncertainty + rounding;
  };
  OffsetDiagnosis found;
  found.upper_shift = given.total_shift - given.first_shift;
  const double apart = std::max(0.0, first + total - 2.0 * shared);
  found.upper_uncertainty = std::sqrt(apart);
  // Best linear estimate of a value that both shifts show; with nothing to tell them apart, their mean.
  const double weight = apart > 0.0 ? (total - shared) / apart : 0.5;
  found.offset = weight * given.first_shift + (1.0 - weight) * given.total_shift;
  found.offset_uncertainty = std::sqrt(
      std::max(0.0, square(weight) * first + square(1.0 - weight) * total + 2.0 * weight * (1.0 - weight) * shared));
  found.first_moved = moved(given.first_shift, given.first_uncertainty);
  found.total_moved = moved(given.total_shift, given.total_uncertainty);
  found.upper_moved = moved(found.upper_shift, found.upper_uncertainty);
  found.signature = signature_of(found);
  found.gauge_error = found.gauge_error_uncertainty = none;
  if (!given.gauge_deviation.empty()) {
    pool_gauge(given, found);
    found.gauge_off = moved(found.gauge_error, found.gauge_error_uncertainty);
    found.gauge_agrees =
        !moved(found.gauge_error - found.offset, std::hypot(found.gauge_error_uncertainty, found.offset_uncertainty));
  }
  found.verdict = verdict_of(found);
  return found;
}

}  // namespace steadyfilm
