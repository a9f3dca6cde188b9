#include <steadyfilm/planning.hpp>

#include "common.hpp"

namespace {

namespace sf = steadyfilm;

sf::StudyOptions options_of(double confidence_level, const std::string& method, bool interaction) {
  sf::StudyOptions options{.confidence_level = confidence_level,
                           .method = sf::StudyIntervalMethod::modified_large_sample,
                           .interaction = interaction};
  if (method == "satterthwaite") {
    options.method = sf::StudyIntervalMethod::satterthwaite;
  } else if (method != "modified_large_sample") {
    throw sf::InvalidInput("study_interval", "method", "must be modified_large_sample or satterthwaite, got " + method);
  }
  return options;
}

py::dict to_dict(const sf::StudyInterval& found) {
  py::list lines;
  for (const auto& line : found.mean_squares) {
    lines.append(py::dict("weight"_a = line.weight, "expected"_a = line.expected,
                          "degrees_of_freedom"_a = line.degrees_of_freedom));
  }
  return py::dict("parts"_a = found.size.parts, "appraisers"_a = found.size.appraisers,
                  "trials"_a = found.size.trials, "readings"_a = found.readings,
                  "sigma_measurement"_a = found.sigma_measurement, "lower"_a = found.lower, "upper"_a = found.upper,
                  "relative_width"_a = found.relative_width, "degrees_of_freedom"_a = found.degrees_of_freedom,
                  "mean_squares"_a = lines);
}

py::dict to_dict(const sf::ReadingPlan& found) {
  return py::dict("location_count"_a = found.location_count, "readings_per_location"_a = found.readings_per_location,
                  "cost"_a = found.cost, "uncertainty"_a = found.uncertainty);
}

sf::ReadingCosts costs_of(double sigma_location, double sigma_repeat, double sigma_common, double cost_location,
                          double cost_reading, std::size_t most_places) {
  return {.sigma_location = sigma_location,
          .sigma_repeat = sigma_repeat,
          .sigma_common = sigma_common,
          .cost_location = cost_location,
          .cost_reading = cost_reading,
          .most_places = most_places};
}

}  // namespace

