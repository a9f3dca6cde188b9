#include <steadyfilm/chart_individuals.hpp>

#include <optional>
#include <string>

#include "common.hpp"

namespace {

steadyfilm::MovingRangeEstimator estimator_named(const std::string& name) {
  if (name == "mean_moving_range") return steadyfilm::MovingRangeEstimator::mean_moving_range;
  if (name == "median_moving_range") return steadyfilm::MovingRangeEstimator::median_moving_range;
  throw steadyfilm::InvalidInput("individuals_chart", "estimator",
                                 "must be 'mean_moving_range' or 'median_moving_range', got '" + name + "'");
}

}  // namespace

void bind_chart_individuals(py::module_& m) {
  m.def(
      "individuals_chart",
      [](const Array<double>& values, const Array<std::uint8_t>& takes_part, const Array<std::uint8_t>& break_before,
         std::size_t span, const std::string& estimator, double sigma_multiple, std::optional<double> center,
         std::optional<double> sigma_within, std::optional<double> divisor) {
        const auto view = as_span(values, "values");
        const auto present = as_span(takes_part, "takes_part");
        const auto breaks = as_span(break_before, "break_before");
        const steadyfilm::IndividualsOptions options{.span = span,
                                                     .estimator = estimator_named(estimator),
                                                     .sigma_multiple = sigma_multiple,
                                                     .center = center,
                                                     .sigma_within = sigma_within,
                                                     .divisor = divisor};
        steadyfilm::IndividualsChart found;
        {
          const py::gil_scoped_release unlocked;  // plain memory only from here on
          found = steadyfilm::individuals_chart(view, present, breaks, options);
        }
        return py::dict(
            "limits"_a = to_dict(found.limits), "moving_range_limits"_a = to_dict(found.moving_range_limits),
            "sigma_within"_a = found.sigma_within, "count"_a = found.count, "sum"_a = found.sum,
            "moving_range_count"_a = found.moving_range_count, "moving_range_sum"_a = found.moving_range_sum,
            "mean_moving_range"_a = found.mean_moving_range, "median_moving_range"_a = found.median_moving_range,
            "median_low"_a = found.median_low, "median_high"_a = found.median_high, "divisor"_a = found.divisor,
            "range_sd_factor"_a = found.range_sd_factor, "degrees_of_freedom"_a = found.degrees_of_freedom,
            "moving_range"_a = to_array(std::move(found.moving_range)),
            "standardized"_a = to_array(std::move(found.standardized)),
            "moving_range_standardized"_a = to_array(std::move(found.moving_range_standardized)));
      },
      "values"_a.noconvert(), "takes_part"_a.noconvert(), "break_before"_a.noconvert(), "span"_a, "estimator"_a,
      "sigma_multiple"_a, "center"_a, "sigma_within"_a, "divisor"_a,
      "Individuals and moving-range chart; see steadyfilm.chart_individuals.");
  m.def(
      "individuals_limits_from_averages",
      [](double center, double mean_moving_range, std::size_t span, const std::string& estimator, double sigma_multiple,
         std::optional<double> divisor) {
        const auto found = steadyfilm::individuals_limits_from_averages(center, mean_moving_range,
                                                                        {.span = span,
                                                                         .estimator = estimator_named(estimator),
                                                                         .sigma_multiple = sigma_multiple,
                                                                         .center = std::nullopt,
                                                                         .sigma_within = std::nullopt,
                                                                         .divisor = divisor});
        return py::dict("limits"_a = to_dict(found.limits),
                        "moving_range_limits"_a = to_dict(found.moving_range_limits),
                        "sigma_within"_a = found.sigma_within, "divisor"_a = found.divisor,
                        "range_sd_factor"_a = found.range_sd_factor);
      },
      "center"_a, "mean_moving_range"_a, "span"_a, "estimator"_a, "sigma_multiple"_a, "divisor"_a,
      "Limits from averages alone; see steadyfilm.chart_individuals.");
}
