#include "support/overbake.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <string>
#include <vector>

#include <steadyfilm/core.hpp>

#include "support/trace.hpp"

namespace steadyfilm::support {
namespace {

constexpr double unknown = std::numeric_limits<double>::quiet_NaN();
constexpr double level_step_k = 0.05;
constexpr double most_levels = 4000.0;  // between two points

std::vector<SchedulePoint> by_temperature(std::span<const SchedulePoint> curve) {
  std::vector<SchedulePoint> sorted(curve.begin(), curve.end());
  std::ranges::sort(sorted, {}, &SchedulePoint::temperature_c);
  return sorted;
}

// The points, and levels between them with the minutes of the straight line of ln t on 1/T.
std::vector<SchedulePoint> levels_of(std::span<const SchedulePoint> points) {
  std::vector<SchedulePoint> levels;
  for (std::size_t i = 0; i + 1 < points.size(); ++i) {
    const SchedulePoint &from = points[i], &to = points[i + 1];
    const double wide = to.temperature_c - from.temperature_c;
    const double count = std::clamp(std::ceil(wide / level_step_k - 1e-9), 1.0, most_levels);
    const double x0 = 1.0 / (from.temperature_c + zero_celsius_k), x1 = 1.0 / (to.temperature_c + zero_celsius_k);
    levels.push_back(from);
    for (double k = 1.0; k < count; ++k) {
      const double level = from.temperature_c + wide * (k / count);
      const double share = (1.0 / (level + zero_celsius_k) - x0) / (x1 - x0);
      levels.push_back({level, from.minutes * std::pow(to.minutes / from.minutes, share)});
    }
  }
  levels.push_back(points.back());
  return levels;
}

// Time at or above each level, level by level from sums of straight lines: a + b (level - origin).
class TimeAtLevels {
 public:
  explicit TimeAtLevels(std::span<const SchedulePoint> levels)
      : levels_(levels), constant_(levels.size() + 1, 0.0), slope_(levels.size() + 1, 0.0) {}

  void add(double minutes, double one, double two) {
    const double low = std::min(one, two), high = std::max(one, two);
    const std::size_t whole = above(low),
                      some = above(high);  // levels that the whole interval, that some of it reaches
    constant_[0] += minutes;
    constant_[whole] -= minutes;
    if (some <= whole) return;
    const double rate = minutes / (high - low);
    const double at_origin = (high - levels_.front().temperature_c) * rate;
    constant_[whole] += at_origin;
    constant_[some] -= at_origin;
    slope_[whole] -= rate;
    slope_[some] += rate;
  }
  [[nodiscard]] std::vector<double> minutes() const {
    std::vector<double> out;
    double constant = 0.0, slope = 0.0;
    for (std::size_t i = 0; i < levels_.size(); ++i) {
      constant += constant_[i];
      slope += slope_[i];
      out.push_back(constant + slope * (levels_[i].temperature_c - levels_.front().temperature_c));
    }
    return out;
  }

 private:
  // How many levels a temperature reaches.
  [[nodiscard]] std::size_t above(double temperature) const {
    const auto end =
        std::upper_bound(levels_.begin(), levels_.end(), temperature + same_temperature_k,
                         [](double value, const SchedulePoint& level) { return value < level.temperature_c; });
    return static_cast<std::size_t>(end - levels_.begin());
  }

  std::span<const SchedulePoint> levels_;
  std::vector<double> constant_, slope_;
};

}  // namespace

void require_overbake(std::span<const SchedulePoint> curve, std::string_view function) {
  for (std::size_t i = 0; i < curve.size(); ++i) {
    if (!std::isfinite(curve[i].temperature_c) || curve[i].temperature_c <= -zero_celsius_k) {
      throw InvalidInput(function, "overbake temperature_c",
                         "must be finite and above absolute zero (" + to_text(curve[i].temperature_c) + ")", i);
    }
    if (!std::isfinite(curve[i].minutes) || !(curve[i].minutes > 0.0)) {
      throw InvalidInput(function, "overbake minutes", "must be above 0 (" + to_text(curve[i].minutes) + ")", i);
    }
  }
  const auto points = by_temperature(curve);
  for (std::size_t i = 1; i < points.size(); ++i) {
    const SchedulePoint &cooler = points[i - 1], &hotter = points[i];
    if (hotter.temperature_c == cooler.temperature_c) {
      throw InvalidInput(function, "overbake temperature_c", "has " + to_text(hotter.temperature_c) + " C twice");
    }
    if (hotter.minutes > cooler.minutes) {
      throw InvalidInput(function, "overbake minutes",
                         "allows more at " + to_text(hotter.temperature_c) + " C than at " +
                             to_text(cooler.temperature_c) + " C; an upper curve falls with temperature");
    }
  }
}

OverbakeFound overbake_of(std::span<const double> time_min, std::span<const double> temperature_c,
                          std::span<const SchedulePoint> curve, std::span<const ReadingState> state,
                          const TraceRule& rule, std::string_view function) {
  OverbakeFound found{.state = CureState::pass,
                      .temperature_c = unknown,
                      .allowed_min = unknown,
                      .observed_min = unknown,
                      .credited_min = unknown};
  if (curve.empty()) return found;
  const Trace trace = checked_trace(time_min, temperature_c, state, rule, function);
  const auto points = by_temperature(curve);
  const auto levels = levels_of(points);
  TimeAtLevels observed(levels), credited(levels);
  for (const Piece& piece : trace.pieces) {
    for (std::size_t i = piece.first; i < piece.last; ++i) {
      observed.add(time_min[i + 1] - time_min[i], temperature_c[i], temperature_c[i + 1]);
    }
  }
  const auto time = trace.credited_time, temperature = trace.credited_temperature;
  for (std::size_t i = 1; i < time.size(); ++i) {
    credited.add(time[i] - time[i - 1], temperature[i - 1], temperature[i]);
  }
  const auto have = observed.minutes(), most = credited.minutes();
  // What is told: where the largest share is used of what is observed if that is too much, else of what is credited.
  const auto largest = [&](std::span<const double> minutes) {
    std::size_t best = 0;
    for (std::size_t i = 1; i < levels.size(); ++i) {
      if (minutes[i] / levels[i].minutes > minutes[best] / levels[best].minutes * (1.0 + 1e-9)) best = i;
    }
    return best;
  };
  const auto exceeds = [&](std::span<const double> minutes, std::size_t i) {
    return minutes[i] > levels[i].minutes * (1.0 + 1e-9);
  };
  std::size_t told = largest(have);
  if (exceeds(have, told)) {
    found.state = CureState::fail;
  } else {
    told = largest(most);
    if (exceeds(most, told)) found.state = CureState::not_demonstrated;
  }
  found.temperature_c = levels[told].temperature_c;
  found.allowed_min = levels[told].minutes;
  found.observed_min = std::max(0.0, have[told]);
  found.credited_min = std::max(found.observed_min, most[told]);
  return found;
}

}  // namespace steadyfilm::support
