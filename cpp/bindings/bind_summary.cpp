#include <steadyfilm/summary.hpp>

#include "common.hpp"

void bind_summary(py::module_& m) {
  m.def(
      "summarize",
      [](const Array<double>& values) {
        const auto view = as_span(values, "values");
        steadyfilm::Summary found;
        {
          const py::gil_scoped_release unlocked;  // plain memory only from here on
          found = steadyfilm::summarize(view);
        }
        return py::dict("count"_a = found.count, "sum"_a = found.sum, "mean"_a = found.mean,
                        "sum_squares"_a = found.sum_squares, "sd"_a = found.sd, "minimum"_a = found.minimum,
                        "maximum"_a = found.maximum, "lag1_autocorrelation"_a = found.lag1_autocorrelation,
                        "skewness"_a = found.skewness, "excess_kurtosis"_a = found.excess_kurtosis);
      },
      "values"_a.noconvert(), "Moments of float64 values; see steadyfilm.summary.");
}
