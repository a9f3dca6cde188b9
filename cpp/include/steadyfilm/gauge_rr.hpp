/// @file
/// Gauge studies: how much of what is read is the gauge and the people, against the parts and against the window.
///
/// Standard deviations and means are in the unit of the readings, variances in unit squared, shares are fractions.
/// NaN stands for what a design cannot estimate.
#pragma once

#include <cstddef>
#include <cstdint>
#include <functional>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include <steadyfilm/core.hpp>
#include <steadyfilm/variance_components.hpp>

namespace steadyfilm {

/// Divisors of ranges as factors: K1 = 1 / d2(trials), K2 and K3 = 1 / d2* of one group of appraisers and of parts,
/// D4 of the range limit. NaN where there are fewer than two to take a range of.
struct GaugeFactors {
  double K1 = 0.0;
  double K2 = 0.0;
  double K3 = 0.0;
  double D4 = 0.0;
};

/// Factors that a caller takes from a print instead.
struct GaugeFactorsGiven {
  std::optional<double> K1 = {};
  std::optional<double> K2 = {};
  std::optional<double> K3 = {};
  std::optional<double> D4 = {};
};

/// A study by averages and ranges.
struct AverageRange {
  double mean = 0.0;
  double mean_range = 0.0;            ///< of the ranges over trials
  double appraiser_difference = 0.0;  ///< range of the appraisers' means; 0 for one appraiser
  double part_range = 0.0;            ///< range of the parts' means; NaN for one part
  double range_upper = 0.0;           ///< D4 mean range
  GaugeFactors factors;               ///< as used
  double ev = 0.0;                    ///< K1 mean range
  double av_radicand = 0.0;           ///< (K2 difference)^2 - ev^2 / (parts trials), as it comes
  double av = 0.0;                    ///< its root, 0 where it is negative
  double grr = 0.0;                   ///< sqrt(ev^2 + av^2)
  double pv = 0.0;                    ///< K3 part range
  double tv = 0.0;                    ///< sqrt(grr^2 + pv^2)
  double ndc_ratio = 0.0;             ///< 1.41 pv / grr
  double ndc = 0.0;                   ///< its whole part, at least 1
  std::vector<double> appraiser_means;
  std::vector<double> appraiser_mean_ranges;
  std::vector<double> part_means;
  std::vector<double> ranges;  ///< part after part, in each the appraisers
};

/// What a factor's levels are.
enum class FactorRole {
  part,         ///< what is measured: its spread is the parts' spread
  process,      ///< a grouping of parts, for example their substrate
  measurement,  ///< how it is measured: appraiser, gauge, day
};

struct StudyFactor {
  std::string name;
  std::size_t levels = 0;  ///< 2 or more; of a nested factor, inside each level of the one around it
  FactorRole role = FactorRole::measurement;
  bool fixed = false;                         ///< these very levels and no others; else a sample of many
  std::optional<std::size_t> nested_in = {};  ///< position of the factor around it
};

enum class IntervalMethod { modified_large_sample, satterthwaite };

enum class FDenominator {
  model,          ///< what the expected mean square leaves when the source adds nothing
  repeatability,  ///< the last line for every source, as some prints have it
};

struct GaugeOptions {
  double pooling_level = 0.25;     ///< an interaction whose p lies above is pooled into repeatability
  double confidence_level = 0.95;  ///< two-sided
  IntervalMethod interval_method = IntervalMethod::modified_large_sample;
  FDenominator f_denominator = FDenominator::model;
};

/// One component, or a sum of components.
struct GaugeSource {
  std::string source;  ///< "repeatability", names of factors joined by " x ", "reproducibility", "grr", "part", "total"
  std::string role;    ///< "measurement", "part" or "sum"
  double variance = 0.0;  ///< as estimated; may be negative
  double sd = 0.0;        ///< negative components counted as 0
  double sd_lower = 0.0;
  double sd_upper = 0.0;
  double degrees_of_freedom = 0.0;  ///< of the variance, by Satterthwaite; exact for one mean square
  double share_of_variance = 0.0;   ///< of the total
  double share_of_variance_lower = 0.0;
  double share_of_variance_upper = 0.0;
  double share_of_total = 0.0;  ///< sd over that of the total
  double share_of_total_lower = 0.0;
  double share_of_total_upper = 0.0;
  std::vector<double> weights;  ///< of the mean squares of `lines` in `variance`
};

/// Estimates under one model: all interactions kept, or some pooled into repeatability.
struct GaugeEstimate {
  std::vector<AnovaLine> lines;
  std::vector<GaugeSource> sources;
  std::vector<std::string> pooled_terms;  ///< interactions that were pooled
  double ndc_ratio = 0.0;                 ///< 1.41 pv / grr
  double ndc_ratio_lower = 0.0;
  double ndc_ratio_upper = 0.0;
  double ndc = 0.0;  ///< whole part of the ratio, at least 1

