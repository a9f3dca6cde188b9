// A number held as an unevaluated sum of two doubles: about 31 digits from error-free transformations
// (Dekker 1971; Knuth, The Art of Computer Programming 2, section 4.2.2).
#pragma once

#include <cmath>

namespace steadyfilm::support {

struct DoubleDouble {
  double high = 0.0;
  double low = 0.0;

  [[nodiscard]] double value() const noexcept { return high + low; }
};

/// a + b exactly, for any order of size.
inline DoubleDouble two_sum(double a, double b) noexcept {
  const double sum = a + b;
  const double part = sum - a;
  return {sum, (a - (sum - part)) + (b - part)};
}

/// a * b exactly.
inline DoubleDouble two_product(double a, double b) noexcept {
  const double product = a * b;
  return {product, std::fma(a, b, -product)};
}

inline DoubleDouble operator+(DoubleDouble a, DoubleDouble b) noexcept {
  const DoubleDouble high = two_sum(a.high, b.high);
  const DoubleDouble low = two_sum(a.low, b.low);
  const DoubleDouble middle = two_sum(high.high, high.low + low.high);
  return two_sum(middle.high, middle.low + low.low);
}

inline DoubleDouble operator+(DoubleDouble a, double b) noexcept { return a + DoubleDouble{b, 0.0}; }

inline DoubleDouble operator-(DoubleDouble a) noexcept { return {-a.high, -a.low}; }

inline DoubleDouble operator*(DoubleDouble a, DoubleDouble b) noexcept {
  const DoubleDouble product = two_product(a.high, b.high);
  return two_sum(product.high, product.low + (a.high * b.low + a.low * b.high));
}

/// a / b for a plain divisor: one Newton correction of the rounded quotient.
inline DoubleDouble divide(DoubleDouble a, double b) noexcept {
  const double first = a.high / b;
  const DoubleDouble rest = a + -two_product(first, b);
  return two_sum(first, rest.value() / b);
}

}  // namespace steadyfilm::support
