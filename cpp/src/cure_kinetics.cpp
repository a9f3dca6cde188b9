#include <steadyfilm/cure_kinetics.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <string>
#include <string_view>

#include <steadyfilm/core.hpp>

#include "support/exponential_integral.hpp"
#include "support/trace.hpp"

namespace steadyfilm {
namespace {

using support::Arrhenius;
using support::zero_celsius_k;

void require_not_negative(double value, std::string_view function, std::string_view argument) {
  require_finite(value, function, argument);
  if (value < 0.0) throw InvalidInput(function, argument, "must be 0 or more (" + to_text(value) + ")");
}

void require_conversion(double value, std::string_view function) {
  if (!(value >= 0.0 && value < 1.0)) {
    throw InvalidInput(function, "initial_conversion", "must be at least 0 and below 1 (" + to_text(value) + ")");
  }
}

// -- closed forms in x, the integral of k --------------------------------------------------------

double nth_order(double x, double n, double initial) {
  if (n == 1.0) return 1.0 - (1.0 - initial) * std::exp(-x);
  const double base = std::pow(1.0 - initial, 1.0 - n) + (n - 1.0) * x;
  return base > 0.0 ? 1.0 - std::pow(base, 1.0 / (1.0 - n)) : 1.0;
}

// u = a / (1 - a): du/dx = u^m when m + n = 2.
double autocatalytic(double x, double m, double initial) {
  const double start = initial / (1.0 - initial);
  if (m == 1.0) {
    const double grown = std::log(start) + x;
    return 1.0 / (1.0 + std::exp(-grown));
  }
  const double power = std::pow(start, 1.0 - m) + (1.0 - m) * x;
  if (!(power > 0.0)) return m > 1.0 ? 1.0 : initial;  // m above 1: u grows without bound in finite time
  const double u = std::pow(power, 1.0 / (1.0 - m));
  return std::isinf(u) ? 1.0 : u / (1.0 + u);
}

// m = n = 1: y = (k1 + k2 a) / (1 - a) grows as exp((k1 + k2) t); x is that exponent, share = k1 / (k1 + k2).
double kamal_one_one(double x, double share, double initial) {
  const double start = (share + (1.0 - share) * initial) / (1.0 - initial);
  // a = (y - share) / (y + 1 - share), by exp(-x) so that nothing overflows.
  const double shrunk = std::exp(-x);
  return (start - share * shrunk) / (start + (1.0 - share) * shrunk);
}

// -- numerical solution --------------------------------------------------------------------------

double power(double base, double exponent) {
  if (exponent == 1.0) return base;
  if (exponent == 0.5) return std::sqrt(base);
  if (exponent == 1.5) return base * std::sqrt(base);
  if (exponent == 2.0) return base * base;
  if (exponent == 0.0) return 1.0;
  return std::pow(base, exponent);
}

struct Rates {
  CureModel model = CureModel::nth_order;
  double a1 = 0.0, e1 = 0.0, a2 = 0.0, e2 = 0.0;  // pre-exponentials, and E/R in K
  double m = 0.0, n = 1.0;
  std::optional<Diffusion> diffusion{};

  [[nodiscard]] double operator()(double kelvin, double conversion) const {
    const double a = std::clamp(conversion, 0.0, 1.0);
    const double k = a1 * std::exp(-e1 / kelvin);
    double rate = k;
    if (model == CureModel::autocatalytic) rate = k * power(a, m);
    if (model == CureModel::kamal) {
      const double k2 =
          e2 == e1 ? (a1 > 0.0 ? k * (a2 / a1) : a2 * std::exp(-e2 / kelvin)) : a2 * std::exp(-e2 / kelvin);
      rate = k + k2 * power(a, m);
    }
    rate *= power(1.0 - a, n);
    if (diffusion) {
      rate /= 1.0 + std::exp(diffusion->sharpness * (a - (diffusion->offset + diffusion->slope_per_k * kelvin)));
    }
    return rate;
  }
};

// Dormand and Prince (1980), J. Comput. Appl. Math. 6, 19: order 5 with an error estimate of order 4, the last
// evaluation of a step being the first of the next.
struct Stepper {
  const Rates& rates;
  double step = 0.0;  // last good one; 0: not known yet
  static constexpr double tolerance = 1e-13;

