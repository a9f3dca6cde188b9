#include "mixed_data.hpp"

#include <Eigen/OrderingMethods>

#include <algorithm>
#include <bit>
#include <cmath>
#include <numeric>
#include <utility>

#include <steadyfilm/core.hpp>

#include "double_double.hpp"

namespace steadyfilm::support {

namespace {

constexpr auto function = "mixed_components";

// Below this part of its own size a quantity counts as 0: far above rounding, far below any design.
constexpr double nothing = 1e-10;

Eigen::Index at(std::size_t i) { return static_cast<Eigen::Index>(i); }

std::string quoted(const std::string& name) { return "'" + name + "'"; }

void require_codes(const LevelCodes& one, std::size_t readings) {
  if (one.codes.size() != readings) {
    throw InvalidInput(
        function, one.name,
        "has " + std::to_string(one.codes.size()) + " codes for " + std::to_string(readings) + " values");
  }
  std::vector<bool> seen(one.levels, false);
  for (std::size_t i = 0; i < readings; ++i) {
    const std::int32_t code = one.codes[i];
    if (code < 0 || static_cast<std::size_t>(code) >= one.levels) {
      throw InvalidInput(function, one.name, "code " + std::to_string(code) + " is no level", i);
    }
    seen[static_cast<std::size_t>(code)] = true;
  }
  const auto unused = std::find(seen.begin(), seen.end(), false);
  if (unused != seen.end()) {
    throw InvalidInput(function, one.name, "has a level without a reading",
                       static_cast<std::size_t>(unused - seen.begin()));
  }
  if (one.levels < 2) throw InvalidInput(function, one.name, "has one level: there is nothing to compare");
}

void require_model(std::span<const double> values, const MixedModel& model) {
  require_count(values.size(), 2, function);
  require_finite(values, function);
  if (model.random.empty()) throw InvalidInput(function, "random", "must hold one term or more");
  for (const auto* terms : {&model.random, &model.fixed}) {
    for (const LevelCodes& one : *terms) require_codes(one, values.size());
  }
  for (const LevelCodes& one : model.random) {
    if (one.levels == values.size()) {
      throw InvalidInput(function, one.name,
                         "has a level for every reading: it cannot be told from the residual, leave it out");
    }
  }
  for (const Covariate& one : model.covariates) {
    if (one.values.size() != values.size()) {
      throw InvalidInput(function, one.name, "has not as many numbers as there are values");
    }
    require_finite(one.values, function, one.name);
  }
}

/// Numbers for pairs, in the order of first appearance; open addressing, since this is most of the counting.
CombinedLevels combined(std::span<const std::uint64_t> keys) {
  const std::size_t slots = std::bit_ceil(2 * keys.size() + 2);
  std::vector<std::int32_t> slot(slots, -1);
  std::vector<std::uint64_t> known;
  CombinedLevels out;
  out.codes.reserve(keys.size());
  for (const std::uint64_t key : keys) {
    std::size_t i = static_cast<std::size_t>((key * 0x9E3779B97F4A7C15U) >> 20U) & (slots - 1);
    while (slot[i] >= 0 && known[static_cast<std::size_t>(slot[i])] != key) i = (i + 1) & (slots - 1);
    if (slot[i] < 0) {
      slot[i] = static_cast<std::int32_t>(known.size());
      known.push_back(key);
    }
    out.codes.push_back(slot[i]);
  }
  out.levels = known.size();
  return out;
}

CombinedLevels cells_of(const MixedModel& model, std::size_t readings) {
  CombinedLevels out{std::vector<std::int32_t>(readings, 0), 1};
  for (const auto* terms : {&model.random, &model.fixed}) {
    for (const LevelCodes& one : *terms) out = combine_levels(out.codes, one.codes);
  }
  std::vector<std::uint64_t> keys(readings);
  for (const Covariate& one : model.covariates) {
    for (std::size_t i = 0; i < readings; ++i) keys[i] = std::bit_cast<std::uint64_t>(one.values[i] + 0.0);
    out = combine_levels(out.codes, combined(keys).codes);
  }
  return out;
}

/// Center, scale, cell means and the sum of squares inside cells, in two passes.
void fill_cells(MixedData& data, std::span<const double> values, const CombinedLevels& cell) {
  data.readings = values.size();
  const double whole = static_cast<double>(values.size());
  DoubleDouble sum;
  for (const double x : values) sum = sum + x;
  data.center = sum.value() / whole;
  double squares = 0.0;
  for (const double x : values) squares += (x - data.center) * (x - data.center);
  require_finite(squares, function, "sum of squares of values");
  data.scale = squares > 0.0 ? std::sqrt(squares / whole) : 1.0;
  data.cells.assign(cell.levels, {});
  for (std::size_t i = 0; i < values.size(); ++i) {
    Cell& one = data.cells[static_cast<std::size_t>(cell.codes[i])];
    one.size += 1.0;
    one.mean += (values[i] - data.center) / data.scale;
  }
  for (Cell& one : data.cells) one.mean /= one.size;
  for (std::size_t i = 0; i < values.size(); ++i) {
    const double rest =
        (values[i] - data.center) / data.scale - data.cells[static_cast<std::size_t>(cell.codes[i])].mean;
    data.within += rest * rest;
  }
}

void fill_fixed(MixedData& data, const MixedModel& model, std::span<const std::size_t> reading_of_cell) {
  data.fixed_names.push_back({"mean", -1, 0.0, 0.0});
  std::vector<std::int32_t> first;
  for (const LevelCodes& one : model.fixed) {
    first.push_back(static_cast<std::int32_t>(data.fixed_names.size()));
    for (std::size_t level = 1; level < one.levels; ++level) {
      data.fixed_names.push_back({one.name, static_cast<std::int32_t>(level), 0.0, 0.0});
    }
  }
  const std::size_t factors = data.fixed_names.size();
  for (const Covariate& one : model.covariates) data.fixed_names.push_back({one.name, -1, 0.0, 0.0});
  data.fixed = data.fixed_names.size();
  data.width = 1 + model.fixed.size() + model.covariates.size();
  data.x_center = Eigen::VectorXd::Zero(at(data.fixed));
  data.x_scale = Eigen::VectorXd::Ones(at(data.fixed));
  const double whole = static_cast<double>(data.readings);
  for (std::size_t k = 0; k < model.covariates.size(); ++k) {
    const auto& numbers = model.covariates[k].values;
    const double center = std::accumulate(numbers.begin(), numbers.end(), 0.0) / whole;
    double squares = 0.0;
    for (const double x : numbers) squares += (x - center) * (x - center);
    if (!(squares > 0.0)) {
      throw InvalidInput(function, model.covariates[k].name, "is the same for all readings: it is part of the mean");
    }
    require_finite(squares, function, model.covariates[k].name);
    data.x_center[at(factors + k)] = center;
    data.x_scale[at(factors + k)] = std::sqrt(squares / whole);
  }
  for (const std::size_t i : reading_of_cell) {
    data.x_column.push_back(0);
    data.x_entry.push_back(1.0);
    for (std::size_t k = 0; k < model.fixed.size(); ++k) {
      const std::int32_t level = model.fixed[k].codes[i];
      data.x_column.push_back(level == 0 ? 0 : first[k] + level - 1);
      data.x_entry.push_back(level == 0 ? 0.0 : 1.0);
    }
    for (std::size_t k = 0; k < model.covariates.size(); ++k) {
      const Eigen::Index j = at(factors + k);
      data.x_column.push_back(static_cast<std::int32_t>(j));
      data.x_entry.push_back((model.covariates[k].values[i] - data.x_center[j]) / data.x_scale[j]);
    }
  }
}

/// Cells of each level, level after level.
struct CellsByLevel {
  std::vector<std::size_t> start;
  std::vector<std::int32_t> cell;
};

CellsByLevel by_level(std::span<const std::int32_t> level_of_cell, std::size_t levels) {
  CellsByLevel out{std::vector<std::size_t>(levels + 1, 0), std::vector<std::int32_t>(level_of_cell.size())};
  for (const std::int32_t level : level_of_cell) ++out.start[static_cast<std::size_t>(level) + 1];
  std::partial_sum(out.start.begin(), out.start.end(), out.start.begin());
  auto next = out.start;
  for (std::size_t c = 0; c < level_of_cell.size(); ++c) {
    out.cell[next[static_cast<std::size_t>(level_of_cell[c])]++] = static_cast<std::int32_t>(c);
  }
  return out;
}

/// How two terms meet: is one inside the other, are all pairs there, and as often?
struct Meeting {
  std::size_t pairs = 0;
  bool even = true;  ///< every pair that occurs does so equally often
};

/// Calls pair(level of one, level of two, readings) for every pair that occurs, levels of one rising.
template <typename Call>
Meeting meet(const MixedData& data, const CellsByLevel& one, std::span<const std::int32_t> two, std::size_t two_levels,
             const Call& pair) {
  Meeting out;
  std::vector<double> count(two_levels, 0.0);
  std::vector<std::int32_t> met;
  double usual = 0.0;
  for (std::size_t level = 0; level + 1 < one.start.size(); ++level) {
    met.clear();
    for (std::size_t e = one.start[level]; e < one.start[level + 1]; ++e) {
      const auto cell = static_cast<std::size_t>(one.cell[e]);
      const auto other = static_cast<std::size_t>(two[cell]);
      if (count[other] == 0.0) met.push_back(two[cell]);
      count[other] += data.cells[cell].size;
    }
    for (const std::int32_t other : met) {
      double& readings = count[static_cast<std::size_t>(other)];
      if (usual == 0.0) usual = readings;
      out.even = out.even && readings == usual;
      ++out.pairs;
      pair(static_cast<std::int32_t>(level), other, readings);
      readings = 0.0;
    }
  }
  return out;
}

bool in_step(const Meeting& met, std::size_t one, std::size_t two) {
  return met.even && (met.pairs == one * two || met.pairs == std::max(one, two));
}

/// Z'Z in the caller's order, and whether the design is balanced.
void fill_shared(MixedData& data, const MixedModel& model, std::span<const std::size_t> reading_of_cell) {
  data.balanced = model.covariates.empty();
  std::vector<CellsByLevel> cells;
  for (std::size_t k = 0; k < model.random.size(); ++k) {
    cells.push_back(by_level(data.column[k], model.random[k].levels));
  }
  const auto nothing_to_do = [](std::int32_t, std::int32_t, double) {};
  data.diagonal.assign(data.term_start.back(), 0.0);
  for (std::size_t k = 0; k < model.random.size(); ++k) {
    const std::size_t levels = model.random[k].levels;
    const auto own = meet(data, cells[k], data.column[k], levels, [&](std::int32_t i, std::int32_t, double readings) {
      data.diagonal[data.term_start[k] + static_cast<std::size_t>(i)] = readings;
    });
    data.balanced = data.balanced && own.even;
    for (std::size_t l = k + 1; l < model.random.size(); ++l) {
      const std::size_t others = model.random[l].levels;
      const auto met =
          meet(data, cells[k], data.column[l], others, [&](std::int32_t i, std::int32_t j, double readings) {
            data.shared.push_back({static_cast<std::int32_t>(data.term_start[l]) + j,
                                   static_cast<std::int32_t>(data.term_start[k]) + i, readings});
          });
      if (levels == others && met.pairs == levels) {
        throw InvalidInput(function, "random",
                           quoted(model.random[k].name) + " and " + quoted(model.random[l].name) +
                               " divide the readings alike and cannot be told apart: leave one out");
      }
      data.balanced = data.balanced && in_step(met, levels, others);
    }
  }
  std::vector<std::vector<std::int32_t>> fixed(model.fixed.size());
  for (std::size_t f = 0; f < fixed.size(); ++f) {
    for (const std::size_t i : reading_of_cell) fixed[f].push_back(model.fixed[f].codes[i]);
    for (std::size_t k = 0; data.balanced && k < model.random.size(); ++k) {
      const auto met = meet(data, cells[k], fixed[f], model.fixed[f].levels, nothing_to_do);
      data.balanced = in_step(met, model.random[k].levels, model.fixed[f].levels);
    }
    for (std::size_t g = 0; data.balanced && g < f; ++g) {
      const auto met =
          meet(data, by_level(fixed[f], model.fixed[f].levels), fixed[g], model.fixed[g].levels, nothing_to_do);
      data.balanced = in_step(met, model.fixed[f].levels, model.fixed[g].levels);
    }
  }
}

/// Renumber the columns of Z so that elimination fills in little (approximate minimum degree).
void order_columns(MixedData& data) {
  using Sparse = Eigen::SparseMatrix<double, Eigen::ColMajor, int>;
  const auto q = static_cast<int>(data.diagonal.size());
  std::vector<Eigen::Triplet<double, int>> entries;
  entries.reserve(data.diagonal.size() + data.shared.size());
  for (int i = 0; i < q; ++i) entries.emplace_back(i, i, 1.0);
  for (const Shared& one : data.shared) entries.emplace_back(one.row, one.column, 1.0);
  Sparse lower(q, q);
  lower.setFromTriplets(entries.begin(), entries.end());
  Eigen::PermutationMatrix<Eigen::Dynamic, Eigen::Dynamic, int> order;
  Eigen::AMDOrdering<int>()(lower.selfadjointView<Eigen::Lower>(), order);
  std::vector<std::int32_t> place(data.diagonal.size());  // of the caller's columns
  data.original.resize(data.diagonal.size());
  for (int i = 0; i < q; ++i) {
    data.original[static_cast<std::size_t>(i)] = order.indices()[i];
    place[static_cast<std::size_t>(order.indices()[i])] = i;
  }
  std::vector<std::int32_t> term_of(data.diagonal.size());
  for (std::size_t k = 0; k < data.terms(); ++k) {
    for (std::size_t i = data.term_start[k]; i < data.term_start[k + 1]; ++i) term_of[i] = static_cast<std::int32_t>(k);
    for (std::int32_t& level : data.column[k]) level = place[data.term_start[k] + static_cast<std::size_t>(level)];
  }
  const auto counts = data.diagonal;
  data.term.resize(counts.size());
  for (std::size_t i = 0; i < counts.size(); ++i) {
    const auto from = static_cast<std::size_t>(data.original[i]);
    data.term[i] = term_of[from];
    data.diagonal[i] = counts[from];
  }
  for (Shared& one : data.shared) {
    const auto a = place[static_cast<std::size_t>(one.row)], b = place[static_cast<std::size_t>(one.column)];
    one.row = std::max(a, b);
    one.column = std::min(a, b);
  }
  std::ranges::sort(data.shared, [](const Shared& a, const Shared& b) {
    return a.column != b.column ? a.column < b.column : a.row < b.row;
  });
}

void fill_products(MixedData& data) {
  const Eigen::Index p = at(data.fixed);
  const auto q = static_cast<Eigen::Index>(data.diagonal.size());
  data.xx = Eigen::MatrixXd::Zero(p, p);
  data.xy = Eigen::VectorXd::Zero(p);
  data.zx.setZero(q, p);
  data.zy = Eigen::VectorXd::Zero(q);
  for (std::size_t c = 0; c < data.cells.size(); ++c) {
    const auto [size, mean] = data.cells[c];
    for (std::size_t e = c * data.width; e < (c + 1) * data.width; ++e) {
      const double weighted = size * data.x_entry[e];
      if (weighted == 0.0) continue;
      data.xy[data.x_column[e]] += weighted * mean;
      for (std::size_t f = c * data.width; f < (c + 1) * data.width; ++f) {
        data.xx(data.x_column[e], data.x_column[f]) += weighted * data.x_entry[f];
      }
      for (std::size_t k = 0; k < data.terms(); ++k) data.zx(data.column[k][c], data.x_column[e]) += weighted;
    }
    for (std::size_t k = 0; k < data.terms(); ++k) data.zy[data.column[k][c]] += size * mean;
  }
}

std::string fixed_name(const FixedEffect& one) {
  return one.level < 0 ? quoted(one.term) : quoted(one.term) + " (level " + std::to_string(one.level) + ")";
}

/// Lower factor of X'X; a column that the ones before it determine is named.
Eigen::MatrixXd require_rank(const MixedData& data) {
  const Eigen::Index p = at(data.fixed);
  Eigen::MatrixXd factor = data.xx;
  for (Eigen::Index j = 0; j < p; ++j) {
    factor(j, j) -= factor.row(j).head(j).squaredNorm();
    if (!(factor(j, j) > nothing * data.xx(j, j))) {
      throw InvalidInput(function, "fixed",
                         fixed_name(data.fixed_names[static_cast<std::size_t>(j)]) +
                             " follows from the fixed effects before it: leave one of them out");
    }
    factor(j, j) = std::sqrt(factor(j, j));
    for (Eigen::Index i = j + 1; i < p; ++i) {
      factor(i, j) = (factor(i, j) - factor.row(i).head(j).dot(factor.row(j).head(j))) / factor(j, j);
    }
  }
  return factor.triangularView<Eigen::Lower>();
}

std::string listed(const MixedModel& model, const Eigen::VectorXd& weight) {
  std::vector<std::string> names;
  for (std::size_t k = 0; k < model.random.size(); ++k) {
    if (std::abs(weight[at(k)]) > 0.05) names.push_back(quoted(model.random[k].name));
  }
  if (std::abs(weight[weight.size() - 1]) > 0.05) names.emplace_back("the residual");
  std::string out;
  for (std::size_t i = 0; i < names.size(); ++i) {
    out += (i == 0 ? "" : i + 1 == names.size() ? " and " : ", ") + names[i];
  }
  return out;
}

/// Components by the quadratic forms y'P V P y at V = I set equal to their expectations: unbiased for any layout, the
/// analysis of variance for balanced ones, and a test of what can be told apart at all.
void fill_unbiased(MixedData& data, const MixedModel& model) {
  const std::size_t terms = data.terms();
  const double left = static_cast<double>(data.readings) - static_cast<double>(data.fixed);
  const Eigen::MatrixXd factor = require_rank(data);
  const auto lower = factor.triangularView<Eigen::Lower>();
  if (left < static_cast<double>(terms) + 1.0) {
    throw InvalidInput(function, "values",
                       "are " + std::to_string(data.readings) + ", too few for " + std::to_string(data.fixed) +
                           " fixed effects and " + std::to_string(terms + 1) + " components");
  }
  const Eigen::VectorXd beta = lower.transpose().solve(lower.solve(data.xy));
  Eigen::VectorXd score = Eigen::VectorXd::Zero(data.zy.size());
  data.least_squares_sum = data.within;
  for (std::size_t c = 0; c < data.cells.size(); ++c) {
    const double rest = data.cells[c].mean - fixed_part(data, c, beta);
    data.least_squares_sum += data.cells[c].size * rest * rest;
    for (std::size_t k = 0; k < terms; ++k) score[data.column[k][c]] += data.cells[c].size * rest;
  }
  // Rounding leaves about 1e-16 of a reading; the readings are scaled to a spread of 1 about their center.
  const double rounding = 1e-15 * (1.0 + std::abs(data.center) / data.scale);
  data.constant = data.least_squares_sum <= static_cast<double>(data.readings) * rounding * rounding;

  const Eigen::MatrixXd w = lower.solve(data.zx.transpose());  // columns as those of Z
  std::vector<Eigen::MatrixXd> inner(terms, Eigen::MatrixXd::Zero(at(data.fixed), at(data.fixed)));
  const auto last = at(terms);
  Eigen::MatrixXd expected = Eigen::MatrixXd::Zero(last + 1, last + 1);
  Eigen::VectorXd observed = Eigen::VectorXd::Zero(last + 1);
  Eigen::VectorXd plain = Eigen::VectorXd::Zero(last);
  for (Eigen::Index i = 0; i < w.cols(); ++i) {
    const auto k = data.term[static_cast<std::size_t>(i)];
    const double count = data.diagonal[static_cast<std::size_t>(i)], size = w.col(i).squaredNorm();
    inner[static_cast<std::size_t>(k)] += w.col(i).lazyProduct(w.col(i).transpose());
    expected(k, k) += count * count - 2.0 * count * size;
    expected(k, last) += count - size;
    observed[k] += score[i] * score[i];
    plain[k] += count * count;
  }
  for (const Shared& one : data.shared) {
    const auto k = data.term[static_cast<std::size_t>(one.row)], l = data.term[static_cast<std::size_t>(one.column)];
    const double part = one.count * one.count - 2.0 * one.count * w.col(one.row).dot(w.col(one.column));
    expected(k, l) += part;
    expected(l, k) += part;
  }
  for (Eigen::Index k = 0; k < last; ++k) {
    for (Eigen::Index l = 0; l < last; ++l) {
      expected(k, l) += inner[static_cast<std::size_t>(k)].cwiseProduct(inner[static_cast<std::size_t>(l)]).sum();
    }
    if (!(expected(k, k) > nothing * plain[k])) {
      throw InvalidInput(function, model.random[static_cast<std::size_t>(k)].name,
                         "is settled by the fixed effects: nothing is left to estimate its component from");
    }
    expected(last, k) = expected(k, last);
  }
  expected(last, last) = left;
  observed[last] = data.least_squares_sum;
  const Eigen::VectorXd size = expected.diagonal().cwiseSqrt().cwiseInverse();
  const Eigen::MatrixXd alike = size.asDiagonal() * expected * size.asDiagonal();
  const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> parts(alike);
  if (!(parts.eigenvalues()[0] > nothing)) {
    throw InvalidInput(function, "random",
                       listed(model, parts.eigenvectors().col(0)) +
                           " cannot be told apart with these readings: leave one of the terms out");
  }
  data.unbiased = size.asDiagonal() *
                  (parts.eigenvectors() * (parts.eigenvalues().cwiseInverse().asDiagonal() *
                                           (parts.eigenvectors().transpose() * (size.asDiagonal() * observed))));
}

}  // namespace

MixedData count_mixed(std::span<const double> values, const MixedModel& model) {
  require_model(values, model);
  const CombinedLevels cell = cells_of(model, values.size());
  MixedData data;
  fill_cells(data, values, cell);
  std::vector<std::size_t> reading_of_cell(cell.levels, values.size());
  for (std::size_t i = values.size(); i-- > 0;) reading_of_cell[static_cast<std::size_t>(cell.codes[i])] = i;
  data.term_start.push_back(0);
  for (const LevelCodes& one : model.random) {
    data.term_start.push_back(data.term_start.back() + one.levels);
    auto& levels = data.column.emplace_back();
    for (const std::size_t i : reading_of_cell) levels.push_back(one.codes[i]);
  }
  fill_fixed(data, model, reading_of_cell);
  fill_shared(data, model, reading_of_cell);
  order_columns(data);
  fill_products(data);
  fill_unbiased(data, model);
  return data;
}

}  // namespace steadyfilm::support

namespace steadyfilm {

CombinedLevels combine_levels(std::span<const std::int32_t> first, std::span<const std::int32_t> second) {
  if (first.size() != second.size()) throw InvalidInput("combine_levels", "second", "is not as long as the first");
  std::vector<std::uint64_t> keys(first.size());
  for (std::size_t i = 0; i < first.size(); ++i) {
    keys[i] = (std::uint64_t{static_cast<std::uint32_t>(first[i])} << 32U) | static_cast<std::uint32_t>(second[i]);
  }
  return support::combined(keys);
}

}  // namespace steadyfilm
