#include <steadyfilm/gauge_bias.hpp>

#include "common.hpp"

void bind_gauge_bias(py::module_& m) {
  m.def(
      "compute_gauge_bias",
      [](const Array<double>& values) {
        const auto view = as_span(values, "values");
        steadyfilm::GaugeBias found;
        {
          const py::gil_scoped_release unlocked;  // plain memory only from here on
          found = steadyfilm::compute_gauge_bias(view);
        }
        return py::dict("count"_a = found.count, "value"_a = found.value);
      },
      "values"_a.noconvert(), "One line on what it gives; see steadyfilm.gauge_bias.");
}
