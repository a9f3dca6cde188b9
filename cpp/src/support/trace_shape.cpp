// Peak, ramp and soak of a trace, and parts that follow the air: the figures of cure_profile.hpp that need no dose.
#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>
#include <string>
#include <string_view>
#include <utility>

#include <steadyfilm/core.hpp>
#include <steadyfilm/cure_profile.hpp>

#include "support/exponential_integral.hpp"
#include "support/quadrature.hpp"
#include "support/trace.hpp"

namespace steadyfilm {
namespace {

using support::Piece;
using support::zero_celsius_k;

constexpr double unknown = std::numeric_limits<double>::quiet_NaN();
constexpr double infinite = std::numeric_limits<double>::infinity();

// Sums of a straight-line fit over a window of readings, from an origin nearby so that nothing cancels.
class Window {
 public:
  Window(std::span<const double> time, std::span<const double> temperature) : time_(time), temperature_(temperature) {}

  void restart(std::size_t origin) {
    *this = Window(time_, temperature_);
    origin_ = origin;
  }
  void add(std::size_t i) { change(i, 1.0); }
  void remove(std::size_t i) { change(i, -1.0); }
  [[nodiscard]] double slope() const {
    const double mean = x_ / count_;
    return (xy_ - mean * y_) / (xx_ - mean * x_);
  }

 private:
  void change(std::size_t i, double sign) {
    const double x = time_[i] - time_[origin_];
    const double y = temperature_[i] - temperature_[origin_];
    count_ += sign;
    x_ += sign * x;
    y_ += sign * y;
    xx_ += sign * x * x;
    xy_ += sign * x * y;
  }

