#include <steadyfilm/gauge_rr.hpp>

#include <algorithm>
#include <cmath>
#include <limits>

#include <steadyfilm/constants.hpp>
#include <steadyfilm/distributions.hpp>

#include "support/balanced_design.hpp"
#include "support/combinations.hpp"
#include "support/gauge_estimate.hpp"

namespace steadyfilm {

namespace {

constexpr double none = std::numeric_limits<double>::quiet_NaN();
constexpr double endless = std::numeric_limits<double>::infinity();

double floored(double variance) { return std::max(0.0, variance); }

GaugeFactors used_factors(const GaugeFactorsGiven& given, GaugeFactors own, std::string_view function) {
  const auto take = [&](const std::optional<double>& value, double& target, const char* name) {
    if (!value) return;
    require_positive(*value, function, name);
    target = *value;
  };
  take(given.K1, own.K1, "K1");
  take(given.K2, own.K2, "K2");
  take(given.K3, own.K3, "K3");
  take(given.D4, own.D4, "D4");
  return own;
}

/// From the ranges to the components.
void finish(AverageRange& out, double readings_an_appraiser) {
  out.range_upper = out.factors.D4 * out.mean_range;
  out.ev = out.factors.K1 * out.mean_range;
  const double people = std::isnan(out.factors.K2) ? none : out.factors.K2 * out.appraiser_difference;
  out.av_radicand = people * people - out.ev * out.ev / readings_an_appraiser;
  out.av = std::isnan(people) ? none : std::sqrt(floored(out.av_radicand));
  out.grr = std::hypot(out.ev, std::isnan(out.av) ? 0.0 : out.av);
  out.pv = out.factors.K3 * out.part_range;
  out.tv = std::hypot(out.grr, out.pv);
  out.ndc_ratio = out.ndc = none;
  if (!std::isnan(out.pv)) support::set_ndc(out.pv, out.grr, out.ndc_ratio, out.ndc);
}

double range_of(const std::vector<double>& values) {
  const auto [low, high] = std::ranges::minmax(values);
  return high - low;
}

std::size_t product_of(std::span<const StudyFactor> factors, std::size_t trial_count, std::size_t have) {
  std::size_t cells = trial_count;
  for (const StudyFactor& one : factors) {
    if (one.levels != 0 && cells > have / one.levels) return have + 1;  // no overflow, and surely unequal
    cells *= one.levels;
  }
  return cells;
}

void require_factors(std::span<const double> values, std::span<const StudyFactor> factors, std::size_t trial_count,
                     std::string_view function) {
  require_finite(values, function);
  if (factors.empty() || factors.size() > 8) throw InvalidInput(function, "factors", "must be 1 to 8");
  if (trial_count < 1) throw InvalidInput(function, "trial_count", "must be 1 or more");
  std::size_t parts = 0;
  for (std::size_t f = 0; f < factors.size(); ++f) {
    if (factors[f].levels < 2) {
      throw InvalidInput(
          function, "factors",
          "must have 2 levels or more, '" + factors[f].name + "' has " + std::to_string(factors[f].levels), f);
    }
    parts += factors[f].role == FactorRole::part ? 1 : 0;
    if (factors[f].nested_in && *factors[f].nested_in >= f) {
      throw InvalidInput(function, "factors", "must stand behind the factor they are nested in", f);
    }
  }
  if (parts > 1) throw InvalidInput(function, "factors", "hold more than one of role part");
  if (product_of(factors, trial_count, values.size()) != values.size()) {
    throw InvalidInput(function, "factors",
                       "and trials do not multiply to the " + std::to_string(values.size()) + " values");
  }
  if (trial_count == 1 && factors.size() == 1) {
    throw InvalidInput(function, "trial_count", "of 1 leaves nothing for repeatability with one factor");
  }
}

}  // namespace

const GaugeSource* GaugeEstimate::find(const std::string& name) const noexcept {
  const auto found = std::ranges::find(sources, name, &GaugeSource::source);
  return found == sources.end() ? nullptr : &*found;
}

const GaugeSource& GaugeEstimate::source(const std::string& name) const {
  if (const GaugeSource* found = find(name)) return *found;
  throw InvalidInput("GaugeEstimate::source", "name", "is no source of this study: " + name);
}

GaugeFactors gauge_factors(std::size_t trial_count, std::size_t appraiser_count, std::size_t part_count) {
  constexpr auto function = "gauge_factors";
  if (trial_count < 1) throw InvalidInput(function, "trial_count", "must be 1 or more");
  if (appraiser_count < 1) throw InvalidInput(function, "appraiser_count", "must be 1 or more");
  if (part_count < 1) throw InvalidInput(function, "part_count", "must be 1 or more");
  const auto of_one_group = [](std::size_t size) { return size < 2 ? none : 1.0 / d2_star(1, size).d2_star; };
  return {.K1 = trial_count < 2 ? none : 1.0 / d2(trial_count),
          .K2 = of_one_group(appraiser_count),
          .K3 = of_one_group(part_count),
          .D4 = trial_count < 2 ? none : chart_factors(trial_count).D4};
}

AverageRange average_range(std::span<const double> values, std::size_t part_count, std::size_t appraiser_count,
                           std::size_t trial_count, const GaugeFactorsGiven& given) {
  constexpr auto function = "average_range";
  require_finite(values, function);
  if (trial_count < 2) throw InvalidInput(function, "trial_count", "must be 2 or more to take a range");
  if (part_count < 1 || appraiser_count < 1 || values.size() % trial_count != 0 ||
      values.size() / trial_count % part_count != 0 || values.size() / trial_count / part_count != appraiser_count) {
    throw InvalidInput(function, "values",
                       "number " + std::to_string(values.size()) + ", not the product of parts, appraisers and trials");
  }
  AverageRange out;
  out.factors = used_factors(given, gauge_factors(trial_count, appraiser_count, part_count), function);
  std::vector<StudyFactor> factors;
  if (part_count > 1) factors.push_back({"part", part_count, FactorRole::part, false, {}});
  if (appraiser_count > 1) factors.push_back({"appraiser", appraiser_count, FactorRole::measurement, false, {}});
  if (factors.empty()) throw InvalidInput(function, "part_count", "and appraiser_count are both 1");
  const auto design = support::balanced_design(values, factors, trial_count, function);
  out.mean = design.mean;
  const std::vector<double> alone = {design.mean};
  out.part_means = part_count > 1 ? design.level_means.front() : alone;
  out.appraiser_means = appraiser_count > 1 ? design.level_means.back() : alone;
  out.appraiser_mean_ranges.assign(appraiser_count, 0.0);
  for (std::size_t i = 0; i < part_count * appraiser_count; ++i) {
    const auto [low, high] = std::ranges::minmax(values.subspan(i * trial_count, trial_count));
    out.ranges.push_back(high - low);
    out.mean_range += (high - low) / static_cast<double>(part_count * appraiser_count);
    out.appraiser_mean_ranges[i % appraiser_count] += (high - low) / static_cast<double>(part_count);
  }
  out.appraiser_difference = range_of(out.appraiser_means);
  out.part_range = part_count > 1 ? range_of(out.part_means) : none;
  finish(out, static_cast<double>(part_count * trial_count));
  return out;
}

AverageRange average_range_from_ranges(double mean_range, double appraiser_difference, double part_range,
                                       std::size_t part_count, std::size_t appraiser_count, std::size_t trial_count,
                                       const GaugeFactorsGiven& given) {
  constexpr auto function = "average_range_from_ranges";
  const auto require_range = [&](double range, const char* name) {
    require_finite(range, function, name);
    if (range < 0.0) throw InvalidInput(function, name, "must not be negative, got " + to_text(range));
  };
  require_range(mean_range, "mean_range");
  require_range(appraiser_difference, "appraiser_difference");
  require_range(part_range, "part_range");
  if (trial_count < 2) throw InvalidInput(function, "trial_count", "must be 2 or more to take a range");
  AverageRange out;
  out.mean = none;
  out.factors = used_factors(given, gauge_factors(trial_count, appraiser_count, part_count), function);
  out.mean_range = mean_range;
  out.appraiser_difference = appraiser_difference;
  out.part_range = part_range;
  finish(out, static_cast<double>(part_count * trial_count));
  return out;
}

GaugeStudy gauge_study(std::span<const double> values, std::span<const StudyFactor> factors, std::size_t trial_count,
                       const GaugeOptions& options) {
  constexpr auto function = "gauge_study";
  require_open_unit(options.confidence_level, function, "confidence_level");
  if (!(options.pooling_level >= 0.0 && options.pooling_level <= 1.0)) {
    throw InvalidInput(function, "pooling_level", "must lie within 0 and 1, got " + to_text(options.pooling_level));
  }
  require_factors(values, factors, trial_count, function);
  const auto design = support::balanced_design(values, factors, trial_count, function);
  GaugeStudy out;
  out.mean = design.mean;
  out.kept = support::gauge_estimate(design.terms, factors, options);
  out.interaction_p = none;

  const bool crossed = factors.size() == 2 && !factors[1].nested_in;
  const auto pooled = support::poolable_terms(design.terms, out.kept, options.pooling_level, crossed);
  std::vector<support::Term> chosen = design.terms;
  if (!pooled.empty()) {
    const auto terms = support::pooled_terms(design.terms, pooled);
    out.pooled = support::gauge_estimate(terms, factors, options);
    for (const std::size_t t : pooled) out.pooled->pooled_terms.push_back(design.terms[t].name);
    out.pooled_chosen = !crossed || out.kept.lines[pooled.front()].p > options.pooling_level;
    if (out.pooled_chosen) chosen = terms;
  }
  if (design.terms.size() > factors.size() + 1) out.interaction_p = out.kept.lines[design.terms.size() - 2].p;
  const GaugeEstimate& used = out.pooled_chosen ? *out.pooled : out.kept;
  for (std::size_t f = 0; f < factors.size(); ++f) {
    out.effects.emplace_back();
    if (factors[f].nested_in) continue;
    for (std::size_t t = 0; t + 1 < chosen.size(); ++t) {
      if (chosen[t].factors != std::uint32_t{1} << f) continue;
      out.effects.back() = support::level_effects(design.level_means[f], out.mean, used.lines[t], chosen[t].readings,
                                                  options.confidence_level);
    }
  }
  return out;
}

GaugeStudy gauge_study(std::span<const double> values, std::size_t part_count, std::size_t appraiser_count,
                       std::size_t trial_count, const GaugeOptions& options) {
  std::vector<StudyFactor> factors;
  if (part_count > 1) factors.push_back({"part", part_count, FactorRole::part, false, {}});
  if (appraiser_count > 1) factors.push_back({"appraiser", appraiser_count, FactorRole::measurement, false, {}});
  return gauge_study(values, factors, trial_count, options);
}

GaugeWindow gauge_window(const GaugeEstimate& estimate, const SpecLimits& window, double mean,
                         const WindowOptions& options) {
  constexpr auto function = "gauge_window";
  require_positive(options.sigma_multiple, function, "sigma_multiple");
  require_positive(options.share_limit, function, "share_limit");
  if (!window.lower && !window.upper) throw InvalidInput(function, "window", "has neither a lower nor an upper limit");
  GaugeWindow out;
  out.one_sided = !(window.lower && window.upper);
  if (out.one_sided) require_finite(mean, function, "mean");
  out.room = !out.one_sided ? *window.upper - *window.lower
             : window.upper ? *window.upper - mean
                            : mean - *window.lower;
  if (!out.one_sided && !(out.room > 0.0)) throw InvalidInput(function, "window", "must have lower below upper");
  const double multiple = out.one_sided ? 0.5 * options.sigma_multiple : options.sigma_multiple;
  const GaugeSource &grr = estimate.source("grr"), &repeat = estimate.source("repeatability");
  out.spread = multiple * grr.sd;
  out.share = out.share_lower = out.share_upper = out.floor_share = none;
  out.readings = out.appraisers_needed = out.readings_if_alike = endless;
  // Without room, or where nothing was seen of the measurement (readings that do not differ), there is no share.
  if (!(out.room > 0.0) || !(grr.sd > 0.0)) return out;
  out.share = out.spread / out.room;
  out.share_lower = multiple * grr.sd_lower / out.room;
  out.share_upper = multiple * grr.sd_upper / out.room;
  const double people = floored(grr.sd * grr.sd - repeat.sd * repeat.sd);
  out.floor_share = multiple * std::sqrt(people) / out.room;
  out.judgeable = out.share <= options.share_limit * (1.0 + 1e-9);
  out.demonstrated = out.judgeable ? out.share_upper <= options.share_limit : out.share_lower > options.share_limit;

  // Whole readings; what is a whole number but for rounding counts as that number.
  const auto whole = [](double readings) { return std::max(1.0, std::ceil(readings * (1.0 - 1e-9))); };
  const double wanted = std::pow(options.share_limit * out.room / multiple, 2);
  out.appraisers_needed = whole(grr.sd * grr.sd / wanted);
  out.readings_if_alike = whole(repeat.sd * repeat.sd / wanted);
  if (out.judgeable) {
    out.readings = 1.0;
  } else if (people < wanted) {
    out.readings = whole(repeat.sd * repeat.sd / (wanted - people));
  }
  return out;
}

GaugeIntervals gauge_intervals(double ms_part, double ms_appraiser, double ms_interaction, double ms_repeatability,
                               std::size_t part_count, std::size_t appraiser_count, std::size_t trial_count,
                               double confidence_level, IntervalMethod method) {
  constexpr auto function = "gauge_intervals";
  const auto require_square = [&](double square, const char* name) {
    require_finite(square, function, name);
    if (square < 0.0) throw InvalidInput(function, name, "must not be negative, got " + to_text(square));
  };
  require_square(ms_part, "ms_part");
  require_square(ms_appraiser, "ms_appraiser");
  require_square(ms_interaction, "ms_interaction");
  require_square(ms_repeatability, "ms_repeatability");
  require_open_unit(confidence_level, function, "confidence_level");
  if (part_count < 2 || appraiser_count < 2 || trial_count < 2) {
    throw InvalidInput(function, "part_count, appraiser_count and trial_count", "must each be 2 or more");
  }
  const auto p = static_cast<double>(part_count), a = static_cast<double>(appraiser_count),
             r = static_cast<double>(trial_count);
  support::MeanSquareSet set({{ms_part, p - 1.0},
                              {ms_appraiser, a - 1.0},
                              {ms_interaction, (p - 1.0) * (a - 1.0)},
                              {ms_repeatability, p * a * (r - 1.0)}},
                             confidence_level);
  const std::vector<double> part = {1.0 / (a * r), 0.0, -1.0 / (a * r), 0.0}, repeat = {0.0, 0.0, 0.0, 1.0},
                            people = {0.0, 1.0 / (p * r), (1.0 - 1.0 / p) / r, -1.0 / r},
                            measurement = {0.0, 1.0 / (p * r), (1.0 - 1.0 / p) / r, 1.0 - 1.0 / r};
  GaugeIntervals out;
  const auto put = [&](const std::vector<double>& weights, double& value, double& lower, double& upper) {
    value = set.value(weights);
    const auto found = method == IntervalMethod::satterthwaite ? set.satterthwaite(weights) : set.interval(weights);
    lower = std::isnan(found.lower) ? none : floored(found.lower);
    upper = std::isnan(found.upper) ? none : floored(found.upper);
  };
  put(part, out.variance_part, out.variance_part_lower, out.variance_part_upper);
  put(repeat, out.variance_repeatability, out.variance_repeatability_lower, out.variance_repeatability_upper);
  put(people, out.variance_reproducibility, out.variance_reproducibility_lower, out.variance_reproducibility_upper);
  put(measurement, out.variance_measurement, out.variance_measurement_lower, out.variance_measurement_upper);
  out.reproducibility_df = set.degrees_of_freedom(people);
  out.measurement_df = set.degrees_of_freedom(measurement);
  out.ratio = out.variance_part / out.variance_measurement;
  const auto ratio = method == IntervalMethod::satterthwaite
                         ? support::Interval{none, none}
                         : support::crossed_ratio_interval(set, 0, 1, 2, a * r, measurement);
  out.ratio_lower = ratio.lower;
  out.ratio_upper = ratio.upper;
  out.share = 1.0 / std::sqrt(1.0 + floored(out.ratio));
  out.share_lower = 1.0 / std::sqrt(1.0 + ratio.upper);
  out.share_upper = 1.0 / std::sqrt(1.0 + ratio.lower);
  return out;
}

namespace {

/// SplitMix64 (Steele, Lea and Flood 2014): small, and the same on every machine.
class Draws {
 public:
  explicit Draws(std::uint64_t seed) : state_(seed) {}

