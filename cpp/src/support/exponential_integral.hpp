// The exponential integral E1(x), and the integral of an Arrhenius factor along a straight line of temperature.
#pragma once

namespace steadyfilm::support {

/// E1(x) = integral of exp(-t)/t from x to infinity, x above 0: series up to 1, continued fraction beyond (NIST DLMF
/// 6.6.2 and 6.9.1). Relative error below 1e-14.
/// @throws InvalidInput  x is not above 0
[[nodiscard]] double exponential_integral_e1(double x);

/// 1 - x exp(x) E1(x), x above 0, without cancellation at large x, where it nears 1/x.
/// @throws InvalidInput  x is not above 0
[[nodiscard]] double e1_remainder(double x);

/// An Arrhenius factor f(T) = exp(E/R (1/T_ref - 1/T)), temperatures in K.
struct Arrhenius {
  double energy_k = 0.0;           ///< E/R in K, 0 or more
  double inverse_reference = 0.0;  ///< 1/T_ref in 1/K

  [[nodiscard]] double factor(double temperature_k) const;

  /// Mean of the factor along a straight line from one temperature to the other, exactly: the antiderivative of
  /// exp(-a/T) is T exp(-a/T) (1 - x exp(x) E1(x)) with x = a/T. Steps too small for that difference take
  /// small_step_mean.
  [[nodiscard]] double mean_factor(double from_k, double to_k) const;
};

/// Largest E/R |dT| / T^2 of a step that needs no closed form: about 2 K at 60 C and 60 kJ/mol. The relative error of
/// the corrected trapezoid is at most about its sixth power / 100,800, there 5e-11.
inline constexpr double largest_small_step = 0.13;

/// Mean of a function over a step from its values, first and second derivatives at both ends: the trapezoid with
/// corrections for the slopes and curvatures (integral of the Hermite polynomial of degree 5).
[[nodiscard]] constexpr double small_step_mean(double step, double f0, double f1, double slope0, double slope1,
                                               double curve0, double curve1) {
  return 0.5 * (f0 + f1) + step * ((slope0 - slope1) * (1.0 / 10.0) + step * (curve0 + curve1) * (1.0 / 120.0));
}

}  // namespace steadyfilm::support
