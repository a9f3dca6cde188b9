/// @file
/// Where the variation sits: analysis of variance and variance components.
///
/// Balanced readings by the method of moments: each mean square is set equal to its expectation, and a component may
/// then come out below zero. It is shown as it came (`variance`) and floored (`sd`). Readings of any layout by
/// (restricted) maximum likelihood, `mixed_components`, where a component is never below zero.
#pragma once

#include <cstddef>
#include <cstdint>
#include <functional>
#include <span>
#include <stdexcept>
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

/// Levels of one term: a factor, a combination of factors, or a factor nested in others, reading by reading.
struct LevelCodes {
  std::string name;
  std::span<const std::int32_t> codes;  ///< 0 to levels - 1, one a reading
  std::size_t levels = 0;               ///< each must occur
};

/// A number that goes along with each reading and shifts it by so much a unit.
struct Covariate {
  std::string name;
  std::span<const double> values;  ///< one a reading
};

/// reading = mean + fixed effects + random effects + residual. Random effects are independent and normal, all of one
/// term with one variance. A fixed term is coded by treatment contrasts: its level 0 is the base.
struct MixedModel {
  std::vector<LevelCodes> random;  ///< one or more
  std::vector<LevelCodes> fixed = {};
  std::vector<Covariate> covariates = {};
};

enum class Likelihood {
  restricted,  ///< REML: of the readings' contrasts that no fixed effect moves
  full,        ///< ML: components are too small when fixed effects are many
};

/// The hook `keep_going` said no: there is no result.
class Stopped : public std::runtime_error {
 public:
  using std::runtime_error::runtime_error;
};

struct MixedOptions {
  Likelihood likelihood = Likelihood::restricted;
  double confidence_level = 0.95;
  bool profile_intervals = true;          ///< else `lower` and `upper` of each component are NaN
  bool predictions = true;                ///< else `effects` is empty
  std::size_t most_steps = 100;           ///< Newton steps; the result says when they did not suffice
  std::function<bool()> keep_going = {};  ///< asked before each evaluation; false ends the call with `Stopped`
};

/// A component by maximum likelihood; the residual is the last one. Units are those of the readings, or their square.
struct MixedComponent {
  std::string source;                    ///< the term's name; "residual"
  std::size_t levels = 0;                ///< of the term; for the residual the number of readings
  double relative_sd = 0.0;              ///< sd over the residual's sd: the parameter of the search; 1 for the residual
  double variance = 0.0;                 ///< 0 or more
  double variance_standard_error = 0.0;  ///< from the observed information; NaN at 0
  double variance_lower = 0.0;           ///< profile likelihood; 0 where the likelihood at 0 is not low enough
  double variance_upper = 0.0;
  double sd = 0.0;
  double sd_lower = 0.0;  ///< roots of the ends of the variance
  double sd_upper = 0.0;
  double log_sd_standard_error = 0.0;  ///< of ln(sd), from the observed information; NaN at 0
  double wald_sd_lower = 0.0;          ///< exp(ln sd -+ z log_sd_standard_error); NaN at 0
  double wald_sd_upper = 0.0;
  double share = 0.0;              ///< of the sum of all components; 0 when that sum is 0
  double unbiased_variance = 0.0;  ///< quadratic, unbiased, as it comes; for balanced readings the analysis of variance
  bool on_boundary = false;        ///< the likelihood is highest at 0
};

struct FixedEffect {
  std::string term;        ///< "mean" for the intercept
  std::int32_t level = 0;  ///< of a factor: against its level 0; -1 for the mean and covariates
  double estimate = 0.0;
  double standard_error = 0.0;
};

/// The prediction of one level's random effect.
struct RandomEffect {
  double value = 0.0;
  double standard_error = 0.0;  ///< of value - true effect; the fixed effects' own error is in it
};

/// How the search ended.
struct SearchEnd {
  bool converged = false;
  std::size_t steps = 0;
  std::size_t evaluations = 0;  ///< of the likelihood with its slope, intervals not counted
  double last_change = 0.0;     ///< what one more step would still add to the log-likelihood, by its curvature
};

struct MixedComponents {
  std::size_t count = 0;
  std::size_t fixed_count = 0;             ///< coefficients, the mean among them
  bool balanced = false;                   ///< every two terms meet in all their levels' pairs that occur equally often
  std::vector<MixedComponent> components;  ///< the terms in the order given, then the residual
  double total_variance = 0.0;             ///< sum of the components
  double total_sd = 0.0;
  double total_variance_standard_error = 0.0;  ///< from the observed information; components at 0 counted as known
  std::vector<FixedEffect> fixed;
  std::vector<double> fixed_covariance;            ///< of the estimates in `fixed`, row after row
  std::vector<std::vector<RandomEffect>> effects;  ///< a term, a level
  double log_likelihood = 0.0;         ///< restricted or full, as asked; constants as in methods/variance_components.md
  double criterion = 0.0;              ///< -2 log_likelihood
  double log_determinant = 0.0;        ///< ln |L|^2, restricted: + ln |R_X|^2
  double penalized_sum_squares = 0.0;  ///< unit squared; over degrees_of_freedom it is the residual variance
  double degrees_of_freedom = 0.0;     ///< count, less fixed_count when restricted
  SearchEnd convergence;
};

/// Levels that combine two terms: only combinations that occur, in the order of first appearance.
struct CombinedLevels {
  std::vector<std::int32_t> codes;
  std::size_t levels = 0;
};

/// Codes of the combination of two terms, one a reading.
///
/// @param first, second  codes from 0, one a reading each, equally long.
/// @return               codes from 0 in the order of first appearance, and how many there are.
/// @throws InvalidInput  lengths that differ.
[[nodiscard]] CombinedLevels combine_levels(std::span<const std::int32_t> first, std::span<const std::int32_t> second);

/// Variance components of readings of any layout: unbalanced, cells missing, any number of crossed and nested terms.
///
/// @param values  readings in any order.
/// @param model   terms with one code a reading.
/// @return        components with standard errors and intervals, fixed effects, predictions, the search's end. Constant
///                readings give components of 0.
/// @throws InvalidInput  no random term; codes that do not fit, a level without a reading, a term with one level or
///                       with a level for every reading; terms or fixed effects that cannot be told apart (named); no
///                       residual variation, so that the likelihood has no highest point; numbers that are not finite.
/// @throws Stopped       keep_going said no.
/// @see    cpp/methods/variance_components.md
[[nodiscard]] MixedComponents mixed_components(std::span<const double> values, const MixedModel& model,
                                               const MixedOptions& options = {});

}  // namespace steadyfilm
