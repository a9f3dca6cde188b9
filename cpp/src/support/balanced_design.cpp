#include "support/balanced_design.hpp"

#include <algorithm>
#include <bit>
#include <cmath>

#include "support/double_double.hpp"
#include "support/grouped_means.hpp"

namespace steadyfilm::support {

namespace {

constexpr std::uint32_t bit(std::size_t factor) { return std::uint32_t{1} << factor; }

/// The factors around each factor, itself not among them.
std::vector<std::uint32_t> around(std::span<const StudyFactor> factors) {
  std::vector<std::uint32_t> out(factors.size(), 0);
  for (std::size_t f = 0; f < factors.size(); ++f) {
    for (auto outer = factors[f].nested_in; outer; outer = factors[*outer].nested_in) out[f] |= bit(*outer);
  }
  return out;
}

double cells_of(std::uint32_t set, std::span<const StudyFactor> factors) {
  double cells = 1.0;
  for (std::size_t f = 0; f < factors.size(); ++f) {
    if (set & bit(f)) cells *= static_cast<double>(factors[f].levels);
  }
  return cells;
}

std::string name_of(std::uint32_t set, std::uint32_t own, std::span<const StudyFactor> factors) {
  std::string name;
  for (std::size_t f = 0; f < factors.size(); ++f) {
    if (!(set & own & bit(f))) continue;
    if (!name.empty()) name += " x ";
    name += factors[f].name;
  }
  return name;
}

/// Means over all factors but those of a set, in the order of the factors.
std::vector<DoubleDouble> margin(const std::vector<DoubleDouble>& cells, std::uint32_t from, std::uint32_t to,
                                 std::span<const StudyFactor> factors) {
  std::vector<DoubleDouble> now = cells;
  // The fastest factor first, so that what lies behind it stays in place.
  std::size_t inner = 1;
  for (std::size_t f = factors.size(); f-- > 0;) {
    if (!(from & bit(f))) continue;
    const std::size_t levels = factors[f].levels;
    if (to & bit(f)) {
      inner *= levels;
      continue;
    }
    std::vector<DoubleDouble> next(now.size() / levels);
    for (std::size_t i = 0; i < next.size(); ++i) {
      const std::size_t outer = i / inner, rest = i % inner;
      DoubleDouble sum;
      for (std::size_t l = 0; l < levels; ++l) sum = sum + now[(outer * levels + l) * inner + rest];
      next[i] = divide(sum, static_cast<double>(levels));
    }
    now = std::move(next);
  }
  return now;
}

/// For each cell of `set`, the position of its cell of the subset `part`.
std::vector<std::size_t> positions(std::uint32_t set, std::uint32_t part, std::span<const StudyFactor> factors) {
  std::vector<std::size_t> out(static_cast<std::size_t>(cells_of(set, factors)), 0);
  for (std::size_t i = 0; i < out.size(); ++i) {
    std::size_t rest = i, scale = 1;
    for (std::size_t f = factors.size(); f-- > 0;) {
      if (!(set & bit(f))) continue;
      const std::size_t level = rest % factors[f].levels;
      rest /= factors[f].levels;
      if (!(part & bit(f))) continue;
      out[i] += level * scale;
      scale *= factors[f].levels;
    }
  }
  return out;
}

}  // namespace

BalancedDesign balanced_design(std::span<const double> values, std::span<const StudyFactor> factors,
                               std::size_t trial_count, std::string_view function) {
  const std::size_t count = factors.size();
  const std::uint32_t full = bit(count) - 1;
  const auto outer = around(factors);
  const auto wide = widened(values);
  const auto cells = means_of_runs(wide, trial_count);

  // Sets that hold, with a factor, all that it is nested in; and of each the factors that nothing in it is nested in.
  struct Set {
    std::uint32_t factors = 0;
    std::uint32_t own = 0;
  };
  std::vector<Set> sets;
  for (std::uint32_t set = 0; set <= full; ++set) {
    std::uint32_t needed = 0;
    for (std::size_t f = 0; f < count; ++f) {
      if (set & bit(f)) needed |= outer[f];
    }
    if ((needed & ~set) == 0) sets.push_back({set, set & ~needed});
  }
  std::ranges::stable_sort(sets, {}, [](const Set& one) { return std::popcount(one.own); });

  std::vector<std::vector<DoubleDouble>> means(full + 1);
  for (const Set& one : sets) means[one.factors] = margin(cells, full, one.factors, factors);

  BalancedDesign out;
  out.mean = means[0][0].value();
  require_finite(out.mean, function, "mean of values");
  Squares squares(values);
  const auto total = static_cast<double>(values.size());
  for (const Set& one : sets) {
    if (one.own == 0) continue;  // the mean itself
    // The effect of a cell: signed means over the subsets that leave out some of its own factors.
    std::vector<DoubleDouble> effects(means[one.factors].size());
    for (const Set& part : sets) {
      const std::uint32_t left_out = one.factors & ~part.factors;
      if ((part.factors & ~one.factors) != 0 || (left_out & ~one.own) != 0) continue;
      const bool minus = std::popcount(left_out) % 2 == 1;
      const auto place = positions(one.factors, part.factors, factors);
      for (std::size_t i = 0; i < effects.size(); ++i) {
        const DoubleDouble mean = means[part.factors][place[i]];
        effects[i] = effects[i] + (minus ? -mean : mean);
      }
    }
    for (const DoubleDouble& effect : effects) squares.add(effect);
    Term term;
    term.factors = one.factors;
    term.own = one.own;
    term.name = name_of(one.factors, one.own, factors);
    term.readings = total / cells_of(one.factors, factors);
    term.sum_squares = squares.take(term.readings);
    term.degrees_of_freedom = 1.0;
    for (std::size_t f = 0; f < count; ++f) {
      if (!(one.factors & bit(f))) continue;
      const auto levels = static_cast<double>(factors[f].levels);
      term.degrees_of_freedom *= one.own & bit(f) ? levels - 1.0 : levels;
    }
    require_finite(term.sum_squares, function, "sum of squares of values");
    out.terms.push_back(std::move(term));
  }
  Term rest;
  rest.readings = 1.0;
  if (trial_count > 1) {
    for (std::size_t i = 0; i < wide.size(); ++i) squares.add(wide[i] + -cells[i / trial_count]);
    rest.sum_squares = squares.take(1.0);
    rest.degrees_of_freedom = static_cast<double>(cells.size()) * static_cast<double>(trial_count - 1);
    require_finite(rest.sum_squares, function, "sum of squares of values");
  } else {
    rest.sum_squares = out.terms.back().sum_squares;
    rest.degrees_of_freedom = out.terms.back().degrees_of_freedom;
    out.terms.pop_back();
  }
  rest.name = "repeatability";
  out.terms.push_back(std::move(rest));
  for (std::size_t f = 0; f < count; ++f) {
    out.level_means.emplace_back();
    if (factors[f].nested_in) continue;
    for (const DoubleDouble& mean : means[bit(f)]) out.level_means.back().push_back(mean.value());
  }
  return out;
}

std::vector<Term> pooled_terms(const std::vector<Term>& terms, std::span<const std::size_t> pooled) {
  std::vector<Term> out;
  Term rest = terms.back();
  for (std::size_t t = 0; t + 1 < terms.size(); ++t) {
    if (std::ranges::find(pooled, t) == pooled.end()) {
      out.push_back(terms[t]);
    } else {
      rest.sum_squares += terms[t].sum_squares;
      rest.degrees_of_freedom += terms[t].degrees_of_freedom;
    }
  }
  out.push_back(std::move(rest));
  return out;
}

std::vector<std::vector<double>> component_weights(const std::vector<Term>& terms) {
  const std::size_t count = terms.size();
  std::vector<std::vector<double>> out(count, std::vector<double>(count, 0.0));
  out[count - 1][count - 1] = 1.0;
  // Terms that hold others stand behind them, so that backwards all that a component needs is there.
  for (std::size_t t = count - 1; t-- > 0;) {
    out[t] = out[count - 1];
    for (double& weight : out[t]) weight = -weight;
    out[t][t] += 1.0;
    for (std::size_t u = t + 1; u + 1 < count; ++u) {
      if ((terms[u].factors & terms[t].factors) != terms[t].factors) continue;
      for (std::size_t k = 0; k < count; ++k) out[t][k] -= terms[u].readings * out[u][k];
    }
    for (double& weight : out[t]) weight /= terms[t].readings;
  }
  return out;
}

}  // namespace steadyfilm::support