  // From one reading to the next, the temperature straight between them.
  double across(double conversion, double length, double from_k, double to_k) {
    const double slope = (to_k - from_k) / length;
    double t = 0.0, a = conversion;
    double k1 = rates(from_k, a);
    double wished = step > 0.0 ? step : first_step(k1);
    while (t < length) {
      const double h = std::min(wished, length - t);  // the last step of an interval ends at the reading
      const auto at = [&](double share, double value) { return rates(from_k + slope * (t + share * h), value); };
      const double k2 = at(0.2, a + h * (k1 / 5.0));
      const double k3 = at(0.3, a + h * (3.0 * k1 + 9.0 * k2) / 40.0);
      const double k4 = at(0.8, a + h * (44.0 * k1 / 45.0 - 56.0 * k2 / 15.0 + 32.0 * k3 / 9.0));
      const double k5 = at(8.0 / 9.0, a + h * (19372.0 * k1 / 6561.0 - 25360.0 * k2 / 2187.0 + 64448.0 * k3 / 6561.0 -
                                               212.0 * k4 / 729.0));
      const double k6 = at(1.0, a + h * (9017.0 * k1 / 3168.0 - 355.0 * k2 / 33.0 + 46732.0 * k3 / 5247.0 +
                                         49.0 * k4 / 176.0 - 5103.0 * k5 / 18656.0));
      const double next = a + h * (35.0 * k1 / 384.0 + 500.0 * k3 / 1113.0 + 125.0 * k4 / 192.0 - 2187.0 * k5 / 6784.0 +
                                   11.0 * k6 / 84.0);
      const double k7 = at(1.0, next);
      const double error = h * std::abs(71.0 * k1 / 57600.0 - 71.0 * k3 / 16695.0 + 71.0 * k4 / 1920.0 -
                                        17253.0 * k5 / 339200.0 + 22.0 * k6 / 525.0 - k7 / 40.0);
      // Far below the tolerance a root would only say "five times as long".
      const double grown =
          error < 1e-4 * tolerance ? 5.0 : std::clamp(0.9 * std::pow(tolerance / error, 0.2), 0.2, 5.0);
      if (error <= tolerance || h <= 1e-13 * length) {
        t = h < wished ? length : t + h;
        a = std::clamp(next, 0.0, 1.0);
        k1 = k7;
        wished = std::max(h < wished ? wished : 0.0, h * grown);  // a cut step is no reason for shorter ones
      } else {
        wished = h * grown;
      }
    }
    step = wished;
    return a;
  }

