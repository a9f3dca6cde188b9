/// @file
/// EWMA chart: the exponentially weighted moving average of single values, for small lasting shifts.
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include <steadyfilm/core.hpp>

namespace steadyfilm {

struct EwmaOptions {
  double smoothing = 0.2;       ///< weight of the newest point, above 0 and at most 1
  double sigma_multiple = 3.0;  ///< distance of the limits in standard deviations of the EWMA; above 0
  bool time_varying = true;  ///< limits that widen from each restart to their end value; else the end value throughout
  std::optional<double> center = std::nullopt;       ///< given instead of the mean of the values
  std::optional<double> sigma_point = std::nullopt;  ///< given instead of mean moving range of 2 / d2; 0 or more
};

/// One point at which the EWMA lies beyond its limit.
struct EwmaSignal {
  std::size_t point = 0;   ///< from 0
  int side = 0;            ///< +1 above, -1 below
  std::size_t length = 1;  ///< points since the EWMA came to this side of the center, this one and passed ones counted

  friend bool operator==(const EwmaSignal&, const EwmaSignal&) = default;
};

/// An EWMA chart in the unit of the data unless said; arrays have one element a point.
struct EwmaChart {
  ControlLimits limits;      ///< end value of the limits, long after a restart
  double sigma_point = 0.0;  ///< standard deviation of a single point, estimated or given
  std::size_t count = 0;     ///< values that take part
  double sum = 0.0;          ///< of those values
  std::size_t moving_range_count = 0;
  double moving_range_sum = 0.0;
  double divisor = 0.0;             ///< d2(2)
  double degrees_of_freedom = 0.0;  ///< of sigma_point; NaN when it is given
  std::vector<double> ewma;         ///< carried over points that take no part; restarts at the center after a break
  std::vector<double> standardized_ewma;  ///< (ewma - center) / sigma_point, without unit
  std::vector<double> lower;              ///< both on the center where no point has taken part since a restart
  std::vector<double> upper;
  std::vector<EwmaSignal> signals;
};

/// z_i = smoothing x_i + (1 - smoothing) z_(i-1), z_0 = center, with limits center -+ sigma_multiple sigma_point
/// sqrt(smoothing / (2 - smoothing)), times sqrt(1 - (1 - smoothing)^(2 i)) when they vary with the number i of points
/// since the restart.
///
/// The recursion runs on (x - center) / sigma_point in the block order of the project, so that a monitor with the same
/// center, sigma and breaks gives the same bits, however the series is cut.
///
/// @param values        in production order; read only where the point takes part.
/// @param takes_part    as long as values, 0 for missing and excluded points: the EWMA is carried over.
///                      Empty: all take part.
/// @param break_before  as long as values, 1 where a gap or a new period starts: the EWMA restarts at the center.
/// Empty: none.
/// @throws InvalidInput  a value that takes part is not finite; no value; no two neighbors and no given sigma; options
/// out of their
///                       domain; values so large that the result overflows.
/// @note   Constant data is an answer: sigma_point 0, all lines on the value. A point within 1e-9 sigma_point of a
/// limit is on it.
/// @see    cpp/methods/chart_ewma.md
[[nodiscard]] EwmaChart ewma_chart(std::span<const double> values, std::span<const std::uint8_t> takes_part,
                                   std::span<const std::uint8_t> break_before, const EwmaOptions& options = {});

}  // namespace steadyfilm
