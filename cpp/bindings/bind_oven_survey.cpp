#include <steadyfilm/oven_survey.hpp>

#include "common.hpp"

void bind_oven_survey(py::module_& m) {
  m.def(
      "uniformity_survey",
      [](const Array<double>& readings, std::size_t places, double target_c, double activation_energy_kj) {
        auto found = steadyfilm::uniformity_survey(as_span(readings, "readings"), places, target_c,
                                                   {activation_energy_kj, target_c});
        return py::dict(
            "mean_c"_a = to_array(std::move(found.mean_c)), "lowest_c"_a = to_array(std::move(found.lowest_c)),
            "highest_c"_a = to_array(std::move(found.highest_c)),
            "dose_ratio"_a = to_array(std::move(found.dose_ratio)), "coldest"_a = found.coldest,
            "hottest"_a = found.hottest, "coldest_first"_a = found.coldest_first, "below_k"_a = found.below_k,
            "above_k"_a = found.above_k, "spread_k"_a = found.spread_k, "uniformity_k"_a = found.uniformity_k);
      },
      "readings"_a.noconvert(), "places"_a, "target_c"_a, "activation_energy_kj"_a,
      "Cold and hot places of an oven; see steadyfilm.oven_survey.");
  m.def(
      "dose_ratio",
      [](double target_c, double tolerance_k, double activation_energy_kj) {
        const auto found = steadyfilm::dose_ratio(target_c, tolerance_k, activation_energy_kj);
        return py::dict("low"_a = found.low, "high"_a = found.high);
      },
      "target_c"_a, "tolerance_k"_a, "activation_energy_kj"_a,
      "What a tolerance means for the dose; see steadyfilm.oven_survey.");
  m.def(
      "air_falls",
      [](const Array<double>& time_min, const Array<double>& air_c, double level_c, double band_k, double least_min,
         double recovery_min) {
        py::list out;
        for (const auto& fall :
             steadyfilm::air_falls(as_span(time_min, "time_min"), as_span(air_c, "air_c"), level_c,
                                   {.band_k = band_k, .least_min = least_min, .recovery_min = recovery_min})) {
          out.append(py::dict("from_min"_a = fall.from_min, "to_min"_a = fall.to_min, "mean_c"_a = fall.mean_c,
                              "lowest_c"_a = fall.lowest_c, "lowest_at_min"_a = fall.lowest_at_min,
                              "came_back"_a = fall.came_back, "door"_a = fall.door));
        }
        return out;
      },
      "time_min"_a.noconvert(), "air_c"_a.noconvert(), "level_c"_a, "band_k"_a, "least_min"_a, "recovery_min"_a,
      "Stretches in which the air fell; see steadyfilm.oven_survey.");
  m.def(
      "air_recovery",
      [](const Array<double>& time_min, const Array<double>& air_c, double level_c) {
        const auto found = steadyfilm::air_recovery(as_span(time_min, "time_min"), as_span(air_c, "air_c"), level_c);
        return py::dict("time_constant_min"_a = found.time_constant_min, "drop_k"_a = found.drop_k,
                        "back_min"_a = found.back_min, "residual_k"_a = found.residual_k);
      },
      "time_min"_a.noconvert(), "air_c"_a.noconvert(), "level_c"_a,
      "How air comes back after a door; see steadyfilm.oven_survey.");
}
