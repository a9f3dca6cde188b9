/// @file
/// Is a measured value inside its window when the measurement is uncertain: guard bands, risks, operating curve.
///
/// All lengths of one call are in one unit, whichever; what comes back is in the same. "Accepted" is said of a measured
/// value inside its acceptance limits, "conforming" of a true value inside the specification.
#pragma once

#include <cstddef>
#include <optional>
#include <span>

#include <steadyfilm/core.hpp>

namespace steadyfilm {

/// Factor of the standard uncertainty in a guard band: the normal quantile of 1 - alpha (one limit at risk) or of
/// 1 - alpha / 2 (two).
///
/// @param alpha  chance of a wrong decision at the limit, between 0 and 1/2 for one limit, 0 and 1 for two.
/// @param sides  1 or 2.
/// @throws InvalidInput  a number out of its domain.
[[nodiscard]] double guard_band_factor(double alpha, std::size_t sides = 1);

/// Chance to accept a value whose true value lies on the limit, with a guard band that is a multiple of the expanded
/// uncertainty: P(N > guard_over_expanded * coverage_factor).
[[nodiscard]] double false_accept_at_limit(double guard_over_expanded, double coverage_factor);

/// Which side of a limit is good.
enum class LimitSide : unsigned char { lower, upper };

/// Acceptance limit when the uncertainty is a share of the value: limit / (1 - z u) for a lower limit, limit / (1 + z
/// u) for an upper one, z one-sided.
///
/// @param limit                 above 0.
/// @param relative_uncertainty  standard uncertainty over the value, 0 or more; z u below 1 for a lower limit.
/// @throws InvalidInput  a number out of its domain.
[[nodiscard]] double acceptance_limit_relative(double limit, double relative_uncertainty, double confidence_level,
                                               LimitSide side = LimitSide::lower);

/// A window drawn in and out by a guard band on each limit that it has.
struct GuardBand {
  double factor = 0.0;  ///< z, of one limit at risk
  double guard = 0.0;   ///< bias_bound + z u
  SpecLimits accept;    ///< inside these: clearly in
  SpecLimits reject;    ///< outside these: clearly out
  /// Width between the acceptance limits, below 0 when nothing can be clearly in; NaN with one limit.
  double left = 0.0;
};

/// Guard band against a chance `alpha` of a wrong decision at each limit.
///
/// @param bias_bound  what the gauge may be off by, which no number of readings takes out; 0 or more.
/// @throws InvalidInput  no limit, limits that do not rise, a negative or not finite number, alpha not in (0, 1/2].
/// @see    cpp/methods/conformity.md
[[nodiscard]] GuardBand guard_band(const SpecLimits& window, double standard_uncertainty, double alpha = 0.05,
                                   double bias_bound = 0.0);

/// Where a value lies: by the guard bands, which is not the verdict of a rule.
enum class GuardBandClass : unsigned char { clearly_in, doubtful, clearly_out };

/// @note  A value within a relative 1e-9 of a line lies on it, and counts as doubtful only strictly between the lines:
///        on an acceptance limit it is clearly in, on a rejection limit doubtful.
[[nodiscard]] GuardBandClass guard_band_class(const GuardBand& band, double value);

/// P(true value inside the window) for a measured value: normal, or Student t about the value when the uncertainty has
/// few degrees of freedom (absent: normal). A standard uncertainty of 0 gives 0 or 1.
/// @throws InvalidInput  as guard_band; degrees of freedom not above 0.
[[nodiscard]] double conformance_probability(double value, double standard_uncertainty, const SpecLimits& window,
                                             std::optional<double> degrees_of_freedom = std::nullopt);

/// How the true values of a process lie.
struct ProcessPrior {
  enum class Kind : unsigned char { normal, gamma };
  Kind kind = Kind::normal;
  double mean = 0.0;   ///< normal
  double sigma = 0.0;  ///< normal, 0 or more: the true values, without the measurement
  double shape = 0.0;  ///< gamma, above 0
  double rate = 0.0;   ///< gamma, above 0; mean shape / rate
};

/// What a decision on measured values does to a process; joint probabilities of one unit drawn from it.
struct AcceptanceRisks {
  double conforming = 0.0;     ///< true value inside the specification
  double nonconforming = 0.0;  ///< outside
  double accepted = 0.0;       ///< measured value inside the acceptance limits
  double consumer_risk = 0.0;  ///< accepted and outside
  double producer_risk = 0.0;  ///< rejected and inside
  double outside_among_accepted = 0.0;  ///< consumer_risk / accepted; NaN when nothing is accepted
  double inside_among_rejected = 0.0;   ///< producer_risk / rejected; NaN when nothing is rejected
};

/// Consumer's and producer's risk by the joint integral of process and measurement (JCGM 106:2012, 9.5).
///
/// @param window  specification; one limit may be absent.
/// @param accept  acceptance limits; an absent one accepts on that side whatever is measured.
/// @param standard_uncertainty  of the measured value about the true one, 0 or more; normal.
/// @throws InvalidInput  a window without limits, limits that do not rise, numbers out of their domain.
/// @note   Absolute error below 1e-13; small risks keep about 10 digits.
/// @see    cpp/methods/conformity.md
[[nodiscard]] AcceptanceRisks acceptance_risks(const ProcessPrior& process, const SpecLimits& window,
                                               const SpecLimits& accept, double standard_uncertainty);

/// Acceptance limits drawn in (or out) from the window by one distance.
struct AcceptanceLimit {
  double guard = 0.0;      ///< below 0: outside the window
  SpecLimits accept;       ///< limits where the window has them
  bool needed = true;  ///< false: even with all accepted the risk is kept; guard is NaN and there are no limits
  AcceptanceRisks risks;   ///< with those limits; when all is accepted, the risks of that
};

/// Widest acceptance limits with at most that consumer's risk, the same distance from each limit of the window.
///
/// @param consumer_risk  wanted P(accepted and outside), in (0, 1).
/// @throws InvalidInput  as acceptance_risks.
[[nodiscard]] AcceptanceLimit acceptance_limit_for_risk(const ProcessPrior& process, const SpecLimits& window,
                                                        double standard_uncertainty, double consumer_risk);

/// Chance that an average with the given standard deviation about its true mean is accepted, at each true mean.
///
/// @param sigma_average  sd of the judged average about the true mean, 0 or more; with 0, means on a limit are accepted.
/// @param probability    output, as long as means.
/// @throws InvalidInput  as guard_band; lengths that differ.
void operating_curve(std::span<const double> means, const SpecLimits& accept, double sigma_average,
                     std::span<double> probability);

/// True mean outside the middle of the acceptance limits that is accepted with that probability, on one side.
/// @return NaN where no mean on that side has it: no limit there, or a window so narrow that the chance stays below.
[[nodiscard]] double operating_point(const SpecLimits& accept, double sigma_average, double probability,
                                     LimitSide side);

}  // namespace steadyfilm
