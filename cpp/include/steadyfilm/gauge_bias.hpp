/// @file
/// Does a gauge read true? Bias, linearity, single-part studies, certified standards, two gauges side by side, and what
/// a shift that all layers share says about the gauge. All in the unit of the data unless said; intervals are
/// two-sided.
#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include <optional>

namespace steadyfilm {

/// Readings of one part with a known value.
struct BiasTest {
  std::size_t count = 0;
  double mean = 0.0;
  double bias = 0.0;                ///< mean - reference
  double sd = 0.0;                  ///< of the readings, divisor n - 1
  double sigma_bias = 0.0;          ///< root of sd^2 / n + reference_uncertainty^2
  double degrees_of_freedom = 0.0;  ///< n - 1; by Welch and Satterthwaite when the reference is uncertain
  double t = 0.0;                   ///< bias / sigma_bias; NaN for 0 over 0
  double t_critical = 0.0;
  double p = 0.0;      ///< two-sided; NaN with t
  double lower = 0.0;  ///< bias -+ t_critical sigma_bias
  double upper = 0.0;
};

/// Bias of a gauge by Student's t.
///
/// @param values                 two or more readings of the same part.
/// @param reference_uncertainty  standard uncertainty of the reference, 0 or more.
/// @throws InvalidInput  fewer than two values, a number that is not finite or out of its domain.
/// @note   Equal readings are an answer: sd 0, and the interval is the bias (with a certain reference).
/// @see    cpp/methods/gauge_bias.md
[[nodiscard]] BiasTest bias_test(std::span<const double> values, double reference, double confidence_level,
                                 double reference_uncertainty = 0.0);

/// Constants of the range method; absent ones are computed for one group of n readings.
struct BiasRangeOptions {
  std::optional<double> d2 = std::nullopt;
  std::optional<double> d2_star = std::nullopt;
  std::optional<double> degrees_of_freedom = std::nullopt;
};

/// The same with the range of the readings in place of their standard deviation.
struct BiasRangeTest {
  std::size_t count = 0;
  double mean = 0.0;
  double bias = 0.0;
  double range = 0.0;
  double sigma_repeatability = 0.0;  ///< range / d2_star
  double sigma_bias = 0.0;           ///< sigma_repeatability / sqrt n
  double degrees_of_freedom = 0.0;
  double t = 0.0;  ///< NaN for 0 over 0
  double t_critical = 0.0;
  double p = 0.0;
  double lower = 0.0;  ///< bias -+ d2 / d2_star t_critical sigma_bias
  double upper = 0.0;
  double d2 = 0.0;
  double d2_star = 0.0;
};

/// @throws InvalidInput  as `bias_test`; a constant that is not positive.
/// @see    cpp/methods/gauge_bias.md
[[nodiscard]] BiasRangeTest bias_range_test(std::span<const double> values, double reference, double confidence_level,
                                            const BiasRangeOptions& options = {});

/// A stretch of references over which the band of the mean bias leaves out zero.
struct BiasedStretch {
  double from = 0.0;
  double to = 0.0;
  int side = 0;  ///< 1: the gauge reads high there; -1: low
};

/// Bias against reference, over the references studied.
struct BiasLinearity {
  std::size_t count = 0;
  double slope = 0.0;      ///< of bias = reading - reference on the reference; without unit
  double intercept = 0.0;  ///< bias at reference 0
  double residual_sd = 0.0;
  double degrees_of_freedom = 0.0;  ///< n - 2
  double se_slope = 0.0;
  double se_intercept = 0.0;
  double t_slope = 0.0;  ///< NaN for 0 over 0, as the next ones
  double t_intercept = 0.0;
  double p_slope = 0.0;
  double p_intercept = 0.0;
  double r_squared = 0.0;  ///< NaN when all biases are equal
  double t_critical = 0.0;
  double mean_reference = 0.0;
  double mean_bias = 0.0;
  double sum_squares_reference = 0.0;  ///< about mean_reference
  double lack_of_fit_f = 0.0;          ///< means of the references about the line against readings about their means
  double lack_of_fit_p = 0.0;          ///< NaN without repeats, or with two references
  // One element a distinct reference, ascending.
  std::vector<double> reference;
  std::vector<std::int64_t> readings;
  std::vector<double> bias_mean;
  std::vector<double> band_fit;
  std::vector<double> band_lower;  ///< pointwise band of the mean bias
  std::vector<double> band_upper;
  std::vector<BiasedStretch> biased;  ///< ascending
};

/// Regression of bias on reference.
///
/// @param reference  known value of each reading's part.
/// @throws InvalidInput  fewer than three readings, one distinct reference only, lengths that differ, a number that is
///                       not finite.
/// @see    cpp/methods/gauge_bias.md
[[nodiscard]] BiasLinearity bias_linearity(std::span<const double> values, std::span<const double> reference,
                                           double confidence_level);

struct SinglePartOptions {
  double tolerance_width = 0.0;  ///< upper less lower limit of what the gauge is to judge; above 0
  double tolerance_share = 0.0;  ///< of it that counts, above 0 and at most 1 (0.2 for 20 %)
  double sigma_spread = 0.0;     ///< standard deviations that count as the gauge's spread, above 0 (4 or 6)
  double required = 1.33;        ///< index asked for, above 0
  double confidence_level = 0.95;
};

/// Readings of one part in one place, against the tolerance that the gauge is to judge.
struct SinglePartStudy {
  std::size_t count = 0;
  double mean = 0.0;
  double bias = 0.0;
  double sd = 0.0;
  double t = 0.0;  ///< of the bias; NaN for 0 over 0
  double p = 0.0;
  double cg = 0.0;  ///< share T / (k sd); infinite for equal readings
  double cg_lower = 0.0;
  double cg_upper = 0.0;
  double cgk = 0.0;  ///< (share T / 2 - |bias|) / (k sd / 2); NaN for 0 over 0
  double cgk_lower = 0.0;
  double cgk_upper = 0.0;
  double pct_variation = 0.0;          ///< 100 share / cg
  double minimum_tolerance = 0.0;      ///< width at which cg is as required
  double minimum_tolerance_cgk = 0.0;  ///< width at which cgk is as required
};

/// Cg and Cgk in the forms of ISO 22514-7. The standard leaves share and multiple to the user: both must be given.
///
/// @throws InvalidInput  fewer than two values, a number that is not finite or out of its domain.
/// @see    cpp/methods/gauge_bias.md
[[nodiscard]] SinglePartStudy single_part_study(std::span<const double> values, double reference,
                                                const SinglePartOptions& options);

/// Combined limit of a gauge and the standard it is checked on, by root sum of squares; any unit, also percent.
/// @throws InvalidInput  a tolerance that is negative or not finite.
[[nodiscard]] double verification_limit(double gauge_tolerance, double standard_tolerance);

/// A gauge on one certified standard.
struct StandardCheck {
  std::size_t count = 0;
  double mean = 0.0;
  double deviation = 0.0;        ///< mean - stated
  double worst_deviation = 0.0;  ///< of a single reading, with its sign
  bool passes = false;
};

/// Whether a gauge reads a certified standard within a limit, on it counts as within.
///
/// Compared with a tolerance of 1e-9 of the largest number that goes in: 2.1 is within 2.0 + 0.1, which in plain
/// doubles it is not, and no gauge shows nine digits.
///
/// @param judge_each  every reading must lie within, not their mean alone.
/// @throws InvalidInput  no reading, a number that is not finite, a negative limit.
[[nodiscard]] StandardCheck check_standard(std::span<const double> readings, double stated, double limit,
                                           bool judge_each = false);

/// An estimate with its interval.
struct LimitEstimate {
  double value = 0.0;
  double lower = 0.0;
  double upper = 0.0;
};

struct GaugeComparisonOptions {
  double margin = 0.0;            ///< largest mean difference that does not matter; above 0, no default
  double agreement_share = 0.95;  ///< of panels between the limits of agreement
  double confidence_level = 0.95;
  double significance = 0.05;  ///< of each of the two one-sided tests
};

/// Two gauges on the same panels; differences are first - second.
struct GaugeComparison {
  std::size_t count = 0;
  double mean_difference = 0.0;
  double sd = 0.0;  ///< of the differences
  double standard_error = 0.0;
  double degrees_of_freedom = 0.0;
  double lower = 0.0;  ///< of the mean difference
  double upper = 0.0;
  double agreement_multiple = 0.0;  ///< normal quantile of the share
  LimitEstimate agreement_lower;    ///< mean - multiple sd, exact interval by the noncentral t
  LimitEstimate agreement_upper;
  double t_lower = 0.0;            ///< (mean + margin) / standard_error; NaN for 0 over 0
  double t_upper = 0.0;            ///< (mean - margin) / standard_error
  double p_lower = 0.0;            ///< of the mean lying at or below -margin
  double p_upper = 0.0;            ///< of the mean lying at or above margin
  double p_equivalence = 0.0;      ///< the larger of both
  double equivalence_lower = 0.0;  ///< interval at 1 - 2 significance, which lies within -+margin when equivalent
  double equivalence_upper = 0.0;
  bool equivalent = false;
  double slope = 0.0;  ///< of the differences on the panels' means; NaN for panels that are all alike
  double slope_se = 0.0;
  double slope_p = 0.0;
};

/// Paired differences, limits of agreement, and two one-sided tests of equivalence.
///
/// @param first, second  one value a panel, in the same order.
/// @throws InvalidInput  fewer than three panels, lengths that differ, a number that is not finite or out of its
/// domain.
/// @see    cpp/methods/gauge_bias.md
[[nodiscard]] GaugeComparison compare_gauges(std::span<const double> first, std::span<const double> second,
                                             const GaugeComparisonOptions& options);

/// What the shifts of a first coat and of the total over it look like together.
enum class ShiftSignature : std::uint8_t {
  none,           ///< neither moved
  common_offset,  ///< both moved, the layer between them did not: all readings may be off together
  upper_layer,    ///< the total moved with the layer over a first coat that stayed
  first_reading,  ///< the first coat moved and the total did not: no film does that
  mixed           ///< anything else
};

/// What is to be made of it.
enum class OffsetVerdict : std::uint8_t {
  no_shift,
  gauge_or_film,  ///< readings alone cannot tell
  zero_error,     ///< the gauge is off by the same, shown on standards or by measuring again
  gauge_in_part,  ///< the gauge is off, by another amount
  film,           ///< the gauge reads true: the first coat did change
  undecided,      ///< what is known of the gauge is too uncertain
  upper_layer,
  first_reading,
  mixed
};

/// Shifts against the usual level with standard uncertainties.
struct OffsetEvidence {
  double first_shift = 0.0;
  double first_uncertainty = 0.0;
  double total_shift = 0.0;
  double total_uncertainty = 0.0;
  double correlation = 0.0;                 ///< of the errors of both shifts
  std::vector<double> gauge_deviation{};    ///< what the gauge shows too much, each by itself; empty: not known
  std::vector<double> gauge_uncertainty{};  ///< as long as gauge_deviation
  double coverage_factor = 2.0;             ///< a shift counts beyond so many standard uncertainties
};

struct OffsetDiagnosis {
  double upper_shift = 0.0;  ///< of the layer between: total - first
  double upper_uncertainty = 0.0;
  double offset = 0.0;  ///< best common value of both shifts
  double offset_uncertainty = 0.0;
  double gauge_error = 0.0;  ///< weighted mean of gauge_deviation; NaN when not known
  double gauge_error_uncertainty = 0.0;
  bool first_moved = false;
  bool total_moved = false;
  bool upper_moved = false;
  bool gauge_off = false;
  bool gauge_agrees = false;  ///< gauge_error and offset differ by no more than their uncertainty
  ShiftSignature signature = ShiftSignature::none;
  OffsetVerdict verdict = OffsetVerdict::no_shift;
};

/// Tell a gauge's zero error from a change of the film.
///
/// @throws InvalidInput  a negative uncertainty, a correlation beyond -1 or 1, a coverage factor that is not positive,
///                       lengths that differ, a number that is not finite.
/// @see    cpp/methods/gauge_bias.md
[[nodiscard]] OffsetDiagnosis diagnose_offset(const OffsetEvidence& evidence);

}  // namespace steadyfilm
