// Gauge studies of any layout by restricted maximum likelihood, reported as a balanced study is.
#include <algorithm>
#include <bit>
#include <cmath>
#include <limits>
#include <utility>

#include <steadyfilm/distributions.hpp>
#include <steadyfilm/gauge_rr.hpp>
#include <steadyfilm/variance_components.hpp>

#include "support/gauge_estimate.hpp"

namespace steadyfilm {

namespace {

using support::Term;

constexpr auto function = "unbalanced_gauge_study";
constexpr double none = std::numeric_limits<double>::quiet_NaN();

/// A term with its levels, reading by reading.
struct Layer {
  Term term;
  CombinedLevels levels;
  bool fixed = false;  ///< a fixed factor alone; what it does together with others is random
};

constexpr std::uint32_t bit(std::size_t factor) { return std::uint32_t{1} << factor; }

void require_codes(std::span<const double> values, std::span<const StudyCodes> factors) {
  require_finite(values, function);
  if (factors.empty() || factors.size() > 8) throw InvalidInput(function, "factors", "must be 1 to 8");
  std::size_t parts = 0;
  for (std::size_t f = 0; f < factors.size(); ++f) {
    const StudyCodes& one = factors[f];
    if (one.levels < 2) throw InvalidInput(function, "factors", "must have 2 levels or more, '" + one.name + "'", f);
    if (one.codes.size() != values.size()) {
      throw InvalidInput(function, "factors", "'" + one.name + "' must have one code a reading", f);
    }
    for (const std::int32_t code : one.codes) {
      if (code < 0 || static_cast<std::size_t>(code) >= one.levels) {
        throw InvalidInput(function, "factors", "'" + one.name + "' has a code outside its levels", f);
      }
    }
    if (one.nested_in && *one.nested_in >= f) {
      throw InvalidInput(function, "factors", "must stand behind the factor they are nested in", f);
    }
    parts += one.role == FactorRole::part ? 1 : 0;
  }
  if (parts > 1) throw InvalidInput(function, "factors", "hold more than one of role part");
}

/// Rank of the indicators of the given layers (and the mean) over distinct rows.
std::size_t rank_of(const std::vector<const Layer*>& layers, std::span<const std::size_t> rows) {
  std::size_t columns = 1;
  for (const Layer* layer : layers) columns += layer->levels.levels;
  std::vector<std::vector<double>> matrix;
  for (const std::size_t row : rows) {
    matrix.emplace_back(columns, 0.0);
    matrix.back()[0] = 1.0;
    std::size_t first = 1;
    for (const Layer* layer : layers) {
      matrix.back()[first + static_cast<std::size_t>(layer->levels.codes[row])] = 1.0;
      first += layer->levels.levels;
    }
  }
  std::size_t rank = 0;
  for (std::size_t c = 0; c < columns && rank < matrix.size(); ++c) {
    std::size_t best = rank;
    for (std::size_t i = rank + 1; i < matrix.size(); ++i) {
      if (std::abs(matrix[i][c]) > std::abs(matrix[best][c])) best = i;
    }
    if (std::abs(matrix[best][c]) < 1e-9) continue;
    std::swap(matrix[rank], matrix[best]);
    for (std::size_t i = rank + 1; i < matrix.size(); ++i) {
      const double factor = matrix[i][c] / matrix[rank][c];
      if (factor == 0.0) continue;
      for (std::size_t k = c; k < columns; ++k) matrix[i][k] -= factor * matrix[rank][k];
    }
    ++rank;
  }
  return rank;
}

/// First reading of each level.
std::vector<std::size_t> first_rows(const CombinedLevels& levels) {
  std::vector<std::size_t> out(levels.levels, levels.codes.size());
  for (std::size_t i = levels.codes.size(); i-- > 0;) out[static_cast<std::size_t>(levels.codes[i])] = i;
  return out;
}

double harmonic_readings(const CombinedLevels& levels) {
  std::vector<double> counts(levels.levels, 0.0);
  for (const std::int32_t code : levels.codes) counts[static_cast<std::size_t>(code)] += 1.0;
  double inverse = 0.0;
  for (const double count : counts) inverse += 1.0 / count;
  return static_cast<double>(counts.size()) / inverse;
}

/// All terms that the layout can tell from repeatability, main effects first.
std::vector<Layer> layers_of(std::span<const double> values, std::span<const StudyCodes> factors) {
  const std::uint32_t full = bit(factors.size()) - 1;
  std::vector<Layer> out;
  for (std::uint32_t set = 1; set <= full; ++set) {
    std::uint32_t around = 0;
    for (std::size_t f = 0; f < factors.size(); ++f) {
      if (!(set & bit(f))) continue;
      for (auto outer = factors[f].nested_in; outer; outer = factors[*outer].nested_in) around |= bit(*outer);
    }
    if ((around & ~set) != 0) continue;
    Layer layer;
    layer.term.factors = set;
    layer.term.own = set & ~around;
    for (std::size_t f = 0; f < factors.size(); ++f) {
      if (!(layer.term.own & bit(f))) continue;
      const StudyCodes& one = factors[f];
      if (layer.term.name.empty()) {
        layer.levels = {{one.codes.begin(), one.codes.end()}, one.levels};
        layer.term.name = one.name;
      } else {
        layer.levels = combine_levels(layer.levels.codes, one.codes);
        layer.term.name += " x " + one.name;
      }
    }
    if (layer.levels.levels == values.size()) continue;  // one reading a cell: part of repeatability
    for (std::size_t f = 0; f < factors.size(); ++f) layer.fixed = layer.fixed || (set == bit(f) && factors[f].fixed);
    out.push_back(std::move(layer));
  }
  std::ranges::stable_sort(out, {}, [](const Layer& one) { return std::popcount(one.term.own); });
  return out;
}

/// Degrees of freedom and readings a level of each term, and of what is left.
double set_degrees_of_freedom(std::vector<Layer>& layers, std::size_t count) {
  for (Layer& layer : layers) {
    std::vector<const Layer*> inside;
    for (const Layer& other : layers) {
      if (other.term.factors != layer.term.factors && (other.term.factors & ~layer.term.factors) == 0) {
        inside.push_back(&other);
      }
    }
    const auto rows = first_rows(layer.levels);
    layer.term.degrees_of_freedom =
        static_cast<double>(layer.levels.levels) - static_cast<double>(rank_of(inside, rows));
    layer.term.readings = harmonic_readings(layer.levels);
    if (!(layer.term.degrees_of_freedom >= 1.0)) {
      throw InvalidInput(
          function, "factors",
          "leave '" + layer.term.name + "' without a degree of freedom: too few of its combinations were read");
    }
  }
  // Readings of one combination of all factors are alike to every term.
  CombinedLevels cells = layers.front().levels;
  std::vector<const Layer*> all;
  for (const Layer& layer : layers) {
    cells = combine_levels(cells.codes, layer.levels.codes);
    all.push_back(&layer);
  }
  return static_cast<double>(count) - static_cast<double>(rank_of(all, first_rows(cells)));
}

struct Fit {
  std::vector<Term> terms;
  std::vector<double> shown;  ///< components, repeatability last: where the likelihood is highest at 0 what is below it
  double criterion = 0.0;
  double mean = 0.0;
};

/// Effects of a fixed factor about the mean of all its levels.
struct Centered {
  std::vector<double> effects;
  double middle = 0.0;     ///< mean of the levels, over the base
  double component = 0.0;  ///< sum of squares over one less than their number, less the share of chance
};

Centered centered(const MixedComponents& found, const std::string& term, std::size_t levels) {
  // Level 0 is the base: effect 0, known without error.
  std::vector<std::size_t> place(levels, 0);
  Centered out{std::vector<double>(levels, 0.0)};
  for (std::size_t k = 1; k < found.fixed.size(); ++k) {
    if (found.fixed[k].term != term) continue;
    const auto level = static_cast<std::size_t>(found.fixed[k].level);
    place[level] = k;
    out.effects[level] = found.fixed[k].estimate;
  }
  const auto count = static_cast<double>(levels);
  double chance = 0.0;  // trace of the covariance of the centered effects
  for (std::size_t i = 0; i < levels; ++i) {
    for (std::size_t j = 0; j < levels; ++j) {
      if (place[i] == 0 || place[j] == 0) continue;
      chance += found.fixed_covariance[place[i] * found.fixed.size() + place[j]] * ((i == j ? 1.0 : 0.0) - 1.0 / count);
    }
  }
  for (const double effect : out.effects) out.middle += effect / count;
  for (double& effect : out.effects) {
    effect -= out.middle;
    out.component += effect * effect;
  }
  out.component = (out.component - chance) / (count - 1.0);
  return out;
}

/// All terms fixed, of which the mixed model makes nothing: least squares.
MixedComponents least_squares(std::span<const double> values, const std::vector<const Layer*>& layers) {
  MixedComponents out;
  out.convergence.converged = true;
  out.fixed.push_back({.term = "mean", .level = -1});
  std::vector<std::size_t> first;  // column of each term's level 1
  for (const Layer* one : layers) {
    first.push_back(out.fixed.size());
    for (std::size_t l = 1; l < one->levels.levels; ++l) {
      out.fixed.push_back({.term = one->term.name, .level = static_cast<std::int32_t>(l)});
    }
  }
  const auto columns_of = [&](std::size_t i) {
    std::vector<std::size_t> columns = {0};
    for (std::size_t k = 0; k < layers.size(); ++k) {
      const auto level = static_cast<std::size_t>(layers[k]->levels.codes[i]);
      if (level > 0) columns.push_back(first[k] + level - 1);
    }
    return columns;
  };
  // X'X beside I, turned into I beside the inverse; X'y in readings about the first one.
  const std::size_t p = out.fixed.size();
  std::vector<std::vector<double>> rows(p, std::vector<double>(2 * p, 0.0));
  std::vector<double> side(p, 0.0);
  for (std::size_t i = 0; i < values.size(); ++i) {
    const auto columns = columns_of(i);
    for (const std::size_t a : columns) {
      side[a] += values[i] - values[0];
      for (const std::size_t b : columns) rows[a][b] += 1.0;
    }
  }
  for (std::size_t a = 0; a < p; ++a) rows[a][p + a] = 1.0;
  for (std::size_t c = 0; c < p; ++c) {  // positive definite: the pivots are above 0, unless effects are confounded
    const double pivot = rows[c][c];
    if (!(pivot > 1e-9)) {
      std::string names;
      for (const Layer* one : layers) names += (names.empty() ? "'" : " and '") + one->term.name + "'";
      throw InvalidInput(
          function, "factors",
          "leave " + names + " apart in groups that no reading joins: let some of one read those of another");
    }
    for (double& x : rows[c]) x /= pivot;
    for (std::size_t a = 0; a < p; ++a) {
      const double factor = rows[a][c];
      if (a == c || factor == 0.0) continue;
      for (std::size_t k = 0; k < 2 * p; ++k) rows[a][k] -= factor * rows[c][k];
    }
  }
  for (std::size_t a = 0; a < p; ++a) {
    out.fixed[a].estimate = a == 0 ? values[0] : 0.0;
    for (std::size_t b = 0; b < p; ++b) out.fixed[a].estimate += rows[a][p + b] * side[b];
  }
  double squares = 0.0;
  for (std::size_t i = 0; i < values.size(); ++i) {
    double rest = values[i];
    for (const std::size_t a : columns_of(i)) rest -= out.fixed[a].estimate;
    squares += rest * rest;
  }
  const double variance = squares / (static_cast<double>(values.size()) - static_cast<double>(p));
  out.components.emplace_back().variance = variance;
  for (std::size_t a = 0; a < p; ++a) {
    for (std::size_t b = 0; b < p; ++b) out.fixed_covariance.push_back(variance * rows[a][p + b]);
  }
  return out;
}

/// Components and fixed effects of the layers, `at` (if any) and those that are so anyhow fixed.
MixedComponents fitted(std::span<const double> values, const std::vector<Layer>& layers, std::size_t at,
                       const std::function<bool()>& keep_going) {
  MixedModel model;
  std::vector<const Layer*> settled;
  for (std::size_t k = 0; k < layers.size(); ++k) {
    const Layer& one = layers[k];
    const bool fixed = one.fixed || k == at;
    (fixed ? model.fixed : model.random).push_back({one.term.name, one.levels.codes, one.levels.levels});
    if (fixed) settled.push_back(&one);
  }
  if (model.random.empty()) return least_squares(values, settled);
  return mixed_components(values, model, {.profile_intervals = false, .predictions = false, .keep_going = keep_going});
}

constexpr std::size_t none_at = std::numeric_limits<std::size_t>::max();

Fit fit_layers(std::span<const double> values, const std::vector<Layer>& layers, double residual_df,
               const std::function<bool()>& keep_going) {
  const auto found = fitted(values, layers, none_at, keep_going);
  if (!found.convergence.converged) {
    throw InvalidInput(function, "values",
                       "have a likelihood whose highest point was not found; there is none where repeats agree to the "
                       "last digit shown");
  }
  Fit out;
  out.criterion = found.criterion;
  out.mean = found.fixed.front().estimate;
  const double repeat = found.components.back().variance;
  std::vector<double> components;  // at least 0, layer by layer
  std::size_t next = 0;
  for (const Layer& one : layers) {
    if (one.fixed) {
      const Centered effects = centered(found, one.term.name, one.levels.levels);
      out.mean += effects.middle;
      out.shown.push_back(effects.component);
    } else {
      const MixedComponent& own = found.components[next++];
      out.shown.push_back(own.variance > 0.0 ? own.variance : std::min(0.0, own.unbiased_variance));
    }
    components.push_back(std::max(0.0, out.shown.back()));
  }
  out.shown.push_back(repeat);
  for (const Layer& one : layers) {
    Term term = one.term;
    double square = repeat;
    for (std::size_t u = 0; u < layers.size(); ++u) {
      if ((layers[u].term.factors & term.factors) == term.factors) {
        square += layers[u].term.readings * components[u];
      }
    }
    term.sum_squares = square * term.degrees_of_freedom;
    out.terms.push_back(std::move(term));
  }
  Term rest;
  rest.name = "repeatability";
  rest.readings = 1.0;
  rest.degrees_of_freedom = residual_df;
  rest.sum_squares = repeat * residual_df;
  out.terms.push_back(std::move(rest));
  return out;
}

/// An estimate whose components at 0 are shown as the unbiased quadratic form has them, and whose lines are not tested.
GaugeEstimate estimate_of(const Fit& fit, std::span<const StudyFactor> factors, const GaugeOptions& options) {
  GaugeEstimate out = support::gauge_estimate(fit.terms, factors, options);
  for (AnovaLine& line : out.lines) line.f = line.p = none;
  for (GaugeSource& one : out.sources) {
    double variance = 0.0;
    for (std::size_t k = 0; k < one.weights.size(); ++k) {
      // Back from mean squares to components: each is what the terms that hold it add to its own.
      double square = fit.shown.back();
      for (std::size_t u = 0; u + 1 < fit.terms.size(); ++u) {
        const bool last = k + 1 == fit.terms.size();
        if (!last && (fit.terms[u].factors & fit.terms[k].factors) == fit.terms[k].factors) {
          square += fit.terms[u].readings * fit.shown[u];
        }
      }
      variance += one.weights[k] * square;
    }
    one.variance = variance;
  }
  return out;
}

/// Means of a factor's levels free of what the other factors did to them: that factor fixed, and those that are so
/// anyhow, the others random.
std::vector<double> adjusted_means(std::span<const double> values, const std::vector<Layer>& layers, std::size_t at,
                                   const std::function<bool()>& keep_going) {
  const auto found = fitted(values, layers, at, keep_going);
  std::vector<double> out(layers[at].levels.levels, 0.0);
  double base = found.fixed.front().estimate;
  for (std::size_t k = 0; k < layers.size(); ++k) {
    if (k != at && layers[k].fixed) base += centered(found, layers[k].term.name, layers[k].levels.levels).middle;
  }
  const Centered own = centered(found, layers[at].term.name, out.size());
  for (std::size_t l = 0; l < out.size(); ++l) out[l] = base + own.middle + own.effects[l];
  return out;
}

}  // namespace

GaugeStudy unbalanced_gauge_study(std::span<const double> values, std::span<const StudyCodes> factors,
                                  const GaugeOptions& options, const std::function<bool()>& keep_going) {
  require_open_unit(options.confidence_level, function, "confidence_level");
  require_codes(values, factors);
  std::vector<StudyFactor> plain;
  for (const StudyCodes& one : factors) plain.push_back({one.name, one.levels, one.role, one.fixed, one.nested_in});

  auto layers = layers_of(values, factors);
  if (layers.empty()) throw InvalidInput(function, "values", "leave nothing for repeatability");
  const double residual_df = set_degrees_of_freedom(layers, values.size());
  if (!(residual_df >= 1.0)) {
    throw InvalidInput(function, "values", "leave nothing for repeatability: read some part twice");
  }
  const Fit full = fit_layers(values, layers, residual_df, keep_going);
  GaugeStudy out;
  out.restricted_likelihood = true;
  out.mean = full.mean;
  out.kept = estimate_of(full, plain, options);
  out.interaction_p = none;

  const auto without = [&](const std::vector<std::size_t>& left_out, double& df) {
    std::vector<Layer> fewer;
    for (std::size_t t = 0; t < layers.size(); ++t) {
      if (std::ranges::find(left_out, t) == left_out.end()) fewer.push_back(layers[t]);
    }
    df = set_degrees_of_freedom(fewer, values.size());
    return fewer;
  };
  double df = residual_df;
  for (std::size_t t = 0; t < layers.size(); ++t) {
    if (std::popcount(layers[t].term.own) < 2) continue;
    const Fit fewer = fit_layers(values, without({t}, df), df, keep_going);
    // At the edge of its space a component's likelihood ratio is 0 half the time (Self and Liang 1987).
    const double ratio = fewer.criterion - full.criterion;
    out.kept.lines[t].p = ratio > 1e-9 ? 0.5 * chi_square_survival(ratio, 1.0) : 1.0;
    out.interaction_p = out.kept.lines[t].p;
  }
  const bool crossed = factors.size() == 2 && !factors[1].nested_in;
  const auto pooled = support::poolable_terms(full.terms, out.kept, options.pooling_level, crossed);
  std::vector<Layer> chosen = layers;
  const Fit* used = &full;
  Fit smaller;
  if (!pooled.empty()) {
    const auto fewer = without(pooled, df);
    smaller = fit_layers(values, fewer, df, keep_going);
    out.pooled = estimate_of(smaller, plain, options);
    for (const std::size_t t : pooled) out.pooled->pooled_terms.push_back(layers[t].term.name);
    out.pooled_chosen = !crossed || out.kept.lines[pooled.front()].p > options.pooling_level;
    if (out.pooled_chosen) {
      chosen = fewer;
      used = &smaller;
    }
  }
  const GaugeEstimate tested = support::gauge_estimate(used->terms, plain, options);
  for (std::size_t f = 0; f < factors.size(); ++f) {
    out.effects.emplace_back();
    if (factors[f].nested_in) continue;
    for (std::size_t t = 0; t < chosen.size(); ++t) {
      if (chosen[t].term.factors != bit(f)) continue;
      const auto means = adjusted_means(values, chosen, t, keep_going);
      double middle = 0.0;
      for (const double mean : means) middle += mean / static_cast<double>(means.size());
      out.effects.back() =
          support::level_effects(means, middle, tested.lines[t], chosen[t].term.readings, options.confidence_level);
    }
  }
  return out;
}

}  // namespace steadyfilm
