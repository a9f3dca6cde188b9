#include <steadyfilm/gauge_bias.hpp>

#include <optional>

#include "common.hpp"

namespace {

py::dict fields_of(const steadyfilm::LimitEstimate& one) {
  return py::dict("value"_a = one.value, "lower"_a = one.lower, "upper"_a = one.upper);
}

const char* word_of(steadyfilm::ShiftSignature signature) {
  switch (signature) {
    case steadyfilm::ShiftSignature::none:
      return "none";
    case steadyfilm::ShiftSignature::common_offset:
      return "common offset";
    case steadyfilm::ShiftSignature::upper_layer:
      return "upper layer";
    case steadyfilm::ShiftSignature::first_reading:
      return "first reading";
    case steadyfilm::ShiftSignature::mixed:
      break;
  }
  return "mixed";
}

const char* word_of(steadyfilm::OffsetVerdict verdict) {
  switch (verdict) {
    case steadyfilm::OffsetVerdict::no_shift:
      return "no shift";
    case steadyfilm::OffsetVerdict::gauge_or_film:
      return "gauge or film";
    case steadyfilm::OffsetVerdict::zero_error:
      return "zero error";
    case steadyfilm::OffsetVerdict::gauge_in_part:
      return "gauge in part";
    case steadyfilm::OffsetVerdict::film:
      return "film";
    case steadyfilm::OffsetVerdict::undecided:
      return "undecided";
    case steadyfilm::OffsetVerdict::upper_layer:
      return "upper layer";
    case steadyfilm::OffsetVerdict::first_reading:
      return "first reading";
    case steadyfilm::OffsetVerdict::mixed:
      break;
  }
  return "mixed";
}

void bind_one_part(py::module_& m) {
  m.def(
      "bias_test",
      [](const Array<double>& values, double reference, double confidence_level, double reference_uncertainty) {
        const auto found =
            steadyfilm::bias_test(as_span(values, "values"), reference, confidence_level, reference_uncertainty);
        return py::dict("count"_a = found.count, "mean"_a = found.mean, "bias"_a = found.bias, "sd"_a = found.sd,
                        "sigma_bias"_a = found.sigma_bias, "degrees_of_freedom"_a = found.degrees_of_freedom,
                        "t"_a = found.t, "t_critical"_a = found.t_critical, "p"_a = found.p, "lower"_a = found.lower,
                        "upper"_a = found.upper);
      },
      "values"_a.noconvert(), "reference"_a, "confidence_level"_a, "reference_uncertainty"_a,
      "Bias by Student's t; see steadyfilm.gauge_bias.");

  m.def(
      "bias_range_test",
      [](const Array<double>& values, double reference, double confidence_level, std::optional<double> d2,
         std::optional<double> d2_star, std::optional<double> degrees_of_freedom) {
        const auto found =
            steadyfilm::bias_range_test(as_span(values, "values"), reference, confidence_level,
                                        {.d2 = d2, .d2_star = d2_star, .degrees_of_freedom = degrees_of_freedom});
        return py::dict("count"_a = found.count, "mean"_a = found.mean, "bias"_a = found.bias, "range"_a = found.range,
                        "sigma_repeatability"_a = found.sigma_repeatability, "sigma_bias"_a = found.sigma_bias,
                        "degrees_of_freedom"_a = found.degrees_of_freedom, "t"_a = found.t,
                        "t_critical"_a = found.t_critical, "p"_a = found.p, "lower"_a = found.lower,
                        "upper"_a = found.upper, "d2"_a = found.d2, "d2_star"_a = found.d2_star);
      },
      "values"_a.noconvert(), "reference"_a, "confidence_level"_a, "d2"_a, "d2_star"_a, "degrees_of_freedom"_a,
      "Bias from the range; see steadyfilm.gauge_bias.");

  m.def(
      "single_part_study",
      [](const Array<double>& values, double reference, double tolerance_width, double tolerance_share,
         double sigma_spread, double required, double confidence_level) {
        const auto found = steadyfilm::single_part_study(as_span(values, "values"), reference,
                                                         {.tolerance_width = tolerance_width,
                                                          .tolerance_share = tolerance_share,
                                                          .sigma_spread = sigma_spread,
                                                          .required = required,
                                                          .confidence_level = confidence_level});
        return py::dict("count"_a = found.count, "mean"_a = found.mean, "bias"_a = found.bias, "sd"_a = found.sd,
                        "t"_a = found.t, "p"_a = found.p, "cg"_a = found.cg, "cg_lower"_a = found.cg_lower,
                        "cg_upper"_a = found.cg_upper, "cgk"_a = found.cgk, "cgk_lower"_a = found.cgk_lower,
                        "cgk_upper"_a = found.cgk_upper, "pct_variation"_a = found.pct_variation,
                        "minimum_tolerance"_a = found.minimum_tolerance,
                        "minimum_tolerance_cgk"_a = found.minimum_tolerance_cgk);
      },
      "values"_a.noconvert(), "reference"_a, "tolerance_width"_a, "tolerance_share"_a, "sigma_spread"_a, "required"_a,
      "confidence_level"_a, "Cg and Cgk of one part; see steadyfilm.gauge_bias.");
}

}  // namespace

