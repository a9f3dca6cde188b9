/// @file
/// What the step of a display does: steps in a window, zero ranges, spread from rounded readings, and chart limits.
///
/// A display of step h shows the multiple of h nearest to the true value, so that a reading x says only that the value
/// lies in x - h/2 to x + h/2. All lengths of one call are in one unit, whichever.
#pragma once

#include <cstddef>
#include <span>
#include <vector>

namespace steadyfilm {

/// How finely a display divides a window.
struct WindowSteps {
  double steps = 0.0;                 ///< width over step
  std::size_t shown_inside = 0;       ///< different readings that meet both limits
  double wanted_step = 0.0;           ///< a tenth of the window
  double standard_uncertainty = 0.0;  ///< step / sqrt(12), from the display alone
};

/// @throws InvalidInput  limits that do not rise, a step not above 0.
/// @note   A displayed value within a relative 1e-9 of a limit meets it.
[[nodiscard]] WindowSteps window_steps(double lower, double upper, double step);

/// Groups of readings whose range is zero.
struct ZeroRanges {
  std::size_t groups = 0;  ///< with two or more readings
  std::size_t zero = 0;
  std::size_t single = 0;  ///< groups of one reading, which have no range
};

/// @param offsets  one more than there are groups, rising from 0 to the number of readings.
/// @throws InvalidInput  offsets that do not fit, an empty group, a reading that is not finite.
[[nodiscard]] ZeroRanges zero_ranges(std::span<const double> values, std::span<const std::size_t> offsets);

/// Normal distribution fitted to rounded readings by maximum likelihood, each reading an interval of one step.
struct RoundedFit {
  std::size_t count = 0;
  double mean = 0.0;
  double mean_lower = 0.0;  ///< profile likelihood interval
  double mean_upper = 0.0;
  double sd = 0.0;        ///< maximum likelihood (divisor n in the limit of no rounding)
  double sd_lower = 0.0;  ///< profile likelihood interval
  double sd_upper = 0.0;
  double sd_unbiased = 0.0;  ///< sd sqrt(n / (n - 1)): the divisor n - 1 in the limit of no rounding
  double log_likelihood = 0.0;
  double mean_of_readings = 0.0;
  double sd_of_readings = 0.0;  ///< as if not rounded, divisor n - 1
  double sheppard_sd = 0.0;     ///< sqrt(sd_of_readings^2 - step^2 / 12), 0 where that is negative
  /// One value, or two that are neighbors: any smaller spread explains them as well, so that sd is 0 and only its upper
  /// limit means something.
  bool only_an_upper_limit = false;
  std::vector<double> shown;        ///< different readings, rising
  std::vector<std::size_t> counts;  ///< of each
};

/// Mean and standard deviation from rounded readings.
///
/// @param values  two or more, each within 2 % of a step of a multiple of the step (a converted display may be off a
///                little in its last digit).
/// @throws InvalidInput  fewer than two readings, one that is not finite or lies off the grid, a step not above 0, a
///                       confidence level not between 0 and 1.
/// @see    cpp/methods/resolution.md
[[nodiscard]] RoundedFit fit_rounded(std::span<const double> values, double step, double confidence_level = 0.95);

/// log-likelihood of rounded readings under a normal distribution: the sum of the logs of the chances of their cells.
/// @throws InvalidInput  as fit_rounded; sd not above 0.
[[nodiscard]] double rounded_log_likelihood(std::span<const double> values, double step, double mean, double sd);

/// What charts make of rounded readings of a steady normal process with one mean.
struct RoundingEffect {
  double mean_rounded = 0.0;       ///< of a reading as displayed
  double sd_rounded = 0.0;         ///< of a reading as displayed
  double mean_range = 0.0;         ///< expected, of subgroups (of moving ranges of 2 for subgroup_size 1)
  double zero_range_share = 0.0;   ///< expected
  double sigma_from_ranges = 0.0;  ///< mean_range / d2
  double sigma_ratio = 0.0;        ///< sigma_from_ranges over the true sigma
  double sd_ratio = 0.0;           ///< sd_rounded over the true sigma
  double limit_distance = 0.0;     ///< 3 sigma_from_ranges / sqrt(subgroup_size), from the center
  double false_alarm = 0.0;        ///< chance that a point of the steady process lies beyond those limits
};

/// Exact sums over the cells of the display.
///
/// @param mean           of the process; only its place between two displayed values matters.
/// @param subgroup_size  1 for an individuals chart with moving ranges of 2, else 2 to 30.
/// @throws InvalidInput  sigma or step not above 0, a size out of its range.
/// @note   Beyond a sigma of some ten steps the false-alarm chance is that of a normal average with sd_rounded.
/// @see    cpp/methods/resolution.md
[[nodiscard]] RoundingEffect rounding_effect(double sigma, double step, double mean, std::size_t subgroup_size);

}  // namespace steadyfilm
