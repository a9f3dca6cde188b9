#include "support/quadrature.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include <steadyfilm/core.hpp>

namespace steadyfilm::support {
namespace {

constexpr std::size_t kNodes = 15;
constexpr int kFirstPanels = 8;

struct Panel {
  double value = 0.0;
  double size = 0.0;  // integral of |f|
};

class Integrator {
 public:
  Integrator(const std::function<double(double)>& f, const Accuracy& accuracy) : f_(f), accuracy_(accuracy) {}

  double over(double lower, double upper) {
    const double width = (upper - lower) / kFirstPanels;
    std::vector<Panel> first;
    double size = 0.0;
    for (int i = 0; i < kFirstPanels; ++i) {
      first.push_back(panel(lower + i * width, lower + (i + 1) * width));
      size += first.back().size;
    }
    // Each of the first panels may spend an equal part of the error.
    const double allowed = std::max(accuracy_.absolute, accuracy_.relative * size) / kFirstPanels;
    double total = 0.0;
    for (int i = 0; i < kFirstPanels; ++i) {
      total += refined(lower + i * width, lower + (i + 1) * width, first[static_cast<std::size_t>(i)], allowed, 0);
    }
    return total;
  }

 private:
  Panel panel(double lower, double upper) const {
    const double middle = 0.5 * (lower + upper);
    const double half = 0.5 * (upper - lower);
    Panel found;
    for (std::size_t i = 0; i < kNodes; ++i) {
      const double at = middle + half * nodes_.position[i];
      const double value = f_(at);
      require_finite(value, "integrate", "f");
      found.value += nodes_.weight[i] * value;
      found.size += nodes_.weight[i] * std::abs(value);
    }
    found.value *= half;
    found.size *= half;
    return found;
  }

  double refined(double lower, double upper, const Panel& whole, double allowed, int depth) const {
    const double middle = 0.5 * (lower + upper);
    const Panel left = panel(lower, middle);
    const Panel right = panel(middle, upper);
    const double halves = left.value + right.value;
    // Two halves of this order are far better than the whole: their difference overstates the error that is left.
    const double floor = 4e-16 * (left.size + right.size);
    if (std::abs(halves - whole.value) <= std::max(allowed, floor) || depth >= accuracy_.deepest) return halves;
    return refined(lower, middle, left, 0.5 * allowed, depth + 1) +
           refined(middle, upper, right, 0.5 * allowed, depth + 1);
  }

  const std::function<double(double)>& f_;
  const Accuracy& accuracy_;
  const Nodes nodes_ = gauss_legendre(kNodes);
};

}  // namespace

Nodes gauss_legendre(std::size_t count) {
  Nodes found{std::vector<double>(count), std::vector<double>(count)};
  const auto n = static_cast<double>(count);
  for (std::size_t i = 0; i < (count + 1) / 2; ++i) {
    // Newton's iteration on the Legendre polynomial, from the usual cosine start; it settles in a few steps.
    double x = std::cos(std::numbers::pi * (static_cast<double>(i) + 0.75) / (n + 0.5));
    double slope = 1.0;
    for (int step = 0; step < 10; ++step) {
      double previous = 1.0;
      double current = x;
      for (std::size_t k = 2; k <= count; ++k) {
        const auto degree = static_cast<double>(k);
        const double next = ((2.0 * degree - 1.0) * x * current - (degree - 1.0) * previous) / degree;
        previous = current;
        current = next;
      }
      slope = n * (x * current - previous) / (x * x - 1.0);
      x -= current / slope;
    }
    const double weight = 2.0 / ((1.0 - x * x) * slope * slope);
    found.position[i] = -x;
    found.position[count - 1 - i] = x;
    found.weight[i] = weight;
    found.weight[count - 1 - i] = weight;
  }
  if (count % 2 == 1) found.position[count / 2] = 0.0;
  return found;
}

double integrate(const std::function<double(double)>& f, double lower, double upper, const Accuracy& accuracy) {
  if (std::isnan(lower) || std::isnan(upper)) {
    throw InvalidInput("integrate", std::isnan(lower) ? "lower" : "upper", "is not a number");
  }
  if (lower == upper) return 0.0;
  if (upper < lower) return -integrate(f, upper, lower, accuracy);
  if (std::isfinite(lower) && std::isfinite(upper)) return Integrator(f, accuracy).over(lower, upper);
  if (std::isinf(lower) && std::isinf(upper)) {
    // x = t / (1 - t^2)
    const auto mapped = [&f](double t) {
      const double rest = 1.0 - t * t;
      return f(t / rest) * (1.0 + t * t) / (rest * rest);
    };
    return Integrator(mapped, accuracy).over(-1.0, 1.0);
  }
  // One infinite end: x = end -+ t / (1 - t)
  const double end = std::isfinite(lower) ? lower : upper;
  const double sign = std::isfinite(lower) ? 1.0 : -1.0;
  const auto mapped = [&f, end, sign](double t) {
    const double rest = 1.0 - t;
    return f(end + sign * t / rest) / (rest * rest);
  };
  return Integrator(mapped, accuracy).over(0.0, 1.0);
}

}  // namespace steadyfilm::support
