// From the sums of squares of a balanced study to what a gauge study reports.
#pragma once

#include <span>
#include <vector>

#include <steadyfilm/gauge_rr.hpp>

#include "support/balanced_design.hpp"
#include "support/combinations.hpp"

namespace steadyfilm::support {

/// Ends of part variance / measurement variance of a crossed study, not below 0. `interaction` is the position of the
/// mean square that the part is tested over; `measurement` holds the weights of the mean squares in the measurement.
///
/// Burdick, Borror and Montgomery, Journal of Quality Technology 35 (2003) 342, and Design and Analysis of Gauge R&R
/// Studies (2005) (from memory): terms with many degrees of freedom as estimated, the appraiser at its F limit.
[[nodiscard]] Interval crossed_ratio_interval(MeanSquareSet& squares, std::size_t part, std::size_t appraiser,
                                              std::size_t interaction, double readings_a_part,
                                              std::span<const double> measurement);

/// Interactions to pool: from the highest down, those whose p lies above the level (or all, `whatever` it is) and that
/// no kept one holds. Positions among the terms.
[[nodiscard]] std::vector<std::size_t> poolable_terms(const std::vector<Term>& terms, const GaugeEstimate& kept,
                                                      double level, bool whatever);

/// Levels about the mean of all, each with a Student interval from what the factor is tested over.
[[nodiscard]] std::vector<GaugeEffect> level_effects(const std::vector<double>& means, double mean,
                                                     const AnovaLine& line, double readings, double confidence_level);

/// `terms` are those of balanced_design or pooled_terms, or their like for readings that are not balanced.
[[nodiscard]] GaugeEstimate gauge_estimate(const std::vector<Term>& terms, std::span<const StudyFactor> factors,
                                           const GaugeOptions& options);

/// 1.41 pv / grr and its whole part, at least 1: NaN where both are 0, infinite where grr alone is.
void set_ndc(double pv, double grr, double& ratio, double& ndc);

}  // namespace steadyfilm::support
