/// @file
/// Long charts of equal, consecutive subgroups: one pass over the readings, shared out to threads.
///
/// Bits do not depend on the number of threads or the instruction set: readings are cut at fixed borders, and sums run
/// in eight lanes in twice the working precision that are joined in the order of the borders.
#pragma once

#include <cstddef>
#include <span>
#include <vector>

#include <steadyfilm/run_rules.hpp>

#include "support/double_double.hpp"

namespace steadyfilm::support {

/// What a pass adds up over the subgroups.
struct SubgroupTotals {
  std::size_t groups = 0;
  DoubleDouble means;        ///< sum of the means
  DoubleDouble ranges;       ///< sum of the ranges
  double lowest_mean = 0.0;  ///< equal to highest_mean when all subgroups have one mean
  double highest_mean = 0.0;
};

/// Center and sigma that points of the mean chart and of the range chart are standardized with.
struct SubgroupLines {
  double center = 0.0;
  double sigma_point = 0.0;  ///< of a mean; 0 or more
  double range_center = 0.0;
  double range_sigma = 0.0;  ///< of a range; 0 or more
};

/// Signals of the two charts, points counted in subgroups from 0.
struct BothSignals {
  std::vector<RuleSignal> means;
  std::vector<RuleSignal> ranges;
};

/// Mean and range of each subgroup, and their totals. The mean is the sum of the readings, added from the first to the
/// last, over their number; of equal readings it is that reading.
///
/// @param readings  a multiple of `size`, one subgroup after the other.
/// @param size      readings a subgroup, 1 or more.
/// @param means     output, one a subgroup; empty: not wanted.
/// @param ranges    output, one a subgroup; empty: not wanted.
/// @param threads   most threads; 0: as many as run at once.
/// @param function  that error messages name
/// @throws InvalidInput  a reading is not finite or the readings of a subgroup overflow; lengths do not fit.
SubgroupTotals scan_subgroups(std::span<const double> readings, std::size_t size, std::span<double> means,
                              std::span<double> ranges, std::size_t threads, const char* function);

/// Signals of the mean and the range chart for given lines, from the readings in one pass. Parameters as above.
/// @param rules        of the mean chart
/// @param range_rules  of the range chart
BothSignals scan_subgroup_signals(std::span<const double> readings, std::size_t size, const SubgroupLines& lines,
                                  std::span<const RunRule> rules, std::span<const RunRule> range_rules,
                                  const RuleOptions& options, std::span<double> means, std::span<double> ranges,
                                  const char* function);

/// The same signals from means and ranges that there are already; finite, and as many of the one as of the other.
BothSignals find_subgroup_signals(std::span<const double> means, std::span<const double> ranges,
                                  const SubgroupLines& lines, std::span<const RunRule> rules,
                                  std::span<const RunRule> range_rules, const RuleOptions& options);

}  // namespace steadyfilm::support
