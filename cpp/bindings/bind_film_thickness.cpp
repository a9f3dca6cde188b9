#include <steadyfilm/film_thickness.hpp>

#include <optional>

#include "common.hpp"

namespace {

namespace sf = steadyfilm;

using Ends = std::pair<std::optional<double>, std::optional<double>>;
using Table = std::tuple<std::vector<std::pair<double, std::size_t>>, double, std::size_t>;

py::dict to_dict(const sf::Bounds& bounds) { return py::dict("lower"_a = bounds.lower, "upper"_a = bounds.upper); }

sf::Bounds bounds_of(const Ends& ends) { return {.lower = ends.first, .upper = ends.second}; }

py::dict to_dict(const sf::CountTable& table) {
  py::list steps;
  for (const auto& step : table.steps) steps.append(py::make_tuple(step.up_to, step.count));
  return py::dict("steps"_a = py::tuple(steps), "further"_a = table.further, "more"_a = table.more);
}

py::dict to_dict(const sf::AcceptanceRule& rule) {
  py::list facts;
  for (const auto& fact : rule.facts) {
    facts.append(py::dict("about"_a = fact.about, "how"_a = fact.how, "source"_a = fact.source));
  }
  return py::dict("name"_a = rule.name, "edition"_a = rule.edition, "reading"_a = to_dict(rule.reading),
                  "spot"_a = to_dict(rule.spot), "area"_a = to_dict(rule.area), "unit"_a = to_dict(rule.unit),
                  "thin_share"_a = rule.thin_share, "thin_share_allowed"_a = rule.thin_share_allowed,
                  "readings_per_spot"_a = rule.readings_per_spot, "spots_per_area"_a = rule.spots_per_area,
                  "areas_ft2"_a = to_dict(rule.areas_ft2), "areas_m2"_a = to_dict(rule.areas_m2),
                  "readings_m2"_a = to_dict(rule.readings_m2), "one_unit_system"_a = rule.one_unit_system,
                  "single_value_share"_a = rule.single_value_share, "lowest_nominal_um"_a = rule.lowest_nominal_um,
                  "facts"_a = facts);
}

sf::AcceptanceLimits limits(const Ends& reading, const Ends& spot, const Ends& area, const Ends& unit,
                            std::optional<double> thin_below, std::optional<double> thin_share, bool thin_share_allowed,
                            std::size_t readings_per_spot, std::size_t spots_per_area) {
  return {.reading = bounds_of(reading),
          .spot = bounds_of(spot),
          .area = bounds_of(area),
          .unit = bounds_of(unit),
          .thin_below = thin_below,
          .thin_share = thin_share,
          .thin_share_allowed = thin_share_allowed,
          .readings_per_spot = readings_per_spot,
          .spots_per_area = spots_per_area};
}

void bind_rules(py::module_& m) {
  m.def(
      "area_rule", [](int level) { return to_dict(sf::area_rule(level)); }, "level"_a,
      "Areas of spots with restriction levels; see steadyfilm.film_thickness.");
  m.def(
      "rough_steel_rule", [](bool share_allowed) { return to_dict(sf::rough_steel_rule(share_allowed)); },
      "share_allowed"_a, "The 80 % rule; see steadyfilm.film_thickness.");
  m.def(
      "ninety_ten_rule", [] { return to_dict(sf::ninety_ten_rule()); },
      "The 90/10 rule; see steadyfilm.film_thickness.");
  m.def(
      "roughness_corrections",
      [] {
        py::list all;
        for (const auto& item : sf::roughness_corrections()) {
          all.append(py::make_tuple(item.profile, item.correction_um, item.how));
        }
        return all;
      },
      "Correction of each blast profile; see steadyfilm.film_thickness.");
  m.def(
      "scaled_bounds",
      [](const Ends& shares, const Ends& window) {
        return to_dict(sf::scaled_bounds(bounds_of(shares), bounds_of(window)));
      },
      "shares"_a, "window"_a, "Limits of a rule for a window; see steadyfilm.film_thickness.");
  m.def(
      "single_value_window",
      [](double value, std::optional<double> share) { return to_dict(sf::single_value_window(value, share)); },
      "value"_a, "share"_a, "Window of a single value; see steadyfilm.film_thickness.");
  m.def(
      "count_for",
      [](const Table& table, double surface) {
        sf::CountTable given{.steps = {}, .further = std::get<1>(table), .more = std::get<2>(table)};
        for (const auto& [up_to, count] : std::get<0>(table)) given.steps.push_back({.up_to = up_to, .count = count});
        return sf::count_for(given, surface);
      },
      "table"_a, "surface"_a, "Count of a table for a surface; see steadyfilm.film_thickness.");
}

}  // namespace

