#include <steadyfilm/chart_ewma.hpp>

#include <cstdint>
#include <optional>
#include <vector>

#include "common.hpp"

void bind_chart_ewma(py::module_& m) {
  m.def(
      "ewma_chart",
      [](const Array<double>& values, const Array<std::uint8_t>& takes_part, const Array<std::uint8_t>& break_before,
         double smoothing, double sigma_multiple, bool time_varying, std::optional<double> center,
         std::optional<double> sigma_point) {
        const auto view = as_span(values, "values");
        const auto present = as_span(takes_part, "takes_part");
        const auto breaks = as_span(break_before, "break_before");
        steadyfilm::EwmaChart found;
        std::vector<std::int64_t> points, sides, lengths;
        {
          const py::gil_scoped_release unlocked;  // plain memory only from here on
          found = steadyfilm::ewma_chart(view, present, breaks,
                                         {.smoothing = smoothing,
                                          .sigma_multiple = sigma_multiple,
                                          .time_varying = time_varying,
                                          .center = center,
                                          .sigma_point = sigma_point});
          for (const auto& signal : found.signals) {
            points.push_back(static_cast<std::int64_t>(signal.point));
            sides.push_back(signal.side);
            lengths.push_back(static_cast<std::int64_t>(signal.length));
          }
        }
        return py::dict("limits"_a = to_dict(found.limits), "sigma_point"_a = found.sigma_point,
                        "count"_a = found.count, "sum"_a = found.sum, "moving_range_count"_a = found.moving_range_count,
                        "moving_range_sum"_a = found.moving_range_sum, "divisor"_a = found.divisor,
                        "degrees_of_freedom"_a = found.degrees_of_freedom, "ewma"_a = to_array(std::move(found.ewma)),
                        "standardized_ewma"_a = to_array(std::move(found.standardized_ewma)),
                        "lower"_a = to_array(std::move(found.lower)), "upper"_a = to_array(std::move(found.upper)),
                        "signal_points"_a = to_array(std::move(points)), "signal_sides"_a = to_array(std::move(sides)),
                        "signal_lengths"_a = to_array(std::move(lengths)));
      },
      "values"_a.noconvert(), "takes_part"_a.noconvert(), "break_before"_a.noconvert(), "smoothing"_a,
      "sigma_multiple"_a, "time_varying"_a, "center"_a, "sigma_point"_a, "EWMA chart; see steadyfilm.chart_ewma.");
}
