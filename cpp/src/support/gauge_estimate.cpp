#include "support/gauge_estimate.hpp"

#include <algorithm>
#include <bit>
#include <cmath>
#include <limits>

#include <steadyfilm/distributions.hpp>

namespace steadyfilm::support {

namespace {

constexpr double none = std::numeric_limits<double>::quiet_NaN();

double root(double variance) { return std::isnan(variance) ? none : std::sqrt(std::max(0.0, variance)); }

std::vector<double> plus(std::vector<double> a, const std::vector<double>& b) {
  for (std::size_t i = 0; i < a.size(); ++i) a[i] += b[i];
  return a;
}

/// A term's own mean square without what the term adds: what it is tested over.
std::vector<double> denominator(const std::vector<Term>& terms, const std::vector<std::vector<double>>& weights,
                                std::size_t t) {
  std::vector<double> out(terms.size(), 0.0);
  out[t] = 1.0;
  for (std::size_t k = 0; k < out.size(); ++k) out[k] -= terms[t].readings * weights[t][k];
  out[t] = 0.0;  // exactly
  return out;
}

struct Tested {
  double value = none;
  double degrees_of_freedom = none;
};

/// One mean square, or a sum of several with degrees of freedom by Satterthwaite.
Tested tested_over(const std::vector<Term>& terms, const std::vector<double>& over) {
  double value = 0.0, spread = 0.0;
  std::size_t parts = 0, last = 0;
  for (std::size_t k = 0; k < terms.size(); ++k) {
    if (std::abs(over[k]) < 1e-12) continue;
    const double part = over[k] * terms[k].sum_squares / terms[k].degrees_of_freedom;
    value += part;
    spread += part * part / terms[k].degrees_of_freedom;
    ++parts;
    last = k;
  }
  if (parts == 1) return {terms[last].sum_squares / terms[last].degrees_of_freedom, terms[last].degrees_of_freedom};
  return {value, spread > 0.0 ? value * value / spread : none};
}

AnovaLine line_of(const Term& term) {
  return {.source = term.name,
          .sum_squares = term.sum_squares,
          .degrees_of_freedom = term.degrees_of_freedom,
          .mean_square = term.sum_squares / term.degrees_of_freedom,
          .f = none,
          .denominator_mean_square = none,
          .denominator_degrees_of_freedom = none,
          .p = none};
}

void test_line(AnovaLine& line, const Tested& over) {
  line.f = line.p = none;
  line.denominator_mean_square = over.value;
  line.denominator_degrees_of_freedom = over.degrees_of_freedom;
  if (!(over.value >= 0.0) || (over.value == 0.0 && line.mean_square == 0.0)) return;
  line.f = line.mean_square / over.value;
  line.p = std::isinf(line.f) ? 0.0 : f_survival(line.f, line.degrees_of_freedom, over.degrees_of_freedom);
}

bool is_part(const Term& term, std::span<const StudyFactor> factors) {
  for (std::size_t f = 0; f < factors.size(); ++f) {
    if ((term.own >> f & 1U) && factors[f].role == FactorRole::measurement) return false;
  }
  return true;
}

/// A fixed factor alone: its mean square is noncentral; degrees of freedom of the chi-square with the same variance,
/// n F^2 / (2 F - 1) (Patnaik 1949), grow with its effects.
double matched_degrees_of_freedom(const Term& term, std::span<const StudyFactor> factors, double f) {
  for (std::size_t k = 0; k < factors.size(); ++k) {
    if (term.factors == std::uint32_t{1} << k && factors[k].fixed && f > 1.0) {
      return std::isinf(f) ? 1e9 : std::min(1e9, term.degrees_of_freedom * f * f / (2.0 * f - 1.0));
    }
  }
  return term.degrees_of_freedom;
}

struct Builder {
  GaugeEstimate& out;
  MeanSquareSet& squares;
  IntervalMethod method;