  /// Strictly between 0 and 1.
  double uniform() {
    std::uint64_t x = state_ += 0x9E3779B97F4A7C15ULL;
    x = (x ^ (x >> 30U)) * 0xBF58476D1CE4E5B9ULL;
    x = (x ^ (x >> 27U)) * 0x94D049BB133111EBULL;
    return (static_cast<double>((x ^ (x >> 31U)) >> 11U) + 0.5) * 0x1p-53;
  }

 private:
  std::uint64_t state_;
};

/// Expected mean squares at the components floored at 0: of each term its own component, solved from its weights.
/// Weights on terms behind stand above the diagonal only.
std::vector<double> expected_squares(const std::vector<const GaugeSource*>& of_line) {
  std::vector<double> out(of_line.size(), 0.0);
  for (std::size_t t = of_line.size(); t-- > 0;) {
    double rest = of_line[t]->sd * of_line[t]->sd;
    for (std::size_t k = t + 1; k < out.size(); ++k) rest -= of_line[t]->weights[k] * out[k];
    out[t] = rest / of_line[t]->weights[t];
  }
  return out;
}

/// The component of each line: the source that is no sum and has its first weight there.
std::vector<const GaugeSource*> components_by_line(const GaugeEstimate& estimate) {
  std::vector<const GaugeSource*> out(estimate.lines.size(), nullptr);
  for (const GaugeSource& one : estimate.sources) {
    if (one.role == "sum") continue;
    const auto first = std::ranges::find_if(one.weights, [](double weight) { return weight != 0.0; });
    out[static_cast<std::size_t>(first - one.weights.begin())] = &one;
  }
  return out;
}

/// How many of a source's readings are sums of which components: "reproducibility", "grr", "part", "total".
bool belongs(const GaugeSource& component, const std::string& sum) {
  if (sum == "total") return true;
  if (sum == "part") return component.role == "part";
  return component.role == "measurement" && (sum == "grr" || component.source != "repeatability");
}

}  // namespace

std::optional<std::vector<BootstrapInterval>> gauge_bootstrap(const GaugeEstimate& estimate, std::size_t replicates,
                                                              std::uint64_t seed, double confidence_level,
                                                              const std::function<bool()>& keep_going) {
  constexpr auto function = "gauge_bootstrap";
  require_open_unit(confidence_level, function, "confidence_level");
  if (replicates < 100)
    throw InvalidInput(function, "replicates", "must be 100 or more, got " + std::to_string(replicates));
  if (estimate.lines.empty()) throw InvalidInput(function, "estimate", "has no mean squares to draw");
  const auto of_line = components_by_line(estimate);
  const auto expected = expected_squares(of_line);
  const std::size_t count = estimate.sources.size();
  const GaugeSource *part = estimate.find("part"), *grr = estimate.find("grr");
  std::vector<std::vector<double>> drawn(count + 1);
  Draws draws(seed);
  std::vector<double> squares(expected.size()), floors(expected.size()), sds(count);
  for (std::size_t i = 0; i < replicates; ++i) {
    if (keep_going && i % 64 == 0 && !keep_going()) return std::nullopt;
    for (std::size_t k = 0; k < squares.size(); ++k) {
      const double df = estimate.lines[k].degrees_of_freedom;
      squares[k] = expected[k] * chi_square_quantile(draws.uniform(), df) / df;
    }
    for (std::size_t k = 0; k < squares.size(); ++k) {
      double variance = 0.0;
      for (std::size_t j = 0; j < squares.size(); ++j) variance += of_line[k]->weights[j] * squares[j];
      floors[k] = floored(variance);
    }
    for (std::size_t s = 0; s < count; ++s) {
      const GaugeSource& one = estimate.sources[s];
      double variance = 0.0;
      for (std::size_t k = 0; k < floors.size(); ++k) {
        if (one.role == "sum" ? belongs(*of_line[k], one.source) : of_line[k] == &one) variance += floors[k];
      }
      sds[s] = std::sqrt(variance);
      drawn[s].push_back(sds[s]);
    }
    if (part != nullptr) {
      const auto at = [&](const GaugeSource* one) {
        return sds[static_cast<std::size_t>(one - estimate.sources.data())];
      };
      drawn[count].push_back(1.41 * at(part) / at(grr));
    }
  }
  const double tail = 0.5 - 0.5 * confidence_level;
  const auto at = [](std::vector<double>& sorted, double share) {
    const double place = share * static_cast<double>(sorted.size() - 1);
    const auto low = static_cast<std::size_t>(place);
    const double high = sorted[std::min(low + 1, sorted.size() - 1)];
    return sorted[low] + (place - static_cast<double>(low)) * (high - sorted[low]);
  };
  std::vector<BootstrapInterval> out;
  for (std::size_t s = 0; s <= count; ++s) {
    if (drawn[s].empty()) continue;
    std::ranges::sort(drawn[s]);
    const bool ratio = s == count;
    out.push_back({.source = ratio ? "ndc_ratio" : estimate.sources[s].source,
                   .value = ratio ? estimate.ndc_ratio : estimate.sources[s].sd,
                   .lower = at(drawn[s], tail),
                   .upper = at(drawn[s], 1.0 - tail)});
  }
  return out;
}

PooledSd pooled_sd(std::span<const double> sums_of_squares, std::span<const double> degrees_of_freedom) {
  constexpr auto function = "pooled_sd";
  require_count(sums_of_squares.size(), 1, function, "sums_of_squares");
  require_finite(sums_of_squares, function, "sums_of_squares");
  require_finite(degrees_of_freedom, function, "degrees_of_freedom");
  if (sums_of_squares.size() != degrees_of_freedom.size()) {
    throw InvalidInput(
        function, "degrees_of_freedom",
        "number " + std::to_string(degrees_of_freedom.size()) + ", the sums " + std::to_string(sums_of_squares.size()));
  }
  PooledSd out;
  for (std::size_t i = 0; i < sums_of_squares.size(); ++i) {
    if (sums_of_squares[i] < 0.0) throw InvalidInput(function, "sums_of_squares", "must not be negative", i);
    if (!(degrees_of_freedom[i] > 0.0)) throw InvalidInput(function, "degrees_of_freedom", "must be positive", i);
    out.sum_squares += sums_of_squares[i];
    out.degrees_of_freedom += degrees_of_freedom[i];
    out.group_sds.push_back(std::sqrt(sums_of_squares[i] / degrees_of_freedom[i]));
  }
  out.sd = std::sqrt(out.sum_squares / out.degrees_of_freedom);
  return out;
}

PooledSd pooled_sd_from_sds(std::span<const double> sds, std::span<const double> degrees_of_freedom) {
  constexpr auto function = "pooled_sd_from_sds";
  if (sds.size() != degrees_of_freedom.size()) {
    throw InvalidInput(
        function, "degrees_of_freedom",
        "number " + std::to_string(degrees_of_freedom.size()) + ", the sds " + std::to_string(sds.size()));
  }
  std::vector<double> sums;
  for (std::size_t i = 0; i < sds.size(); ++i) {
    if (sds[i] < 0.0) throw InvalidInput(function, "sds", "must not be negative, got " + to_text(sds[i]), i);
    sums.push_back(sds[i] * sds[i] * degrees_of_freedom[i]);
  }
  return pooled_sd(sums, degrees_of_freedom);
}

}  // namespace steadyfilm