void bind_film_thickness(py::module_& m) {
  bind_rules(m);

  py::class_<sf::AcceptanceLimits>(m, "AcceptanceLimits")
      .def(py::init(&limits), "reading"_a, "spot"_a, "area"_a, "unit"_a, "thin_below"_a, "thin_share"_a,
           "thin_share_allowed"_a, "readings_per_spot"_a, "spots_per_area"_a);

  m.def(
      "judge_film",
      [](const sf::AcceptanceLimits& limits, const Array<double>& values, const Array<std::int64_t>& spot_start,
         const Array<std::int64_t>& area_start, const Array<std::int64_t>& unit_start,
         const Array<std::uint8_t>& suspect, const Array<std::int64_t>& spot_taken, std::size_t areas_required,
         std::size_t readings_required, std::optional<std::tuple<double, double, double>> guard) {
        const sf::FilmReadings given{.values = as_span(values, "values"),
                                     .spot_start = as_span(spot_start, "spot_start"),
                                     .area_start = as_span(area_start, "area_start"),
                                     .unit_start = as_span(unit_start, "unit_start"),
                                     .suspect = as_span(suspect, "suspect"),
                                     .spot_taken = as_span(spot_taken, "spot_taken"),
                                     .areas_required = areas_required,
                                     .readings_required = readings_required};
        std::optional<sf::GuardBand> band;
        if (guard) {
          band = sf::GuardBand{
              .sigma_repeat = std::get<0>(*guard), .bias_bound = std::get<1>(*guard), .multiple = std::get<2>(*guard)};
        }
        sf::AcceptanceFound found;
        {
          const py::gil_scoped_release unlocked;  // plain memory only from here on
          found = sf::judge_film(limits, given, band);
        }
        return py::dict(
            "spot_mean"_a = to_array(std::move(found.spot_mean)), "area_mean"_a = to_array(std::move(found.area_mean)),
            "unit_mean"_a = to_array(std::move(found.unit_mean)),
            "reading_side"_a = to_array(std::move(found.reading_side)),
            "spot_side"_a = to_array(std::move(found.spot_side)), "area_side"_a = to_array(std::move(found.area_side)),
            "unit_side"_a = to_array(std::move(found.unit_side)), "thin"_a = to_array(std::move(found.thin)),
            "thin_exceeded"_a = to_array(std::move(found.thin_exceeded)),
            "area_verdict"_a = to_array(std::move(found.area_verdict)),
            "unit_verdict"_a = to_array(std::move(found.unit_verdict)),
            "guard_class"_a = to_array(std::move(found.guard_class)));
      },
      "limits"_a, "values"_a.noconvert(), "spot_start"_a.noconvert(), "area_start"_a.noconvert(),
      "unit_start"_a.noconvert(), "suspect"_a.noconvert(), "spot_taken"_a.noconvert(), "areas_required"_a,
      "readings_required"_a, "guard"_a, "Judge units by limits; see steadyfilm.film_thickness.");

  m.def(
      "operating_curve",
      [](const sf::AcceptanceLimits& limits, std::size_t areas, std::size_t spots, std::size_t readings,
         double sigma_area, double sigma_location, double sigma_repeat, const std::vector<double>& true_means,
         std::size_t draws, std::uint64_t seed) {
        std::vector<sf::OperatingPoint> curve;
        {
          const py::gil_scoped_release unlocked;  // plain memory only from here on
          curve = sf::operating_curve(limits,
                                      {.areas = areas,
                                       .spots = spots,
                                       .readings = readings,
                                       .sigma_area = sigma_area,
                                       .sigma_location = sigma_location,
                                       .sigma_repeat = sigma_repeat},
                                      true_means, draws, seed);
        }
        std::vector<double> probability, standard_error;
        for (const auto& point : curve) {
          probability.push_back(point.probability);
          standard_error.push_back(point.standard_error);
        }
        return py::dict("probability"_a = to_array(std::move(probability)),
                        "standard_error"_a = to_array(std::move(standard_error)));
      },
      "limits"_a, "areas"_a, "spots"_a, "readings"_a, "sigma_area"_a, "sigma_location"_a, "sigma_repeat"_a,
      "true_means"_a, "draws"_a, "seed"_a, "Operating curve of a rule and a plan; see steadyfilm.film_thickness.");

  m.def(
      "follow_direction",
      [](const std::vector<double>& spots, const Ends& window, std::size_t needed) {
        const auto state = sf::follow_direction(spots, bounds_of(window), needed);
        return py::dict("measured"_a = state.measured, "conforming_run"_a = state.conforming_run,
                        "reach"_a = state.reach, "closed"_a = state.closed);
      },
      "spots"_a, "window"_a, "needed"_a, "Where a search outward stands; see steadyfilm.film_thickness.");

  m.def("at_least", &sf::at_least, "value"_a, "limit"_a, "At or above a limit; see steadyfilm.film_thickness.");
  m.def(
      "spot_mean",
      [](const std::vector<double>& readings, const std::vector<std::size_t>& dropped) {
        return sf::spot_mean(readings, dropped);
      },
      "readings"_a, "dropped"_a, "Mean of a spot; see steadyfilm.film_thickness.");
  m.def(
      "limit_met",
      [](const std::vector<double>& readings, double limit, bool lower) {
        return sf::limit_met(readings, limit, lower);
      },
      "readings"_a, "limit"_a, "lower"_a, "Whether a mean meets a limit; see steadyfilm.film_thickness.");
  m.def("below_share_probability", &sf::below_share_probability, "mean_ratio"_a, "cv"_a, "fraction"_a, "readings"_a,
        "Chance of a low reading; see steadyfilm.film_thickness.");
  m.def("average_acceptance_probability", &sf::average_acceptance_probability, "true_mean"_a, "lower"_a,
        "sigma_location"_a, "sigma_repeat"_a, "locations"_a, "readings"_a,
        "Chance that an average meets a limit; see steadyfilm.film_thickness.");
}