  void add(std::string name, std::string role, std::vector<double> weights, double floored) const {
    GaugeSource one;
    one.source = std::move(name);
    one.role = std::move(role);
    one.variance = squares.value(weights);
    one.sd = root(floored);
    one.degrees_of_freedom = squares.degrees_of_freedom(weights);
    const Interval found =
        method == IntervalMethod::satterthwaite ? squares.satterthwaite(weights) : squares.interval(weights);
    one.sd_lower = root(found.lower);
    one.sd_upper = root(found.upper);
    one.share_of_variance_lower = one.share_of_variance_upper = none;
    one.weights = std::move(weights);
    out.sources.push_back(std::move(one));
  }
};

/// Ends of part variance over measurement variance, by the way that the design asks for.
Interval ratio_interval(MeanSquareSet& squares, const std::vector<Term>& terms, std::span<const StudyFactor> factors,
                        const GaugeSource& part, const GaugeSource& grr, IntervalMethod method,
                        double confidence_level) {
  const double tail = 0.5 - 0.5 * confidence_level;
  const bool crossed = factors.size() == 2 && !factors[0].nested_in && !factors[1].nested_in;
  const bool plain = crossed || factors.size() == 1 || method == IntervalMethod::satterthwaite;
  // With nested parts the raw estimate may lie below 0; shares have an interval all the same.
  if (plain && !(grr.variance > 0.0)) return {none, none};
  if (method == IntervalMethod::satterthwaite) {
    if (!(part.variance > 0.0)) return {none, none};
    const double ratio = part.variance / grr.variance, n1 = part.degrees_of_freedom, n2 = grr.degrees_of_freedom;
    return {ratio / f_quantile(1.0 - tail, n1, n2), ratio / f_quantile(tail, n1, n2)};
  }
  const std::size_t last = terms.size() - 1;
  if (factors.size() == 1) {  // exact
    const double f = squares[0].value / squares[last].value, readings = terms[0].readings;
    return {std::max(0.0, (f / squares.f_upper(0, last) - 1.0) / readings),
            std::max(0.0, (f / squares.f_lower(0, last) - 1.0) / readings)};
  }
  if (crossed) {
    const std::size_t p = factors[0].role == FactorRole::measurement ? 1 : 0;
    return crossed_ratio_interval(squares, p, 1 - p, 2, terms[p].readings, grr.weights);
  }
  std::vector<double> whole = plus(grr.weights, part.weights);
  const Interval share = squares.share(grr.weights, whole);
  return {1.0 / share.upper - 1.0,
          share.lower > 0.0 ? 1.0 / share.lower - 1.0 : std::numeric_limits<double>::infinity()};
}

void set_shares(GaugeEstimate& out, MeanSquareSet& squares, const std::vector<Term>& terms,
                std::span<const StudyFactor> factors, const GaugeOptions& options) {
  const GaugeSource *grr = out.find("grr"), *part = out.find("part"), *total = out.find("total");
  out.ndc_ratio = out.ndc_ratio_lower = out.ndc_ratio_upper = out.ndc = none;
  for (GaugeSource& one : out.sources) {
    const bool known = total != nullptr && total->sd > 0.0;
    one.share_of_variance = known ? one.sd * one.sd / (total->sd * total->sd) : none;
  }
  if (total != nullptr) {
    set_ndc(part->sd, grr->sd, out.ndc_ratio, out.ndc);
    const Interval ratio =
        ratio_interval(squares, terms, factors, *part, *grr, options.interval_method, options.confidence_level);
    out.ndc_ratio_lower = 1.41 * std::sqrt(ratio.lower);
    out.ndc_ratio_upper = 1.41 * std::sqrt(ratio.upper);
    for (GaugeSource& one : out.sources) {
      if (&one == total) {
        one.share_of_variance_lower = one.share_of_variance_upper = one.share_of_variance;
      } else if (&one == grr || (one.role == "measurement" && one.weights == grr->weights)) {
        one.share_of_variance_lower = 1.0 / (1.0 + ratio.upper);
        one.share_of_variance_upper = 1.0 / (1.0 + ratio.lower);
      } else if (&one == part) {
        one.share_of_variance_lower = 1.0 - 1.0 / (1.0 + ratio.lower);
        one.share_of_variance_upper = 1.0 - 1.0 / (1.0 + ratio.upper);
      } else if (options.interval_method == IntervalMethod::modified_large_sample && total->sd > 0.0) {
        const Interval share = squares.share(one.weights, total->weights);
        one.share_of_variance_lower = share.lower;
        one.share_of_variance_upper = share.upper;
      }
    }
  }
  for (GaugeSource& one : out.sources) {
    one.share_of_total = std::sqrt(one.share_of_variance);
    one.share_of_total_lower = std::sqrt(one.share_of_variance_lower);
    one.share_of_total_upper = std::sqrt(one.share_of_variance_upper);
  }
}

}  // namespace

void set_ndc(double pv, double grr, double& ratio, double& ndc) {
  ratio = pv == 0.0 && grr == 0.0 ? none : 1.41 * pv / grr;
  // A ratio that is a whole number but for rounding counts as that number.
  ndc = std::isnan(ratio) ? none : std::max(1.0, std::floor(ratio * (1.0 + 1e-12)));
}

Interval crossed_ratio_interval(MeanSquareSet& squares, std::size_t part, std::size_t appraiser,
                                std::size_t interaction, double readings_a_part, std::span<const double> measurement) {
  const double between = squares[part].value, within = squares[interaction].value;
  const double people = measurement[appraiser] * squares[appraiser].value;
  double rest = 0.0;
  for (std::size_t k = 0; k < squares.size(); ++k) {
    if (k != appraiser) rest += measurement[k] * squares[k].value;
  }
  const double down = 1.0 - squares.reach_down(part), up = 1.0 + squares.reach_up(part);
  return {std::max(0.0, down * (between - squares.f_upper(part, interaction) * within) / readings_a_part /
                            (rest + down * squares.f_upper(part, appraiser) * people)),
          std::max(0.0, up * (between - squares.f_lower(part, interaction) * within) / readings_a_part /
                            (rest + up * squares.f_lower(part, appraiser) * people))};
}

GaugeEstimate gauge_estimate(const std::vector<Term>& terms, std::span<const StudyFactor> factors,
                             const GaugeOptions& options) {
  GaugeEstimate out;
  const std::size_t last = terms.size() - 1;
  const auto weights = component_weights(terms);
  std::vector<MeanSquare> squares;
  for (std::size_t t = 0; t <= last; ++t) {
    out.lines.push_back(line_of(terms[t]));
    double df = terms[t].degrees_of_freedom;
    if (t < last) {
      const auto own = tested_over(terms, denominator(terms, weights, t));
      test_line(out.lines[t], own);
      df = matched_degrees_of_freedom(terms[t], factors, out.lines[t].mean_square / own.value);
    }
    squares.push_back({out.lines[t].mean_square, df});
  }
  if (options.f_denominator == FDenominator::repeatability) {
    for (std::size_t t = 0; t < last; ++t) {
      test_line(out.lines[t], {out.lines[last].mean_square, out.lines[last].degrees_of_freedom});
    }
  }
  MeanSquareSet set(std::move(squares), options.confidence_level);

  // Weights of the sums, and their variances with negative components counted as 0.
  const std::vector<double> zero(terms.size(), 0.0);
  std::vector<double> people = zero, part = zero;
  double people_floored = 0.0, part_floored = 0.0;
  std::size_t measurement_terms = 0, part_terms = 0;
  const Builder builder{out, set, options.interval_method};
  const double repeat = set.value(weights[last]);
  builder.add("repeatability", "measurement", weights[last], repeat);
  for (std::size_t t = 0; t < last; ++t) {
    if (is_part(terms[t], factors)) {
      part = plus(part, weights[t]);
      part_floored += std::max(0.0, set.value(weights[t]));
      ++part_terms;
      continue;
    }
    const double floored = std::max(0.0, set.value(weights[t]));
    builder.add(terms[t].name, "measurement", weights[t], floored);
    people = plus(people, weights[t]);
    people_floored += floored;
    ++measurement_terms;
  }
  if (measurement_terms > 0) builder.add("reproducibility", "sum", people, people_floored);
  const std::vector<double> grr = plus(people, weights[last]);
  builder.add("grr", "sum", grr, people_floored + repeat);
  if (part_terms > 0) {
    for (std::size_t t = 0; t < last; ++t) {
      if (!is_part(terms[t], factors)) continue;
      // Beside a grouping of parts, "part" is the sum of both.
      const bool alone = part_terms == 1;
      builder.add(alone                     ? "part"
                  : terms[t].name == "part" ? "part within groups"
                                            : terms[t].name,
                  "part", weights[t], std::max(0.0, set.value(weights[t])));
    }
    if (part_terms > 1) builder.add("part", "sum", part, part_floored);
    builder.add("total", "sum", plus(grr, part), people_floored + repeat + part_floored);
  }
  set_shares(out, set, terms, factors, options);
  return out;
}

std::vector<std::size_t> poolable_terms(const std::vector<Term>& terms, const GaugeEstimate& kept, double level,
                                        bool whatever) {
  std::vector<std::size_t> out;
  for (std::size_t t = terms.size() - 1; t-- > 0;) {
    if (std::popcount(terms[t].own) < 2) continue;
    bool held = false;
    for (std::size_t u = t + 1; u + 1 < terms.size(); ++u) {
      held =
          held || ((terms[u].factors & terms[t].factors) == terms[t].factors && std::ranges::find(out, u) == out.end());
    }
    if (!held && (whatever || kept.lines[t].p > level)) out.push_back(t);
  }
  return out;
}

std::vector<GaugeEffect> level_effects(const std::vector<double>& means, double mean, const AnovaLine& line,
                                       double readings, double confidence_level) {
  std::vector<GaugeEffect> out;
  const auto levels = static_cast<double>(means.size());
  double reach = none;
  if (line.denominator_mean_square >= 0.0 && line.denominator_degrees_of_freedom > 0.0) {
    reach = student_t_quantile(0.5 + 0.5 * confidence_level, line.denominator_degrees_of_freedom) *
            std::sqrt(line.denominator_mean_square / readings * (1.0 - 1.0 / levels));
  }
  for (const double level : means) {
    const double effect = level - mean;
    out.push_back({.mean = level, .effect = effect, .lower = effect - reach, .upper = effect + reach});
  }
  return out;
}

}  // namespace steadyfilm::support
