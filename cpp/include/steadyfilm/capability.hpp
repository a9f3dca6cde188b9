/// @file
/// How a process fits its specification window: indices, their uncertainty, and the share outside.
///
/// Cp, Cpk, Cpu, Cpl use the within sigma and forecast a stable process; Pp, Ppk, Ppu, Ppl use the total sigma and
/// describe a period; Cpm measures the distance from a target. A normal distribution is assumed throughout.
///
/// @see cpp/methods/capability.md
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include <steadyfilm/core.hpp>

namespace steadyfilm {

/// Indices of a mean and a sigma, without unit; absent where a limit or the target is.
struct CapabilityIndices {
  std::optional<double> cp;                ///< (upper - lower) / (6 sigma)
  std::optional<double> cpu;               ///< (upper - mean) / (3 sigma)
  std::optional<double> cpl;               ///< (mean - lower) / (3 sigma)
  std::optional<double> cpk;               ///< smaller one of cpu and cpl, or the one there is
  std::optional<double> cpm;               ///< (upper - lower) / (6 sqrt(sigma^2 + (mean - target)^2))
  std::optional<double> off_center_ratio;  ///< |midpoint - mean| / half width
};

/// @param sigma  above 0: with sigma 0 an index has no finite value, and `capability` says so in words.
/// @throws InvalidInput  a number that is not finite, sigma not above 0, no limit, or lower not below upper
[[nodiscard]] CapabilityIndices capability_indices(double mean, double sigma, const SpecLimits& specification);

/// Shares of a normal population beyond each limit, as fractions; 0 where there is no limit.
struct FractionOutside {
  double below = 0.0;
  double above = 0.0;
  double total = 0.0;
};

/// @param sigma  0 or more; with 0 a share is 0 or 1.
[[nodiscard]] FractionOutside fraction_outside(double mean, double sigma, const SpecLimits& specification);

/// A centered process of the given Cp whose mean has moved.
struct ShiftedCapability {
  double cpk = 0.0;          ///< cp - shift / 3
  double ppm_nearest = 0.0;  ///< parts per million beyond the limit moved towards
  double ppm_both = 0.0;     ///< beyond both limits
};
/// @param shift_sigma  size of the move in sigma, 0 or more
[[nodiscard]] ShiftedCapability shifted_capability(double cp, double shift_sigma);

/// Confidence limits of an index. With sides 1 there is a lower bound only.
struct IndexInterval {
  double lower = 0.0;
  std::optional<double> upper;
  double degrees_of_freedom = 0.0;
};

/// Level of an interval and whether it has two ends or is a lower bound.
struct IntervalOptions {
  double confidence_level = 0.95;
  int sides = 2;
};

/// Cp or Pp: exact, estimate sqrt(chi-square / nu), nu the degrees of freedom of the sigma used.
[[nodiscard]] IndexInterval cp_interval(double estimate, double degrees_of_freedom,
                                        const IntervalOptions& options = {});

enum class CpkMethod : std::uint8_t {
  bissell,                ///< estimate -+ z sqrt(1 / (9 n) + estimate^2 / (2 nu)), Bissell 1990
  kushler_hurley_simple,  ///< estimate (1 -+ z / sqrt(2 nu)), Kushler & Hurley 1992
};

/// Cpk or Ppk with two limits: approximate.
/// @param sample_size  readings behind the mean, at least 2
[[nodiscard]] IndexInterval cpk_interval(double estimate, std::size_t sample_size, double degrees_of_freedom,
                                         const IntervalOptions& options = {}, CpkMethod method = CpkMethod::bissell);

/// Cpu, Cpl, or Cpk with one limit: exact, since 3 sqrt(n) estimate is noncentral t with noncentrality 3 sqrt(n) index.
[[nodiscard]] IndexInterval one_sided_index_interval(double estimate, std::size_t sample_size,
                                                     double degrees_of_freedom, const IntervalOptions& options = {});

/// Value that the estimate of a one-sided index exceeds with probability alpha.
[[nodiscard]] double one_sided_index_critical_value(double index, std::size_t sample_size, double alpha);

/// Law of the estimated one-sided index, sigma with n - 1 degrees of freedom.
struct OneSidedIndexMoments {
  double bias_factor = 0.0;  ///< times the estimate gives an unbiased one
  double variance = 0.0;     ///< of the estimate
};
/// @param sample_size  at least 4, below which there is no variance
[[nodiscard]] OneSidedIndexMoments one_sided_index_moments(double index, std::size_t sample_size);

/// Law of the estimated Cpk with two limits, sigma with n - 1 degrees of freedom.
struct CpkDistribution {
  double critical_value = 0.0;         ///< exceeded with probability alpha
  double probability_below_cpk = 0.0;  ///< chance that the estimate is at most the true value
};
/// @param off_center_sigma  |mean - midpoint| / sigma, 0 or more
/// @param cpk  above -off_center_sigma / 3, since the half width, 3 cpk + off_center_sigma, is positive
[[nodiscard]] CpkDistribution cpk_sampling_distribution(double cpk, double off_center_sigma, std::size_t sample_size,
                                                        double alpha);

/// What stands under the root of Cpm = (upper - lower) / (6 root).
enum class CpmDefinition : std::uint8_t {
  divisor_n,             ///< sum (x - target)^2 / n
  divisor_n_minus_1,     ///< sum (x - target)^2 / (n - 1)
  variance_plus_offset,  ///< s^2 + (mean - target)^2, s with n - 1
};

/// @param specification  both limits and the target
[[nodiscard]] double cpm_index(std::span<const double> values, const SpecLimits& specification,
                               CpmDefinition definition = CpmDefinition::divisor_n);

enum class CpmMethod : std::uint8_t {
  boyles,                ///< estimate sqrt(chi-square / nu), nu = n (1 + x^2)^2 / (1 + 2 x^2), Boyles 1991
  noncentral_chi_square  ///< estimate sqrt(q / (n (1 + x^2))), q of noncentral chi-square(n; n x^2)
};

/// Cpm with divisor n: approximate.
/// @param off_target_sigma  x = (mean - target) / sd, the sd with divisor n
[[nodiscard]] IndexInterval cpm_interval(double estimate, std::size_t sample_size, double off_target_sigma,
                                         const IntervalOptions& options = {}, CpmMethod method = CpmMethod::boyles);

/// Does a reading meet a limit? Both are decimal numbers that doubles hold inexactly, so that a reading within a
/// relative 1e-9 of the limit lies on it and meets it: 0.88 meets 0.8 * 1.1.
[[nodiscard]] bool meets_lower(double value, double limit);
[[nodiscard]] bool meets_upper(double value, double limit);

/// A sigma and what it is worth.
struct SigmaEstimate {
  double sigma = 0.0;
  std::optional<double> degrees_of_freedom;  ///< absent when unknown: then no interval
};

struct CapabilityOptions {
  double confidence_level = 0.95;  ///< of the two-sided interval and of the one-sided lower bound
  CpmDefinition cpm = CpmDefinition::divisor_n;
  std::optional<SigmaEstimate> within = std::nullopt;  ///< absent: Cp, Cpk are not given
  std::optional<bool> stable = std::nullopt;           ///< what the charts said; false refuses the forecast
};

/// One index: its value, or why it has none; its interval, or why it has none.
struct IndexEstimate {
  std::string index;  ///< cp, cpk, cpu, cpl, pp, ppk, ppu, ppl or cpm
  std::optional<double> value;
  std::optional<double> lower;  ///< two-sided interval
  std::optional<double> upper;
  std::optional<double> lower_bound;  ///< one-sided: what is demonstrated
  std::optional<double> degrees_of_freedom;
  std::string method;  ///< of the interval; empty when there is none
  std::string reason;  ///< why value or interval is absent; empty when both are there
};

struct Capability {
  std::size_t count = 0;  ///< readings; 0 when unknown
  double mean = 0.0;
  double sigma_total = 0.0;
  std::optional<double> mean_square_off_target;  ///< what stands under the root of Cpm
  std::optional<double> off_center_ratio;
  std::vector<IndexEstimate> indices;              ///< nine, in the order cp cpk cpu cpl pp ppk ppu ppl cpm
  FractionOutside expected_total;                  ///< of a normal population with sigma_total
  std::optional<FractionOutside> expected_within;  ///< with sigma_within, when the forecast is not refused
  std::optional<std::size_t> below;                ///< readings that miss the lower limit; absent without readings
  std::optional<std::size_t> above;
};

/// Everything about readings and a specification.
/// @param values  at least two finite readings
/// @throws InvalidInput  fewer or unusable readings, no limit, lower not below upper, options out of their domain
/// @note   Constant readings are an answer: indices absent with the reason.
[[nodiscard]] Capability capability(std::span<const double> values, const SpecLimits& specification,
                                    const CapabilityOptions& options = {});

/// The same from a mean and a total sigma.
/// @param count  readings behind them, at least 2, or 0 when unknown: then no interval
[[nodiscard]] Capability capability_from_moments(double mean, double sigma_total, std::size_t count,
                                                 const SpecLimits& specification,
                                                 const CapabilityOptions& options = {});

}  // namespace steadyfilm
