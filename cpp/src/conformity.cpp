#include <steadyfilm/conformity.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <limits>
#include <string>
#include <string_view>
#include <vector>

#include <steadyfilm/core.hpp>
#include <steadyfilm/distributions.hpp>

#include "support/quadrature.hpp"
#include "support/roots.hpp"

namespace steadyfilm {

namespace {

constexpr double kInfinity = std::numeric_limits<double>::infinity();
constexpr double kNone = std::numeric_limits<double>::quiet_NaN();
constexpr double kTie = 1e-9;  // decimal limits such as 0.8 * 1.1 are not doubles

struct Range {
  double lower = -kInfinity;
  double upper = kInfinity;
};

Range range_of(const SpecLimits& limits) { return {limits.lower.value_or(-kInfinity), limits.upper.value_or(kInfinity)}; }

void require_not_negative(double value, std::string_view function, std::string_view argument) {
  require_finite(value, function, argument);
  if (value < 0.0) throw InvalidInput(function, argument, "must be 0 or more (" + to_text(value) + ")");
}

void require_rising(const SpecLimits& limits, std::string_view function, std::string_view lower,
                    std::string_view upper) {
  if (limits.lower) require_finite(*limits.lower, function, lower);
  if (limits.upper) require_finite(*limits.upper, function, upper);
  if (limits.lower && limits.upper && !(*limits.lower < *limits.upper)) {
    throw InvalidInput(function, lower,
                       "(" + to_text(*limits.lower) + ") must lie below the upper one (" + to_text(*limits.upper) + ")");
  }
}

void require_window(const SpecLimits& window, std::string_view function) {
  if (!window.lower && !window.upper) throw InvalidInput(function, "lower", "or upper is needed: a window has a limit");
  require_rising(window, function, "lower", "upper");
}

/// P(lower < N(at, sd) < upper), from the tail that keeps the digits.
double normal_between(double at, double sd, const Range& range) {
  if (!(range.lower < range.upper)) return 0.0;
  if (sd == 0.0) return at >= range.lower && at <= range.upper ? 1.0 : 0.0;
  const double low = (range.lower - at) / sd;
  const double high = (range.upper - at) / sd;
  const auto below = [](double z) { return z == -kInfinity ? 0.0 : z == kInfinity ? 1.0 : normal_cdf(z); };
  const auto above = [](double z) { return z == -kInfinity ? 1.0 : z == kInfinity ? 0.0 : normal_survival(z); };
  if (low > 0.0) return above(low) - above(high);
  return below(high) - below(low);
}

/// P(outside) without subtracting from 1.
double normal_outside(double at, double sd, const Range& range) {
  return normal_between(at, sd, {-kInfinity, range.lower}) + normal_between(at, sd, {range.upper, kInfinity});
}

double t_between(double at, double scale, double degrees_of_freedom, const Range& range) {
  const auto below = [&](double x) { return std::isinf(x) ? 0.0 : student_t_cdf((x - at) / scale, degrees_of_freedom); };
  const auto above = [&](double x) {
    return std::isinf(x) ? 0.0 : student_t_survival((x - at) / scale, degrees_of_freedom);
  };
  if (range.lower > at) return above(range.lower) - above(range.upper);
  if (range.upper < at) return below(range.upper) - below(range.lower);
  return 1.0 - below(range.lower) - above(range.upper);
}

/// A process as the integral needs it.
class Process {
 public:
  explicit Process(const ProcessPrior& prior) : prior_(prior) {}

  /// Where all but a part beyond any double's digits lies.
  [[nodiscard]] Range support() const {
    if (gamma()) return {0.0, gamma_reach()};
    return {prior_.mean - 38.0 * prior_.sigma, prior_.mean + 38.0 * prior_.sigma};
  }

  /// Places about which the density changes, for the pieces of the integral.
  void add_marks(std::vector<double>& marks) const {
    const double middle = gamma() ? prior_.shape / prior_.rate : prior_.mean;
    const double width = gamma() ? std::sqrt(prior_.shape) / prior_.rate : prior_.sigma;
    for (const double z : {-8.0, -4.0, -1.5, 0.0, 1.5, 4.0, 8.0}) marks.push_back(middle + z * width);
  }

