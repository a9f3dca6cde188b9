#include <steadyfilm/chart_nested.hpp>

#include <optional>
#include <string>
#include <vector>

#include "common.hpp"

namespace {

steadyfilm::InsideSpread spread_named(const std::string& name) {
  if (name == "sd") return steadyfilm::InsideSpread::sd;
  if (name == "range") return steadyfilm::InsideSpread::range;
  throw steadyfilm::InvalidInput("nested_chart", "spread", "must be 'sd' or 'range', got '" + name + "'");
}

steadyfilm::MovingRangeEstimator estimator_named(const std::string& name) {
  if (name == "mean_moving_range") return steadyfilm::MovingRangeEstimator::mean_moving_range;
  if (name == "median_moving_range") return steadyfilm::MovingRangeEstimator::median_moving_range;
  throw steadyfilm::InvalidInput("nested_chart", "estimator",
                                 "must be 'mean_moving_range' or 'median_moving_range', got '" + name + "'");
}

}  // namespace

void bind_chart_nested(py::module_& m) {
  m.def(
      "nested_chart",
      [](const Array<double>& values, std::size_t location_count, std::size_t repeats,
         const Array<std::uint8_t>& takes_part, const Array<std::uint8_t>& break_before, const std::string& spread,
         const std::string& estimator, double sigma_multiple, std::optional<double> center,
         std::optional<double> sigma_average, std::optional<double> sigma_inside, const Array<double>& location_means) {
        const auto view = as_span(values, "values");
        const auto present = as_span(takes_part, "takes_part");
        const auto breaks = as_span(break_before, "break_before");
        const auto means = as_span(location_means, "location_means");
        const steadyfilm::NestedOptions options{.spread = spread_named(spread),
                                                .estimator = estimator_named(estimator),
                                                .sigma_multiple = sigma_multiple,
                                                .center = center,
                                                .sigma_average = sigma_average,
                                                .sigma_inside = sigma_inside,
                                                .location_means = {means.begin(), means.end()}};
        steadyfilm::NestedChart found;
        {
          const py::gil_scoped_release unlocked;  // plain memory only from here on
          found = steadyfilm::nested_chart(view, location_count, repeats, present, breaks, options);
        }
        auto& average = found.average;
        return py::dict(
            "limits"_a = to_dict(average.limits), "moving_range_limits"_a = to_dict(average.moving_range_limits),
            "spread_limits"_a = to_dict(found.spread_limits), "sigma_average"_a = average.sigma_within,
            "sigma_inside"_a = found.sigma_inside, "sigma_between"_a = found.sigma_between,
            "sigma_total"_a = found.sigma_total, "degrees_of_freedom"_a = average.degrees_of_freedom,
            "inside_degrees_of_freedom"_a = found.inside_degrees_of_freedom, "count"_a = average.count,
            "sum"_a = average.sum, "moving_range_count"_a = average.moving_range_count,
            "moving_range_sum"_a = average.moving_range_sum, "mean_moving_range"_a = average.mean_moving_range,
            "median_moving_range"_a = average.median_moving_range, "divisor"_a = average.divisor,
            "range_sd_factor"_a = average.range_sd_factor, "inside_count"_a = found.inside_count,
            "spread_count"_a = found.spread_count, "spread_sum"_a = found.spread_sum,
            "spread_factor"_a = found.spread_factor, "spread_sd_factor"_a = found.spread_sd_factor,
            "own_mean_factor"_a = found.own_mean_factor, "moving_range_chance"_a = found.moving_range_chance,
            "spread_chance"_a = found.spread_chance, "averages"_a = to_array(std::move(found.averages)),
            "moving_range"_a = to_array(std::move(average.moving_range)),
            "spreads"_a = to_array(std::move(found.spreads)),
            "standardized"_a = to_array(std::move(average.standardized)),
            "moving_range_standardized"_a = to_array(std::move(average.moving_range_standardized)),
            "spread_standardized"_a = to_array(std::move(found.spread_standardized)),
            "location_means"_a = to_array(std::move(found.location_means)));
      },
      "values"_a.noconvert(), "location_count"_a, "repeats"_a, "takes_part"_a.noconvert(), "break_before"_a.noconvert(),
      "spread"_a, "estimator"_a, "sigma_multiple"_a, "center"_a, "sigma_average"_a, "sigma_inside"_a,
      "location_means"_a.noconvert(), "Chart of nested readings; see steadyfilm.chart_nested.");
  m.def(
      "nested_false_alarm",
      [](double sigma_unit, double sigma_location, double sigma_repeat, std::size_t location_count,
         std::size_t readings_per_location, double location_rms, double sigma_multiple) {
        const auto found = steadyfilm::nested_false_alarm(sigma_unit, sigma_location, sigma_repeat, location_count,
                                                          readings_per_location, location_rms, sigma_multiple);
        return py::dict("false_alarm_probability"_a = found.false_alarm_probability,
                        "limit_sigma_multiple"_a = found.limit_sigma_multiple, "sd_inside"_a = found.sd_inside,
                        "sd_average"_a = found.sd_average);
      },
      "sigma_unit"_a, "sigma_location"_a, "sigma_repeat"_a, "location_count"_a, "readings_per_location"_a,
      "location_rms"_a, "sigma_multiple"_a,
      "Chance that an ordinary averages chart calls an in-control unit; see steadyfilm.chart_nested.");
}
