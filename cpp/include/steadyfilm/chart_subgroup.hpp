/// @file
/// Subgroup charts: averages with their ranges (X-bar and R) or standard deviations (X-bar and S).
///
/// Readings lie one after another; `offsets` cut them into subgroups: subgroup i holds readings offsets[i] up to, not
/// including, offsets[i + 1]. Sizes may differ.
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include <steadyfilm/core.hpp>
#include <steadyfilm/run_rules.hpp>

namespace steadyfilm {

/// What the chart below the averages plots.
enum class SubgroupSpread : std::uint8_t { range, sd };

/// What sigma inside the subgroups is estimated from.
enum class WithinEstimator : std::uint8_t {
  mean_range,   ///< weighted mean of R_i / d2(n_i), weights d2^2 / d3^2; for one size mean R / d2
  mean_sd,      ///< weighted mean of S_i / c4(n_i), weights c4^2 / (1 - c4^2); for one size mean S / c4
  pooled_sd,    ///< root of the pooled variance, divisor nu = sum of (n_i - 1)
  pooled_sd_c4  ///< that over c4(nu + 1), free of bias
};

struct SubgroupOptions {
  SubgroupSpread spread = SubgroupSpread::range;
  WithinEstimator estimator = WithinEstimator::mean_range;
  double sigma_multiple = 3.0;                        ///< distance of the limits, in sigma of the point; above 0
  std::optional<double> center = std::nullopt;        ///< given instead of the mean of all readings
  std::optional<double> sigma_within = std::nullopt;  ///< given instead of an estimate; 0 or more
};

/// Sigma inside the subgroups, with the sums behind it; in the unit of the data unless said.
struct WithinSigma {
  double sigma_within = 0.0;
  double degrees_of_freedom = 0.0;  ///< pooled: nu; averages of ranges or sds: by the match to a chi, as for d2*
  std::size_t groups = 0;           ///< subgroups that take part and have two or more readings
  double spread_sum = 0.0;          ///< of the ranges or standard deviations used
  double mean_spread = 0.0;         ///< spread_sum / groups
  double weighted_sum = 0.0;        ///< sum of w_i R_i / d2(n_i), or with S_i / c4(n_i); 0 when pooled
  double weight_sum = 0.0;          ///< sum of w_i, without unit; 0 when pooled
  double sum_squares = 0.0;         ///< pooled: of deviations inside the subgroups, unit squared; else 0
  double divisor = 0.0;             ///< d2 or c4 when all sizes are equal, c4(nu + 1) or 1 when pooled, else NaN
};

/// Lines of the averages and of their spread, from averages alone.
struct SubgroupLimits {
  ControlLimits limits;
  ControlLimits spread_limits;
};

/// A subgroup chart in the unit of the data unless said; arrays have one element a subgroup.
struct SubgroupChart {
  ControlLimits limits;         ///< of a subgroup of nominal_size
  ControlLimits spread_limits;  ///< of a subgroup of nominal_size; lower line not below 0
  /// The size of most subgroups that take part, of two or more; of equally many the larger.
  std::size_t nominal_size = 0;
  double spread_factor = 0.0;     ///< d2 or c4 of nominal_size
  double spread_sd_factor = 0.0;  ///< d3 or c5 of nominal_size
  std::size_t count = 0;          ///< readings in subgroups that take part
  double sum = 0.0;               ///< of those readings
  WithinSigma within;             ///< estimated; with a given sigma only sigma_within, and degrees of freedom NaN
  std::vector<std::size_t> sizes;
  std::vector<double> means;    ///< NaN for an empty subgroup
  std::vector<double> spreads;  ///< NaN below two readings
  std::vector<double> lower;    ///< center -+ sigma_multiple sigma_within / sqrt(n_i); NaN for an empty subgroup
  std::vector<double> upper;
  std::vector<double> spread_lower;  ///< spread lines of n_i readings; NaN below two
  std::vector<double> spread_center;
  std::vector<double> spread_upper;
  std::vector<double> standardized;         ///< (mean - center) / (sigma_within / sqrt(n_i))
  std::vector<double> spread_standardized;  ///< distance of the spread from its middle line, in its own sigma
};

/// Averages of equal, consecutive subgroups, in the unit of the data.
struct SubgroupAverages {
  std::size_t groups = 0;
  double sum = 0.0;           ///< of all readings
  double mean = 0.0;          ///< of all readings
  double range_sum = 0.0;     ///< of all ranges
  double mean_range = 0.0;    ///< range_sum / groups
  double sigma_within = 0.0;  ///< mean_range / d2
};

/// Signals of a chart of averages and ranges; points count subgroups from 0.
struct SubgroupSignals {
  ControlLimits limits;
  ControlLimits spread_limits;
  double sigma_within = 0.0;               ///< estimated or given
  std::size_t groups = 0;                  ///< subgroups looked at
  SubgroupAverages averages;               ///< what was estimated; all 0 when center and sigma_within are given
  std::vector<RuleSignal> signals;         ///< of the averages
  std::vector<RuleSignal> spread_signals;  ///< of the ranges: one point beyond its limit
};

/// Mean and range of each subgroup.
///
/// The sum of n readings adds them left to right; the mean is that sum over n, and of equal readings it is that
/// reading. Every faster way gives the same bits.
///
/// @param offsets       one more than there are subgroups, rising from 0 to the number of readings.
/// @param means,ranges  output, one a subgroup; NaN for an empty one.
/// @throws InvalidInput  offsets that do not cut the readings, or outputs of another length.
void subgroup_means_ranges(std::span<const double> values, std::span<const std::size_t> offsets,
                           std::span<double> means, std::span<double> ranges);

/// Standard deviation (divisor n - 1) of each subgroup, in twice the working precision; NaN below two readings.
/// @throws InvalidInput  as above.
void subgroup_sds(std::span<const double> values, std::span<const std::size_t> offsets, std::span<double> sds);

/// Sigma inside the subgroups from their ranges (mean_range) or standard deviations (the other estimators).
///
/// @param sizes       readings a subgroup.
/// @param spreads     one a subgroup, not read below two readings.
/// @param takes_part  one a subgroup, 0 for an excluded one; empty: all take part.
/// @throws InvalidInput  no subgroup of two or more, lengths that differ, a spread that is negative or not finite.
[[nodiscard]] WithinSigma within_sigma(std::span<const std::size_t> sizes, std::span<const double> spreads,
                                       std::span<const std::uint8_t> takes_part, WithinEstimator estimator);

/// Averages and spreads of subgroups with their limits.
///
/// center = mean of all readings that take part, limits of subgroup i = center -+ sigma_multiple sigma_within /
/// sqrt(n_i); ranges run about d2(n_i) sigma_within with sd d3(n_i) sigma_within, standard deviations about c4(n_i)
/// sigma_within with sd c5(n_i) sigma_within. What the options give is not estimated. An excluded subgroup has its
/// figures, and no part in any average.
///
/// @throws InvalidInput  a reading that is not finite; no subgroup of two or more; an empty subgroup that takes part;
///                       options out of their domain; readings so large that the result overflows.
/// @note   Constant data is an answer: sigma_within 0, all lines on the value.
/// @see    cpp/methods/chart_subgroup.md
[[nodiscard]] SubgroupChart subgroup_chart(std::span<const double> values, std::span<const std::size_t> offsets,
                                           std::span<const std::uint8_t> takes_part,
                                           const SubgroupOptions& options = {});

/// Means and ranges of very many equal subgroups, and their averages, in one pass shared out to threads.
///
/// The same bits as `subgroup_means_ranges`, for every number of threads and every instruction set.
///
/// @param values         one subgroup after the other, a whole number of them.
/// @param subgroup_size  2 or more.
/// @param means,ranges   output, one a subgroup; either may be empty when it is not wanted.
/// @param threads        most threads; 0: as many as run at once.
/// @throws InvalidInput  a reading that is not finite; no or a broken subgroup; readings so large that a sum overflows.
SubgroupAverages subgroup_averages(std::span<const double> values, std::size_t subgroup_size, std::span<double> means,
                                   std::span<double> ranges, std::size_t threads = 0);

/// The signals of `subgroup_chart` for very many equal subgroups that all take part, without its arrays.
///
/// The same signals as `rule_signals` finds in the standardized averages and, with the one rule "beyond
/// sigma_multiple", in the standardized ranges of `subgroup_chart`. With center and sigma_within given, one pass over
/// the readings; else a second one, over means and ranges if they are wanted, over the readings if not.
///
/// @param options        what is given and what is estimated; spread `range` and estimator `mean_range`.
/// @param rules          of the averages; a rule of one point beyond 3 sigma is not moved to sigma_multiple here.
/// @param rule_options   its `threads` holds for the whole work.
/// Other parameters and errors as above; further
/// @throws InvalidInput  options of another spread or estimator, or out of their domain.
[[nodiscard]] SubgroupSignals subgroup_signals(std::span<const double> values, std::size_t subgroup_size,
                                               const SubgroupOptions& options, std::span<const RunRule> rules,
                                               const RuleOptions& rule_options = {}, std::span<double> means = {},
                                               std::span<double> ranges = {});

/// Lines from the grand mean, the mean range or mean s, and factors, as a published page gives them: center -+ A mean
/// spread; B mean spread. The exact factors are in constants.hpp.
///
/// @param mean_factor   A2 or A3
/// @param lower_factor  D3 or B3
/// @param upper_factor  D4 or B4
/// @throws InvalidInput  a number that is not finite, or negative other than the center.
[[nodiscard]] SubgroupLimits subgroup_limits_from_averages(double center, double mean_spread, double mean_factor,
                                                           double lower_factor, double upper_factor);

}  // namespace steadyfilm
