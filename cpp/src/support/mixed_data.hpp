// Readings of a mixed model, counted once: cells, cross-products, and the quadratic unbiased components.
//
// A cell holds the readings that share all levels and covariates. Everything later works on cells and on the
// cross-products of the indicator columns; the indicator matrices themselves are never formed.
#pragma once

#include <Eigen/Dense>

#include <cstddef>
#include <cstdint>
#include <string>
#include <vector>

#include <steadyfilm/variance_components.hpp>

namespace steadyfilm::support {

/// Readings of one cell: how many, and their scaled mean.
struct Cell {
  double size = 0.0;
  double mean = 0.0;
};

/// Count of readings that two columns of Z share; row > column.
struct Shared {
  std::int32_t row = 0;
  std::int32_t column = 0;
  double count = 0.0;
};

/// Scaled readings, (value - center) / scale, and what the likelihood needs of them. Columns of Z are numbered in the
/// order of elimination; `original` leads back to the caller's term after term, level after level.
struct MixedData {
  std::size_t readings = 0;
  double center = 0.0;
  double scale = 1.0;
  double within = 0.0;  ///< sum of squares inside cells

  std::vector<Cell> cells;
  std::vector<std::vector<std::int32_t>> column;  ///< a random term, a cell: its column of Z

  // Fixed effects: the row of X of a cell has `width` entries other than 0 at most.
  std::size_t fixed = 0;  ///< columns of X, the intercept first
  std::size_t width = 0;
  std::vector<std::int32_t> x_column;    ///< cell after cell
  std::vector<double> x_entry;           ///< as above
  std::vector<FixedEffect> fixed_names;  ///< estimates still empty
  Eigen::VectorXd x_center, x_scale;     ///< covariates are centered and scaled; else 0 and 1

  std::vector<std::size_t> term_start;  ///< caller's order: first level of each term, then their number
  std::vector<std::int32_t> term;       ///< of each column of Z
  std::vector<std::int32_t> original;   ///< of each column of Z
  std::vector<double> diagonal;         ///< Z'Z: readings of each column
  std::vector<Shared> shared;           ///< Z'Z off the diagonal, column after column, rows rising

  Eigen::MatrixXd xx;                                                         ///< X'X
  Eigen::VectorXd xy;                                                         ///< X'y
  Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor> zx;  ///< Z'X
  Eigen::VectorXd zy;                                                         ///< Z'y

  Eigen::VectorXd unbiased;        ///< quadratic, unbiased: terms, then residual; scaled
  double least_squares_sum = 0.0;  ///< residual sum of squares of the fixed effects alone; scaled
  bool balanced = false;
  bool constant = false;  ///< the fixed effects leave nothing over

  [[nodiscard]] std::size_t terms() const { return column.size(); }
  [[nodiscard]] std::size_t columns() const { return term.size(); }
};

/// Count, center, refuse what cannot be estimated, and order the columns for elimination.
[[nodiscard]] MixedData count_mixed(std::span<const double> values, const MixedModel& model);

/// X beta of a cell.
[[nodiscard]] inline double fixed_part(const MixedData& data, std::size_t cell, const Eigen::VectorXd& beta) {
  double sum = 0.0;
  for (std::size_t e = cell * data.width; e < (cell + 1) * data.width; ++e) {
    sum += data.x_entry[e] * beta[data.x_column[e]];
  }
  return sum;
}

}  // namespace steadyfilm::support
