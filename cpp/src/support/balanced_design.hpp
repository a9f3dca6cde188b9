// Balanced studies of crossed and nested factors: sums of squares, and components as weights on the mean squares.
//
// All effects random and free (not made to add up to 0 inside another): E MS(T) = repeatability + sum over the terms U
// that hold T of (readings a cell of U) variance(U). Searle, Casella and McCulloch, Variance Components (1992), section
// 4.5 (from memory).
#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <string>
#include <vector>

#include <steadyfilm/gauge_rr.hpp>

namespace steadyfilm::support {

/// A term of the model: a set of factors with all that they are nested in.
struct Term {
  std::uint32_t factors = 0;  ///< one bit a factor
  std::uint32_t own = 0;      ///< those that nothing in the term is nested in
  std::string name;
  double sum_squares = 0.0;
  double degrees_of_freedom = 0.0;
  double readings = 0.0;  ///< a cell
};

struct BalancedDesign {
  std::vector<Term> terms;  ///< main effects first, then interactions; repeatability last, with no factors
  double mean = 0.0;
  std::vector<std::vector<double>> level_means;  ///< of each factor that is not nested
};

/// Sums of squares of all terms. Without repeats the highest term is the last line.
[[nodiscard]] BalancedDesign balanced_design(std::span<const double> values, std::span<const StudyFactor> factors,
                                             std::size_t trial_count, std::string_view function);

/// The same with some terms (positions) pooled into the last line.
[[nodiscard]] std::vector<Term> pooled_terms(const std::vector<Term>& terms, std::span<const std::size_t> pooled);

/// Weights of the mean squares in each term's component, the last line's own being repeatability.
[[nodiscard]] std::vector<std::vector<double>> component_weights(const std::vector<Term>& terms);

}  // namespace steadyfilm::support