  /// @throws InvalidInput  no such source
  [[nodiscard]] const GaugeSource& source(const std::string& name) const;
  [[nodiscard]] const GaugeSource* find(const std::string& name) const noexcept;
};

/// A level of a factor: its mean, and the distance from the mean of all readings with an interval for it alone.
struct GaugeEffect {
  double mean = 0.0;
  double effect = 0.0;
  double lower = 0.0;
  double upper = 0.0;
};

struct GaugeStudy {
  double mean = 0.0;
  GaugeEstimate kept;  ///< every interaction that can be estimated
  std::optional<GaugeEstimate>
      pooled;                  ///< without interactions whose p lies above the level (two crossed factors: always)
  bool pooled_chosen = false;  ///< by the pooling level
  double interaction_p = 0.0;  ///< of the highest interaction; NaN without one
  bool restricted_likelihood = false;             ///< else by analysis of variance
  std::vector<std::vector<GaugeEffect>> effects;  ///< of each factor that is not nested, under the chosen model
};

/// A window and how much of it the measurement takes.
struct GaugeWindow {
  double room = 0.0;  ///< width, or the distance of the mean to the one limit
  bool one_sided = false;
  double spread = 0.0;  ///< sigma_multiple GRR; half of it for one limit
  double share = 0.0;   ///< spread / room; NaN where the mean lies at or beyond the limit, or GRR is 0
  double share_lower = 0.0;
  double share_upper = 0.0;
  double floor_share = 0.0;        ///< with endlessly many readings by one appraiser
  double readings = 0.0;           ///< by one appraiser, averaged, for the wanted share; infinite where none suffices
  double appraisers_needed = 0.0;  ///< single readings by as many appraisers
  double readings_if_alike = 0.0;  ///< if only repeatability were left
  bool judgeable = false;          ///< share at most the wanted one
  bool demonstrated = false;       ///< the interval lies on one side of the wanted one
};

struct WindowOptions {
  double sigma_multiple = 6.0;  ///< full spread, in standard deviations
  double share_limit = 0.30;    ///< wanted at most
};

struct BootstrapInterval {
  std::string source;
  double value = 0.0;
  double lower = 0.0;
  double upper = 0.0;
};

/// Intervals of a crossed study from its mean squares, interaction kept; NaN where the method has none.
struct GaugeIntervals {
  double variance_part = 0.0, variance_part_lower = 0.0, variance_part_upper = 0.0;
  double variance_repeatability = 0.0, variance_repeatability_lower = 0.0, variance_repeatability_upper = 0.0;
  double variance_reproducibility = 0.0, variance_reproducibility_lower = 0.0, variance_reproducibility_upper = 0.0;
  double reproducibility_df = 0.0;
  double variance_measurement = 0.0, variance_measurement_lower = 0.0, variance_measurement_upper = 0.0;
  double measurement_df = 0.0;
  double ratio = 0.0, ratio_lower = 0.0, ratio_upper = 0.0;  ///< part / measurement
  double share = 0.0, share_lower = 0.0, share_upper = 0.0;  ///< GRR / TV: 1 / sqrt(1 + ratio)
};

struct PooledSd {
  double sum_squares = 0.0;
  double degrees_of_freedom = 0.0;
  double sd = 0.0;
  std::vector<double> group_sds;
};

/// @throws InvalidInput  no trial, appraiser or part
[[nodiscard]] GaugeFactors gauge_factors(std::size_t trial_count, std::size_t appraiser_count, std::size_t part_count);

/// A crossed study by averages and ranges.
///
/// @param values  part after part, in each the appraisers, in each of these the trials.
/// @throws InvalidInput  fewer than two trials, numbers that do not fit, a reading that is not finite.
/// @see    cpp/methods/gauge_rr.md
[[nodiscard]] AverageRange average_range(std::span<const double> values, std::size_t part_count,
                                         std::size_t appraiser_count, std::size_t trial_count,
                                         const GaugeFactorsGiven& given = {});

/// The same from the three ranges alone; means and ranges of the result are empty.
/// @throws InvalidInput  a range that is negative or not finite
[[nodiscard]] AverageRange average_range_from_ranges(double mean_range, double appraiser_difference, double part_range,
                                                     std::size_t part_count, std::size_t appraiser_count,
                                                     std::size_t trial_count, const GaugeFactorsGiven& given = {});

/// A balanced study of any crossed and nested factors by analysis of variance.
///
/// @param values       in the order of the factors, the last one and then the trials fastest.
/// @param factors      one or more; at most one of role `part`.
/// @param trial_count  readings a cell, 1 or more. With one, the highest interaction is part of repeatability.
/// @throws InvalidInput  numbers that do not fit, nothing left for repeatability, a reading that is not finite.
/// @see    cpp/methods/gauge_rr.md
[[nodiscard]] GaugeStudy gauge_study(std::span<const double> values, std::span<const StudyFactor> factors,
                                     std::size_t trial_count, const GaugeOptions& options = {});

/// A factor of a study of any layout: its level of each reading.
struct StudyCodes {
  std::string name;
  std::span<const std::int32_t> codes;  ///< 0 to levels - 1, one a reading, each occurring
  std::size_t levels = 0;               ///< 2 or more; of a nested factor, all of them, numbered through
  FactorRole role = FactorRole::measurement;
  std::optional<std::size_t> nested_in = {};  ///< position of the factor around it
  bool fixed = false;  ///< its component is the sum of squared effects over one less than their number, less chance
};

/// A study of any layout, readings or whole cells missing, by restricted maximum likelihood.
///
/// Components and their sums come from the likelihood. Intervals treat them as those of a balanced study: mean squares
/// put together from the components with the harmonic mean of the readings a level, on the degrees of freedom of the
/// layout. With balanced readings and no component at 0 all is as in `gauge_study`. An interaction's p is that of the
/// likelihood ratio. Lines hold these mean squares; they are no sums of squares of the readings. All factors random.
/// @param  keep_going  asked before each evaluation of the likelihood; false ends the call with `Stopped`.
/// @throws InvalidInput  codes that do not fit, terms that cannot be told apart, nothing left for repeatability.
/// @see    cpp/methods/gauge_rr.md
[[nodiscard]] GaugeStudy unbalanced_gauge_study(std::span<const double> values, std::span<const StudyCodes> factors,
                                                const GaugeOptions& options = {},
                                                const std::function<bool()>& keep_going = {});

/// A crossed study: parts x appraisers x trials. One part, one appraiser or one trial is allowed, two of these are not.
[[nodiscard]] GaugeStudy gauge_study(std::span<const double> values, std::size_t part_count,
                                     std::size_t appraiser_count, std::size_t trial_count,
                                     const GaugeOptions& options = {});

/// How much of a window the measurement takes, and how many readings a verdict needs.
///
/// @param mean  of the process; its distance to the limit is the room of a one-sided window.
/// @throws InvalidInput  a window without limits, options that are not positive.
[[nodiscard]] GaugeWindow gauge_window(const GaugeEstimate& estimate, const SpecLimits& window, double mean,
                                       const WindowOptions& options = {});

/// Intervals from the four mean squares of a crossed study.
/// @throws InvalidInput  a negative mean square, counts below 2, a confidence level not between 0 and 1
[[nodiscard]] GaugeIntervals gauge_intervals(double ms_part, double ms_appraiser, double ms_interaction,
                                             double ms_repeatability, std::size_t part_count,
                                             std::size_t appraiser_count, std::size_t trial_count,
                                             double confidence_level = 0.95,
                                             IntervalMethod method = IntervalMethod::modified_large_sample);

/// Parametric bootstrap of an estimate: mean squares drawn as scaled chi-squares at the truncated components.
///
/// @param keep_going  asked now and then; when it says no, nothing is returned.
/// @return one interval a source, then the ndc ratio; the same for the same seed on every machine.
[[nodiscard]] std::optional<std::vector<BootstrapInterval>> gauge_bootstrap(
    const GaugeEstimate& estimate, std::size_t replicates, std::uint64_t seed, double confidence_level = 0.95,
    const std::function<bool()>& keep_going = {});

/// Standard deviation pooled over groups: root of the sum of squares over the sum of degrees of freedom.
/// @throws InvalidInput  lengths that differ or are 0, a negative sum, degrees of freedom that are not positive
[[nodiscard]] PooledSd pooled_sd(std::span<const double> sums_of_squares, std::span<const double> degrees_of_freedom);

/// The same from the groups' standard deviations.
[[nodiscard]] PooledSd pooled_sd_from_sds(std::span<const double> sds, std::span<const double> degrees_of_freedom);

}  // namespace steadyfilm
