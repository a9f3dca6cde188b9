#include <steadyfilm/chart_subgroup.hpp>

#include <optional>
#include <string>
#include <vector>

#include "common.hpp"

namespace {

steadyfilm::SubgroupSpread spread_named(const std::string& name) {
  if (name == "range") return steadyfilm::SubgroupSpread::range;
  if (name == "sd") return steadyfilm::SubgroupSpread::sd;
  throw steadyfilm::InvalidInput("subgroup_chart", "spread", "must be 'range' or 'sd', got '" + name + "'");
}

steadyfilm::WithinEstimator estimator_named(const std::string& name) {
  using steadyfilm::WithinEstimator;
  if (name == "mean_range") return WithinEstimator::mean_range;
  if (name == "mean_sd") return WithinEstimator::mean_sd;
  if (name == "pooled_sd") return WithinEstimator::pooled_sd;
  if (name == "pooled_sd_c4") return WithinEstimator::pooled_sd_c4;
  throw steadyfilm::InvalidInput("subgroup_chart", "estimator",
                                 "must be 'mean_range', 'mean_sd', 'pooled_sd' or 'pooled_sd_c4', got '" + name + "'");
}

py::dict to_dict(const steadyfilm::WithinSigma& found) {
  return py::dict("sigma_within"_a = found.sigma_within, "degrees_of_freedom"_a = found.degrees_of_freedom,
                  "groups"_a = found.groups, "spread_sum"_a = found.spread_sum, "mean_spread"_a = found.mean_spread,
                  "weighted_sum"_a = found.weighted_sum, "weight_sum"_a = found.weight_sum,
                  "sum_squares"_a = found.sum_squares, "divisor"_a = found.divisor);
}

}  // namespace

void bind_chart_subgroup(py::module_& m) {
  m.def(
      "subgroup_chart",
      [](const Array<double>& values, const Array<std::size_t>& offsets, const Array<std::uint8_t>& takes_part,
         const std::string& spread, const std::string& estimator, double sigma_multiple, std::optional<double> center,
         std::optional<double> sigma_within) {
        const auto view = as_span(values, "values");
        const auto cuts = as_span(offsets, "offsets");
        const auto present = as_span(takes_part, "takes_part");
        const steadyfilm::SubgroupOptions options{.spread = spread_named(spread),
                                                  .estimator = estimator_named(estimator),
                                                  .sigma_multiple = sigma_multiple,
                                                  .center = center,
                                                  .sigma_within = sigma_within};
        steadyfilm::SubgroupChart found;
        {
          const py::gil_scoped_release unlocked;  // plain memory only from here on
          found = steadyfilm::subgroup_chart(view, cuts, present, options);
        }
        return py::dict("limits"_a = to_dict(found.limits), "spread_limits"_a = to_dict(found.spread_limits),
                        "nominal_size"_a = found.nominal_size, "spread_factor"_a = found.spread_factor,
                        "spread_sd_factor"_a = found.spread_sd_factor, "count"_a = found.count, "sum"_a = found.sum,
                        "within"_a = to_dict(found.within), "sizes"_a = to_array(std::move(found.sizes)),
                        "means"_a = to_array(std::move(found.means)), "spreads"_a = to_array(std::move(found.spreads)),
                        "lower"_a = to_array(std::move(found.lower)), "upper"_a = to_array(std::move(found.upper)),
                        "spread_lower"_a = to_array(std::move(found.spread_lower)),
                        "spread_center"_a = to_array(std::move(found.spread_center)),
                        "spread_upper"_a = to_array(std::move(found.spread_upper)),
                        "standardized"_a = to_array(std::move(found.standardized)),
                        "spread_standardized"_a = to_array(std::move(found.spread_standardized)));
      },
      "values"_a.noconvert(), "offsets"_a.noconvert(), "takes_part"_a.noconvert(), "spread"_a, "estimator"_a,
      "sigma_multiple"_a, "center"_a, "sigma_within"_a, "Subgroup chart; see steadyfilm.chart_subgroup.");
  m.def(
      "subgroup_signals",
      [](const Array<double>& values, std::size_t subgroup_size, std::optional<double> center,
         std::optional<double> sigma_within, double sigma_multiple, const std::vector<std::string>& rules,
         std::size_t threads, Array<double>& means, Array<double>& ranges) {
        const auto view = as_span(values, "values");
        const auto means_out = as_output(means, "means");
        const auto ranges_out = as_output(ranges, "ranges");
        steadyfilm::SubgroupOptions options;
        options.center = center;
        options.sigma_within = sigma_within;
        options.sigma_multiple = sigma_multiple;
        steadyfilm::RuleOptions rule_options;
        rule_options.threads = threads;
        steadyfilm::SubgroupSignals found;
        {
          const py::gil_scoped_release unlocked;  // plain memory only from here on
          found = steadyfilm::subgroup_signals(view, subgroup_size, options, steadyfilm::parse_rules(rules),
                                               rule_options, means_out, ranges_out);
        }
        const auto& averages = found.averages;
        return py::dict("limits"_a = to_dict(found.limits), "spread_limits"_a = to_dict(found.spread_limits),
                        "sigma_within"_a = found.sigma_within, "groups"_a = found.groups, "sum"_a = averages.sum,
                        "range_sum"_a = averages.range_sum, "signals"_a = to_dict(found.signals),
                        "spread_signals"_a = to_dict(found.spread_signals));
      },
      "values"_a.noconvert(), "subgroup_size"_a, "center"_a, "sigma_within"_a, "sigma_multiple"_a, "rules"_a,
      "threads"_a, "means"_a.noconvert(), "ranges"_a.noconvert(),
      "Signals of very many equal subgroups; see steadyfilm.chart_subgroup.");
  m.def(
      "subgroup_limits_from_averages",
      [](double center, double mean_spread, double mean_factor, double lower_factor, double upper_factor) {
        const auto found =
            steadyfilm::subgroup_limits_from_averages(center, mean_spread, mean_factor, lower_factor, upper_factor);
        return py::dict("limits"_a = to_dict(found.limits), "spread_limits"_a = to_dict(found.spread_limits));
      },
      "center"_a, "mean_spread"_a, "mean_factor"_a, "lower_factor"_a, "upper_factor"_a,
      "Limits from averages alone; see steadyfilm.chart_subgroup.");
}
