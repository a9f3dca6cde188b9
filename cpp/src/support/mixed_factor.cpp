#include "mixed_factor.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <string>

#include <steadyfilm/core.hpp>

namespace steadyfilm::support {

namespace {

// The dense block begins where this part of the rest of the factor would be filled anyway.
constexpr double filled = 0.5;
// Columns are joined to panels when they touch at least this part of the dense block, and at least so many rows.
constexpr double wide_part = 0.25;
constexpr std::size_t wide_rows = 16;
constexpr std::size_t panel_width = 128;
constexpr Eigen::Index largest_block = 16000;  // 2 GB

Eigen::Index at(std::size_t i) { return static_cast<Eigen::Index>(i); }

/// Rows of every column of the factor: those of the matrix, and those of the columns whose first row it is.
std::vector<std::vector<std::int32_t>> factor_rows(const MixedData& data) {
  const std::size_t q = data.columns();
  std::vector<std::vector<std::int32_t>> rows(q);
  for (const Shared& one : data.shared) rows[static_cast<std::size_t>(one.column)].push_back(one.row);
  std::vector<std::int32_t> mark(q, -1);
  std::vector<std::vector<std::int32_t>> children(q);
  for (std::size_t j = 0; j < q; ++j) {
    auto& own = rows[j];
    for (const std::int32_t row : own) mark[static_cast<std::size_t>(row)] = static_cast<std::int32_t>(j);
    for (const std::int32_t child : children[j]) {
      for (const std::int32_t row : rows[static_cast<std::size_t>(child)]) {
        if (static_cast<std::size_t>(row) > j && mark[static_cast<std::size_t>(row)] != static_cast<std::int32_t>(j)) {
          mark[static_cast<std::size_t>(row)] = static_cast<std::int32_t>(j);
          own.push_back(row);
        }
      }
    }
    std::ranges::sort(own);
    if (!own.empty()) children[static_cast<std::size_t>(own.front())].push_back(static_cast<std::int32_t>(j));
    // From a full column on all the rest is full: no need to write it out.
    if (own.size() == q - j - 1 && own.size() > 1) {
      for (std::size_t k = j + 1; k < q; ++k) {
        rows[k].resize(q - k - 1);
        std::iota(rows[k].begin(), rows[k].end(), static_cast<std::int32_t>(k + 1));
      }
      break;
    }
  }
  return rows;
}

}  // namespace

MixedFactor::MixedFactor(const MixedData& data) : data_(data) {
  fill_pattern();
  const Eigen::Index p = at(data.fixed);
  theta_.assign(data.columns(), 0.0);
  diagonal_.assign(sparse_, 0.0);
  entry_.assign(rows_.size(), 0.0);
  fixed_.setZero(at(sparse_), p);
  block_.setZero(trailing_ + p, trailing_ + p);
  work_.assign(data.columns(), 0.0);
}

void MixedFactor::fill_pattern() {
  const std::size_t q = data_.columns();
  const auto rows = factor_rows(data_);
  sparse_ = q;
  double below = 0.0;
  for (std::size_t j = q; j-- > 0;) {
    below += static_cast<double>(rows[j].size());
    const double full = 0.5 * static_cast<double>(q - j) * static_cast<double>(q - j - 1);
    if (below >= filled * full) sparse_ = j;
  }
  trailing_ = at(q - sparse_);
  if (trailing_ + at(data_.fixed) > largest_block) {
    throw InvalidInput("mixed_components", "random",
                       "has terms that cross in " + std::to_string(trailing_) + " levels, more than fit into memory");
  }
  start_.push_back(0);
  is_wide_.assign(sparse_, false);
  for (std::size_t j = 0; j < sparse_; ++j) {
    const auto cut = std::ranges::lower_bound(rows[j], static_cast<std::int32_t>(sparse_));
    dense_from_.push_back(rows_.size() + static_cast<std::size_t>(cut - rows[j].begin()));
    rows_.insert(rows_.end(), rows[j].begin(), rows[j].end());
    start_.push_back(rows_.size());
    if (cut == rows[j].begin() && rows[j].size() >= wide_rows &&
        static_cast<double>(rows[j].size()) >= wide_part * static_cast<double>(trailing_)) {
      wide_.push_back(static_cast<std::int32_t>(j));
      is_wide_[j] = true;
    }
  }
  left_start_.assign(sparse_ + 1, 0);
  for (std::size_t j = 0; j < sparse_; ++j) {
    for (std::size_t e = start_[j]; e < dense_from_[j]; ++e) ++left_start_[static_cast<std::size_t>(rows_[e]) + 1];
  }
  std::partial_sum(left_start_.begin(), left_start_.end(), left_start_.begin());
  left_column_.resize(left_start_.back());
  left_entry_.resize(left_start_.back());
  auto next = left_start_;
  for (std::size_t j = 0; j < sparse_; ++j) {
    for (std::size_t e = start_[j]; e < dense_from_[j]; ++e) {
      const std::size_t to = next[static_cast<std::size_t>(rows_[e])]++;
      left_column_[to] = static_cast<std::int32_t>(j);
      left_entry_[to] = e;
    }
  }
  for (const Shared& one : data_.shared) {
    const auto j = static_cast<std::size_t>(one.column);
    if (j >= sparse_) {
      place_.push_back(0);
      continue;
    }
    const auto first = rows_.begin() + static_cast<std::ptrdiff_t>(start_[j]);
    const auto last = rows_.begin() + static_cast<std::ptrdiff_t>(start_[j + 1]);
    place_.push_back(static_cast<std::size_t>(std::lower_bound(first, last, one.row) - rows_.begin()));
  }
}

bool MixedFactor::factorize(std::span<const double> relative_sd) {
  for (std::size_t j = 0; j < theta_.size(); ++j) theta_[j] = relative_sd[static_cast<std::size_t>(data_.term[j])];
  scatter();
  eliminate_sparse();
  eliminate_dense();
  return sound_;
}

/// Write M into the places of its factor.
void MixedFactor::scatter() {
  const Eigen::Index p = at(data_.fixed);
  std::ranges::fill(entry_, 0.0);
  block_.setZero();
  for (std::size_t j = 0; j < sparse_; ++j) {
    diagonal_[j] = 1.0 + theta_[j] * theta_[j] * data_.diagonal[j];
    fixed_.row(at(j)) = theta_[j] * data_.zx.row(at(j));
  }
  for (Eigen::Index i = 0; i < trailing_; ++i) {
    const std::size_t j = sparse_ + static_cast<std::size_t>(i);
    block_(i, i) = 1.0 + theta_[j] * theta_[j] * data_.diagonal[j];
    block_.col(i).tail(p) = theta_[j] * data_.zx.row(at(j)).transpose();
  }
  block_.bottomRightCorner(p, p) = data_.xx;
  for (std::size_t e = 0; e < data_.shared.size(); ++e) {
    const Shared& one = data_.shared[e];
    const auto row = static_cast<std::size_t>(one.row), column = static_cast<std::size_t>(one.column);
    const double value = theta_[row] * theta_[column] * one.count;
    if (column < sparse_) {
      entry_[place_[e]] = value;
    } else {
      block_(at(row - sparse_), at(column - sparse_)) = value;
    }
  }
}

void MixedFactor::eliminate_sparse() {
  const auto p = static_cast<std::size_t>(data_.fixed);
  for (std::size_t j = 0; j < sparse_; ++j) {
    if (left_start_[j] < left_start_[j + 1]) {
      for (std::size_t e = start_[j]; e < start_[j + 1]; ++e) work_[static_cast<std::size_t>(rows_[e])] = entry_[e];
      for (std::size_t k = left_start_[j]; k < left_start_[j + 1]; ++k) {
        const auto column = static_cast<std::size_t>(left_column_[k]);
        const double factor = entry_[left_entry_[k]];
        diagonal_[j] -= factor * factor;
        for (std::size_t e = left_entry_[k] + 1; e < start_[column + 1]; ++e) {
          work_[static_cast<std::size_t>(rows_[e])] -= factor * entry_[e];
        }
        const double* from = fixed_.data() + column * p;
        double* to = fixed_.data() + j * p;
        for (std::size_t x = 0; x < p; ++x) to[x] -= factor * from[x];
      }
      for (std::size_t e = start_[j]; e < start_[j + 1]; ++e) entry_[e] = work_[static_cast<std::size_t>(rows_[e])];
    }
    diagonal_[j] = std::sqrt(diagonal_[j]);
    const double over = 1.0 / diagonal_[j];
    for (std::size_t e = start_[j]; e < start_[j + 1]; ++e) entry_[e] *= over;
    fixed_.row(at(j)) *= over;
  }
}

/// Some wide columns of L side by side, rows as in the dense block.
Eigen::MatrixXd MixedFactor::panel(std::size_t first, std::size_t count) const {
  Eigen::MatrixXd out = Eigen::MatrixXd::Zero(block_.rows(), at(count));
  for (std::size_t c = 0; c < count; ++c) {
    const auto j = static_cast<std::size_t>(wide_[first + c]);
    for (std::size_t e = start_[j]; e < start_[j + 1]; ++e) {
      out(at(static_cast<std::size_t>(rows_[e]) - sparse_), at(c)) = entry_[e];
    }
    out.col(at(c)).tail(at(data_.fixed)) = fixed_.row(at(j)).transpose();
  }
  return out;
}

void MixedFactor::eliminate_dense() {
  const Eigen::Index p = at(data_.fixed);
  const auto stride = static_cast<std::size_t>(block_.rows());
  for (std::size_t j = 0; j < sparse_; ++j) {
    if (is_wide_[j]) continue;
    const double* x = fixed_.data() + j * data_.fixed;
    for (std::size_t a = dense_from_[j]; a < start_[j + 1]; ++a) {
      double* column = block_.data() + (static_cast<std::size_t>(rows_[a]) - sparse_) * stride;
      const double factor = entry_[a];
      for (std::size_t b = a; b < start_[j + 1]; ++b) {
        column[static_cast<std::size_t>(rows_[b]) - sparse_] -= factor * entry_[b];
      }
      for (std::size_t i = 0; i < data_.fixed; ++i) column[static_cast<std::size_t>(trailing_) + i] -= factor * x[i];
    }
    for (Eigen::Index i = 0; i < p; ++i) {
      double* column = block_.data() + static_cast<std::size_t>(trailing_ + i) * stride + trailing_;
      for (Eigen::Index k = i; k < p; ++k) column[k] -= x[i] * x[k];
    }
  }
  for (std::size_t first = 0; first < wide_.size(); first += panel_width) {
    const Eigen::MatrixXd columns = panel(first, std::min(panel_width, wide_.size() - first));
    block_.selfadjointView<Eigen::Lower>().rankUpdate(columns, -1.0);
  }
  const Eigen::LLT<Eigen::Ref<Eigen::MatrixXd>> dense(block_);  // in place: no copy of a large block
  sound_ =
      dense.info() == Eigen::Success && std::ranges::none_of(diagonal_, [](double one) { return std::isnan(one); });
}

double MixedFactor::log_determinant(bool with_fixed) const {
  double sum = 0.0;
  for (const double one : diagonal_) sum += std::log(one);
  const Eigen::Index end = with_fixed ? block_.rows() : trailing_;
  for (Eigen::Index i = 0; i < end; ++i) sum += std::log(block_(i, i));
  return 2.0 * sum;
}

void MixedFactor::solve(Eigen::VectorXd& side) const {
  const Eigen::Index end = block_.rows();
  auto rest = side.tail(end);
  auto fixed = side.tail(at(data_.fixed));
  for (std::size_t j = 0; j < sparse_; ++j) {
    const double value = side[at(j)] /= diagonal_[j];
    for (std::size_t e = start_[j]; e < start_[j + 1]; ++e) side[rows_[e]] -= entry_[e] * value;
    fixed -= fixed_.row(at(j)).transpose() * value;
  }
  for (Eigen::Index i = 0; i < end; ++i) {
    const double value = rest[i] /= block_(i, i);
    rest.tail(end - i - 1) -= block_.col(i).tail(end - i - 1) * value;
  }
  for (Eigen::Index i = end; i-- > 0;) {
    rest[i] = (rest[i] - block_.col(i).tail(end - i - 1).dot(rest.tail(end - i - 1))) / block_(i, i);
  }
  for (std::size_t j = sparse_; j-- > 0;) {
    double value = side[at(j)] - fixed_.row(at(j)).dot(fixed);
    for (std::size_t e = start_[j]; e < start_[j + 1]; ++e) value -= entry_[e] * side[rows_[e]];
    side[at(j)] = value / diagonal_[j];
  }
}

void MixedFactor::invert(bool with_fixed) {
  const Eigen::Index end = with_fixed ? block_.rows() : trailing_;
  inverse_block_.setIdentity(end, end);
  const auto lower = block_.topLeftCorner(end, end).triangularView<Eigen::Lower>();
  lower.solveInPlace(inverse_block_);
  lower.transpose().solveInPlace(inverse_block_);
  inverse_diagonal_.resize(sparse_);
  inverse_entry_.resize(rows_.size());
  inverse_fixed_rows_.resize(at(sparse_), with_fixed ? at(data_.fixed) : 0);
  for (std::size_t first = 0; first < wide_.size(); first += panel_width) {
    const std::size_t count = std::min(panel_width, wide_.size() - first);
    const Eigen::MatrixXd columns = panel(first, count).topRows(end);
    const Eigen::MatrixXd product = inverse_block_ * columns;
    for (std::size_t c = 0; c < count; ++c) {
      const auto j = static_cast<std::size_t>(wide_[first + c]);
      const double over = 1.0 / diagonal_[j];
      for (std::size_t e = start_[j]; e < start_[j + 1]; ++e) {
        inverse_entry_[e] = -over * product(at(static_cast<std::size_t>(rows_[e]) - sparse_), at(c));
      }
      if (with_fixed) inverse_fixed_rows_.row(at(j)) = -over * product.col(at(c)).tail(at(data_.fixed)).transpose();
      inverse_diagonal_[j] = over * over * (1.0 + columns.col(at(c)).dot(product.col(at(c))));
    }
  }
  for (std::size_t j = sparse_; j-- > 0;) {
    if (!is_wide_[j]) invert_column(j, with_fixed);
  }
}

/// One column: minus the inverse on its rows times its entries over the diagonal.
void MixedFactor::invert_column(std::size_t j, bool with_fixed) {
  const Eigen::Index p = with_fixed ? at(data_.fixed) : 0;
  const std::size_t first = start_[j], cut = dense_from_[j], last = start_[j + 1];
  const auto size = at(last - first);
  const double over = 1.0 / diagonal_[j];
  if (gathered_.size() < size + p) {
    gathered_.resize(size + p);
    product_.resize(size + p);
  }
  for (Eigen::Index i = 0; i < size; ++i) gathered_[i] = entry_[first + static_cast<std::size_t>(i)] * over;
  for (Eigen::Index x = 0; x < p; ++x) gathered_[size + x] = fixed_(at(j), x) * over;
  product_.head(size + p).setZero();
  const auto own = [&](std::size_t e) { return at(e - first); };
  const auto in_block = [&](std::size_t e) { return at(static_cast<std::size_t>(rows_[e]) - sparse_); };
  for (std::size_t e = first; e < cut; ++e) {  // rows that are sparse columns themselves
    const auto column = static_cast<std::size_t>(rows_[e]);
    for (std::size_t f = start_[column]; f < start_[column + 1]; ++f) {
      work_[static_cast<std::size_t>(rows_[f])] = inverse_entry_[f];
    }
    double sum = inverse_diagonal_[column] * gathered_[own(e)];
    for (std::size_t f = e + 1; f < last; ++f) {
      const double value = work_[static_cast<std::size_t>(rows_[f])];
      sum += value * gathered_[own(f)];
      product_[own(f)] += value * gathered_[own(e)];
    }
    for (Eigen::Index x = 0; x < p; ++x) {
      const double value = inverse_fixed_rows_(at(column), x);
      sum += value * gathered_[size + x];
      product_[size + x] += value * gathered_[own(e)];
    }
    product_[own(e)] += sum;
  }
  for (std::size_t e = cut; e < last; ++e) {
    const auto column = inverse_block_.col(in_block(e));
    const double factor = gathered_[own(e)];
    for (std::size_t f = cut; f < last; ++f) product_[own(f)] += column[in_block(f)] * factor;
    for (Eigen::Index x = 0; x < p; ++x) {
      product_[size + x] += column[trailing_ + x] * factor;
      product_[own(e)] += column[trailing_ + x] * gathered_[size + x];
    }
  }
  product_.segment(size, p) += inverse_block_.bottomRightCorner(p, p) * gathered_.segment(size, p);
  inverse_diagonal_[j] = over * over + gathered_.head(size + p).dot(product_.head(size + p));
  for (Eigen::Index i = 0; i < size; ++i) inverse_entry_[first + static_cast<std::size_t>(i)] = -product_[i];
  if (p > 0) inverse_fixed_rows_.row(at(j)) = -product_.segment(size, p).transpose();
}

double MixedFactor::inverse_diagonal(std::size_t column) const {
  if (column < sparse_) return inverse_diagonal_[column];
  const Eigen::Index i = at(column - sparse_);
  return inverse_block_(i, i);
}

Eigen::MatrixXd MixedFactor::inverse_fixed() const {
  const Eigen::Index p = at(data_.fixed);
  return inverse_block_.bottomRightCorner(p, p);
}

Eigen::VectorXd MixedFactor::traces() const {
  Eigen::VectorXd out = Eigen::VectorXd::Zero(at(data_.terms()));
  const Eigen::Index p = inverse_block_.rows() - trailing_;
  for (std::size_t j = 0; j < data_.columns(); ++j) {
    double sum = inverse_diagonal(j) * data_.diagonal[j];
    const double over = 1.0 / theta_[j];
    for (Eigen::Index x = 0; x < p; ++x) {
      const double value = j < sparse_ ? inverse_fixed_rows_(at(j), x) : inverse_block_(trailing_ + x, at(j - sparse_));
      sum += value * over * data_.zx(at(j), x);
    }
    out[data_.term[j]] += sum;
  }
  for (std::size_t e = 0; e < data_.shared.size(); ++e) {
    const Shared& one = data_.shared[e];
    const auto row = static_cast<std::size_t>(one.row), column = static_cast<std::size_t>(one.column);
    const double value =
        column < sparse_ ? inverse_entry_[place_[e]] : inverse_block_(at(row - sparse_), at(column - sparse_));
    const double ratio = theta_[row] / theta_[column];
    out[data_.term[row]] += value * one.count / ratio;
    out[data_.term[column]] += value * one.count * ratio;
  }
  return out;
}

}  // namespace steadyfilm::support
