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
  /// exp(-a/T) is T exp(-a/T) (1 - x exp(x) E1(x)) with x = a/T. Steps too small for that difference take the
  /// trapezoid with its end-slope correction.
  [[nodiscard]] double mean_factor(double from_k, double to_k) const;
};

/// Largest E/R |dT| / T^2 of a step that the trapezoid with end-slope correction takes, whose relative error there is
/// below its fourth power / 720, 2e-8: about 1 K at 60 C and 60 kJ/mol.
inline constexpr double largest_trapezoid_step = 0.065;

}  // namespace steadyfilm::support
