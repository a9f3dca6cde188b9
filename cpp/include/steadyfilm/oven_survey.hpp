/// @file
/// The oven itself: cold and hot places of a survey, what a tolerance means for the dose, air that fell and came back.
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include <steadyfilm/cure_profile.hpp>

namespace steadyfilm {

/// Uniformity of an oven; arrays have one element a place.
struct UniformitySurvey {
  std::vector<double> mean_c;
  std::vector<double> lowest_c;
  std::vector<double> highest_c;
  std::vector<double> dose_ratio;  ///< mean of the place's cure rate factor, the target being 1
  std::size_t coldest = 0;         ///< place of the lowest mean
  std::size_t hottest = 0;         ///< place of the highest mean
  std::size_t coldest_first = 0;   ///< place with the lowest single reading
  double below_k = 0.0;            ///< how far any reading lies below the target; 0 where none does
  double above_k = 0.0;            ///< how far any reading lies above it
  double spread_k = 0.0;           ///< largest difference between two places at one time
  double uniformity_k = 0.0;       ///< the larger of below and above: the oven keeps target -+ this
};

/// Survey of a soak: every place read at the same times.
///
/// @param readings  C, row by row: one row a time, one column a place; soak only, without heat-up.
/// @throws InvalidInput  no place, no time, no whole number of rows, a number that is not finite, a rate as in
/// equivalent_time.
/// @see    cpp/methods/oven_survey.md
[[nodiscard]] UniformitySurvey uniformity_survey(std::span<const double> readings, std::size_t places, double target_c,
                                                 const CureRate& rate);

/// Cure rate at target -+ tolerance over that at the target.
struct DoseRatio {
  double low = 1.0;
  double high = 1.0;
};
/// @throws InvalidInput  a negative or not finite tolerance, a temperature at or below absolute zero, a rate as above.
[[nodiscard]] DoseRatio dose_ratio(double target_c, double tolerance_k, double activation_energy_kj);

/// When air counts as fallen. Common practice, no source; each is an option.
struct AirRule {
  double band_k = 5.0;       ///< below the level by more than this
  double least_min = 3.0;    ///< for at least so long
  double recovery_min = 20;  ///< a door that was opened has come back by then
};

/// A stretch in which the air lay below its level.
struct AirFall {
  double from_min = 0.0;  ///< last reading within the band, or the first one below
  double to_min = 0.0;    ///< first reading back, or the last one of the trace
  double mean_c = 0.0;    ///< over the readings below
  double lowest_c = 0.0;
  double lowest_at_min = 0.0;
  bool came_back = false;  ///< within the band again
  bool door = false;       ///< fell and rose again as after a door; else the heat itself fell
};

/// Stretches in which air that had reached its level fell below it.
///
/// A fall is a door's when the air is back within recovery_min of its lowest reading, or, where the trace ends before
/// that, has made up more than half of the fall. Else the heat fell: burner, fan or a door left open.
///
/// @throws InvalidInput  as trace_logging; a level that is not finite; rules not above 0.
[[nodiscard]] std::vector<AirFall> air_falls(std::span<const double> time_min, std::span<const double> air_c,
                                             double level_c, const AirRule& rule = {});

/// How air comes back: level - drop exp(-(t - t_0) / tau) from the first reading of the stretch.
struct AirRecovery {
  double time_constant_min = 0.0;
  double drop_k = 0.0;
  double back_min = 0.0;    ///< from t_0 until the fit is within 1 K of the level; 0 where it begins there
  double residual_k = 0.0;  ///< root mean square
};

/// Least squares over the stretch given, which starts at its lowest reading; the level is known.
/// @throws InvalidInput  fewer than 4 readings, as trace_logging, or air that does not start below the level.
[[nodiscard]] AirRecovery air_recovery(std::span<const double> time_min, std::span<const double> air_c, double level_c);

}  // namespace steadyfilm
