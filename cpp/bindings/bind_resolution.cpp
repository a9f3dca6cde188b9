#include <steadyfilm/resolution.hpp>

#include "common.hpp"

void bind_resolution(py::module_& m) {
  m.def(
      "window_steps",
      [](double lower, double upper, double step) {
        const auto found = steadyfilm::window_steps(lower, upper, step);
        return py::dict("steps"_a = found.steps, "shown_inside"_a = found.shown_inside,
                        "wanted_step"_a = found.wanted_step, "standard_uncertainty"_a = found.standard_uncertainty);
      },
      "lower"_a, "upper"_a, "step"_a, "How finely a display divides a window; see steadyfilm.resolution.");

  m.def(
      "zero_ranges",
      [](const Array<double>& values, const std::vector<std::size_t>& offsets) {
        const auto found = steadyfilm::zero_ranges(as_span(values, "values"), offsets);
        return py::dict("groups"_a = found.groups, "zero"_a = found.zero, "single"_a = found.single);
      },
      "values"_a.noconvert(), "offsets"_a, "Groups of readings whose range is zero; see steadyfilm.resolution.");

  m.def(
      "fit_rounded",
      [](const Array<double>& values, double step, double confidence_level) {
        const auto view = as_span(values, "values");
        steadyfilm::RoundedFit found;
        {
          const py::gil_scoped_release unlocked;  // plain memory only from here on
          found = steadyfilm::fit_rounded(view, step, confidence_level);
        }
        std::vector<std::int64_t> counts(found.counts.begin(), found.counts.end());
        return py::dict("count"_a = found.count, "mean"_a = found.mean, "mean_lower"_a = found.mean_lower,
                        "mean_upper"_a = found.mean_upper, "sd"_a = found.sd, "sd_lower"_a = found.sd_lower,
                        "sd_upper"_a = found.sd_upper, "sd_unbiased"_a = found.sd_unbiased,
                        "log_likelihood"_a = found.log_likelihood, "mean_of_readings"_a = found.mean_of_readings,
                        "sd_of_readings"_a = found.sd_of_readings, "sheppard_sd"_a = found.sheppard_sd,
                        "only_an_upper_limit"_a = found.only_an_upper_limit,
                        "shown"_a = to_array(std::move(found.shown)), "counts"_a = to_array(std::move(counts)));
      },
      "values"_a.noconvert(), "step"_a, "confidence_level"_a,
      "Normal distribution fitted to rounded readings; see steadyfilm.resolution.");

  m.def(
      "rounded_log_likelihood",
      [](const Array<double>& values, double step, double mean, double sd) {
        return steadyfilm::rounded_log_likelihood(as_span(values, "values"), step, mean, sd);
      },
      "values"_a.noconvert(), "step"_a, "mean"_a, "sd"_a,
      "Log-likelihood of rounded readings; see steadyfilm.resolution.");

  m.def(
      "rounding_effect",
      [](double sigma, double step, double mean, std::size_t subgroup_size) {
        const auto found = steadyfilm::rounding_effect(sigma, step, mean, subgroup_size);
        return py::dict("mean_rounded"_a = found.mean_rounded, "sd_rounded"_a = found.sd_rounded,
                        "mean_range"_a = found.mean_range, "zero_range_share"_a = found.zero_range_share,
                        "sigma_from_ranges"_a = found.sigma_from_ranges, "sigma_ratio"_a = found.sigma_ratio,
                        "sd_ratio"_a = found.sd_ratio, "limit_distance"_a = found.limit_distance,
                        "false_alarm"_a = found.false_alarm);
      },
      "sigma"_a, "step"_a, "mean"_a, "subgroup_size"_a,
      "What charts make of rounded readings; see steadyfilm.resolution.");
}
