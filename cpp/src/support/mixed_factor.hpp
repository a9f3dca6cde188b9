// Cholesky factor of the mixed-model equations, and the elements of their inverse that the likelihood's slope needs.
//
//   M = [ T Z'Z T + I   T Z'X ]     T the diagonal of relative standard deviations,
//       [ X'Z T         X'X   ]     M = L L'
//
// Columns of Z come in the order of MixedData. The first ones are kept sparse (a nested term's own columns stay
// diagonal by themselves); from the column on where the factor is nearly full, it is one dense block with X at its end.
// Elements of the inverse on the factor's pattern: Takahashi, Fagan and Chen (1973), from memory.
#pragma once

#include <Eigen/Dense>

#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "mixed_data.hpp"

namespace steadyfilm::support {

class MixedFactor {
 public:
  /// @throws InvalidInput  the dense block would not fit into memory
  explicit MixedFactor(const MixedData& data);

  /// @param relative_sd  one a term, above 0 (tiny is allowed: the slopes below stay exact)
  /// @return  false when rounding has made M lose its positive definiteness; nothing else may be called then
  [[nodiscard]] bool factorize(std::span<const double> relative_sd);

  /// ln of the determinant of M, or of its block of Z alone.
  [[nodiscard]] double log_determinant(bool with_fixed) const;

  /// Solve M s = right side, in place: columns of Z, then those of X.
  void solve(Eigen::VectorXd& side) const;

  /// Elements of the inverse of M, or of its block of Z alone.
  void invert(bool with_fixed);

  /// After invert: trace of Z_k' (I - [ZT X] M^-1 [ZT X]') Z_k for each term, the slope of the log determinant in the
  /// squared relative standard deviation. Exact down to 0 (1 less a diagonal element over the square would not be).
  [[nodiscard]] Eigen::VectorXd traces() const;

  /// After invert: diagonal of the inverse at a column of Z, and the block of X (with_fixed only).
  [[nodiscard]] double inverse_diagonal(std::size_t column) const;
  [[nodiscard]] Eigen::MatrixXd inverse_fixed() const;

 private:
  using RowMajor = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>;

  void fill_pattern();
  void scatter();
  void eliminate_sparse();
  void eliminate_dense();
  [[nodiscard]] Eigen::MatrixXd panel(std::size_t first, std::size_t count) const;
  void invert_column(std::size_t j, bool with_fixed);

  const MixedData& data_;
  std::size_t sparse_ = 0;     ///< columns before the dense block
  Eigen::Index trailing_ = 0;  ///< columns of Z in the dense block

  // Pattern of the sparse columns: rows below the diagonal, rising; those from `sparse_` on lie in the dense block.
  std::vector<std::size_t> start_;       ///< of each column
  std::vector<std::size_t> dense_from_;  ///< of each column: first entry in the dense block
  std::vector<std::int32_t> rows_;
  std::vector<std::size_t> left_start_;    ///< of each row: entries of sparse columns in it
  std::vector<std::int32_t> left_column_;  ///< as above: their column
  std::vector<std::size_t> left_entry_;    ///< as above: their place in rows_
  std::vector<std::size_t> place_;         ///< of each pair of MixedData::shared: its place in rows_
  std::vector<std::int32_t> wide_;         ///< columns that touch the dense block alone, and much of it
  std::vector<bool> is_wide_;

  std::vector<double> theta_;     ///< of each column of Z
  std::vector<double> diagonal_;  ///< of L, sparse columns
  std::vector<double> entry_;     ///< of L, as rows_
  RowMajor fixed_;                ///< X rows of L, a sparse column a row
  Eigen::MatrixXd block_;         ///< dense block of L, lower triangle
  bool sound_ = false;

  std::vector<double> work_;
  Eigen::VectorXd gathered_, product_;
  std::vector<double> inverse_diagonal_, inverse_entry_;
  RowMajor inverse_fixed_rows_;
  Eigen::MatrixXd inverse_block_;
};

}  // namespace steadyfilm::support
