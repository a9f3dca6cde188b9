#include <steadyfilm/wash_tank.hpp>

#include "common.hpp"

namespace {

py::dict fields_of(const steadyfilm::CoatingWeight& one) {
  return py::dict("mg_per_ft2"_a = one.mg_per_ft2, "g_per_m2"_a = one.g_per_m2);
}

}  // namespace

void bind_wash_tank(py::module_& m) {
  m.def(
      "titration_concentration",
      [](double titrant_ml, double percent_per_ml, double reading_uncertainty) {
        const auto found = steadyfilm::titration_concentration(titrant_ml, percent_per_ml, reading_uncertainty);
        return py::dict("percent"_a = found.percent, "standard_uncertainty"_a = found.standard_uncertainty);
      },
      "titrant_ml"_a, "percent_per_ml"_a, "reading_uncertainty"_a,
      "Concentration from titrant; see steadyfilm.wash_tank.");

  m.def(
      "addition_volume",
      [](double tank_volume, double from_percent, double to_percent) {
        const auto found = steadyfilm::addition_volume(tank_volume, from_percent, to_percent);
        return py::dict("simple"_a = found.simple, "exact"_a = found.exact, "growing"_a = found.growing);
      },
      "tank_volume"_a, "from_percent"_a, "to_percent"_a, "Concentrate to pour in; see steadyfilm.wash_tank.");

  m.def("drag_out_concentration", &steadyfilm::drag_out_concentration, "tank_volume"_a, "loss_per_hour"_a,
        "start_percent"_a, "hours"_a, "Concentration left after loss; see steadyfilm.wash_tank.");
  m.def("hours_to_concentration", &steadyfilm::hours_to_concentration, "tank_volume"_a, "loss_per_hour"_a,
        "start_percent"_a, "level_percent"_a, "Hours until a level; see steadyfilm.wash_tank.");
  m.def("rinse_ratio", &steadyfilm::rinse_ratio, "drag_per_hour"_a, "flow_per_hour"_a,
        "Share of a tank in its rinse; see steadyfilm.wash_tank.");
  m.def("rinse_flow_for_ratio", &steadyfilm::rinse_flow_for_ratio, "drag_per_hour"_a, "ratio_percent"_a,
        "Fresh water for a share; see steadyfilm.wash_tank.");

  m.def(
      "coating_weight",
      [](double loss_mg, double area_m2) { return fields_of(steadyfilm::coating_weight(loss_mg, area_m2)); },
      "loss_mg"_a, "area_m2"_a, "Weight over area; see steadyfilm.wash_tank.");
  m.def(
      "coating_weight_error",
      [](double balance_mg, std::size_t weighings, double area_m2) {
        return fields_of(steadyfilm::coating_weight_error(balance_mg, weighings, area_m2));
      },
      "balance_mg"_a, "weighings"_a, "area_m2"_a, "Error of a coating weight; see steadyfilm.wash_tank.");

  m.def(
      "metered_use",
      [](const Array<double>& totals) { return to_array(steadyfilm::metered_use(as_span(totals, "totals"))); },
      "totals"_a.noconvert(), "Differences of meter readings; see steadyfilm.wash_tank.");
  m.def(
      "use_rates",
      [](const Array<double>& used, const Array<double>& exposure) {
        return to_array(steadyfilm::use_rates(as_span(used, "used"), as_span(exposure, "exposure")));
      },
      "used"_a.noconvert(), "exposure"_a.noconvert(), "Use for area or hours; see steadyfilm.wash_tank.");
}