  std::span<const double> time_, temperature_;
  std::size_t origin_ = 0;
  double count_ = 0.0, x_ = 0.0, y_ = 0.0, xx_ = 0.0, xy_ = 0.0;
};

struct Steepest {
  double slope = -infinite;
  double from = unknown;
  double to = unknown;
};

void steepest_of_piece(std::span<const double> time, std::span<const double> temperature, const Piece& piece,
                       double window_min, Steepest& best) {
  constexpr std::size_t fresh = 256;  // windows until the sums are made anew
  const double reach = window_min * (1.0 - 1e-9);
  Window window(time, temperature);
  std::size_t end = piece.first;  // one past the last reading of the window
  for (std::size_t i = piece.first; i < piece.last; ++i) {
    if ((i - piece.first) % fresh == 0) {
      window.restart(i);
      for (std::size_t k = i; k < end; ++k) window.add(k);
      if (end == i) window.add(end++);
    } else {
      window.remove(i - 1);
    }
    while (end <= piece.last && time[end - 1] - time[i] < reach) window.add(end++);
    if (time[end - 1] - time[i] < reach) return;  // the piece ends inside of the window
    const double slope = window.slope();
    if (slope > best.slope) best = {slope, time[i], time[end - 1]};
  }
}

Steepest steepest(std::span<const double> time, std::span<const double> temperature, std::span<const Piece> pieces,
                  double window_min) {
  Steepest best;
  const Piece* longest = nullptr;
  for (const Piece& piece : pieces) {
    if (piece.last == piece.first) continue;
    const double span = time[piece.last] - time[piece.first];
    if (longest == nullptr || span > time[longest->last] - time[longest->first]) longest = &piece;
    steepest_of_piece(time, temperature, piece, window_min, best);
  }
  // No piece is as long as the window: the longest one is what there is.
  if (best.slope == -infinite && longest != nullptr) {
    steepest_of_piece(time, temperature, *longest, time[longest->last] - time[longest->first], best);
  }
  return best;
}

// The part of a straight line that lies at or above `line`: its share of the interval, and the mean there.
struct Clipped {
  double share = 0.0;
  double mean = 0.0;
};

Clipped clip(double from, double to, double line) {
  const double high = std::max(from, to), low = std::min(from, to);
  if (high < line) return {};
  if (low >= line) return {1.0, 0.5 * (low + high)};
  return {(high - line) / (high - low), 0.5 * (high + line)};
}

void soak(std::span<const double> time, std::span<const double> temperature, std::span<const Piece> pieces, double line,
          TraceShape& shape) {
  double minutes = 0.0, weighted = 0.0;
  for (const Piece& piece : pieces) {
    double run = 0.0;
    for (std::size_t i = piece.first; i < piece.last; ++i) {
      const double length = time[i + 1] - time[i];
      const Clipped part = clip(temperature[i], temperature[i + 1], line);
      const double inside = part.share * length;
      minutes += inside;
      weighted += inside * (part.mean - line);
      // A run ends where the line comes down, and begins where it comes up.
      run = temperature[i] >= line ? run + inside : inside;
      shape.soak_min = std::max(shape.soak_min, run);
    }
  }
  shape.soak_mean_c = minutes > 0.0 ? line + weighted / minutes : unknown;
}

struct Fit {
  double sum_squares = infinite;
  double start = 0.0;
};

// The air's rise above its first reading, and with it the part's: T = air response + (start - air_0) exp(-t / tau).
Fit fit_of(std::span<const double> time, std::span<const double> air, std::span<const double> part, double tau) {
  double response = 0.0, xx = 0.0, xy = 0.0;
  std::vector<double> rest(time.size()), decay(time.size());
  for (std::size_t i = 0; i < time.size(); ++i) {
    if (i > 0) {
      const double length = time[i] - time[i - 1];
      const double kept = std::exp(-length / tau);
      const double slope = (air[i] - air[i - 1]) / length;
      const double lag = slope * tau;
      response = (air[i] - air[0]) - lag + (response - (air[i - 1] - air[0]) + lag) * kept;
    }
    decay[i] = std::exp(-(time[i] - time[0]) / tau);
    rest[i] = part[i] - air[0] - response;
    xx += decay[i] * decay[i];
    xy += decay[i] * rest[i];
  }
  Fit fit{.sum_squares = 0.0, .start = air[0] + xy / xx};
  for (std::size_t i = 0; i < time.size(); ++i) {
    const double error = rest[i] - decay[i] * xy / xx;
    fit.sum_squares += error * error;
  }
  return fit;
}

void require_lag(double air_c, double start_c, double time_constant_min, double oven_min, std::string_view function) {
  for (const auto& [value, name] : {std::pair{air_c, "air_c"}, std::pair{start_c, "start_c"}}) {
    require_finite(value, function, name);
    if (value <= -zero_celsius_k) {
      throw InvalidInput(function, name, "must be above absolute zero (" + to_text(value) + ")");
    }
  }
  require_positive(time_constant_min, function, "time_constant_min");
  require_finite(oven_min, function, "oven_min");
  if (oven_min < 0.0) throw InvalidInput(function, "oven_min", "must be 0 or more (" + to_text(oven_min) + ")");
}

}  // namespace

TraceShape trace_shape(std::span<const double> time_min, std::span<const double> temperature_c, double slope_window_min,
                       double soak_band_c, std::span<const ReadingState> state, const TraceRule& rule) {
  constexpr std::string_view self = "trace_shape";
  require_positive(slope_window_min, self, "slope_window_min");
  require_positive(soak_band_c, self, "soak_band_c");
  const support::Trace trace = support::checked_trace(time_min, temperature_c, state, rule, self);
  support::refuse_temperatures(temperature_c, state, self);
  TraceShape shape{.peak_c = unknown,
                   .peak_at_min = unknown,
                   .lowest_c = unknown,
                   .suspect_peak_c = unknown,
                   .steepest_c_per_min = unknown,
                   .steepest_from_min = unknown,
                   .steepest_to_min = unknown,
                   .soak_min = 0.0,
                   .soak_mean_c = unknown};
  for (const Piece& piece : trace.pieces) {
    for (std::size_t i = piece.first; i <= piece.last; ++i) {
      if (!(temperature_c[i] <= shape.peak_c)) {
        shape.peak_c = temperature_c[i];
        shape.peak_at_min = time_min[i];
      }
      if (!(temperature_c[i] >= shape.lowest_c)) shape.lowest_c = temperature_c[i];
    }
  }
  for (std::size_t i = 0; i < state.size(); ++i) {
    if (state[i] == ReadingState::suspect && !(temperature_c[i] <= shape.suspect_peak_c)) {
      shape.suspect_peak_c = temperature_c[i];
    }
  }
  const Steepest best = steepest(time_min, temperature_c, trace.pieces, slope_window_min);
  if (best.slope != -infinite) {
    shape.steepest_c_per_min = best.slope;
    shape.steepest_from_min = best.from;
    shape.steepest_to_min = best.to;
  }
  if (std::isfinite(shape.peak_c)) soak(time_min, temperature_c, trace.pieces, shape.peak_c - soak_band_c, shape);
  return shape;
}

OvenLag oven_lag(double air_c, double start_c, double time_constant_min, double oven_min, double threshold_c) {
  constexpr std::string_view self = "oven_lag";
  require_lag(air_c, start_c, time_constant_min, oven_min, self);
  require_finite(threshold_c, self, "threshold_c");
  const double gap = air_c - start_c;
  OvenLag found{
      .reach_min = infinite, .above_min = 0.0, .exit_c = air_c - gap * std::exp(-oven_min / time_constant_min)};
  // Where the curve passes the threshold, when it lies between start and air.
  const double crossing = time_constant_min * std::log(gap / (air_c - threshold_c));
  if (start_c >= threshold_c) {
    found.reach_min = 0.0;
    found.above_min = air_c >= threshold_c ? oven_min : std::min(oven_min, crossing);
  } else if (air_c > threshold_c && crossing <= oven_min) {
    found.reach_min = crossing;
    found.above_min = oven_min - crossing;
  }
  return found;
}

double oven_lag_equivalent_time(double air_c, double start_c, double time_constant_min, double oven_min,
                                const CureRate& rate) {
  constexpr std::string_view self = "oven_lag_equivalent_time";
  require_lag(air_c, start_c, time_constant_min, oven_min, self);
  (void)cure_rate_factor(rate.reference_c, rate);  // refuses what is no rate
  if (oven_min == 0.0) return 0.0;
  return support::integrate(
      [&](double minute) {
        return cure_rate_factor(air_c - (air_c - start_c) * std::exp(-minute / time_constant_min), rate);
      },
      0.0, oven_min, {.relative = 1e-12});
}

FittedLag fit_oven_lag(std::span<const double> time_min, std::span<const double> air_c,
                       std::span<const double> part_c) {
  constexpr std::string_view self = "fit_oven_lag";
  require_count(time_min.size(), 4, self, "time_min");
  for (const auto& [values, name] : {std::pair{air_c, "air_c"}, std::pair{part_c, "part_c"}}) {
    if (values.size() != time_min.size()) {
      throw InvalidInput(
          self, name,
          "needs " + std::to_string(time_min.size()) + " elements like time_min, got " + std::to_string(values.size()));
    }
    require_finite(values, self, name);
  }
  (void)support::checked_trace(time_min, part_c, {}, {}, self);
  // Coarse in the logarithm, then a golden section about the best.
  constexpr int grid = 60;
  const double low = std::log(0.01), high = std::log(1e4);
  const auto at = [&](double x) { return fit_of(time_min, air_c, part_c, std::exp(x)); };
  double best = low, least = infinite;
  for (int i = 0; i <= grid; ++i) {
    const double x = low + (high - low) * i / grid;
    const double here = at(x).sum_squares;
    if (here < least) {
      least = here;
      best = x;
    }
  }
  const double step = (high - low) / grid;
  double a = std::max(low, best - step), b = std::min(high, best + step);
  constexpr double golden = 0.6180339887498949;
  for (int i = 0; i < 45; ++i) {
    const double c = b - golden * (b - a), d = a + golden * (b - a);
    if (at(c).sum_squares < at(d).sum_squares) {
      b = d;
    } else {
      a = c;
    }
  }
  double x = 0.5 * (a + b);
  Fit fit = at(x);
  if (least < fit.sum_squares) {  // at an end of the range
    x = best;
    fit = at(x);
  }
  return {.time_constant_min = std::exp(x),
          .start_c = fit.start,
          .residual_c = std::sqrt(fit.sum_squares / static_cast<double>(time_min.size()))};
}

}  // namespace steadyfilm