  [[nodiscard]] double between(const Range& range) const {
    if (!(range.lower < range.upper)) return 0.0;
    if (!gamma()) return normal_between(prior_.mean, prior_.sigma, range);
    const auto below = [&](double x) { return x <= 0.0 ? 0.0 : std::isinf(x) ? 1.0 : gamma_cdf(x, prior_.shape, prior_.rate); };
    const auto above = [&](double x) {
      return x <= 0.0 ? 1.0 : std::isinf(x) ? 0.0 : gamma_survival(x, prior_.shape, prior_.rate);
    };
    if (range.lower > prior_.shape / prior_.rate) return above(range.lower) - above(range.upper);
    return below(range.upper) - below(range.lower);
  }

  /// Integral over a piece of density(base + s) chance(s), s from `from` to `to`. Places are told from a base nearby, so
  /// that neither a small sigma nor a small uncertainty beside a large mean makes the function rough.
  [[nodiscard]] double weighted(const std::function<double(double)>& chance, double base, double from, double to) const {
    support::Accuracy accuracy{.relative = 1e-13, .absolute = 1e-40, .deepest = 16};
    if (!gamma()) {
      const double middle = prior_.mean - base;
      const auto f = [&](double s) {
        return normal_density((s - middle) / prior_.sigma) / prior_.sigma * chance(s);
      };
      return support::integrate(f, from, to, accuracy);
    }
    accuracy.relative = std::max(accuracy.relative, 4e-16 * prior_.shape);  // what x^shape keeps
    if (prior_.shape >= 1.0) {
      const auto f = [&](double s) { return gamma_density(base + s, prior_.shape, prior_.rate) * chance(s); };
      return support::integrate(f, from, to, accuracy);
    }
    // y = x^shape takes the pole at 0 out.
    const double scale = std::exp(prior_.shape * std::log(prior_.rate) - std::lgamma(prior_.shape + 1.0));
    const auto f = [&](double y) {
      const double x = std::pow(y, 1.0 / prior_.shape);
      return scale * std::exp(-prior_.rate * x) * chance(x - base);
    };
    return support::integrate(f, std::pow(std::max(0.0, base + from), prior_.shape), std::pow(base + to, prior_.shape),
                              accuracy);
  }

 private:
  [[nodiscard]] bool gamma() const { return prior_.kind == ProcessPrior::Kind::gamma; }
  [[nodiscard]] double gamma_reach() const {
    const double shape = prior_.shape;
    return (shape + 40.0 * std::sqrt(shape) + 750.0) / prior_.rate;
  }