 private:
  // A power below 1 has no slope at 0: begin with a step that changes next to nothing.
  [[nodiscard]] static double first_step(double rate) { return rate > 0.0 ? 1e-6 / rate : 1.0; }
};

// -- parameters ----------------------------------------------------------------------------------

void require_kinetics(const CureKinetics& kinetics, std::string_view function) {
  require_not_negative(kinetics.rate.pre_exponential_per_min, function, "pre_exponential_per_min");
  require_not_negative(kinetics.rate.activation_energy_kj, function, "activation_energy_kj");
  require_not_negative(kinetics.m, function, "m");
  require_not_negative(kinetics.n, function, "n");
  require_conversion(kinetics.initial_conversion, function);
  require_positive(kinetics.gas_constant_j, function, "gas_constant_j");
  if (kinetics.model == CureModel::kamal) {
    require_not_negative(kinetics.second.pre_exponential_per_min, function, "second.pre_exponential_per_min");
    require_not_negative(kinetics.second.activation_energy_kj, function, "second.activation_energy_kj");
  }
  const bool needs_start =
      kinetics.model == CureModel::autocatalytic ||
      (kinetics.model == CureModel::kamal && kinetics.rate.pre_exponential_per_min == 0.0 && kinetics.m > 0.0);
  if (needs_start && kinetics.m > 0.0 && kinetics.initial_conversion == 0.0) {
    throw InvalidInput(function, "initial_conversion",
                       "must be above 0 (0): the reaction feeds on its own product and cannot start without any");
  }
  if (kinetics.diffusion) {
    require_not_negative(kinetics.diffusion->sharpness, function, "diffusion.sharpness");
    require_finite(kinetics.diffusion->offset, function, "diffusion.offset");
    require_finite(kinetics.diffusion->slope_per_k, function, "diffusion.slope_per_k");
  }
}

double energy_k(const RateConstant& rate, const CureKinetics& kinetics) {
  return 1000.0 * rate.activation_energy_kj / kinetics.gas_constant_j;
}

// k summed up along the trace: one exponential a reading, taken against a reference inside of it so that neither
// the factor nor the pre-exponential over- or underflows.
void integrate_rate(std::span<const double> time, std::span<const double> temperature, double pre_exponential,
                    double energy, std::span<double> out) {
  const double reference = *std::ranges::max_element(temperature) + zero_celsius_k;
  const Arrhenius speed{.energy_k = energy, .inverse_reference = 1.0 / reference};
  const double scale = pre_exponential * std::exp(-energy / reference);
  double f0 = speed.factor(temperature[0] + zero_celsius_k), kelvin0 = temperature[0] + zero_celsius_k;
  double w0 = energy / (kelvin0 * kelvin0);
  out[0] = 0.0;
  for (std::size_t i = 1; i < time.size(); ++i) {
    const double kelvin1 = temperature[i] + zero_celsius_k;
    const double f1 = speed.factor(kelvin1);
    const double w1 = energy / (kelvin1 * kelvin1);
    const double step = kelvin1 - kelvin0;
    const double mean = std::abs(step) * w0 <= support::largest_small_step
                            ? support::small_step_mean(step, f0, f1, f0 * w0, f1 * w1, f0 * w0 * (w0 - 2.0 / kelvin0),
                                                       f1 * w1 * (w1 - 2.0 / kelvin1))
                            : speed.mean_factor(kelvin0, kelvin1);
    out[i] = out[i - 1] + scale * (time[i] - time[i - 1]) * mean;
    f0 = f1;
    w0 = w1;
    kelvin0 = kelvin1;
  }
}

void closed_form(const CureKinetics& kinetics, std::span<double> x) {
  const double initial = kinetics.initial_conversion;
  if (kinetics.model == CureModel::nth_order) {
    for (double& value : x) value = nth_order(value, kinetics.n, initial);
  } else if (kinetics.model == CureModel::autocatalytic) {
    for (double& value : x) value = autocatalytic(value, kinetics.m, initial);
  } else {
    const double k1 = kinetics.rate.pre_exponential_per_min, k2 = kinetics.second.pre_exponential_per_min;
    if (k1 + k2 == 0.0) {
      std::ranges::fill(x, initial);
      return;
    }
    const double share = k1 / (k1 + k2);
    for (double& value : x) value = kamal_one_one(value, share, initial);
  }
}

}  // namespace

double nth_order_conversion(double rate_per_min, double time_min, double order) {
  constexpr std::string_view self = "nth_order_conversion";
  require_not_negative(rate_per_min, self, "rate_per_min");
  require_not_negative(time_min, self, "time_min");
  require_not_negative(order, self, "order");
  return nth_order(rate_per_min * time_min, order, 0.0);
}

double second_order_time_ratio(double from_conversion, double to_conversion) {
  constexpr std::string_view self = "second_order_time_ratio";
  require_open_unit(from_conversion, self, "from_conversion");
  require_open_unit(to_conversion, self, "to_conversion");
  return to_conversion / (1.0 - to_conversion) / (from_conversion / (1.0 - from_conversion));
}

std::vector<double> kamal_conversion(double k1_per_min, double k2_per_min, double m, double n,
                                     double initial_conversion, std::span<const double> time_min) {
  constexpr std::string_view self = "kamal_conversion";
  // At one temperature: constants without an energy.
  const CureKinetics kinetics{.model = CureModel::kamal,
                              .rate = {k1_per_min, 0.0},
                              .second = {k2_per_min, 0.0},
                              .m = m,
                              .n = n,
                              .initial_conversion = initial_conversion};
  require_kinetics(kinetics, self);
  require_finite(time_min, self, "time_min");
  std::vector<double> out(time_min.size());
  for (std::size_t i = 0; i < time_min.size(); ++i) {
    if (time_min[i] < 0.0 || (i > 0 && time_min[i] < time_min[i - 1])) {
      throw InvalidInput(self, "time_min", "must be 0 or more and ascend (" + to_text(time_min[i]) + ")", i);
    }
  }
  if (m == 1.0 && n == 1.0) {
    for (std::size_t i = 0; i < out.size(); ++i) out[i] = (k1_per_min + k2_per_min) * time_min[i];
    closed_form(kinetics, out);
    return out;
  }
  const Rates rates{.model = CureModel::kamal, .a1 = k1_per_min, .a2 = k2_per_min, .m = m, .n = n};
  Stepper stepper{.rates = rates};
  double at = 0.0, a = initial_conversion;
  for (std::size_t i = 0; i < out.size(); ++i) {
    if (time_min[i] > at) a = stepper.across(a, time_min[i] - at, zero_celsius_k, zero_celsius_k);
    at = time_min[i];
    out[i] = a;
  }
  return out;
}

KamalPeak kamal_peak(double k1_per_min, double k2_per_min) {
  constexpr std::string_view self = "kamal_peak";
  require_positive(k1_per_min, self, "k1_per_min");
  require_positive(k2_per_min, self, "k2_per_min");
  if (k1_per_min >= k2_per_min) return {};
  return {.time_min = std::log(k2_per_min / k1_per_min) / (k1_per_min + k2_per_min),
          .conversion = 0.5 * (1.0 - k1_per_min / k2_per_min)};
}

Equivalence equivalence(const CureKinetics& kinetics) {
  if (kinetics.diffusion) return Equivalence::none;
  const bool both = kinetics.model == CureModel::kamal && kinetics.rate.pre_exponential_per_min > 0.0 &&
                    kinetics.second.pre_exponential_per_min > 0.0;
  return both && kinetics.rate.activation_energy_kj != kinetics.second.activation_energy_kj ? Equivalence::approximate
                                                                                            : Equivalence::exact;
}

bool has_closed_form(const CureKinetics& kinetics) {
  if (kinetics.diffusion) return false;
  switch (kinetics.model) {
    case CureModel::nth_order:
      return true;
    case CureModel::autocatalytic:
      return kinetics.m + kinetics.n == 2.0;
    default:
      return kinetics.m == 1.0 && kinetics.n == 1.0 &&
             kinetics.rate.activation_energy_kj == kinetics.second.activation_energy_kj;
  }
}

void degree_of_cure(std::span<const double> time_min, std::span<const double> temperature_c,
                    const CureKinetics& kinetics, std::span<double> conversion) {
  constexpr std::string_view self = "degree_of_cure";
  require_kinetics(kinetics, self);
  (void)support::checked_trace(time_min, temperature_c, {}, {.gap_medians = std::numeric_limits<double>::infinity()},
                               self);
  support::refuse_temperatures(temperature_c, {}, self);
  if (conversion.size() != time_min.size()) {
    throw InvalidInput(self, "conversion", "needs " + std::to_string(time_min.size()) + " elements like time_min");
  }
  if (has_closed_form(kinetics)) {
    double pre_exponential = kinetics.rate.pre_exponential_per_min;
    if (kinetics.model == CureModel::kamal) pre_exponential += kinetics.second.pre_exponential_per_min;
    integrate_rate(time_min, temperature_c, pre_exponential, energy_k(kinetics.rate, kinetics), conversion);
    closed_form(kinetics, conversion);
    return;
  }
  const Rates rates{.model = kinetics.model,
                    .a1 = kinetics.rate.pre_exponential_per_min,
                    .e1 = energy_k(kinetics.rate, kinetics),
                    .a2 = kinetics.second.pre_exponential_per_min,
                    .e2 = energy_k(kinetics.second, kinetics),
                    .m = kinetics.m,
                    .n = kinetics.n,
                    .diffusion = kinetics.diffusion};
  Stepper stepper{.rates = rates};
  conversion[0] = kinetics.initial_conversion;
  for (std::size_t i = 1; i < time_min.size(); ++i) {
    conversion[i] = stepper.across(conversion[i - 1], time_min[i] - time_min[i - 1],
                                   temperature_c[i - 1] + zero_celsius_k, temperature_c[i] + zero_celsius_k);
  }
}

std::vector<double> degree_of_cure_at(std::span<const double> time_min, std::span<const double> temperature_c,
                                      const CureKinetics& kinetics, std::span<const double> evaluate_min) {
  constexpr std::string_view self = "degree_of_cure_at";
  require_count(time_min.size(), 1, self, "time_min");
  if (temperature_c.size() != time_min.size()) {
    throw InvalidInput(self, "temperature_c", "needs " + std::to_string(time_min.size()) + " elements like time_min");
  }
  for (std::size_t i = 0; i < evaluate_min.size(); ++i) {
    const double t = evaluate_min[i];
    if (!(t >= time_min.front() && t <= time_min.back()) || (i > 0 && !(t > evaluate_min[i - 1]))) {
      throw InvalidInput(self, "evaluate_min", "must ascend and lie within the trace (" + to_text(t) + ")", i);
    }
  }
  // The trace with those times put in: straight lines stay what they are.
  std::vector<double> time, temperature;
  std::vector<std::size_t> at;
  std::size_t next = 0;
  for (std::size_t i = 0; i < time_min.size(); ++i) {
    while (next < evaluate_min.size() && evaluate_min[next] < time_min[i]) {
      const double share = (evaluate_min[next] - time_min[i - 1]) / (time_min[i] - time_min[i - 1]);
      at.push_back(time.size());
      time.push_back(evaluate_min[next++]);
      temperature.push_back(temperature_c[i - 1] + share * (temperature_c[i] - temperature_c[i - 1]));
    }
    if (next < evaluate_min.size() && evaluate_min[next] == time_min[i]) {
      at.push_back(time.size());
      ++next;
    }
    time.push_back(time_min[i]);
    temperature.push_back(temperature_c[i]);
  }
  std::vector<double> all(time.size()), out;
  degree_of_cure(time, temperature, kinetics, all);
  for (const std::size_t i : at) out.push_back(all[i]);
  return out;
}

}  // namespace steadyfilm
