#include <steadyfilm/film_coverage.hpp>

#include <optional>

#include "common.hpp"

namespace {

steadyfilm::UnitSystem system_of(bool metric) {
  return metric ? steadyfilm::UnitSystem::metric : steadyfilm::UnitSystem::us;
}

}  // namespace

void bind_film_coverage(py::module_& m) {
  m.def(
      "solids_coverage", [](bool metric) { return steadyfilm::solids_coverage(system_of(metric)); }, "metric"_a,
      "Area times film of a volume of solids; see steadyfilm.film_coverage.");

  m.def(
      "mixed_volume_solids",
      [](const std::vector<double>& parts, const std::vector<double>& volume_solids, double thinner_fraction) {
        const auto found = steadyfilm::mixed_volume_solids(parts, volume_solids, thinner_fraction);
        return py::dict("volume_solids"_a = found.volume_solids,
                        "volume_solids_thinned"_a = found.volume_solids_thinned);
      },
      "parts"_a, "volume_solids"_a, "thinner_fraction"_a, "Solids of a mix; see steadyfilm.film_coverage.");

  m.def(
      "wet_film_target",
      [](double dft, double volume_solids, double thinner_fraction) {
        const auto found = steadyfilm::wet_film_target(dft, volume_solids, thinner_fraction);
        return py::dict("volume_solids_thinned"_a = found.volume_solids_thinned, "wft"_a = found.wft);
      },
      "dft"_a, "volume_solids"_a, "thinner_fraction"_a, "Wet film for a dry one; see steadyfilm.film_coverage.");

  m.def("dry_film", &steadyfilm::dry_film, "wft"_a, "volume_solids"_a, "thinner_fraction"_a,
        "Dry film of a wet one; see steadyfilm.film_coverage.");
  m.def(
      "wet_comb_step", [](double wft, bool metric) { return steadyfilm::wet_comb_step(wft, system_of(metric)); },
      "wft"_a, "metric"_a, "Step of a wet-film comb; see steadyfilm.film_coverage.");
  m.def("wet_step_as_dry", &steadyfilm::wet_step_as_dry, "step"_a, "volume_solids"_a,
        "Dry film between two notches; see steadyfilm.film_coverage.");

  m.def(
      "dft_after_solids_change",
      [](double dft, double solids_from, double solids_to) {
        const auto found = steadyfilm::dft_after_solids_change(dft, solids_from, solids_to);
        return py::dict("dft"_a = found.dft, "change"_a = found.change);
      },
      "dft"_a, "solids_from"_a, "solids_to"_a, "Same wet film, other solids; see steadyfilm.film_coverage.");

  m.def(
      "spreading_rate",
      [](double volume_solids, double dft, bool metric, double transfer_efficiency, double other_losses) {
        const auto found =
            steadyfilm::spreading_rate(volume_solids, dft, system_of(metric), transfer_efficiency, other_losses);
        return py::dict("theoretical_ft2_gal"_a = found.theoretical_ft2_gal,
                        "theoretical_m2_l"_a = found.theoretical_m2_l, "practical_ft2_gal"_a = found.practical_ft2_gal,
                        "practical_m2_l"_a = found.practical_m2_l);
      },
      "volume_solids"_a, "dft"_a, "metric"_a, "transfer_efficiency"_a, "other_losses"_a,
      "Area that a volume covers; see steadyfilm.film_coverage.");

  m.def(
      "powder_coverage",
      [](double specific_gravity, double thickness, bool metric, double utilization) {
        const auto found = steadyfilm::powder_coverage(specific_gravity, thickness, system_of(metric), utilization);
        return py::dict("theoretical_ft2_lb"_a = found.theoretical_ft2_lb,
                        "theoretical_m2_kg"_a = found.theoretical_m2_kg, "practical_ft2_lb"_a = found.practical_ft2_lb,
                        "practical_m2_kg"_a = found.practical_m2_kg);
      },
      "specific_gravity"_a, "thickness"_a, "metric"_a, "utilization"_a,
      "Area that a mass of powder covers; see steadyfilm.film_coverage.");

  m.def(
      "overbuild_cost",
      [](double area, double overbuild, bool metric, double volume_solids, double transfer_efficiency, double price) {
        const auto found =
            steadyfilm::overbuild_cost(area, overbuild, system_of(metric), volume_solids, transfer_efficiency, price);
        return py::dict("volume"_a = found.volume, "cost"_a = found.cost);
      },
      "area"_a, "overbuild"_a, "metric"_a, "volume_solids"_a, "transfer_efficiency"_a, "price"_a,
      "Paint in film beyond the aim; see steadyfilm.film_coverage.");

  m.def("aim_point", &steadyfilm::aim_point, "lower"_a, "sigma"_a, "z"_a,
        "Mean above a lower limit; see steadyfilm.film_coverage.");
  m.def("share_below", &steadyfilm::share_below, "lower"_a, "mean"_a, "sigma"_a,
        "Normal share below a limit; see steadyfilm.film_coverage.");
  m.def(
      "mixed_voc",
      [](const std::vector<double>& parts, const std::vector<double>& voc) {
        return steadyfilm::mixed_voc(parts, voc);
      },
      "parts"_a, "voc"_a, "VOC of a mix; see steadyfilm.film_coverage.");

  m.def(
      "voc_content",
      [](double voc_mass, double volume, double water, double exempt, std::optional<double> solids) {
        const auto found = steadyfilm::voc_content(voc_mass, volume, water, exempt, solids);
        return py::dict("per_volume"_a = found.per_volume, "less_water"_a = found.less_water,
                        "per_solids"_a = found.per_solids);
      },
      "voc_mass"_a, "volume"_a, "water"_a, "exempt"_a, "solids"_a,
      "VOC over paint, paint less water, solids; see steadyfilm.film_coverage.");
  m.def("voc_per_solids", &steadyfilm::voc_per_solids, "voc"_a, "density"_a,
        "VOC in a volume of solids; see steadyfilm.film_coverage.");
  m.def("thinner_allowance", &steadyfilm::thinner_allowance, "voc_mass"_a, "volume"_a, "thinner_voc"_a, "limit"_a,
        "Thinner at which a mix reaches a VOC limit; see steadyfilm.film_coverage.");
}
