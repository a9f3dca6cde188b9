#include "support/exponential_integral.hpp"

#include <cmath>
#include <numbers>

#include <steadyfilm/core.hpp>

namespace steadyfilm::support {
namespace {

void require_above_zero(double x) {
  if (!(x > 0.0)) throw InvalidInput("exponential_integral_e1", "x", "must be above 0 (" + to_text(x) + ")");
}

// E1 for x up to 1: -gamma - ln x - sum (-x)^k / (k k!).
double series(double x) {
  double sum = -std::numbers::egamma - std::log(x);
  double term = 1.0;
  for (int k = 1; k <= 40; ++k) {
    term *= -x / k;
    sum -= term / k;
    if (std::abs(term) < 1e-18 * std::abs(sum)) break;
  }
  return sum;
}

// c in exp(x) E1(x) = 1 / (x + 1 - c), c = 1 / (x + 3 - 4 / (x + 5 - 9 / (x + 7 - ...))), from the far end. So many
// terms leave an error below 1e-16 for x of 1 and more (the error falls as exp(-4 sqrt(x terms))).
double tail(double x) {
  const int terms = x > 10.0 ? 16 : x > 3.0 ? 40 : 110;
  double c = 0.0;
  for (int k = terms; k >= 1; --k) c = static_cast<double>(k) * k / (x + 2.0 * k + 1.0 - c);
  return c;
}

}  // namespace

double exponential_integral_e1(double x) {
  require_above_zero(x);
  if (x <= 1.0) return series(x);
  return std::exp(-x) / (x + 1.0 - tail(x));
}

double e1_remainder(double x) {
  require_above_zero(x);
  if (x <= 1.0) return 1.0 - x * std::exp(x) * series(x);
  const double c = tail(x);
  return (1.0 - c) / (x + 1.0 - c);
}

double Arrhenius::factor(double temperature_k) const {
  return std::exp(energy_k * (inverse_reference - 1.0 / temperature_k));
}

double Arrhenius::mean_factor(double from_k, double to_k) const {
  const double f0 = factor(from_k);
  const double f1 = factor(to_k);
  const double step = to_k - from_k;
  const double w0 = energy_k / (from_k * from_k);  // of the logarithm of f, its derivative
  const double w1 = energy_k / (to_k * to_k);
  if (std::abs(step) * w0 <= largest_small_step) {
    return small_step_mean(step, f0, f1, f0 * w0, f1 * w1, f0 * w0 * (w0 - 2.0 / from_k), f1 * w1 * (w1 - 2.0 / to_k));
  }
  return (to_k * f1 * e1_remainder(energy_k / to_k) - from_k * f0 * e1_remainder(energy_k / from_k)) / step;
}

}  // namespace steadyfilm::support
