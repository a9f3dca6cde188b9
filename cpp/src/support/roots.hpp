// Where a continuous function of one number crosses zero.
#pragma once

#include <algorithm>
#include <cmath>
#include <utility>

#include <steadyfilm/core.hpp>

namespace steadyfilm::support {

/// Root of f in [lower, upper] to the last bits, f changing sign between the ends: Brent's method (Brent 1973,
/// Algorithms for Minimization without Derivatives, chapter 4).
/// @throws InvalidInput  no change of sign
template <typename Function>
[[nodiscard]] double find_root(Function&& f, double lower, double upper) {
  double a = lower;
  double b = upper;
  double fa = f(a);
  double fb = f(b);
  if (fa == 0.0) return a;
  if (fb == 0.0) return b;
  if (!((fa < 0.0) != (fb < 0.0))) {
    throw InvalidInput("find_root", "function",
                       "does not change sign between " + to_text(lower) + " and " + to_text(upper));
  }
  double c = a;
  double fc = fa;
  double step = b - a;
  double previous = step;
  for (int i = 0; i < 200; ++i) {
    if ((fb < 0.0) == (fc < 0.0)) {
      c = a;
      fc = fa;
      step = previous = b - a;
    }
    if (std::abs(fc) < std::abs(fb)) {
      a = std::exchange(b, c);
      c = a;
      fa = std::exchange(fb, fc);
      fc = fa;
    }
    const double tolerance = 4e-16 * std::abs(b) + 1e-300;
    const double middle = 0.5 * (c - b);
    if (std::abs(middle) <= tolerance || fb == 0.0) return b;
    if (std::abs(previous) >= tolerance && std::abs(fa) > std::abs(fb)) {
      // Inverse quadratic interpolation through three points, or the secant through two.
      const double s = fb / fa;
      double p = 2.0 * middle * s;
      double q = 1.0 - s;
      if (a != c) {
        const double r = fb / fc;
        const double t = fa / fc;
        p = s * (2.0 * middle * t * (t - r) - (b - a) * (r - 1.0));
        q = (t - 1.0) * (r - 1.0) * (s - 1.0);
      }
      if (p > 0.0) q = -q;
      p = std::abs(p);
      const bool inside = 2.0 * p < std::min(3.0 * middle * q - std::abs(tolerance * q), std::abs(previous * q));
      previous = inside ? step : middle;
      step = inside ? p / q : middle;
    } else {
      step = previous = middle;
    }
    a = b;
    fa = fb;
    b += std::abs(step) > tolerance ? step : std::copysign(tolerance, middle);
    fb = f(b);
  }
  return b;
}

/// Root of a function that changes sign once, found from a guess by widening the bracket about it.
/// @param width  first half width, above 0; doubled up to 60 times
template <typename Function>
[[nodiscard]] double find_root_near(Function&& f, double guess, double width) {
  for (int i = 0; i < 60; ++i, width *= 2.0) {
    if ((f(guess - width) < 0.0) != (f(guess + width) < 0.0)) break;
  }
  return find_root(f, guess - width, guess + width);
}

}  // namespace steadyfilm::support
