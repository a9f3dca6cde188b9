#include <steadyfilm/cure_profile.hpp>

#include <optional>

#include "common.hpp"

namespace {

using steadyfilm::ReadingState;

/// One byte a reading: 0 sound, 1 suspect, 2 lost.
std::vector<ReadingState> states(const Array<std::uint8_t>& given) {
  std::vector<ReadingState> out;
  for (const std::uint8_t code : as_span(given, "state")) {
    if (code > 2) throw steadyfilm::InvalidInput("binding", "state", "must hold 0, 1 or 2", out.size());
    out.push_back(static_cast<ReadingState>(code));
  }
  return out;
}

steadyfilm::TraceRule rule(double gap_medians, std::optional<double> begin_min, std::optional<double> end_min) {
  return {.gap_medians = gap_medians, .begin_min = begin_min, .end_min = end_min};
}

/// The recipe's parts as the wrapper hands them over.
steadyfilm::CureRecipe recipe(const std::vector<double>& temperature_c, const std::vector<double>& minutes,
                              const std::vector<double>& overbake_c, const std::vector<double>& overbake_min,
                              std::optional<double> maximum_c, std::optional<double> dose_min,
                              double activation_energy_kj, double reference_c, bool unbroken,
                              const std::string& dose_role) {
  if (temperature_c.size() != minutes.size() || overbake_c.size() != overbake_min.size()) {
    throw steadyfilm::InvalidInput("binding", "minutes", "needs as many elements as temperature_c");
  }
  steadyfilm::CureRecipe out{
      .maximum_c = maximum_c, .dose_min = dose_min, .rate = {activation_energy_kj, reference_c}, .unbroken = unbroken};
  for (std::size_t i = 0; i < minutes.size(); ++i) out.schedule.push_back({temperature_c[i], minutes[i]});
  for (std::size_t i = 0; i < overbake_min.size(); ++i) out.overbake.push_back({overbake_c[i], overbake_min[i]});
  if (dose_role == "enough") out.dose_role = steadyfilm::DoseRole::enough;
  if (dose_role == "needed") out.dose_role = steadyfilm::DoseRole::needed;
  return out;
}

const char* word(steadyfilm::CureState state) {
  switch (state) {
    case steadyfilm::CureState::pass:
      return "pass";
    case steadyfilm::CureState::fail:
      return "fail";
    default:
      return "not demonstrated";
  }
}

py::dict to_dict(const steadyfilm::TimeAbove& above) {
  return py::dict("total_min"_a = above.total_min, "longest_min"_a = above.longest_min,
                  "excursions"_a = above.excursions);
}

}  // namespace