void bind_gauge_bias(py::module_& m) {
  bind_one_part(m);

  m.def(
      "bias_linearity",
      [](const Array<double>& values, const Array<double>& reference, double confidence_level) {
        auto found =
            steadyfilm::bias_linearity(as_span(values, "values"), as_span(reference, "reference"), confidence_level);
        py::list biased;
        for (const auto& one : found.biased) {
          biased.append(py::dict("from_reference"_a = one.from, "to_reference"_a = one.to, "side"_a = one.side));
        }
        return py::dict(
            "count"_a = found.count, "slope"_a = found.slope, "intercept"_a = found.intercept,
            "residual_sd"_a = found.residual_sd, "degrees_of_freedom"_a = found.degrees_of_freedom,
            "se_slope"_a = found.se_slope, "se_intercept"_a = found.se_intercept, "t_slope"_a = found.t_slope,
            "t_intercept"_a = found.t_intercept, "p_slope"_a = found.p_slope, "p_intercept"_a = found.p_intercept,
            "r_squared"_a = found.r_squared, "t_critical"_a = found.t_critical,
            "mean_reference"_a = found.mean_reference, "mean_bias"_a = found.mean_bias,
            "sum_squares_reference"_a = found.sum_squares_reference, "lack_of_fit_f"_a = found.lack_of_fit_f,
            "lack_of_fit_p"_a = found.lack_of_fit_p, "reference"_a = to_array(std::move(found.reference)),
            "readings"_a = to_array(std::move(found.readings)), "bias_mean"_a = to_array(std::move(found.bias_mean)),
            "band_fit"_a = to_array(std::move(found.band_fit)), "band_lower"_a = to_array(std::move(found.band_lower)),
            "band_upper"_a = to_array(std::move(found.band_upper)), "biased"_a = biased);
      },
      "values"_a.noconvert(), "reference"_a.noconvert(), "confidence_level"_a,
      "Regression of bias on reference; see steadyfilm.gauge_bias.");

  m.def("verification_limit", &steadyfilm::verification_limit, "gauge_tolerance"_a, "standard_tolerance"_a,
        "Root sum of squares of two tolerances; see steadyfilm.gauge_bias.");

  m.def(
      "check_standard",
      [](const Array<double>& readings, double stated, double limit, bool judge_each) {
        const auto found = steadyfilm::check_standard(as_span(readings, "readings"), stated, limit, judge_each);
        return py::dict("count"_a = found.count, "mean"_a = found.mean, "deviation"_a = found.deviation,
                        "worst_deviation"_a = found.worst_deviation, "passes"_a = found.passes);
      },
      "readings"_a.noconvert(), "stated"_a, "limit"_a, "judge_each"_a,
      "A gauge on one certified standard; see steadyfilm.gauge_bias.");

  m.def(
      "compare_gauges",
      [](const Array<double>& first, const Array<double>& second, double margin, double agreement_share,
         double confidence_level, double significance) {
        const auto found = steadyfilm::compare_gauges(as_span(first, "first"), as_span(second, "second"),
                                                      {.margin = margin,
                                                       .agreement_share = agreement_share,
                                                       .confidence_level = confidence_level,
                                                       .significance = significance});
        return py::dict("count"_a = found.count, "mean_difference"_a = found.mean_difference, "sd"_a = found.sd,
                        "standard_error"_a = found.standard_error, "degrees_of_freedom"_a = found.degrees_of_freedom,
                        "lower"_a = found.lower, "upper"_a = found.upper,
                        "agreement_multiple"_a = found.agreement_multiple,
                        "agreement_lower"_a = fields_of(found.agreement_lower),
                        "agreement_upper"_a = fields_of(found.agreement_upper), "t_lower"_a = found.t_lower,
                        "t_upper"_a = found.t_upper, "p_lower"_a = found.p_lower, "p_upper"_a = found.p_upper,
                        "p_equivalence"_a = found.p_equivalence, "equivalence_lower"_a = found.equivalence_lower,
                        "equivalence_upper"_a = found.equivalence_upper, "equivalent"_a = found.equivalent,
                        "slope"_a = found.slope, "slope_se"_a = found.slope_se, "slope_p"_a = found.slope_p);
      },
      "first"_a.noconvert(), "second"_a.noconvert(), "margin"_a, "agreement_share"_a, "confidence_level"_a,
      "significance"_a, "Two gauges on the same panels; see steadyfilm.gauge_bias.");

  m.def(
      "diagnose_offset",
      [](double first_shift, double first_uncertainty, double total_shift, double total_uncertainty, double correlation,
         std::vector<double> gauge_deviation, std::vector<double> gauge_uncertainty, double coverage_factor) {
        const auto found = steadyfilm::diagnose_offset({.first_shift = first_shift,
                                                        .first_uncertainty = first_uncertainty,
                                                        .total_shift = total_shift,
                                                        .total_uncertainty = total_uncertainty,
                                                        .correlation = correlation,
                                                        .gauge_deviation = std::move(gauge_deviation),
                                                        .gauge_uncertainty = std::move(gauge_uncertainty),
                                                        .coverage_factor = coverage_factor});
        return py::dict(
            "upper_shift"_a = found.upper_shift, "upper_uncertainty"_a = found.upper_uncertainty,
            "offset"_a = found.offset, "offset_uncertainty"_a = found.offset_uncertainty,
            "gauge_error"_a = found.gauge_error, "gauge_error_uncertainty"_a = found.gauge_error_uncertainty,
            "first_moved"_a = found.first_moved, "total_moved"_a = found.total_moved,
            "upper_moved"_a = found.upper_moved, "gauge_off"_a = found.gauge_off, "gauge_agrees"_a = found.gauge_agrees,
            "signature"_a = word_of(found.signature), "verdict"_a = word_of(found.verdict));
      },
      "first_shift"_a, "first_uncertainty"_a, "total_shift"_a, "total_uncertainty"_a, "correlation"_a,
      "gauge_deviation"_a, "gauge_uncertainty"_a, "coverage_factor"_a,
      "A shift that all layers share; see steadyfilm.gauge_bias.");
}
