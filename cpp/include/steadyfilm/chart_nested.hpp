/// @file
/// Units read at several places: unit averages as single values, their moving range, and the spread inside each unit.
///
/// Limits of the averages come from the change between units, never from the spread inside them: places on one unit
/// are not a sample of the process (Wheeler's three-way chart; Woodall and Thomas 1995).
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include <steadyfilm/chart_individuals.hpp>
#include <steadyfilm/core.hpp>

namespace steadyfilm {

/// How the spread inside a unit is measured.
enum class InsideSpread : std::uint8_t { sd, range };

struct NestedOptions {
  InsideSpread spread = InsideSpread::sd;
  MovingRangeEstimator estimator = MovingRangeEstimator::mean_moving_range;
  double sigma_multiple = 3.0;                         ///< distance of all limits from their center, in sigma; above 0
  std::optional<double> center = std::nullopt;         ///< given instead of the mean of the unit averages
  std::optional<double> sigma_average = std::nullopt;  ///< of a unit average; given instead of the moving range's; >= 0
  std::optional<double> sigma_inside = std::nullopt;   ///< of an inside value; given instead of an estimate; >= 0
  std::vector<double> location_means;                  ///< given instead of those of the units; empty: estimated
};

/// A chart of nested readings in the unit of the data unless said; arrays have one element a unit.
///
/// The inside values of a unit are its location averages less the location means of the baseline; with one location,
/// its readings as they are.
struct NestedChart {
  IndividualsChart average;                ///< of the unit averages; its sigma_within is sigma_average
  ControlLimits spread_limits;             ///< lower line not below 0
  double sigma_inside = 0.0;               ///< of an inside value
  double sigma_between = 0.0;              ///< root of sigma_average^2 - sigma_inside^2 / inside_count, not below 0
  double sigma_total = 0.0;                ///< root of sigma_between^2 + sigma_inside^2
  double inside_degrees_of_freedom = 0.0;  ///< of sigma_inside; NaN when it is given
  std::size_t inside_count = 0;            ///< inside values a unit
  std::size_t spread_count = 0;            ///< units that take part
  double spread_sum = 0.0;                 ///< of their spreads
  double spread_factor = 0.0;              ///< c4 or d2 of inside_count
  double spread_sd_factor = 0.0;           ///< c5 or d3
  /// sqrt(1 - 1/units) when the location means come from the same units, which they follow a little; else 1.
  double own_mean_factor = 1.0;
  double moving_range_chance = 0.0;  ///< of one moving range of a steady process beyond its limits, normal averages
  double spread_chance = 0.0;        ///< of one spread beyond its limits, normal inside values
  std::vector<double> averages;      ///< NaN where a unit lacks a reading
  std::vector<double> spreads;       ///< as above
  std::vector<double> spread_standardized;
  std::vector<double> location_means;  ///< estimated or given; of one location, a single number
};

/// Chart units that were all read at the same locations, each the same number of times.
///
/// @param values          unit after unit in production order, in each the same locations in the same order, in each
///                        of these `repeats` readings; a unit with a NaN takes no part.
/// @param location_count  1 or more; 1 for readings whose place does not matter.
/// @param repeats         1 or more; with one location 2 or more.
/// @param takes_part      one a unit, 0 for excluded units; empty: all.
/// @param break_before    one a unit, 1 where a gap, a new period or another stream starts; empty: none.
/// @throws InvalidInput  numbers that do not fit, an infinite reading, no unit that takes part, no two neighbors and no
///                       given sigma, options out of their domain.
/// @note   Constant data is an answer: the sigmas are 0 and all lines lie on the value.
/// @see    cpp/methods/chart_nested.md
[[nodiscard]] NestedChart nested_chart(std::span<const double> values, std::size_t location_count, std::size_t repeats,
                                       std::span<const std::uint8_t> takes_part,
                                       std::span<const std::uint8_t> break_before, const NestedOptions& options = {});

/// What an ordinary averages chart would do to in-control units.
struct NestedFalseAlarm {
  double false_alarm_probability = 0.0;  ///< of one unit average
  double limit_sigma_multiple = 0.0;     ///< distance of those limits, in sd of the unit average
  double sd_inside = 0.0;                ///< root of the expected variance of all readings of a unit
  double sd_average = 0.0;               ///< of a unit average
};

/// Chance that an in-control unit average leaves limits center -+ sigma_multiple S / sqrt(ab), with S from the spread
/// of all ab readings inside the units.
///
/// @param sigma_unit,sigma_location,sigma_repeat  sd from unit to unit, of a unit's location beyond unit and pattern,
///                       and of a reading at one spot; 0 or more, one of them above 0.
/// @param location_rms   root mean square of the fixed location effects, 0 or more.
/// @throws InvalidInput  a number out of its domain, or a single reading a unit.
[[nodiscard]] NestedFalseAlarm nested_false_alarm(double sigma_unit, double sigma_location, double sigma_repeat,
                                                  std::size_t location_count, std::size_t readings_per_location,
                                                  double location_rms = 0.0, double sigma_multiple = 3.0);

}  // namespace steadyfilm
