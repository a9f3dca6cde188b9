#include <steadyfilm/gauge_rr.hpp>

#include "common.hpp"

namespace {

namespace sf = steadyfilm;

py::dict fields_of(const sf::AnovaLine& line) {
  return py::dict("source"_a = line.source, "sum_squares"_a = line.sum_squares,
                  "degrees_of_freedom"_a = line.degrees_of_freedom, "mean_square"_a = line.mean_square, "f"_a = line.f,
                  "denominator_mean_square"_a = line.denominator_mean_square,
                  "denominator_degrees_of_freedom"_a = line.denominator_degrees_of_freedom, "p"_a = line.p);
}

py::dict fields_of(const sf::GaugeSource& one) {
  return py::dict("source"_a = one.source, "role"_a = one.role, "variance"_a = one.variance, "sd"_a = one.sd,
                  "sd_lower"_a = one.sd_lower, "sd_upper"_a = one.sd_upper,
                  "degrees_of_freedom"_a = one.degrees_of_freedom, "share_of_variance"_a = one.share_of_variance,
                  "share_of_variance_lower"_a = one.share_of_variance_lower,
                  "share_of_variance_upper"_a = one.share_of_variance_upper, "share_of_total"_a = one.share_of_total,
                  "share_of_total_lower"_a = one.share_of_total_lower,
                  "share_of_total_upper"_a = one.share_of_total_upper, "weights"_a = py::tuple(py::cast(one.weights)));
}

py::dict fields_of(const sf::GaugeEffect& one) {
  return py::dict("mean"_a = one.mean, "effect"_a = one.effect, "lower"_a = one.lower, "upper"_a = one.upper);
}

template <typename T>
py::list list_of(const std::vector<T>& items) {
  py::list out;
  for (const T& item : items) out.append(fields_of(item));
  return out;
}

py::dict fields_of(const sf::GaugeEstimate& found) {
  return py::dict("lines"_a = list_of(found.lines), "sources"_a = list_of(found.sources),
                  "pooled_terms"_a = py::tuple(py::cast(found.pooled_terms)), "ndc_ratio"_a = found.ndc_ratio,
                  "ndc_ratio_lower"_a = found.ndc_ratio_lower, "ndc_ratio_upper"_a = found.ndc_ratio_upper,
                  "ndc"_a = found.ndc);
}

py::dict fields_of(const sf::GaugeFactors& found) {
  return py::dict("K1"_a = found.K1, "K2"_a = found.K2, "K3"_a = found.K3, "D4"_a = found.D4);
}

py::dict fields_of(sf::AverageRange&& found) {
  return py::dict(
      "mean"_a = found.mean, "mean_range"_a = found.mean_range, "appraiser_difference"_a = found.appraiser_difference,
      "part_range"_a = found.part_range, "range_upper"_a = found.range_upper, "factors"_a = fields_of(found.factors),
      "ev"_a = found.ev, "av_radicand"_a = found.av_radicand, "av"_a = found.av, "grr"_a = found.grr, "pv"_a = found.pv,
      "tv"_a = found.tv, "ndc_ratio"_a = found.ndc_ratio, "ndc"_a = found.ndc,
      "appraiser_means"_a = to_array(std::move(found.appraiser_means)),
      "appraiser_mean_ranges"_a = to_array(std::move(found.appraiser_mean_ranges)),
      "part_means"_a = to_array(std::move(found.part_means)), "ranges"_a = to_array(std::move(found.ranges)));
}

py::dict fields_of(const sf::GaugeWindow& found) {
  return py::dict("room"_a = found.room, "one_sided"_a = found.one_sided, "spread"_a = found.spread,
                  "share"_a = found.share, "share_lower"_a = found.share_lower, "share_upper"_a = found.share_upper,
                  "floor_share"_a = found.floor_share, "readings"_a = found.readings,
                  "appraisers_needed"_a = found.appraisers_needed, "readings_if_alike"_a = found.readings_if_alike,
                  "judgeable"_a = found.judgeable, "demonstrated"_a = found.demonstrated);
}

sf::FactorRole role_of(const std::string& word) {
  if (word == "part") return sf::FactorRole::part;
  if (word == "process") return sf::FactorRole::process;
  if (word == "measurement") return sf::FactorRole::measurement;
  throw sf::InvalidInput("gauge_study", "role", "must be part, process or measurement, got " + word);
}

sf::IntervalMethod method_of(const std::string& word) {
  if (word == "modified_large_sample") return sf::IntervalMethod::modified_large_sample;
  if (word == "satterthwaite") return sf::IntervalMethod::satterthwaite;
  throw sf::InvalidInput("gauge_study", "interval_method",
                         "must be modified_large_sample or satterthwaite, got " + word);
}

sf::FDenominator denominator_of(const std::string& word) {
  if (word == "model") return sf::FDenominator::model;
  if (word == "repeatability") return sf::FDenominator::repeatability;
  throw sf::InvalidInput("gauge_study", "f_denominator", "must be model or repeatability, got " + word);
}

/// Name, levels, role, fixed, position of the factor around it (-1 for none).
using FactorFields = std::tuple<std::string, std::size_t, std::string, bool, std::int64_t>;

std::vector<sf::StudyFactor> factors_of(const std::vector<FactorFields>& given) {
  std::vector<sf::StudyFactor> out;
  for (const auto& [name, levels, role, fixed, around] : given) {
    std::optional<std::size_t> outer;
    if (around >= 0) outer = static_cast<std::size_t>(around);
    out.push_back({.name = name, .levels = levels, .role = role_of(role), .fixed = fixed, .nested_in = outer});
  }
  return out;
}

/// Name, one code a reading, levels, role, fixed, position of the factor around it (-1 for none).
using CodeFields = std::tuple<std::string, Array<std::int32_t>, std::size_t, std::string, bool, std::int64_t>;

std::vector<sf::StudyCodes> codes_of(const std::vector<CodeFields>& given) {
  std::vector<sf::StudyCodes> out;
  for (const auto& [name, codes, levels, role, fixed, around] : given) {
    std::optional<std::size_t> outer;
    if (around >= 0) outer = static_cast<std::size_t>(around);
    out.push_back({.name = name,
                   .codes = as_span(codes, "codes"),
                   .levels = levels,
                   .role = role_of(role),
                   .nested_in = outer,
                   .fixed = fixed});
  }
  return out;
}

py::dict fields_of(const sf::GaugeStudy& found) {
  py::object pooled = py::none();
  if (found.pooled) pooled = fields_of(*found.pooled);
  py::list effects;
  for (const auto& of_factor : found.effects) effects.append(list_of(of_factor));
  return py::dict("mean"_a = found.mean, "kept"_a = fields_of(found.kept), "pooled"_a = pooled,
                  "pooled_chosen"_a = found.pooled_chosen, "interaction_p"_a = found.interaction_p,
                  "restricted_likelihood"_a = found.restricted_likelihood, "effects"_a = effects);
}

/// Whether no signal waits for Python, asked from work that holds no lock.
bool no_signal() {
  const py::gil_scoped_acquire locked;
  return PyErr_CheckSignals() == 0;
}

sf::GaugeFactorsGiven given_of(std::optional<double> K1, std::optional<double> K2, std::optional<double> K3,
                               std::optional<double> D4) {
  return {.K1 = K1, .K2 = K2, .K3 = K3, .D4 = D4};
}

/// What of an estimate a window or a bootstrap needs, put together again from the wrapper's fields.
using SourceFields = std::tuple<std::string, std::string, double, double, double, std::vector<double>>;

sf::GaugeEstimate estimate_of(const std::vector<SourceFields>& sources, const std::vector<double>& degrees_of_freedom,
                              double ndc_ratio) {
  sf::GaugeEstimate out;
  for (const auto& [name, role, sd, lower, upper, weights] : sources) {
    sf::GaugeSource one;
    one.source = name;
    one.role = role;
    one.sd = sd;
    one.sd_lower = lower;
    one.sd_upper = upper;
    one.weights = weights;
    out.sources.push_back(std::move(one));
  }
  for (const double df : degrees_of_freedom) {
    sf::AnovaLine line;
    line.degrees_of_freedom = df;
    out.lines.push_back(line);
  }
  out.ndc_ratio = ndc_ratio;
  return out;
}

}  // namespace