void bind_cure_profile(py::module_& m) {
  using namespace steadyfilm;
  m.def(
      "trace_logging",
      [](const Array<double>& time_min, const Array<double>& temperature_c, const Array<std::uint8_t>& state,
         double gap_medians, std::optional<double> begin_min, std::optional<double> end_min) {
        const auto log = trace_logging(as_span(time_min, "time_min"), as_span(temperature_c, "temperature_c"),
                                       states(state), rule(gap_medians, begin_min, end_min));
        std::vector<double> from, to;
        std::vector<std::uint8_t> open;
        for (const Unobserved& part : log.unobserved) {
          from.push_back(part.from_min);
          to.push_back(part.to_min);
          open.push_back(part.open ? 1 : 0);
        }
        return py::dict("median_interval_min"_a = log.median_interval_min, "gap_limit_min"_a = log.gap_limit_min,
                        "unobserved_from_min"_a = to_array(std::move(from)),
                        "unobserved_to_min"_a = to_array(std::move(to)),
                        "unobserved_open"_a = to_array(std::move(open)), "unobserved_min"_a = log.unobserved_min,
                        "duration_min"_a = log.duration_min);
      },
      "time_min"_a.noconvert(), "temperature_c"_a.noconvert(), "state"_a.noconvert(), "gap_medians"_a, "begin_min"_a,
      "end_min"_a, "Gaps and faulty stretches of a trace; see steadyfilm.cure_profile.");

  m.def(
      "time_above",
      [](const Array<double>& time_min, const Array<double>& temperature_c, double threshold_c,
         const Array<std::uint8_t>& state, double gap_medians, std::optional<double> begin_min,
         std::optional<double> end_min, std::size_t threads) {
        const auto time = as_span(time_min, "time_min");
        const auto temperature = as_span(temperature_c, "temperature_c");
        const auto given = states(state);
        TimeAbovePair found;
        {
          const py::gil_scoped_release unlocked;  // plain memory only from here on
          found = time_above(time, temperature, threshold_c, given, rule(gap_medians, begin_min, end_min), threads);
        }
        return py::dict("observed"_a = to_dict(found.observed), "credited"_a = to_dict(found.credited),
                        "highest_c"_a = found.highest_c);
      },
      "time_min"_a.noconvert(), "temperature_c"_a.noconvert(), "threshold_c"_a, "state"_a.noconvert(), "gap_medians"_a,
      "begin_min"_a, "end_min"_a, "threads"_a, "Time at or above a temperature; see steadyfilm.cure_profile.");

  m.def(
      "equivalent_time",
      [](const Array<double>& time_min, const Array<double>& temperature_c, double activation_energy_kj,
         double reference_c, const Array<std::uint8_t>& state, double gap_medians, std::optional<double> begin_min,
         std::optional<double> end_min, std::size_t threads) {
        const auto time = as_span(time_min, "time_min");
        const auto temperature = as_span(temperature_c, "temperature_c");
        const auto given = states(state);
        EquivalentTime found;
        {
          const py::gil_scoped_release unlocked;  // plain memory only from here on
          found = equivalent_time(time, temperature, {activation_energy_kj, reference_c}, given,
                                  rule(gap_medians, begin_min, end_min), threads);
        }
        return py::dict("observed_min"_a = found.observed_min, "credited_min"_a = found.credited_min);
      },
      "time_min"_a.noconvert(), "temperature_c"_a.noconvert(), "activation_energy_kj"_a, "reference_c"_a,
      "state"_a.noconvert(), "gap_medians"_a, "begin_min"_a, "end_min"_a, "threads"_a,
      "Minutes at the reference that cure as much; see steadyfilm.cure_profile.");

  m.def(
      "equivalent_time_trapezoid",
      [](const Array<double>& time_min, const Array<double>& temperature_c, double activation_energy_kj,
         double reference_c, std::optional<double> sample_min, double gap_medians) {
        const auto found = equivalent_time_trapezoid(
            as_span(time_min, "time_min"), as_span(temperature_c, "temperature_c"), {activation_energy_kj, reference_c},
            sample_min, rule(gap_medians, std::nullopt, std::nullopt));
        return py::dict("observed_min"_a = found.observed_min, "credited_min"_a = found.credited_min);
      },
      "time_min"_a.noconvert(), "temperature_c"_a.noconvert(), "activation_energy_kj"_a, "reference_c"_a,
      "sample_min"_a, "gap_medians"_a, "The same by the trapezoid of the factor; see steadyfilm.cure_profile.");

  m.def(
      "trace_shape",
      [](const Array<double>& time_min, const Array<double>& temperature_c, double slope_window_min, double soak_band_c,
         const Array<std::uint8_t>& state, double gap_medians) {
        const auto found =
            trace_shape(as_span(time_min, "time_min"), as_span(temperature_c, "temperature_c"), slope_window_min,
                        soak_band_c, states(state), rule(gap_medians, std::nullopt, std::nullopt));
        return py::dict("peak_c"_a = found.peak_c, "peak_at_min"_a = found.peak_at_min, "lowest_c"_a = found.lowest_c,
                        "suspect_peak_c"_a = found.suspect_peak_c, "steepest_c_per_min"_a = found.steepest_c_per_min,
                        "steepest_from_min"_a = found.steepest_from_min, "steepest_to_min"_a = found.steepest_to_min,
                        "soak_min"_a = found.soak_min, "soak_mean_c"_a = found.soak_mean_c);
      },
      "time_min"_a.noconvert(), "temperature_c"_a.noconvert(), "slope_window_min"_a, "soak_band_c"_a,
      "state"_a.noconvert(), "gap_medians"_a, "Peak, ramp and soak of a trace; see steadyfilm.cure_profile.");

  m.def(
      "cure_rate_factor",
      [](double temperature_c, double activation_energy_kj, double reference_c) {
        return cure_rate_factor(temperature_c, {activation_energy_kj, reference_c});
      },
      "temperature_c"_a, "activation_energy_kj"_a, "reference_c"_a,
      "Minutes at the reference that one minute is worth; see steadyfilm.cure_profile.");

  m.def(
      "activation_energy_from_schedule",
      [](const std::vector<double>& temperature_c, const std::vector<double>& minutes, double confidence_level) {
        if (temperature_c.size() != minutes.size()) {
          throw InvalidInput("activation_energy_from_schedule", "minutes", "needs as many elements as temperature_c");
        }
        std::vector<SchedulePoint> points;
        for (std::size_t i = 0; i < minutes.size(); ++i) points.push_back({temperature_c[i], minutes[i]});
        const auto found = activation_energy_from_schedule(points, confidence_level);
        return py::dict("activation_energy_kj"_a = found.activation_energy_kj,
                        "standard_error_kj"_a = found.standard_error_kj, "lower_kj"_a = found.lower_kj,
                        "upper_kj"_a = found.upper_kj, "ln_minutes_at_zero"_a = found.ln_minutes_at_zero,
                        "residual_sd"_a = found.residual_sd);
      },
      "temperature_c"_a, "minutes"_a, "confidence_level"_a,
      "Activation energy that a schedule implies; see steadyfilm.cure_profile.");

  m.def(
      "oven_lag",
      [](double air_c, double start_c, double time_constant_min, double oven_min, double threshold_c) {
        const auto found = oven_lag(air_c, start_c, time_constant_min, oven_min, threshold_c);
        return py::dict("reach_min"_a = found.reach_min, "above_min"_a = found.above_min, "exit_c"_a = found.exit_c);
      },
      "air_c"_a, "start_c"_a, "time_constant_min"_a, "oven_min"_a, "threshold_c"_a,
      "A part that follows the air with a first-order lag; see steadyfilm.cure_profile.");

  m.def(
      "oven_lag_equivalent_time",
      [](double air_c, double start_c, double time_constant_min, double oven_min, double activation_energy_kj,
         double reference_c) {
        return oven_lag_equivalent_time(air_c, start_c, time_constant_min, oven_min,
                                        {activation_energy_kj, reference_c});
      },
      "air_c"_a, "start_c"_a, "time_constant_min"_a, "oven_min"_a, "activation_energy_kj"_a, "reference_c"_a,
      "Equivalent time of a part that follows the air; see steadyfilm.cure_profile.");

  m.def(
      "fit_oven_lag",
      [](const Array<double>& time_min, const Array<double>& air_c, const Array<double>& part_c) {
        const auto found =
            fit_oven_lag(as_span(time_min, "time_min"), as_span(air_c, "air_c"), as_span(part_c, "part_c"));
        return py::dict("time_constant_min"_a = found.time_constant_min, "start_c"_a = found.start_c,
                        "residual_c"_a = found.residual_c);
      },
      "time_min"_a.noconvert(), "air_c"_a.noconvert(), "part_c"_a.noconvert(),
      "Lag of a part behind the air; see steadyfilm.cure_profile.");

  m.def(
      "judge_place",
      [](const Array<double>& time_min, const Array<double>& temperature_c, const std::vector<double>& schedule_c,
         const std::vector<double>& schedule_min, const std::vector<double>& overbake_c,
         const std::vector<double>& overbake_min, std::optional<double> maximum_c, std::optional<double> dose_min,
         double activation_energy_kj, double reference_c, bool unbroken, const std::string& dose_role,
         const Array<std::uint8_t>& state, double gap_medians, std::optional<double> begin_min,
         std::optional<double> end_min) {
        const auto found = judge_place(as_span(time_min, "time_min"), as_span(temperature_c, "temperature_c"),
                                       recipe(schedule_c, schedule_min, overbake_c, overbake_min, maximum_c, dose_min,
                                              activation_energy_kj, reference_c, unbroken, dose_role),
                                       states(state), rule(gap_medians, begin_min, end_min));
        std::vector<double> observed, credited;
        py::list point_states;
        for (const SchedulePointMet& point : found.points) {
          observed.push_back(point.observed_min);
          credited.push_back(point.credited_min);
          point_states.append(word(point.state));
        }
        return py::dict("state"_a = word(found.state), "schedule"_a = word(found.schedule),
                        "maximum"_a = word(found.maximum), "dose"_a = word(found.dose), "observed_min"_a = observed,
                        "credited_min"_a = credited, "points"_a = point_states, "nearest"_a = found.nearest,
                        "dose_observed_min"_a = found.equivalent.observed_min,
                        "dose_credited_min"_a = found.equivalent.credited_min, "highest_c"_a = found.highest_c,
                        "overbake"_a = word(found.overbake.state), "overbake_c"_a = found.overbake.temperature_c,
                        "overbake_allowed_min"_a = found.overbake.allowed_min,
                        "overbake_observed_min"_a = found.overbake.observed_min,
                        "overbake_credited_min"_a = found.overbake.credited_min);
      },
      "time_min"_a.noconvert(), "temperature_c"_a.noconvert(), "schedule_c"_a, "schedule_min"_a, "overbake_c"_a,
      "overbake_min"_a, "maximum_c"_a, "dose_min"_a, "activation_energy_kj"_a, "reference_c"_a, "unbroken"_a,
      "dose_role"_a, "state"_a.noconvert(), "gap_medians"_a, "begin_min"_a, "end_min"_a,
      "Whether a place had its cure; see steadyfilm.cure_profile.");

  m.def(
      "hold_owed",
      [](const Array<double>& time_min, const Array<double>& temperature_c, const std::vector<double>& schedule_c,
         const std::vector<double>& schedule_min, const std::vector<double>& overbake_c,
         const std::vector<double>& overbake_min, std::optional<double> maximum_c, std::optional<double> dose_min,
         double activation_energy_kj, double reference_c, bool unbroken, double hold_c,
         const Array<std::uint8_t>& state, double gap_medians) {
        const auto found = hold_owed(as_span(time_min, "time_min"), as_span(temperature_c, "temperature_c"),
                                     recipe(schedule_c, schedule_min, overbake_c, overbake_min, maximum_c, dose_min,
                                            activation_energy_kj, reference_c, unbroken, "told"),
                                     hold_c, states(state), rule(gap_medians, std::nullopt, std::nullopt));
        return py::dict("schedule_min"_a = found.schedule_min, "least_schedule_min"_a = found.least_schedule_min,
                        "dose_min"_a = found.dose_min, "above_maximum"_a = found.above_maximum);
      },
      "time_min"_a.noconvert(), "temperature_c"_a.noconvert(), "schedule_c"_a, "schedule_min"_a, "overbake_c"_a,
      "overbake_min"_a, "maximum_c"_a, "dose_min"_a, "activation_energy_kj"_a, "reference_c"_a, "unbroken"_a,
      "hold_c"_a, "state"_a.noconvert(), "gap_medians"_a, "Minutes still owed at a hold; see steadyfilm.cure_profile.");
}
