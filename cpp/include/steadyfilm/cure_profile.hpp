/// @file
/// Temperature traces of a bake: how long at temperature, how much cure, and whether that can be told from the log.
///
/// A trace is two arrays of one length: minutes, strictly ascending, and C. Between readings the temperature is taken
/// as a straight line. Every figure of time and dose comes twice: from what was observed alone, and with gaps and
/// faulty stretches credited.
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <vector>

namespace steadyfilm {

/// R in J/(mol K), as CODATA 2018 gives it (exact in the SI since 2019, here to ten digits).
inline constexpr double gas_constant = 8.314462618;

/// What a reading is worth.
enum class ReadingState : std::uint8_t {
  sound = 0,
  suspect = 1,  ///< its figure may be right (a stuck value): counts when faulty stretches are credited
  lost = 2,     ///< its figure means nothing (an open circuit): a straight line goes across when credited
};

/// Which stretches of a trace were not observed.
struct TraceRule {
  /// An interval longer than so many median intervals is a gap; infinite: nothing is.
  double gap_medians = 3.0;
  /// The load's own first and last minute, when the trace may start later or end earlier; such a missing end has
  /// nothing to draw a line to, and is credited as if it were at the wanted temperature.
  std::optional<double> begin_min{};
  std::optional<double> end_min{};
};

/// A stretch of time that was not observed.
struct Unobserved {
  double from_min = 0.0;
  double to_min = 0.0;
  bool open = false;  ///< at an end of the load: nothing to draw a line from or to
};

/// How a trace was logged.
struct Logging {
  double median_interval_min = 0.0;    ///< NaN for one reading
  double gap_limit_min = 0.0;          ///< an interval longer than this is a gap
  std::vector<Unobserved> unobserved;  ///< in order of time
  double unobserved_min = 0.0;         ///< their sum
  double duration_min = 0.0;           ///< of the load: first to last minute, missing ends among it
};

/// Gaps and faulty stretches of a trace.
///
/// @param state  empty (all readings sound), or one element a reading.
/// @throws InvalidInput  no reading, lengths that differ, times not strictly ascending, a number that is not finite, a
/// temperature at or below absolute zero, gap_medians not above 0, an end of the load inside of the trace.
[[nodiscard]] Logging trace_logging(std::span<const double> time_min, std::span<const double> temperature_c,
                                    std::span<const ReadingState> state = {}, const TraceRule& rule = {});

/// Time at or above a temperature, crossings found on the straight line between readings.
struct TimeAbove {
  double total_min = 0.0;
  double longest_min = 0.0;    ///< longest unbroken run
  std::size_t excursions = 0;  ///< runs: how often it came up there
};

/// Time above from what was observed, and with every gap and faulty stretch credited.
struct TimeAbovePair {
  TimeAbove observed;
  TimeAbove credited;
  double highest_c = 0.0;  ///< of all readings that are not lost; NaN when there is none
};

/// @param threshold_c  a reading within 1e-9 K of it is at it.
/// @param threads      0: as many as the processor runs.
/// @throws InvalidInput  as trace_logging, or a threshold that is not finite.
/// @see    cpp/methods/cure_profile.md
[[nodiscard]] TimeAbovePair time_above(std::span<const double> time_min, std::span<const double> temperature_c,
                                       double threshold_c, std::span<const ReadingState> state = {},
                                       const TraceRule& rule = {}, std::size_t threads = 1);

/// How temperature speeds the cure, one activation energy for all of it.
struct CureRate {
  double activation_energy_kj = 0.0;  ///< kJ/mol, 0 or more
  double reference_c = 0.0;
};

/// exp(-(E/R)(1/T - 1/T_ref)): minutes at the reference that one minute is worth.
[[nodiscard]] double cure_rate_factor(double temperature_c, const CureRate& rate);

/// Minutes at the reference temperature that cure as much, from what was observed and with all stretches credited.
struct EquivalentTime {
  double observed_min = 0.0;
  double credited_min = 0.0;
};

/// Integral of the factor along straight lines between readings.
///
/// Steps whose factor changes little take the trapezoid corrected for its ends, others the closed form through the
/// exponential integral. The last bits may depend on the instruction set.
///
/// @throws InvalidInput  as trace_logging, or a rate that is negative or not finite.
/// @see    cpp/methods/cure_profile.md
[[nodiscard]] EquivalentTime equivalent_time(std::span<const double> time_min, std::span<const double> temperature_c,
                                             const CureRate& rate, std::span<const ReadingState> state = {},
                                             const TraceRule& rule = {}, std::size_t threads = 1);

/// The same by the trapezoid of the factor at the readings, or at every `sample_min` of the straight lines and at the
/// last reading: what coarse logging would have said.
[[nodiscard]] EquivalentTime equivalent_time_trapezoid(std::span<const double> time_min,
                                                       std::span<const double> temperature_c, const CureRate& rate,
                                                       std::optional<double> sample_min = std::nullopt,
                                                       const TraceRule& rule = {});

/// Peak, ramp and soak of a trace, from its sound readings.
struct TraceShape {
  double peak_c = 0.0;  ///< NaN when no reading is sound
  double peak_at_min = 0.0;
  double lowest_c = 0.0;
  double suspect_peak_c = 0.0;      ///< of readings whose figure may be right; NaN when there is none
  double steepest_c_per_min = 0.0;  ///< largest least-squares slope over the window; NaN without two sound readings
  double steepest_from_min = 0.0;
  double steepest_to_min = 0.0;
  double soak_min = 0.0;     ///< longest observed stretch within the band below the peak
  double soak_mean_c = 0.0;  ///< mean temperature of all observed time within the band; NaN when there is none
};

/// @param slope_window_min  each slope is that of all readings from one reading to the first at least so much later.
/// @param soak_band_c       above 0.
/// @throws InvalidInput  as trace_logging; a window or band that is not positive.
[[nodiscard]] TraceShape trace_shape(std::span<const double> time_min, std::span<const double> temperature_c,
                                     double slope_window_min = 5.0, double soak_band_c = 3.0,
                                     std::span<const ReadingState> state = {}, const TraceRule& rule = {});

/// One way to cure: the part at this temperature or above for so many minutes.
struct SchedulePoint {
  double temperature_c = 0.0;
  double minutes = 0.0;
};

/// Part that the dose plays beside the schedule.
enum class DoseRole : std::uint8_t {
  told,    ///< a second line that never changes the verdict
  enough,  ///< a dose that is met is as good as a schedule point
  needed,  ///< the dose must be met as well
};

/// What a place must have had.
struct CureRecipe {
  std::vector<SchedulePoint> schedule{};  ///< any one of these is enough
  /// Upper curve: no more minutes than these at that temperature or above, also between the points on the straight line
  /// of ln t on 1/T; beyond them nothing is said. Empty: none.
  std::vector<SchedulePoint> overbake{};
  std::optional<double> maximum_c{};  ///< no reading above it
  std::optional<double> dose_min{};   ///< minutes at the rate's reference temperature
  CureRate rate{};                    ///< of the dose
  bool unbroken = false;              ///< count the longest run instead of all time at temperature
  DoseRole dose_role = DoseRole::told;
};

/// Three states of a demand, best first.
enum class CureState : std::uint8_t {
  pass,              ///< met by what was observed alone
  not_demonstrated,  ///< met only if gaps and faulty stretches are credited
  fail,              ///< not met even then
};

/// One schedule point at one place.
struct SchedulePointMet {
  double observed_min = 0.0;
  double credited_min = 0.0;
  CureState state = CureState::fail;
};

/// Time against the upper curve, at the temperature where the largest share of what it allows was used.
struct OverbakeFound {
  CureState state = CureState::pass;  ///< fail: more observed than allowed; not demonstrated: more only when credited
  double temperature_c = 0.0;         ///< NaN, as all of these, where there is no curve
  double allowed_min = 0.0;
  double observed_min = 0.0;
  double credited_min = 0.0;  ///< missing ends of the load are not among it: nothing shows how hot they were
};

/// One place of a load.
struct PlaceVerdict {
  CureState state = CureState::fail;     ///< of schedule, maximum and upper curve together
  CureState schedule = CureState::fail;  ///< best of the points
  CureState maximum = CureState::pass;   ///< fail: a sound reading above it; not demonstrated: a suspect one
  CureState dose = CureState::pass;      ///< pass where no dose is wanted
  OverbakeFound overbake;
  std::vector<SchedulePointMet> points;
  std::size_t nearest = 0;  ///< the point that is met, or of which the largest share is
  EquivalentTime equivalent;
  double highest_c = 0.0;  ///< of the sound readings; NaN when there is none
};

/// Pass: some schedule point is met with no gap or faulty stretch credited. Fail: none is met with all of them
/// credited. Else not demonstrated. Minutes are compared with a relative slack of 1e-9. The upper curve is looked at in
/// its points and at every 0.05 K between them.
///
/// @throws InvalidInput  as trace_logging; a recipe without a schedule point, minutes not above 0, a dose not above 0,
/// an upper curve with two points at one temperature or with more minutes at a higher one.
/// @see    cpp/methods/cure_profile.md
[[nodiscard]] PlaceVerdict judge_place(std::span<const double> time_min, std::span<const double> temperature_c,
                                       const CureRecipe& recipe, std::span<const ReadingState> state = {},
                                       const TraceRule& rule = {});

/// Minutes still owed when the place is held at a temperature from now on.
struct HoldOwed {
  std::vector<double> schedule_min;  ///< one element a point; infinite where the hold is below its temperature
  double least_schedule_min = 0.0;   ///< least of them
  double dose_min = 0.0;             ///< NaN where no dose is wanted
  bool above_maximum = false;        ///< the hold itself is hotter than the recipe allows
};

/// What is missing to the schedule points and the dose, from what was observed.
/// @throws InvalidInput  as judge_place, or a hold temperature that is not finite or not above absolute zero.
[[nodiscard]] HoldOwed hold_owed(std::span<const double> time_min, std::span<const double> temperature_c,
                                 const CureRecipe& recipe, double hold_c, std::span<const ReadingState> state = {},
                                 const TraceRule& rule = {});

/// Activation energy that a schedule implies.
struct ScheduleEnergy {
  double activation_energy_kj = 0.0;
  double standard_error_kj = 0.0;  ///< NaN with two points
  double lower_kj = 0.0;           ///< interval by Student's t; NaN with two points
  double upper_kj = 0.0;
  double ln_minutes_at_zero = 0.0;  ///< intercept of ln t on 1/T, t in min
  double residual_sd = 0.0;         ///< of ln t; NaN with two points
};

/// Least squares of ln t on 1/T; through both points when there are two.
///
/// @throws InvalidInput  fewer than two points, all at one temperature, minutes not above 0, a temperature at or below
/// absolute zero, a level outside of 0 to 1.
[[nodiscard]] ScheduleEnergy activation_energy_from_schedule(std::span<const SchedulePoint> points,
                                                             double confidence_level = 0.95);

/// A part that follows the air with a first-order lag.
struct OvenLag {
  double reach_min = 0.0;  ///< when it reaches the threshold; infinite: never
  double above_min = 0.0;  ///< from then to the end
  double exit_c = 0.0;     ///< at the end
};

/// T = air - (air - start) exp(-t / tau).
/// @throws InvalidInput  a number that is not finite, a time constant not above 0, a negative time, a temperature at or
/// below absolute zero.
[[nodiscard]] OvenLag oven_lag(double air_c, double start_c, double time_constant_min, double oven_min,
                               double threshold_c);

/// Equivalent time of that curve, by adaptive integration to 1e-12.
[[nodiscard]] double oven_lag_equivalent_time(double air_c, double start_c, double time_constant_min, double oven_min,
                                              const CureRate& rate);

/// Lag of a part behind the air, from two traces with the same times.
struct FittedLag {
  double time_constant_min = 0.0;  ///< at the ends of the range searched: 0.01 (it shows the air itself) or 10,000
  double start_c = 0.0;            ///< of the fitted part
  double residual_c = 0.0;         ///< root mean square of part minus fit
};

/// Least squares of the part's trace on what a first-order lag makes of the air (straight lines between its readings),
/// the part's start free. The whole course is fitted, not step by step, so that noise of the readings does not make a
/// slow part look quick.
///
/// @throws InvalidInput  lengths that differ, fewer than 4 readings, times not ascending, a number that is not finite.
[[nodiscard]] FittedLag fit_oven_lag(std::span<const double> time_min, std::span<const double> air_c,
                                     std::span<const double> part_c);

}  // namespace steadyfilm