  ProcessPrior prior_;
};

void require_process(const ProcessPrior& prior, std::string_view function) {
  if (prior.kind == ProcessPrior::Kind::gamma) {
    require_positive(prior.shape, function, "shape");
    require_positive(prior.rate, function, "rate");
    return;
  }
  require_finite(prior.mean, function, "mean");
  require_not_negative(prior.sigma, function, "sigma_process");
}

/// Integral of the process's density times the chance that a value measured with uncertainty u is accepted (or not), in
/// pieces about which both are smooth.
double over(const Process& process, const Range& range, const Range& accept, double u, bool accepted) {
  const Range support = process.support();
  const double from = std::max(range.lower, support.lower);
  const double to = std::min(range.upper, support.upper);
  if (!(from < to)) return 0.0;
  std::vector<double> ends{from, to};
  process.add_marks(ends);
  for (const double end : {accept.lower, accept.upper}) {
    if (std::isinf(end)) continue;
    for (const double z : {-38.0, -8.0, -4.0, -1.5, 0.0, 1.5, 4.0, 8.0, 38.0}) ends.push_back(end + z * u);
  }
  std::erase_if(ends, [&](double end) { return end < from || end > to; });
  std::sort(ends.begin(), ends.end());
  double sum = 0.0;
  for (std::size_t i = 1; i < ends.size(); ++i) {
    if (!(ends[i] > ends[i - 1])) continue;
    const double middle = 0.5 * (ends[i - 1] + ends[i]);
    double base = 0.0;
    if (std::isfinite(accept.lower) || std::isfinite(accept.upper)) {
      const bool low = std::abs(middle - accept.lower) <= std::abs(middle - accept.upper);
      base = low ? accept.lower : accept.upper;
    }
    const Range near{accept.lower - base, accept.upper - base};
    const auto chance = [&](double s) { return accepted ? normal_between(s, u, near) : normal_outside(s, u, near); };
    sum += process.weighted(chance, base, ends[i - 1] - base, ends[i] - base);
  }
  return sum;
}

/// Parts of the line: what lies in both, or in the second but not in the first.
Range common(const Range& a, const Range& b) { return {std::max(a.lower, b.lower), std::min(a.upper, b.upper)}; }

AcceptanceRisks risks_between(const ProcessPrior& prior, const Range& window, const Range& accept, double u) {
  AcceptanceRisks found;
  const Range below{-kInfinity, window.lower};
  const Range above{window.upper, kInfinity};
  if (prior.kind == ProcessPrior::Kind::normal && prior.sigma == 0.0) {
    // Every unit has the same true value.
    const bool inside = prior.mean >= window.lower && prior.mean <= window.upper;
    found.conforming = inside ? 1.0 : 0.0;
    found.nonconforming = 1.0 - found.conforming;
    found.accepted = normal_between(prior.mean, u, accept);
    const double rejected = u == 0.0 ? 1.0 - found.accepted : normal_outside(prior.mean, u, accept);
    found.consumer_risk = inside ? 0.0 : found.accepted;
    found.producer_risk = inside ? rejected : 0.0;
  } else {
    const Process process(prior);
    found.conforming = process.between(window);
    found.nonconforming = process.between(below) + process.between(above);
    if (!(accept.lower < accept.upper)) {
      found.producer_risk = found.conforming;
    } else if (u == 0.0) {
      found.accepted = process.between(accept);
      found.consumer_risk = process.between(common(below, accept)) + process.between(common(above, accept));
      found.producer_risk = process.between(common(window, {-kInfinity, accept.lower})) +
                            process.between(common(window, {accept.upper, kInfinity}));
    } else {
      const auto part = [&](const Range& range, bool accepted) { return over(process, range, accept, u, accepted); };
      found.consumer_risk = part(below, true) + part(above, true);
      found.producer_risk = part(window, false);
      found.accepted = found.consumer_risk + part(window, true);
    }
  }
  // Rejected and outside, plus rejected and inside.
  const double rejected = std::max(0.0, found.nonconforming - found.consumer_risk) + found.producer_risk;
  found.outside_among_accepted = found.accepted > 0.0 ? found.consumer_risk / found.accepted : kNone;
  found.inside_among_rejected = rejected > 0.0 ? found.producer_risk / rejected : kNone;
  return found;
}

double tie(double line) { return kTie * std::abs(line); }

}  // namespace

double guard_band_factor(double alpha, std::size_t sides) {
  constexpr auto function = "guard_band_factor";
  require_open_unit(alpha, function, "alpha");
  if (sides != 1 && sides != 2) throw InvalidInput(function, "sides", "must be 1 or 2 (" + std::to_string(sides) + ")");
  if (sides == 1 && alpha > 0.5) {
    throw InvalidInput(function, "alpha", "must be at most 1/2 for one limit (" + to_text(alpha) + ")");
  }
  return -normal_quantile(sides == 1 ? alpha : 0.5 * alpha);
}

double false_accept_at_limit(double guard_over_expanded, double coverage_factor) {
  constexpr auto function = "false_accept_at_limit";
  require_finite(guard_over_expanded, function, "guard_over_expanded");
  require_positive(coverage_factor, function, "coverage_factor");
  return normal_survival(guard_over_expanded * coverage_factor);
}

double acceptance_limit_relative(double limit, double relative_uncertainty, double confidence_level, LimitSide side) {
  constexpr auto function = "acceptance_limit_relative";
  require_positive(limit, function, "limit");
  require_not_negative(relative_uncertainty, function, "relative_uncertainty");
  require_open_unit(confidence_level, function, "confidence_level");
  const double part = normal_quantile(confidence_level) * relative_uncertainty;
  if (side == LimitSide::upper) return limit / (1.0 + part);
  if (!(part < 1.0)) {
    throw InvalidInput(function, "relative_uncertainty",
                       "is so large that no value shows the limit to be met (" + to_text(relative_uncertainty) + ")");
  }
  return limit / (1.0 - part);
}

GuardBand guard_band(const SpecLimits& window, double standard_uncertainty, double alpha, double bias_bound) {
  constexpr auto function = "guard_band";
  require_window(window, function);
  require_not_negative(standard_uncertainty, function, "standard_uncertainty");
  require_not_negative(bias_bound, function, "bias_bound");
  GuardBand found;
  found.factor = guard_band_factor(alpha);
  found.guard = bias_bound + found.factor * standard_uncertainty;
  require_finite(found.guard, function, "guard");
  if (window.lower) {
    found.accept.lower = *window.lower + found.guard;
    found.reject.lower = *window.lower - found.guard;
  }
  if (window.upper) {
    found.accept.upper = *window.upper - found.guard;
    found.reject.upper = *window.upper + found.guard;
  }
  found.left = window.lower && window.upper ? *window.upper - *window.lower - 2.0 * found.guard : kNone;
  return found;
}

GuardBandClass guard_band_class(const GuardBand& band, double value) {
  require_finite(value, "guard_band_class", "value");
  const Range out = range_of(band.reject);
  if (value < out.lower - tie(band.reject.lower.value_or(0.0)) ||
      value > out.upper + tie(band.reject.upper.value_or(0.0))) {
    return GuardBandClass::clearly_out;
  }
  const Range in = range_of(band.accept);
  const bool nothing = std::isfinite(band.left) && band.left < -tie(in.upper);
  if (!nothing && value >= in.lower - tie(band.accept.lower.value_or(0.0)) &&
      value <= in.upper + tie(band.accept.upper.value_or(0.0))) {
    return GuardBandClass::clearly_in;
  }
  return GuardBandClass::doubtful;
}

double conformance_probability(double value, double standard_uncertainty, const SpecLimits& window,
                               std::optional<double> degrees_of_freedom) {
  constexpr auto function = "conformance_probability";
  require_finite(value, function, "value");
  require_not_negative(standard_uncertainty, function, "standard_uncertainty");
  require_window(window, function);
  if (degrees_of_freedom) require_positive(*degrees_of_freedom, function, "degrees_of_freedom");
  const Range range = range_of(window);
  if (standard_uncertainty == 0.0) {
    const bool inside = value >= range.lower - tie(window.lower.value_or(0.0)) &&
                        value <= range.upper + tie(window.upper.value_or(0.0));
    return inside ? 1.0 : 0.0;
  }
  if (degrees_of_freedom) return t_between(value, standard_uncertainty, *degrees_of_freedom, range);
  return normal_between(value, standard_uncertainty, range);
}

AcceptanceRisks acceptance_risks(const ProcessPrior& process, const SpecLimits& window, const SpecLimits& accept,
                                 double standard_uncertainty) {
  constexpr auto function = "acceptance_risks";
  require_process(process, function);
  require_window(window, function);
  require_rising(accept, function, "accept_lower", "accept_upper");
  require_not_negative(standard_uncertainty, function, "standard_uncertainty");
  return risks_between(process, range_of(window), range_of(accept), standard_uncertainty);
}

AcceptanceLimit acceptance_limit_for_risk(const ProcessPrior& process, const SpecLimits& window,
                                          double standard_uncertainty, double consumer_risk) {
  constexpr auto function = "acceptance_limit_for_risk";
  require_process(process, function);
  require_window(window, function);
  require_not_negative(standard_uncertainty, function, "standard_uncertainty");
  require_open_unit(consumer_risk, function, "consumer_risk");
  const Range spec = range_of(window);
  const auto accept_at = [&](double guard) { return Range{spec.lower + guard, spec.upper - guard}; };
  const auto risk_at = [&](double guard) {
    return risks_between(process, spec, accept_at(guard), standard_uncertainty).consumer_risk;
  };

  AcceptanceLimit found;
  const AcceptanceRisks all = risks_between(process, spec, {}, standard_uncertainty);
  if (all.nonconforming <= consumer_risk) {
    found.needed = false;
    found.guard = kNone;
    found.risks = all;
    return found;
  }
  // The risk falls as the acceptance limits are drawn in; at half the window nothing is accepted.
  const double unit = standard_uncertainty > 0.0             ? standard_uncertainty
                      : process.kind == ProcessPrior::Kind::gamma ? std::sqrt(process.shape) / process.rate
                      : process.sigma > 0.0                      ? process.sigma
                                                                 : std::abs(process.mean) + 1.0;
  const double most = std::isfinite(spec.lower) && std::isfinite(spec.upper) ? 0.5 * (spec.upper - spec.lower) : kInfinity;
  double wide = -unit;
  for (int i = 0; i < 200 && risk_at(wide) <= consumer_risk; ++i) wide *= 2.0;
  double narrow = std::min(unit, most);
  for (int i = 0; i < 200 && narrow < most && risk_at(narrow) > consumer_risk; ++i) narrow = std::min(2.0 * narrow, most);
  // A perfect gauge's risk is a step at guard 0 when the process has no spread: the search ends beside it.
  const double guard = support::find_root(
      [&](double g) {
        const double risk = g >= most ? 0.0 : risk_at(g);
        return risk > consumer_risk ? risk - consumer_risk : std::min(risk - consumer_risk, -1e-300);
      },
      wide, narrow);
  found.guard = guard;
  const Range accept = accept_at(guard);
  if (window.lower) found.accept.lower = accept.lower;
  if (window.upper) found.accept.upper = accept.upper;
  found.risks = risks_between(process, spec, accept, standard_uncertainty);
  return found;
}

void operating_curve(std::span<const double> means, const SpecLimits& accept, double sigma_average,
                     std::span<double> probability) {
  constexpr auto function = "operating_curve";
  require_finite(means, function, "means");
  require_window(accept, function);
  require_not_negative(sigma_average, function, "sigma_average");
  if (means.size() != probability.size()) {
    throw InvalidInput(function, "probability",
                       "has " + std::to_string(probability.size()) + " elements for " + std::to_string(means.size()) + " means");
  }
  const Range range = range_of(accept);
  for (std::size_t i = 0; i < means.size(); ++i) probability[i] = normal_between(means[i], sigma_average, range);
}

double operating_point(const SpecLimits& accept, double sigma_average, double probability, LimitSide side) {
  constexpr auto function = "operating_point";
  require_window(accept, function);
  require_not_negative(sigma_average, function, "sigma_average");
  require_open_unit(probability, function, "probability");
  const bool up = side == LimitSide::upper;
  const auto limit = up ? accept.upper : accept.lower;
  if (!limit) return kNone;
  if (sigma_average == 0.0) return *limit;
  const Range range = range_of(accept);
  const double sign = up ? 1.0 : -1.0;
  const auto excess = [&](double mean) { return normal_between(mean, sigma_average, range) - probability; };
  const bool both = accept.lower && accept.upper;
  // From the middle outward the chance falls all the way; with one limit the start lies where all are accepted.
  const double start = both ? 0.5 * (*accept.lower + *accept.upper) : *limit - sign * 40.0 * sigma_average;
  const double end = *limit + sign * 40.0 * sigma_average;
  if (!(excess(start) > 0.0)) return kNone;
  return support::find_root(excess, std::min(start, end), std::max(start, end));
}

}  // namespace steadyfilm
