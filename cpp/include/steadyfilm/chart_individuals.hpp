/// @file
/// Individuals and moving-range chart: one value a point, spread from neighbors.
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include <steadyfilm/core.hpp>

namespace steadyfilm {

/// What the within sigma of single values is estimated from.
enum class MovingRangeEstimator : std::uint8_t {
  mean_moving_range,   ///< mean range over d2(span)
  median_moving_range  ///< median range over the median of the range distribution: a few jumps hardly move it
};

struct IndividualsOptions {
  std::size_t span = 2;  ///< values a moving range, 2 or more
  MovingRangeEstimator estimator = MovingRangeEstimator::mean_moving_range;
  double sigma_multiple = 3.0;                        ///< distance of the limits from the center, in sigma; above 0
  std::optional<double> center = std::nullopt;        ///< given instead of the mean of the values
  std::optional<double> sigma_within = std::nullopt;  ///< given instead of an estimate; 0 or more
  /// Given instead of d2(span) or the median factor, as a rounded table has it.
  std::optional<double> divisor = std::nullopt;
};

/// Lines of the chart and of its moving-range chart, in the unit of the data.
struct IndividualsLimits {
  ControlLimits limits;
  ControlLimits moving_range_limits;  ///< lower line not below 0
  double sigma_within = 0.0;
  double divisor = 0.0;          ///< that turned the average range into sigma_within
  double range_sd_factor = 0.0;  ///< d3(span)
};

/// An individuals chart in the unit of the data unless said; arrays have one element a point.
struct IndividualsChart {
  ControlLimits limits;
  ControlLimits moving_range_limits;  ///< lower line not below 0
  double sigma_within = 0.0;          ///< estimated or given
  std::size_t count = 0;              ///< values that take part
  double sum = 0.0;                   ///< of those values
  std::size_t moving_range_count = 0;
  double moving_range_sum = 0.0;
  double mean_moving_range = 0.0;    ///< NaN when there is no moving range
  double median_moving_range = 0.0;  ///< NaN when there is no moving range
  double median_low = 0.0;           ///< the two middle ranges whose mean is the median; equal for an odd number
  double median_high = 0.0;
  double divisor = 0.0;              ///< that turns the mean or median range into sigma_within
  double range_sd_factor = 0.0;      ///< d3(span)
  double degrees_of_freedom = 0.0;   ///< of sigma_within; NaN when it is given, or has no known figure
  std::vector<double> moving_range;  ///< of the values up to the point; NaN where there is none
  std::vector<double> standardized;  ///< (value - center) / sigma_within, also of excluded points; NaN where missing
  std::vector<double> moving_range_standardized;  ///< distance from the middle line in multiples of its sigma; or NaN
};

/// Range of the `span` values that end at each point; NaN where one of them takes no part or a break lies among them.
///
/// @param values        read only where the point takes part.
/// @param takes_part    as long as values, 0 for missing and excluded points; empty: all take part.
/// @param break_before  as long as values, 1 where a gap, a new period or another stream starts; empty: none.
/// @param out           as long as values.
/// @throws InvalidInput  span below 2, or lengths that differ.
void moving_ranges(std::span<const double> values, std::span<const std::uint8_t> takes_part,
                   std::span<const std::uint8_t> break_before, std::size_t span, std::span<double> out);

/// Center and limits of single values in production order, with the moving-range chart.
///
/// center = mean, sigma_within = mean moving range / d2(span) or median moving range / its factor, limits =
/// center -+ sigma_multiple sigma_within; moving ranges run about d2 sigma_within with sd d3 sigma_within. What the
/// options give is not estimated. Parameters as in `moving_ranges`.
///
/// @throws InvalidInput  a value that takes part is not finite; span below 2; no value; no moving range and no given
///                       sigma; a multiple, divisor or sigma out of its domain; values so large that the result
///                       overflows.
/// @note   Constant data is an answer: sigma_within 0, all lines on the value.
/// @see    cpp/methods/chart_individuals.md
[[nodiscard]] IndividualsChart individuals_chart(std::span<const double> values,
                                                 std::span<const std::uint8_t> takes_part,
                                                 std::span<const std::uint8_t> break_before,
                                                 const IndividualsOptions& options = {});

/// Limits from two averages alone, as a published page gives them.
///
/// @param mean_moving_range  0 or more; with the median estimator, the median.
/// @throws InvalidInput  a number that is not finite or out of its domain.
[[nodiscard]] IndividualsLimits individuals_limits_from_averages(double center, double mean_moving_range,
                                                                 const IndividualsOptions& options = {});

}  // namespace steadyfilm
