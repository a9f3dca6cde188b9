#include <steadyfilm/capability.hpp>

#include "common.hpp"

namespace {

namespace sf = steadyfilm;

sf::SpecLimits window(std::optional<double> lower, std::optional<double> upper, std::optional<double> target) {
  return {.lower = lower, .upper = upper, .target = target};
}

sf::CpmDefinition cpm_definition(const std::string& word) {
  if (word == "divisor_n") return sf::CpmDefinition::divisor_n;
  if (word == "divisor_n_minus_1") return sf::CpmDefinition::divisor_n_minus_1;
  if (word == "variance_plus_offset") return sf::CpmDefinition::variance_plus_offset;
  throw sf::InvalidInput("cpm", "definition",
                         "must be divisor_n, divisor_n_minus_1 or variance_plus_offset, got " + word);
}

sf::CpkMethod cpk_method(const std::string& word) {
  if (word == "bissell") return sf::CpkMethod::bissell;
  if (word == "kushler_hurley_simple") return sf::CpkMethod::kushler_hurley_simple;
  throw sf::InvalidInput("cpk_interval", "method", "must be bissell or kushler_hurley_simple, got " + word);
}

sf::CpmMethod cpm_method(const std::string& word) {
  if (word == "boyles") return sf::CpmMethod::boyles;
  if (word == "noncentral_chi_square") return sf::CpmMethod::noncentral_chi_square;
  throw sf::InvalidInput("cpm_interval", "method", "must be boyles or noncentral_chi_square, got " + word);
}

py::dict to_dict(const sf::IndexInterval& found) {
  return py::dict("lower"_a = found.lower, "upper"_a = found.upper, "degrees_of_freedom"_a = found.degrees_of_freedom);
}

py::dict to_dict(const sf::FractionOutside& found) {
  return py::dict("below"_a = found.below, "above"_a = found.above, "total"_a = found.total);
}

py::dict to_dict(const sf::Capability& found) {
  py::list indices;
  for (const auto& index : found.indices) {
    indices.append(py::dict("index"_a = index.index, "value"_a = index.value, "lower"_a = index.lower,
                            "upper"_a = index.upper, "lower_bound"_a = index.lower_bound,
                            "degrees_of_freedom"_a = index.degrees_of_freedom, "method"_a = index.method,
                            "reason"_a = index.reason));
  }
  py::object within = py::none();
  if (found.expected_within) within = to_dict(*found.expected_within);
  return py::dict("count"_a = found.count, "mean"_a = found.mean, "sigma_total"_a = found.sigma_total,
                  "mean_square_off_target"_a = found.mean_square_off_target,
                  "off_center_ratio"_a = found.off_center_ratio, "indices"_a = indices,
                  "expected_total"_a = to_dict(found.expected_total), "expected_within"_a = within,
                  "below"_a = found.below, "above"_a = found.above);
}

sf::CapabilityOptions options(double confidence_level, const std::string& definition,
                              std::optional<double> sigma_within, std::optional<double> degrees_of_freedom_within,
                              std::optional<bool> stable) {
  sf::CapabilityOptions found{.confidence_level = confidence_level,
                              .cpm = cpm_definition(definition),
                              .within = std::nullopt,
                              .stable = stable};
  if (sigma_within) found.within = {.sigma = *sigma_within, .degrees_of_freedom = degrees_of_freedom_within};
  return found;
}

void bind_intervals(py::module_& m) {
  m.def(
      "cp_interval",
      [](double estimate, double degrees_of_freedom, double confidence_level, int sides) {
        return to_dict(sf::cp_interval(estimate, degrees_of_freedom, {confidence_level, sides}));
      },
      "estimate"_a, "degrees_of_freedom"_a, "confidence_level"_a, "sides"_a);
  m.def(
      "cpk_interval",
      [](double estimate, std::size_t sample_size, double degrees_of_freedom, double confidence_level, int sides,
         const std::string& method) {
        return to_dict(
            sf::cpk_interval(estimate, sample_size, degrees_of_freedom, {confidence_level, sides}, cpk_method(method)));
      },
      "estimate"_a, "sample_size"_a, "degrees_of_freedom"_a, "confidence_level"_a, "sides"_a, "method"_a);
  m.def(
      "one_sided_index_interval",
      [](double estimate, std::size_t sample_size, double degrees_of_freedom, double confidence_level, int sides) {
        return to_dict(
            sf::one_sided_index_interval(estimate, sample_size, degrees_of_freedom, {confidence_level, sides}));
      },
      "estimate"_a, "sample_size"_a, "degrees_of_freedom"_a, "confidence_level"_a, "sides"_a);
  m.def(
      "cpm_interval",
      [](double estimate, std::size_t sample_size, double off_target_sigma, double confidence_level, int sides,
         const std::string& method) {
        return to_dict(
            sf::cpm_interval(estimate, sample_size, off_target_sigma, {confidence_level, sides}, cpm_method(method)));
      },
      "estimate"_a, "sample_size"_a, "off_target_sigma"_a, "confidence_level"_a, "sides"_a, "method"_a);
}

}  // namespace

