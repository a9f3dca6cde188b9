/// @file
/// Where the variation sits: analysis of variance and variance components of balanced readings.
///
/// Method of moments throughout: each mean square is set equal to its expectation, and a component may then come out
/// below zero. It is shown as it came (`variance`) and floored (`sd`).
#pragma once

#include <cstddef>
#include <span>
#include <string>
#include <vector>

#include <steadyfilm/core.hpp>

namespace steadyfilm {

/// One line of an analysis of variance. `f` and `p` are NaN where nothing is tested, or where 0 stands over 0.
struct AnovaLine {
  std::string source;
  double sum_squares = 0.0;         ///< unit squared
  double degrees_of_freedom = 0.0;  ///< a whole number
  double mean_square = 0.0;         ///< unit squared
  double f = 0.0;                   ///< over the mean square of the next random line
  double denominator_mean_square = 0.0;
  double denominator_degrees_of_freedom = 0.0;
  double p = 0.0;  ///< chance of so large an f when the source adds nothing
};

/// Groups of any sizes, one way.
struct OneWayAnova {
  std::size_t count = 0;
  std::size_t group_count = 0;
  double mean = 0.0;  ///< of all readings
  AnovaLine between;
  AnovaLine within;
  double r_squared = 0.0;    ///< share of the sum of squares that lies between groups; NaN for constant data
  double residual_sd = 0.0;  ///< root of the mean square within
  std::vector<double> group_means;
};

/// One variance component, with an interval at the confidence level asked for.
struct VarianceComponent {
  std::string source;
  double variance = 0.0;            ///< (mean_square - next_mean_square) / readings, as it comes; unit squared
  double variance_lower = 0.0;      ///< not below 0
  double variance_upper = 0.0;      ///< not below 0
  double sd = 0.0;                  ///< root of the variance, 0 where that is negative
  double sd_lower = 0.0;            ///< roots of the ends of the variance
  double sd_upper = 0.0;            ///< as above
  double share = 0.0;               ///< of the sum of all components floored at 0; 0 when that sum is 0
  double degrees_of_freedom = 0.0;  ///< of the variance, by Satterthwaite; exact for the last one
  double mean_square = 0.0;
  double mean_square_degrees_of_freedom = 0.0;
  double next_mean_square = 0.0;  ///< 0 for the last one
  double readings = 0.0;          ///< readings a group of the source (a harmonic mean where groups differ)
};

/// A variance that is a sum of mean squares with positive weights.
struct VarianceSum {
  double variance = 0.0;
  double variance_lower = 0.0;
  double variance_upper = 0.0;
  double sd = 0.0;
  double sd_lower = 0.0;
  double sd_upper = 0.0;
  double degrees_of_freedom = 0.0;  ///< by Satterthwaite; exact for a single mean square
};

/// The mean of all readings, with an interval by Student t.
struct MeanEstimate {
  double value = 0.0;
  double standard_error = 0.0;
  double degrees_of_freedom = 0.0;
  double lower = 0.0;
  double upper = 0.0;
};

/// Ratio of the innermost level's variance to that of the residual, with the exact F interval.
struct VarianceRatio {
  double value = 0.0;
  double lower = 0.0;  ///< may lie below 0, as the value may; NaN when the residual is 0
  double upper = 0.0;
};

struct NestedComponents {
  std::vector<AnovaLine> lines;               ///< levels from the outermost, then the residual
  std::vector<VarianceComponent> components;  ///< the same order
  VarianceSum total;                          ///< of a single reading
  MeanEstimate mean;
  VarianceRatio innermost_ratio;
};

/// A fixed location: its mean over all units, and its distance from the mean of all locations.
struct LocationEffect {
  double mean = 0.0;
  double effect = 0.0;
  double lower = 0.0;  ///< interval of the effect, for this location alone
  double upper = 0.0;
};

struct BodyComponents {
  /// day (when given), unit, location and unit_location (two or more locations), repeat (two or more readings).
  std::vector<AnovaLine> lines;
  std::vector<VarianceComponent> components;  ///< the random ones, in the same order
  VarianceSum total;                          ///< of a single reading, about the mean of its location
  VarianceSum unit_average;                   ///< of the average of all readings of one unit, from unit to unit
  MeanEstimate mean;
  std::vector<LocationEffect> locations;
  double effect_standard_error = 0.0;  ///< of each location effect; NaN for one location
  double effect_degrees_of_freedom = 0.0;
  double location_rms = 0.0;  ///< root mean square of the location effects
};

/// Analysis of variance of groups of any sizes.
///
/// @param values   group after group.
/// @param offsets  one more than there are groups, rising from 0 to the number of readings.
/// @throws InvalidInput  fewer than two groups, an empty group, no group of two or more, a reading that is not finite.
/// @note   Sums run in twice the working precision, so that a large common offset costs no digit.
/// @see    cpp/methods/variance_components.md
[[nodiscard]] OneWayAnova one_way_anova(std::span<const double> values, std::span<const std::size_t> offsets);

/// Components of truly nested, balanced readings: sites in wafers in lots, to any depth.
///
/// @param values  innermost group after innermost group, in the order of the outermost level, then the next.
/// @param counts  groups of the outermost level, groups of the next level in each of these, ..., readings in each
///                innermost group: each 2 or more, their product the number of readings.
/// @throws InvalidInput  counts that do not fit, fewer than one level, a reading that is not finite, a confidence
///                       level not between 0 and 1.
/// @note   Intervals: exact chi-square for the residual, modified large sample for the others.
/// @see    cpp/methods/variance_components.md
[[nodiscard]] NestedComponents nested_components(std::span<const double> values, std::span<const std::size_t> counts,
                                                 double confidence_level = 0.95);

/// Components of the body model: unit random, location fixed and crossed with unit, unit x location and repeat random;
/// units may be nested in days of any sizes.
///
/// @param values          unit after unit (day after day), in each the same locations in the same order, in each of
///                        these `repeats` readings.
/// @param location_count  1 or more. With one, unit x location cannot be told from unit and is part of it.
/// @param repeats         readings a location of a unit, 1 or more. With one, repeat is part of unit x location.
/// @param units_per_day   empty for a model without days; else 2 or more days, one with two or more units.
/// @throws InvalidInput  numbers that do not fit, fewer than two units, a reading that is not finite, a confidence
///                       level not between 0 and 1.
/// @see    cpp/methods/variance_components.md
[[nodiscard]] BodyComponents body_components(std::span<const double> values, std::size_t location_count,
                                             std::size_t repeats, std::span<const std::size_t> units_per_day = {},
                                             double confidence_level = 0.95);

}  // namespace steadyfilm
