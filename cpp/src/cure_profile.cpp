#include <steadyfilm/cure_profile.hpp>

#include <algorithm>
#include <cmath>
#include <limits>
#include <string>
#include <string_view>

#include <steadyfilm/core.hpp>
#include <steadyfilm/distributions.hpp>

#include "support/exponential_integral.hpp"
#include "support/trace.hpp"
#include "support/trace_dose.hpp"

namespace steadyfilm {
namespace {

using support::Arrhenius;
using support::Piece;
using support::Trace;
using support::zero_celsius_k;

constexpr double unknown = std::numeric_limits<double>::quiet_NaN();

void require_temperature(double value, std::string_view function, std::string_view argument) {
  require_finite(value, function, argument);
  if (value <= -zero_celsius_k) {
    throw InvalidInput(function, argument, "must be above absolute zero (" + to_text(value) + ")");
  }
}

Arrhenius arrhenius(const CureRate& rate, std::string_view function) {
  require_finite(rate.activation_energy_kj, function, "activation_energy_kj");
  if (rate.activation_energy_kj < 0.0) {
    throw InvalidInput(function, "activation_energy_kj",
                       "must be 0 or more (" + to_text(rate.activation_energy_kj) + ")");
  }
  require_temperature(rate.reference_c, function, "reference_c");
  return {.energy_k = 1000.0 * rate.activation_energy_kj / gas_constant,
          .inverse_reference = 1.0 / (rate.reference_c + zero_celsius_k)};
}

}  // namespace

Logging trace_logging(std::span<const double> time_min, std::span<const double> temperature_c,
                      std::span<const ReadingState> state, const TraceRule& rule) {
  support::refuse_temperatures(
      temperature_c, state.size() == temperature_c.size() ? state : std::span<const ReadingState>{}, "trace_logging");
  return support::checked_trace(time_min, temperature_c, state, rule, "trace_logging").logging;
}

double cure_rate_factor(double temperature_c, const CureRate& rate) {
  const Arrhenius speed = arrhenius(rate, "cure_rate_factor");
  require_temperature(temperature_c, "cure_rate_factor", "temperature_c");
  return speed.factor(temperature_c + zero_celsius_k);
}

EquivalentTime equivalent_time(std::span<const double> time_min, std::span<const double> temperature_c,
                               const CureRate& rate, std::span<const ReadingState> state, const TraceRule& rule,
                               std::size_t threads) {
  constexpr std::string_view self = "equivalent_time";
  return support::dose_of(time_min, temperature_c, arrhenius(rate, self), state, rule, self, threads);
}

EquivalentTime equivalent_time_trapezoid(std::span<const double> time_min, std::span<const double> temperature_c,
                                         const CureRate& rate, std::optional<double> sample_min,
                                         const TraceRule& rule) {
  constexpr std::string_view self = "equivalent_time_trapezoid";
  const Arrhenius speed = arrhenius(rate, self);
  if (sample_min) require_positive(*sample_min, self, "sample_min");
  support::refuse_temperatures(temperature_c, {}, self);
  const Trace trace = support::checked_trace(time_min, temperature_c, {}, rule, self);
  // The factor at any minute: `at` walks forward with it.
  std::size_t at = 0;
  const auto factor = [&](double minute) {
    while (at + 2 < time_min.size() && time_min[at + 1] < minute) ++at;
    const double share = (minute - time_min[at]) / (time_min[at + 1] - time_min[at]);
    const double temperature = temperature_c[at] + share * (temperature_c[at + 1] - temperature_c[at]);
    return speed.factor(temperature + zero_celsius_k);
  };
  const auto between = [&](double from, double to) {
    if (!(to > from)) return 0.0;
    double sum = 0.0;
    double last = factor(from);
    double begin = from;
    for (std::size_t k = 1; begin < to; ++k) {
      // By the reading where no sample is given, else by the step; the last one ends at the end.
      double end = to;
      if (sample_min) {
        end = std::min(to, from + static_cast<double>(k) * *sample_min);
      } else {
        end = std::min(to, *std::upper_bound(time_min.begin(), time_min.end(), begin));
      }
      const double next = factor(end);
      sum += 0.5 * (end - begin) * (last + next);
      last = next;
      begin = end;
    }
    return sum;
  };
  EquivalentTime found;
  double before = time_min.front();
  for (const Piece& piece : trace.pieces) {
    at = 0;
    found.credited_min += between(before, time_min[piece.first]);
    const double own = between(time_min[piece.first], time_min[piece.last]);
    found.observed_min += own;
    found.credited_min += own;
    before = time_min[piece.last];
  }
  return found;
}

ScheduleEnergy activation_energy_from_schedule(std::span<const SchedulePoint> points, double confidence_level) {
  constexpr std::string_view self = "activation_energy_from_schedule";
  require_count(points.size(), 2, self, "points");
  require_open_unit(confidence_level, self, "confidence_level");
  const double count = static_cast<double>(points.size());
  double mean_x = 0.0, mean_y = 0.0;
  for (std::size_t i = 0; i < points.size(); ++i) {
    if (!std::isfinite(points[i].minutes) || !(points[i].minutes > 0.0)) {
      throw InvalidInput(self, "minutes", "must be above 0 (" + to_text(points[i].minutes) + ")", i);
    }
    if (!std::isfinite(points[i].temperature_c) || points[i].temperature_c <= -zero_celsius_k) {
      throw InvalidInput(self, "temperature_c",
                         "must be finite and above absolute zero (" + to_text(points[i].temperature_c) + ")", i);
    }
    mean_x += 1.0 / (points[i].temperature_c + zero_celsius_k) / count;
    mean_y += std::log(points[i].minutes) / count;
  }
  double xx = 0.0, xy = 0.0, yy = 0.0;
  for (const SchedulePoint& point : points) {
    const double x = 1.0 / (point.temperature_c + zero_celsius_k) - mean_x;
    const double y = std::log(point.minutes) - mean_y;
    xx += x * x;
    xy += x * y;
    yy += y * y;
  }
  if (!(xx > 1e-24 * mean_x * mean_x)) {
    throw InvalidInput(self, "temperature_c", "must hold two different temperatures");
  }
  const double slope = xy / xx;
  const double to_kj = gas_constant / 1000.0;
  ScheduleEnergy found{.activation_energy_kj = slope * to_kj,
                       .standard_error_kj = unknown,
                       .lower_kj = unknown,
                       .upper_kj = unknown,
                       .ln_minutes_at_zero = mean_y - slope * mean_x,
                       .residual_sd = unknown};
  if (points.size() == 2) return found;
  const double freedom = count - 2.0;
  found.residual_sd = std::sqrt(std::max(0.0, yy - slope * xy) / freedom);
  found.standard_error_kj = found.residual_sd / std::sqrt(xx) * to_kj;
  const double half = student_t_quantile(0.5 + 0.5 * confidence_level, freedom) * found.standard_error_kj;
  found.lower_kj = found.activation_energy_kj - half;
  found.upper_kj = found.activation_energy_kj + half;
  return found;
}

}  // namespace steadyfilm
