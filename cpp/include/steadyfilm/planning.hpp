/// @file
/// How many readings, and where: for a share of the window, a half width, a gauge study, or the least cost.
///
/// All lengths of one call are in one unit, whichever; what comes back is in the same. Numbers of readings are the
/// smallest whole ones that do; a requirement met but for a relative 1e-9 is met.
#pragma once

#include <cstddef>
#include <cstdint>
#include <vector>

namespace steadyfilm {

/// Part of a window that the spread of a measurement takes: sigma_spread u / window_width.
/// @throws InvalidInput  a window or multiple not above 0, a negative uncertainty.
[[nodiscard]] double window_share(double standard_uncertainty, double window_width, double sigma_spread = 6.0);

/// Readings whose average takes at most a share of the window.
struct ShareReadings {
  std::size_t readings = 0;  ///< 0: no number does
  double share = 0.0;        ///< that this number takes; with none, what is left of it with endlessly many
  double single_share = 0.0;
};

/// Smallest n with sigma_spread sqrt(sigma_common^2 + sigma_repeat^2 / n) <= share window_width.
///
/// @param sigma_common  what all readings of a unit share (inspector, zero), which repeating does not take out.
/// @throws InvalidInput  numbers out of their domain, or more than 1e9 readings.
[[nodiscard]] ShareReadings readings_for_window_share(double sigma_repeat, double window_width, double share,
                                                      double sigma_common = 0.0, double sigma_spread = 6.0);

struct HalfWidthReadings {
  std::size_t readings = 0;     ///< 2 or more
  double t = 0.0;               ///< Student t quantile of readings - 1 degrees of freedom
  double half_width = 0.0;      ///< t sd / sqrt(readings)
  double normal_formula = 0.0;  ///< (z sd / half_width)^2, which asks for too few
};

/// Smallest n whose interval for the mean, t sd / sqrt(n) on each side, is at most that wide.
/// @throws InvalidInput  numbers out of their domain, or more than 1e9 readings.
[[nodiscard]] HalfWidthReadings readings_for_half_width(double sd, double half_width, double confidence_level = 0.95);

/// Standard uncertainty of a unit's average over places and repeats:
/// sqrt(sigma_common^2 + sigma_location^2 / a + sigma_repeat^2 / (a b)).
/// @throws InvalidInput  a count of 0, a negative or not finite sd.
[[nodiscard]] double unit_average_uncertainty(double sigma_location, double sigma_repeat, std::size_t location_count,
                                              std::size_t readings_per_location, double sigma_common = 0.0);

/// Repeats a place that give most for the money if numbers need not be whole:
/// sqrt(sigma_repeat^2 cost_location / (sigma_location^2 cost_reading)).
/// @throws InvalidInput  sigma_location or cost_reading not above 0, others negative.
[[nodiscard]] double optimal_repeats(double sigma_location, double sigma_repeat, double cost_location,
                                     double cost_reading);

/// How a unit is read and what that costs: places times (cost_location + repeats cost_reading).
struct ReadingPlan {
  std::size_t location_count = 0;
  std::size_t readings_per_location = 0;
  double cost = 0.0;
  double uncertainty = 0.0;  ///< standard, of the unit's average
};

/// What one unit's readings are up against.
struct ReadingCosts {
  double sigma_location = 0.0;    ///< from place to place within a unit
  double sigma_repeat = 0.0;      ///< at one place
  double sigma_common = 0.0;      ///< shared by all readings of a unit
  double cost_location = 0.0;     ///< of going to a place, 0 or more
  double cost_reading = 1.0;      ///< above 0
  std::size_t most_places = 100;  ///< that a unit has room for
};

/// The cheapest whole-number plan with at most that uncertainty; of equally cheap ones the more certain.
/// @return a plan of no places where no number of readings does, its uncertainty what is left at the end.
/// @throws InvalidInput  numbers out of their domain.
[[nodiscard]] ReadingPlan cheapest_plan(const ReadingCosts& given, double uncertainty);

/// The most certain whole-number plan for at most that cost; of equally certain ones the cheaper.
/// @return a plan of no places where the budget does not pay for one reading, its uncertainty NaN.
/// @throws InvalidInput  numbers out of their domain.
[[nodiscard]] ReadingPlan best_plan(const ReadingCosts& given, double budget);

/// Standard deviations that a gauge study is expected to find.
struct StudyComponents {
  double sigma_repeat = 0.0;       ///< above 0
  double sigma_appraiser = 0.0;    ///< between appraisers, random
  double sigma_interaction = 0.0;  ///< appraiser x part
};

struct StudySize {
  std::size_t parts = 0;
  std::size_t appraisers = 0;
  std::size_t trials = 0;
};

enum class StudyIntervalMethod : std::uint8_t { modified_large_sample, satterthwaite };

struct StudyOptions {
  double confidence_level = 0.95;
  StudyIntervalMethod method = StudyIntervalMethod::modified_large_sample;
  bool interaction = true;  ///< in the model of the evaluation; false: pooled with the repeats
};

/// One line of an analysis of variance, as it is to be expected.
struct StudyMeanSquare {
  double weight = 0.0;  ///< in the measurement variance
  double expected = 0.0;
  double degrees_of_freedom = 0.0;
};

/// The interval of the measurement standard deviation that a study of this size gives.
struct StudyInterval {
  StudySize size;
  std::size_t readings = 0;
  double sigma_measurement = 0.0;  ///< root of the sum of the components
  double lower = 0.0;              ///< of the interval when each mean square is at its expectation
  double upper = 0.0;
  double relative_width = 0.0;                ///< (upper - lower) / sigma_measurement
  double degrees_of_freedom = 0.0;            ///< Satterthwaite, at the expectations
  std::vector<StudyMeanSquare> mean_squares;  ///< appraiser, interaction, repeat; those that the model has
};

/// Interval of the measurement standard deviation for a crossed study, in closed form at the expected mean squares.
///
/// One appraiser: the repeats alone are the measurement. One trial: interaction is part of the repeats.
///
/// @throws InvalidInput  a part, appraiser or trial missing, no degrees of freedom, components out of their domain,
///                       appraiser components with one appraiser.
/// @see    cpp/methods/planning.md
[[nodiscard]] StudyInterval study_interval(const StudyComponents& components, const StudySize& size,
                                           const StudyOptions& options = {});

/// Ends and width of that interval, each averaged over all studies of that size; ends in the unit of the components.
struct StudyAverage {
  double lower = 0.0;
  double upper = 0.0;
  double relative_width = 0.0;  ///< mean of (upper - lower) / sigma_measurement
};

/// Mean interval over all studies of that size, by numerical integration over the mean squares.
///
/// @throws InvalidInput  as study_interval.
/// @see    cpp/methods/planning.md
[[nodiscard]] StudyAverage study_average(const StudyComponents& components, const StudySize& size,
                                         const StudyOptions& options = {});

/// What sizes of study may be asked for, and what they cost.
struct StudyBounds {
  std::size_t fewest_parts = 5;
  std::size_t most_parts = 30;
  std::size_t most_appraisers = 6;
  std::size_t most_trials = 4;
  double cost_part = 0.0;
  double cost_appraiser = 0.0;
  double cost_reading = 1.0;
};

struct PlannedStudy {
  StudyInterval interval;
  double cost = 0.0;
  bool reached = false;
};

/// For each number of appraisers the cheapest study whose interval has at most that relative width; where none within
/// the bounds has it, the one with the narrowest interval. First the cheapest of all.
/// @throws InvalidInput  numbers out of their domain, bounds that leave no study.
[[nodiscard]] std::vector<PlannedStudy> plan_study(const StudyComponents& components, double relative_width,
                                                   const StudyBounds& bounds = {}, const StudyOptions& options = {});

}  // namespace steadyfilm
