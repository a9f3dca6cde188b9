#include <steadyfilm/capability.hpp>

#include <algorithm>
#include <cmath>

#include <steadyfilm/constants.hpp>
#include <steadyfilm/distributions.hpp>
#include <steadyfilm/summary.hpp>

#include "support/double_double.hpp"
#include "support/quadrature.hpp"
#include "support/roots.hpp"

namespace steadyfilm {
namespace {

constexpr double kOnTheLimit = 1e-9;  // relative

void require_window(const SpecLimits& window, std::string_view function) {
  if (!window.lower && !window.upper) {
    throw InvalidInput(function, "specification", "needs a lower or an upper limit");
  }
  for (const auto& [limit, name] :
       {std::pair{window.lower, "lower"}, {window.upper, "upper"}, {window.target, "target"}}) {
    if (limit) require_finite(*limit, function, name);
  }
  if (window.lower && window.upper && !(*window.lower < *window.upper)) {
    throw InvalidInput(function, "lower",
                       "(" + to_text(*window.lower) + ") must lie below upper (" + to_text(*window.upper) + ")");
  }
}

void require_readings(std::size_t sample_size, std::size_t least, std::string_view function) {
  if (sample_size < least) {
    throw InvalidInput(function, "sample_size",
                       "must be at least " + std::to_string(least) + ", got " + std::to_string(sample_size));
  }
}

void require_not_negative(double value, std::string_view function, std::string_view argument) {
  if (!(value >= 0.0) || !std::isfinite(value)) {
    throw InvalidInput(function, argument, "must be finite and not negative, got " + to_text(value));
  }
}

/// Probability below the lower end.
double lower_chance(const IntervalOptions& options, std::string_view function) {
  require_open_unit(options.confidence_level, function, "confidence_level");
  if (options.sides != 1 && options.sides != 2) {
    throw InvalidInput(function, "sides", "must be 1 or 2, got " + std::to_string(options.sides));
  }
  return (1.0 - options.confidence_level) / options.sides;
}

/// Ends of an interval, from a function of the probability below each.
template <typename End>
IndexInterval interval(const IntervalOptions& options, double degrees_of_freedom, std::string_view function,
                       End&& end) {
  const double chance = lower_chance(options, function);
  IndexInterval found{.lower = end(chance), .upper = std::nullopt, .degrees_of_freedom = degrees_of_freedom};
  if (options.sides == 2) found.upper = end(1.0 - chance);
  return found;
}

/// P(estimated Cpk <= c): the readings' mean lies t / sqrt(n) sigma from the midpoint (folded normal), s is
/// independent.
double cpk_estimate_cdf(double c, double half_width, double off_center, double n) {
  const double reach = half_width * std::sqrt(n);
  const double shift = off_center * std::sqrt(n);
  const auto mean_density = [&](double t) { return normal_density(t + shift) + normal_density(t - shift); };
  const double outside = normal_survival(reach - shift) + normal_survival(reach + shift);
  if (c == 0.0) return outside;
  const auto s_below = [&](double t) {  // P(s / sigma <= |half width - distance| / (3 |c|))
    const double ratio = (reach - t) / (3.0 * c * std::sqrt(n));
    return chi_square_cdf((n - 1.0) * ratio * ratio, n - 1.0);
  };
  const support::Accuracy accuracy{.relative = 1e-12, .absolute = 1e-15};
  // Beyond 40 sigma of the mean nothing is left.
  const double first = std::max(0.0, shift - 40.0);
  if (c > 0.0) {
    const double last = std::min(reach, shift + 40.0);
    return first >= last ? 1.0
                         : 1.0 - support::integrate([&](double t) { return s_below(t) * mean_density(t); }, first, last,
                                                    accuracy);
  }
  const double start = std::max(first, reach);
  return support::integrate([&](double t) { return s_below(t) * mean_density(t); }, start,
                            std::max(start, shift) + 40.0, accuracy);
}

void add_interval(IndexEstimate& estimate, double confidence_level, std::string method, const auto& interval_of) {
  const auto two_sided = interval_of(IntervalOptions{.confidence_level = confidence_level, .sides = 2});
  estimate.lower = two_sided.lower;
  estimate.upper = two_sided.upper;
  estimate.lower_bound = interval_of(IntervalOptions{.confidence_level = confidence_level, .sides = 1}).lower;
  estimate.degrees_of_freedom = two_sided.degrees_of_freedom;
  estimate.method = std::move(method);
}

struct Names {
  const char *p, *pk, *pu, *pl;
};

/// Cp, Cpk, Cpu, Cpl or their overall relatives, with intervals, or with the reason why not.
void add_indices(std::vector<IndexEstimate>& out, const Names& names, double mean, std::size_t count,
                 const std::optional<SigmaEstimate>& sigma, const SpecLimits& window, double confidence_level,
                 const std::string& refusal) {
  CapabilityIndices found;
  std::string reason = refusal;
  if (reason.empty() && sigma->sigma == 0.0) {
    reason = "no finite value: sigma is 0";
  }
  if (reason.empty()) found = capability_indices(mean, sigma->sigma, window);
  std::string no_interval;
  if (count == 0) {
    no_interval = "no interval: the number of readings is not known";
  } else if (sigma && !sigma->degrees_of_freedom) {
    no_interval = "no interval: the degrees of freedom of the given sigma are not known";
  }
  const bool both = window.lower && window.upper;

  const auto add = [&](const char* name, std::optional<double> value, const char* needs, const char* method,
                       const auto& interval_of) {
    IndexEstimate estimate;
    estimate.index = name;
    estimate.value = value;
    if (!value) {
      estimate.reason = reason.empty() ? std::string("needs ") + needs : reason;
    } else if (!no_interval.empty()) {
      estimate.reason = no_interval;
    } else {
      add_interval(estimate, confidence_level, method, [&](const IntervalOptions& options) {
        return interval_of(*value, *sigma->degrees_of_freedom, options);
      });
    }
    out.push_back(std::move(estimate));
  };
  const auto chi = [](double value, double df, const IntervalOptions& options) {
    return cp_interval(value, df, options);
  };
  const auto approximate = [count](double value, double df, const IntervalOptions& options) {
    return cpk_interval(value, count, df, options);
  };
  const auto exact = [count](double value, double df, const IntervalOptions& options) {
    return one_sided_index_interval(value, count, df, options);
  };
  constexpr auto kNoncentral = "noncentral t";
  add(names.p, found.cp, "both limits", "chi-square", chi);
  if (both) {
    add(names.pk, found.cpk, "a limit", "Bissell 1990", approximate);
  } else {
    add(names.pk, found.cpk, "a limit", kNoncentral, exact);
  }
  add(names.pu, found.cpu, "an upper limit", kNoncentral, exact);
  add(names.pl, found.cpl, "a lower limit", kNoncentral, exact);
}

/// Mean square of the distances from the target, by the chosen definition; absent when the count would be needed.
std::optional<double> mean_square(double mean, double sigma_total, std::size_t count, double target,
                                  CpmDefinition definition) {
  const double offset = mean - target;
  if (definition == CpmDefinition::variance_plus_offset) return sigma_total * sigma_total + offset * offset;
  if (count == 0) return std::nullopt;
  const auto n = static_cast<double>(count);
  const double sum = (n - 1.0) * sigma_total * sigma_total + n * offset * offset;
  return sum / (definition == CpmDefinition::divisor_n ? n : n - 1.0);
}

IndexEstimate cpm_estimate(const Capability& found, const SpecLimits& window, const CapabilityOptions& options) {
  IndexEstimate estimate;
  estimate.index = "cpm";
  if (!window.target || !window.lower || !window.upper) {
    estimate.reason = "needs both limits and a target";
    return estimate;
  }
  if (!found.mean_square_off_target) {
    estimate.reason = "this definition needs the number of readings";
    return estimate;
  }
  if (*found.mean_square_off_target == 0.0) {
    estimate.reason = "no finite value: every reading is on target";
    return estimate;
  }
  const double value = (*window.upper - *window.lower) / (6.0 * std::sqrt(*found.mean_square_off_target));
  estimate.value = value;
  if (options.cpm != CpmDefinition::divisor_n) {
    estimate.reason = "no interval: it is defined for divisor n";
  } else if (found.sigma_total == 0.0) {
    estimate.reason = "no interval: sigma is 0";
  } else {
    const auto n = static_cast<double>(found.count);
    const double sd = found.sigma_total * std::sqrt((n - 1.0) / n);
    add_interval(estimate, options.confidence_level, "Boyles 1991", [&](const IntervalOptions& ends) {
      return cpm_interval(value, found.count, (found.mean - *window.target) / sd, ends);
    });
  }
  return estimate;
}

}  // namespace

CapabilityIndices capability_indices(double mean, double sigma, const SpecLimits& specification) {
  require_window(specification, "capability_indices");
  require_finite(mean, "capability_indices", "mean");
  require_positive(sigma, "capability_indices", "sigma");
  CapabilityIndices found;
  const auto& [lower, upper, target] = specification;
  if (upper) found.cpk = found.cpu = (*upper - mean) / (3.0 * sigma);
  if (lower) found.cpk = found.cpl = (mean - *lower) / (3.0 * sigma);
  if (lower && upper) {
    found.cpk = std::min(*found.cpu, *found.cpl);
    found.cp = (*upper - *lower) / (6.0 * sigma);
    found.off_center_ratio = std::abs((*lower + *upper) - 2.0 * mean) / (*upper - *lower);
    if (target) found.cpm = (*upper - *lower) / (6.0 * std::hypot(sigma, mean - *target));
  }
  return found;
}

FractionOutside fraction_outside(double mean, double sigma, const SpecLimits& specification) {
  require_window(specification, "fraction_outside");
  require_finite(mean, "fraction_outside", "mean");
  require_not_negative(sigma, "fraction_outside", "sigma");
  FractionOutside found;
  if (specification.lower) {
    found.below = sigma > 0.0 ? normal_survival((mean - *specification.lower) / sigma)
                              : (meets_lower(mean, *specification.lower) ? 0.0 : 1.0);
  }
  if (specification.upper) {
    found.above = sigma > 0.0 ? normal_survival((*specification.upper - mean) / sigma)
                              : (meets_upper(mean, *specification.upper) ? 0.0 : 1.0);
  }
  found.total = found.below + found.above;
  return found;
}

ShiftedCapability shifted_capability(double cp, double shift_sigma) {
  require_positive(cp, "shifted_capability", "cp");
  require_not_negative(shift_sigma, "shifted_capability", "shift_sigma");
  const double nearest = normal_survival(3.0 * cp - shift_sigma);
  return {.cpk = cp - shift_sigma / 3.0,
          .ppm_nearest = 1e6 * nearest,
          .ppm_both = 1e6 * (nearest + normal_survival(3.0 * cp + shift_sigma))};
}

IndexInterval cp_interval(double estimate, double degrees_of_freedom, const IntervalOptions& options) {
  require_positive(estimate, "cp_interval", "estimate");
  require_positive(degrees_of_freedom, "cp_interval", "degrees_of_freedom");
  return interval(options, degrees_of_freedom, "cp_interval", [&](double chance) {
    return estimate * std::sqrt(chi_square_quantile(chance, degrees_of_freedom) / degrees_of_freedom);
  });
}

IndexInterval cpk_interval(double estimate, std::size_t sample_size, double degrees_of_freedom,
                           const IntervalOptions& options, CpkMethod method) {
  require_finite(estimate, "cpk_interval", "estimate");
  require_readings(sample_size, 2, "cpk_interval");
  require_positive(degrees_of_freedom, "cpk_interval", "degrees_of_freedom");
  const double relative = estimate * estimate / (2.0 * degrees_of_freedom);
  const double variance =
      method == CpkMethod::bissell ? 1.0 / (9.0 * static_cast<double>(sample_size)) + relative : relative;
  return interval(options, degrees_of_freedom, "cpk_interval",
                  [&](double chance) { return estimate + normal_quantile(chance) * std::sqrt(variance); });
}

IndexInterval one_sided_index_interval(double estimate, std::size_t sample_size, double degrees_of_freedom,
                                       const IntervalOptions& options) {
  require_finite(estimate, "one_sided_index_interval", "estimate");
  require_readings(sample_size, 2, "one_sided_index_interval");
  require_positive(degrees_of_freedom, "one_sided_index_interval", "degrees_of_freedom");
  const double scale = 3.0 * std::sqrt(static_cast<double>(sample_size));
  const double observed = scale * estimate;
  return interval(options, degrees_of_freedom, "one_sided_index_interval", [&](double chance) {
    // The true index for which an estimate as large as this one or larger has that chance.
    const auto excess = [&](double noncentrality) {
      return noncentral_t_survival(observed, degrees_of_freedom, noncentrality) - chance;
    };
    const double spread = std::sqrt(1.0 + observed * observed / (2.0 * degrees_of_freedom));
    const double guess = observed + normal_quantile(chance) * spread;
    return support::find_root_near(excess, guess, 0.5 * spread) / scale;
  });
}

double one_sided_index_critical_value(double index, std::size_t sample_size, double alpha) {
  require_finite(index, "one_sided_index_critical_value", "index");
  require_readings(sample_size, 2, "one_sided_index_critical_value");
  require_open_unit(alpha, "one_sided_index_critical_value", "alpha");
  const auto n = static_cast<double>(sample_size);
  const double scale = 3.0 * std::sqrt(n);
  return noncentral_t_quantile(1.0 - alpha, n - 1.0, scale * index) / scale;
}

OneSidedIndexMoments one_sided_index_moments(double index, std::size_t sample_size) {
  require_finite(index, "one_sided_index_moments", "index");
  require_readings(sample_size, 4, "one_sided_index_moments");
  const auto n = static_cast<double>(sample_size);
  // sqrt(2/(n-1)) Gamma((n-1)/2) / Gamma((n-2)/2)
  const double bias_factor = c4(n - 1.0) * std::sqrt((n - 2.0) / (n - 1.0));
  const double mean = index / bias_factor;
  return {.bias_factor = bias_factor,
          .variance = (n - 1.0) / (n - 3.0) * (index * index + 1.0 / (9.0 * n)) - mean * mean};
}

CpkDistribution cpk_sampling_distribution(double cpk, double off_center_sigma, std::size_t sample_size, double alpha) {
  const auto function = "cpk_sampling_distribution";
  require_finite(cpk, function, "cpk");
  require_not_negative(off_center_sigma, function, "off_center_sigma");
  require_readings(sample_size, 2, function);
  require_open_unit(alpha, function, "alpha");
  const double half_width = 3.0 * cpk + off_center_sigma;
  require_positive(half_width, function, "half width in sigma (3 cpk + off_center_sigma)");
  const auto n = static_cast<double>(sample_size);
  const auto cdf = [&](double c) { return cpk_estimate_cdf(c, half_width, off_center_sigma, n); };
  const double spread = std::sqrt(1.0 / (9.0 * n) + cpk * cpk / (2.0 * (n - 1.0)));
  const double guess = cpk + normal_quantile(1.0 - alpha) * spread;
  return {
      .critical_value = support::find_root_near([&](double c) { return cdf(c) - (1.0 - alpha); }, guess, 0.5 * spread),
      .probability_below_cpk = cdf(cpk)};
}

double cpm_index(std::span<const double> values, const SpecLimits& specification, CpmDefinition definition) {
  const auto found = capability(values, specification, {.cpm = definition});
  if (!found.indices.back().value) throw InvalidInput("cpm_index", "cpm", found.indices.back().reason);
  return *found.indices.back().value;
}

IndexInterval cpm_interval(double estimate, std::size_t sample_size, double off_target_sigma,
                           const IntervalOptions& options, CpmMethod method) {
  require_positive(estimate, "cpm_interval", "estimate");
  require_readings(sample_size, 2, "cpm_interval");
  require_finite(off_target_sigma, "cpm_interval", "off_target_sigma");
  const auto n = static_cast<double>(sample_size);
  const double square = off_target_sigma * off_target_sigma;
  if (method == CpmMethod::noncentral_chi_square) {
    return interval(options, n, "cpm_interval", [&](double chance) {
      return estimate * std::sqrt(noncentral_chi_square_quantile(chance, n, n * square) / (n * (1.0 + square)));
    });
  }
  const double nu = n * (1.0 + square) * (1.0 + square) / (1.0 + 2.0 * square);
  return interval(options, nu, "cpm_interval",
                  [&](double chance) { return estimate * std::sqrt(chi_square_quantile(chance, nu) / nu); });
}

bool meets_lower(double value, double limit) { return value >= limit - kOnTheLimit * std::abs(limit); }

bool meets_upper(double value, double limit) { return value <= limit + kOnTheLimit * std::abs(limit); }

Capability capability(std::span<const double> values, const SpecLimits& specification,
                      const CapabilityOptions& options) {
  require_count(values.size(), 2, "capability");
  require_window(specification, "capability");
  const Summary summary = summarize(values);
  Capability found = capability_from_moments(summary.mean, summary.sd, summary.count, specification, options);
  const auto misses = [&values](const std::optional<double>& limit, bool (*meets)(double, double)) {
    if (!limit) return std::size_t{0};
    return static_cast<std::size_t>(
        std::count_if(values.begin(), values.end(), [&](double x) { return !meets(x, *limit); }));
  };
  found.below = misses(specification.lower, meets_lower);
  found.above = misses(specification.upper, meets_upper);
  return found;
}

Capability capability_from_moments(double mean, double sigma_total, std::size_t count, const SpecLimits& specification,
                                   const CapabilityOptions& options) {
  const auto function = "capability_from_moments";
  require_window(specification, function);
  require_finite(mean, function, "mean");
  require_not_negative(sigma_total, function, "sigma_total");
  require_open_unit(options.confidence_level, function, "confidence_level");
  if (count != 0) require_readings(count, 2, function);
  if (options.within) {
    require_not_negative(options.within->sigma, function, "sigma_within");
    if (options.within->degrees_of_freedom) {
      require_positive(*options.within->degrees_of_freedom, function, "degrees_of_freedom");
    }
  }

  Capability found;
  found.count = count;
  found.mean = mean;
  found.sigma_total = sigma_total;
  const auto& [lower, upper, target] = specification;
  if (lower && upper) found.off_center_ratio = std::abs((*lower + *upper) - 2.0 * mean) / (*upper - *lower);
  if (target) found.mean_square_off_target = mean_square(mean, sigma_total, count, *target, options.cpm);

  std::string refusal;
  if (options.stable == false) {
    refusal = "refused: the process is not stable, so what it will do cannot be forecast";
  } else if (!options.within) {
    refusal = "needs a within sigma";
  }
  add_indices(found.indices, {"cp", "cpk", "cpu", "cpl"}, mean, count, options.within, specification,
              options.confidence_level, refusal);
  std::optional<SigmaEstimate> total = SigmaEstimate{.sigma = sigma_total, .degrees_of_freedom = std::nullopt};
  if (count != 0) total->degrees_of_freedom = static_cast<double>(count) - 1.0;
  add_indices(found.indices, {"pp", "ppk", "ppu", "ppl"}, mean, count, total, specification, options.confidence_level,
              "");
  found.indices.push_back(cpm_estimate(found, specification, options));

  found.expected_total = fraction_outside(mean, sigma_total, specification);
  if (refusal.empty()) found.expected_within = fraction_outside(mean, options.within->sigma, specification);
  return found;
}

}  // namespace steadyfilm