void bind_planning(py::module_& m) {
  m.def("window_share", &sf::window_share, "standard_uncertainty"_a, "window_width"_a, "sigma_spread"_a,
        "Part of a window that the spread of a measurement takes; see steadyfilm.planning.");

  m.def(
      "readings_for_window_share",
      [](double sigma_repeat, double window_width, double share, double sigma_common, double sigma_spread) {
        const auto found = sf::readings_for_window_share(sigma_repeat, window_width, share, sigma_common, sigma_spread);
        return py::dict("readings"_a = found.readings, "share"_a = found.share,
                        "single_share"_a = found.single_share);
      },
      "sigma_repeat"_a, "window_width"_a, "share"_a, "sigma_common"_a, "sigma_spread"_a,
      "Readings whose average takes at most a share of the window; see steadyfilm.planning.");

  m.def(
      "readings_for_half_width",
      [](double sd, double half_width, double confidence_level) {
        const auto found = sf::readings_for_half_width(sd, half_width, confidence_level);
        return py::dict("readings"_a = found.readings, "t"_a = found.t, "half_width"_a = found.half_width,
                        "normal_formula"_a = found.normal_formula);
      },
      "sd"_a, "half_width"_a, "confidence_level"_a, "Readings for a half width; see steadyfilm.planning.");

  m.def("unit_average_uncertainty", &sf::unit_average_uncertainty, "sigma_location"_a, "sigma_repeat"_a,
        "location_count"_a, "readings_per_location"_a, "sigma_common"_a,
        "Standard uncertainty of a unit's average; see steadyfilm.planning.");

  m.def("optimal_repeats", &sf::optimal_repeats, "sigma_location"_a, "sigma_repeat"_a, "cost_location"_a,
        "cost_reading"_a, "Repeats a place for the money, not whole; see steadyfilm.planning.");

  m.def(
      "cheapest_plan",
      [](double sigma_location, double sigma_repeat, double sigma_common, double cost_location, double cost_reading,
         std::size_t most_places, double uncertainty) {
        const auto given =
            costs_of(sigma_location, sigma_repeat, sigma_common, cost_location, cost_reading, most_places);
        return to_dict(sf::cheapest_plan(given, uncertainty));
      },
      "sigma_location"_a, "sigma_repeat"_a, "sigma_common"_a, "cost_location"_a, "cost_reading"_a, "most_places"_a,
      "uncertainty"_a, "The cheapest plan for an uncertainty; see steadyfilm.planning.");

  m.def(
      "best_plan",
      [](double sigma_location, double sigma_repeat, double sigma_common, double cost_location, double cost_reading,
         std::size_t most_places, double budget) {
        const auto given =
            costs_of(sigma_location, sigma_repeat, sigma_common, cost_location, cost_reading, most_places);
        return to_dict(sf::best_plan(given, budget));
      },
      "sigma_location"_a, "sigma_repeat"_a, "sigma_common"_a, "cost_location"_a, "cost_reading"_a, "most_places"_a,
      "budget"_a, "The most certain plan for a budget; see steadyfilm.planning.");

  m.def(
      "study_interval",
      [](double sigma_repeat, double sigma_appraiser, double sigma_interaction, std::size_t parts,
         std::size_t appraisers, std::size_t trials, double confidence_level, const std::string& method,
         bool interaction) {
        const sf::StudyComponents components{sigma_repeat, sigma_appraiser, sigma_interaction};
        const sf::StudySize size{parts, appraisers, trials};
        const auto options = options_of(confidence_level, method, interaction);
        auto found = to_dict(sf::study_interval(components, size, options));
        const auto average = sf::study_average(components, size, options);
        found["mean_lower"] = average.lower;
        found["mean_upper"] = average.upper;
        found["mean_relative_width"] = average.relative_width;
        return found;
      },
      "sigma_repeat"_a, "sigma_appraiser"_a, "sigma_interaction"_a, "parts"_a, "appraisers"_a, "trials"_a,
      "confidence_level"_a, "method"_a, "interaction"_a,
      "Interval of the measurement sd that a study gives; see steadyfilm.planning.");

  m.def(
      "plan_study",
      [](double sigma_repeat, double sigma_appraiser, double sigma_interaction, double relative_width,
         std::size_t fewest_parts, std::size_t most_parts, std::size_t most_appraisers, std::size_t most_trials,
         double cost_part, double cost_appraiser, double cost_reading, double confidence_level,
         const std::string& method, bool interaction) {
        py::list found;
        for (const auto& plan : sf::plan_study({sigma_repeat, sigma_appraiser, sigma_interaction}, relative_width,
                                               {.fewest_parts = fewest_parts,
                                                .most_parts = most_parts,
                                                .most_appraisers = most_appraisers,
                                                .most_trials = most_trials,
                                                .cost_part = cost_part,
                                                .cost_appraiser = cost_appraiser,
                                                .cost_reading = cost_reading},
                                               options_of(confidence_level, method, interaction))) {
          found.append(py::dict("parts"_a = plan.interval.size.parts, "appraisers"_a = plan.interval.size.appraisers,
                                "trials"_a = plan.interval.size.trials, "readings"_a = plan.interval.readings,
                                "cost"_a = plan.cost, "relative_width"_a = plan.interval.relative_width,
                                "reached"_a = plan.reached));
        }
        return found;
      },
      "sigma_repeat"_a, "sigma_appraiser"_a, "sigma_interaction"_a, "relative_width"_a, "fewest_parts"_a,
      "most_parts"_a, "most_appraisers"_a, "most_trials"_a, "cost_part"_a, "cost_appraiser"_a, "cost_reading"_a,
      "confidence_level"_a, "method"_a, "interaction"_a, "Sizes of study for a wanted width; see steadyfilm.planning.");
}