void bind_gauge_rr(py::module_& m) {
  m.def(
      "gauge_factors",
      [](std::size_t trial_count, std::size_t appraiser_count, std::size_t part_count) {
        return fields_of(sf::gauge_factors(trial_count, appraiser_count, part_count));
      },
      "trial_count"_a, "appraiser_count"_a, "part_count"_a, "Factors of ranges; see steadyfilm.gauge_rr.");
  m.def(
      "average_range",
      [](const Array<double>& values, std::size_t part_count, std::size_t appraiser_count, std::size_t trial_count,
         std::optional<double> K1, std::optional<double> K2, std::optional<double> K3, std::optional<double> D4) {
        return fields_of(sf::average_range(as_span(values, "values"), part_count, appraiser_count, trial_count,
                                           given_of(K1, K2, K3, D4)));
      },
      "values"_a.noconvert(), "part_count"_a, "appraiser_count"_a, "trial_count"_a, "K1"_a, "K2"_a, "K3"_a, "D4"_a,
      "A study by averages and ranges; see steadyfilm.gauge_rr.");
  m.def(
      "average_range_from_ranges",
      [](double mean_range, double appraiser_difference, double part_range, std::size_t part_count,
         std::size_t appraiser_count, std::size_t trial_count, std::optional<double> K1, std::optional<double> K2,
         std::optional<double> K3, std::optional<double> D4) {
        return fields_of(sf::average_range_from_ranges(mean_range, appraiser_difference, part_range, part_count,
                                                       appraiser_count, trial_count, given_of(K1, K2, K3, D4)));
      },
      "mean_range"_a, "appraiser_difference"_a, "part_range"_a, "part_count"_a, "appraiser_count"_a, "trial_count"_a,
      "K1"_a, "K2"_a, "K3"_a, "D4"_a, "The same from three ranges; see steadyfilm.gauge_rr.");
  m.def(
      "gauge_study",
      [](const Array<double>& values, const std::vector<FactorFields>& factors, std::size_t trial_count,
         double pooling_level, double confidence_level, const std::string& interval_method,
         const std::string& f_denominator) {
        const auto view = as_span(values, "values");
        const auto given = factors_of(factors);
        const sf::GaugeOptions options{.pooling_level = pooling_level,
                                       .confidence_level = confidence_level,
                                       .interval_method = method_of(interval_method),
                                       .f_denominator = denominator_of(f_denominator)};
        sf::GaugeStudy found;
        {
          const py::gil_scoped_release unlocked;  // plain memory only from here on
          found = sf::gauge_study(view, given, trial_count, options);
        }
        return fields_of(found);
      },
      "values"_a.noconvert(), "factors"_a, "trial_count"_a, "pooling_level"_a, "confidence_level"_a,
      "interval_method"_a, "f_denominator"_a, "A balanced study; see steadyfilm.gauge_rr.");
  m.def(
      "unbalanced_gauge_study",
      [](const Array<double>& values, const std::vector<CodeFields>& factors, double pooling_level,
         double confidence_level, const std::string& interval_method) {
        const auto view = as_span(values, "values");
        const auto given = codes_of(factors);
        const sf::GaugeOptions options{.pooling_level = pooling_level,
                                       .confidence_level = confidence_level,
                                       .interval_method = method_of(interval_method)};
        std::optional<sf::GaugeStudy> found;
        {
          const py::gil_scoped_release unlocked;  // plain memory only from here on
          try {
            found = sf::unbalanced_gauge_study(view, given, options, no_signal);
          } catch (const sf::Stopped&) {
            found.reset();
          }
        }
        if (!found) throw py::error_already_set();
        return fields_of(*found);
      },
      "values"_a.noconvert(), "factors"_a, "pooling_level"_a, "confidence_level"_a, "interval_method"_a,
      "A study of any layout; see steadyfilm.gauge_rr.");
  m.def(
      "gauge_window",
      [](const std::vector<SourceFields>& sources, std::optional<double> lower, std::optional<double> upper,
         double mean, double sigma_multiple, double share_limit) {
        return fields_of(sf::gauge_window(estimate_of(sources, {}, 0.0),
                                          {.lower = lower, .upper = upper, .target = std::nullopt}, mean,
                                          {.sigma_multiple = sigma_multiple, .share_limit = share_limit}));
      },
      "sources"_a, "lower"_a, "upper"_a, "mean"_a, "sigma_multiple"_a, "share_limit"_a,
      "A window against a study; see steadyfilm.gauge_rr.");
  m.def(
      "gauge_intervals",
      [](double ms_part, double ms_appraiser, double ms_interaction, double ms_repeatability, std::size_t part_count,
         std::size_t appraiser_count, std::size_t trial_count, double confidence_level, const std::string& method) {
        const auto f = sf::gauge_intervals(ms_part, ms_appraiser, ms_interaction, ms_repeatability, part_count,
                                           appraiser_count, trial_count, confidence_level, method_of(method));
        py::dict out;
        const auto put = [&](const char* name, double value, double lower, double upper) {
          out[name] = value;
          out[(std::string(name) + "_lower").c_str()] = lower;
          out[(std::string(name) + "_upper").c_str()] = upper;
        };
        put("variance_part", f.variance_part, f.variance_part_lower, f.variance_part_upper);
        put("variance_repeatability", f.variance_repeatability, f.variance_repeatability_lower,
            f.variance_repeatability_upper);
        put("variance_reproducibility", f.variance_reproducibility, f.variance_reproducibility_lower,
            f.variance_reproducibility_upper);
        put("variance_measurement", f.variance_measurement, f.variance_measurement_lower, f.variance_measurement_upper);
        put("ratio", f.ratio, f.ratio_lower, f.ratio_upper);
        put("share", f.share, f.share_lower, f.share_upper);
        out["reproducibility_df"] = f.reproducibility_df;
        out["measurement_df"] = f.measurement_df;
        return out;
      },
      "ms_part"_a, "ms_appraiser"_a, "ms_interaction"_a, "ms_repeatability"_a, "part_count"_a, "appraiser_count"_a,
      "trial_count"_a, "confidence_level"_a, "method"_a, "Intervals from mean squares; see steadyfilm.gauge_rr.");
  m.def(
      "gauge_bootstrap",
      [](const std::vector<SourceFields>& sources, const std::vector<double>& degrees_of_freedom, double ndc_ratio,
         std::size_t replicates, std::uint64_t seed, double confidence_level) {
        const auto estimate = estimate_of(sources, degrees_of_freedom, ndc_ratio);
        std::optional<std::vector<sf::BootstrapInterval>> found;
        {
          const py::gil_scoped_release unlocked;  // plain memory only from here on
          found = sf::gauge_bootstrap(estimate, replicates, seed, confidence_level, no_signal);
        }
        if (!found) throw py::error_already_set();
        py::list out;
        for (const auto& one : *found) {
          out.append(
              py::dict("source"_a = one.source, "value"_a = one.value, "lower"_a = one.lower, "upper"_a = one.upper));
        }
        return out;
      },
      "sources"_a, "degrees_of_freedom"_a, "ndc_ratio"_a, "replicates"_a, "seed"_a, "confidence_level"_a,
      "Parametric bootstrap; see steadyfilm.gauge_rr.");
  const auto pooled = [](const sf::PooledSd& found) {
    return py::dict("sum_squares"_a = found.sum_squares, "degrees_of_freedom"_a = found.degrees_of_freedom,
                    "sd"_a = found.sd, "group_sds"_a = to_array(std::vector<double>(found.group_sds)));
  };
  m.def(
      "pooled_sd",
      [pooled](const Array<double>& sums, const Array<double>& degrees_of_freedom) {
        return pooled(
            sf::pooled_sd(as_span(sums, "sums_of_squares"), as_span(degrees_of_freedom, "degrees_of_freedom")));
      },
      "sums_of_squares"_a.noconvert(), "degrees_of_freedom"_a.noconvert(), "Pooled sd; see steadyfilm.gauge_rr.");
  m.def(
      "pooled_sd_from_sds",
      [pooled](const Array<double>& sds, const Array<double>& degrees_of_freedom) {
        return pooled(sf::pooled_sd_from_sds(as_span(sds, "sds"), as_span(degrees_of_freedom, "degrees_of_freedom")));
      },
      "sds"_a.noconvert(), "degrees_of_freedom"_a.noconvert(), "Pooled sd; see steadyfilm.gauge_rr.");
}