void bind_capability(py::module_& m) {
  bind_intervals(m);
  m.def(
      "capability",
      [](const Array<double>& values, std::optional<double> lower, std::optional<double> upper,
         std::optional<double> target, double confidence_level, const std::string& cpm_definition,
         std::optional<double> sigma_within, std::optional<double> degrees_of_freedom_within,
         std::optional<bool> stable) {
        const auto view = as_span(values, "values");
        const auto chosen = options(confidence_level, cpm_definition, sigma_within, degrees_of_freedom_within, stable);
        sf::Capability found;
        {
          const py::gil_scoped_release unlocked;  // plain memory only from here on
          found = sf::capability(view, window(lower, upper, target), chosen);
        }
        return to_dict(found);
      },
      "values"_a.noconvert(), "lower"_a, "upper"_a, "target"_a, "confidence_level"_a, "cpm_definition"_a,
      "sigma_within"_a, "degrees_of_freedom_within"_a, "stable"_a);
  m.def(
      "capability_from_moments",
      [](double mean, double sigma_total, std::size_t count, std::optional<double> lower, std::optional<double> upper,
         std::optional<double> target, double confidence_level, const std::string& cpm_definition,
         std::optional<double> sigma_within, std::optional<double> degrees_of_freedom_within,
         std::optional<bool> stable) {
        return to_dict(sf::capability_from_moments(
            mean, sigma_total, count, window(lower, upper, target),
            options(confidence_level, cpm_definition, sigma_within, degrees_of_freedom_within, stable)));
      },
      "mean"_a, "sigma_total"_a, "count"_a, "lower"_a, "upper"_a, "target"_a, "confidence_level"_a, "cpm_definition"_a,
      "sigma_within"_a, "degrees_of_freedom_within"_a, "stable"_a);
  m.def(
      "capability_indices",
      [](double mean, double sigma, std::optional<double> lower, std::optional<double> upper,
         std::optional<double> target) {
        const auto found = sf::capability_indices(mean, sigma, window(lower, upper, target));
        return py::dict("cp"_a = found.cp, "cpk"_a = found.cpk, "cpu"_a = found.cpu, "cpl"_a = found.cpl,
                        "cpm"_a = found.cpm, "off_center_ratio"_a = found.off_center_ratio);
      },
      "mean"_a, "sigma"_a, "lower"_a, "upper"_a, "target"_a);
  m.def(
      "fraction_outside",
      [](double mean, double sigma, std::optional<double> lower, std::optional<double> upper) {
        return to_dict(sf::fraction_outside(mean, sigma, window(lower, upper, std::nullopt)));
      },
      "mean"_a, "sigma"_a, "lower"_a, "upper"_a);
  m.def(
      "shifted_capability",
      [](double cp, double shift_sigma) {
        const auto found = sf::shifted_capability(cp, shift_sigma);
        return py::dict("cpk"_a = found.cpk, "ppm_nearest"_a = found.ppm_nearest, "ppm_both"_a = found.ppm_both);
      },
      "cp"_a, "shift_sigma"_a);
  m.def("one_sided_index_critical_value", &sf::one_sided_index_critical_value, "index"_a, "sample_size"_a, "alpha"_a);
  m.def(
      "one_sided_index_moments",
      [](double index, std::size_t sample_size) {
        const auto found = sf::one_sided_index_moments(index, sample_size);
        return py::dict("bias_factor"_a = found.bias_factor, "variance"_a = found.variance);
      },
      "index"_a, "sample_size"_a);
  m.def(
      "cpk_sampling_distribution",
      [](double cpk, double off_center_sigma, std::size_t sample_size, double alpha) {
        const auto found = sf::cpk_sampling_distribution(cpk, off_center_sigma, sample_size, alpha);
        return py::dict("critical_value"_a = found.critical_value,
                        "probability_below_cpk"_a = found.probability_below_cpk);
      },
      "cpk"_a, "off_center_sigma"_a, "sample_size"_a, "alpha"_a);
  m.def(
      "cpm_index",
      [](const Array<double>& values, std::optional<double> lower, std::optional<double> upper,
         std::optional<double> target, const std::string& definition) {
        return sf::cpm_index(as_span(values, "values"), window(lower, upper, target), cpm_definition(definition));
      },
      "values"_a.noconvert(), "lower"_a, "upper"_a, "target"_a, "definition"_a);
  m.def("meets_lower", &sf::meets_lower, "value"_a, "limit"_a);
  m.def("meets_upper", &sf::meets_upper, "value"_a, "limit"_a);
}
