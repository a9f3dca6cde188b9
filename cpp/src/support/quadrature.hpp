// Adaptive integrals of smooth functions, by Gauss-Legendre panels that halve where they disagree.
#pragma once

#include <cstddef>
#include <functional>
#include <vector>

namespace steadyfilm::support {

struct Accuracy {
  double relative = 1e-13;  ///< of the integral of |f|
  double absolute = 0.0;
  int deepest = 40;  ///< halvings of one panel before it is taken as it is
};

/// Integral of f from `lower` to `upper`; either end may be infinite, and `upper` may lie below `lower`.
///
/// @param f  finite wherever it is asked (never at the ends), smooth but for a few kinks; in an infinite range it
///           must die away faster than 1 / x^2, on a scale of about 1 from 0 or from the finite end.
/// @throws InvalidInput  an end is NaN, or f gives a value that is not finite.
[[nodiscard]] double integrate(const std::function<double(double)>& f, double lower, double upper,
                               const Accuracy& accuracy = {});

/// Nodes and weights on [-1, 1] that integrate polynomials up to degree 2 count - 1 exactly.
struct Nodes {
  std::vector<double> position;
  std::vector<double> weight;
};
[[nodiscard]] Nodes gauss_legendre(std::size_t count);

}  // namespace steadyfilm::support
