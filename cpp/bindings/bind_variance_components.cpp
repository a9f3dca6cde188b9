#include <steadyfilm/variance_components.hpp>

#include "common.hpp"

namespace {

py::dict fields_of(const steadyfilm::AnovaLine& line) {
  return py::dict("source"_a = line.source, "sum_squares"_a = line.sum_squares,
                  "degrees_of_freedom"_a = line.degrees_of_freedom, "mean_square"_a = line.mean_square, "f"_a = line.f,
                  "denominator_mean_square"_a = line.denominator_mean_square,
                  "denominator_degrees_of_freedom"_a = line.denominator_degrees_of_freedom, "p"_a = line.p);
}

py::dict fields_of(const steadyfilm::VarianceComponent& one) {
  return py::dict("source"_a = one.source, "variance"_a = one.variance, "variance_lower"_a = one.variance_lower,
                  "variance_upper"_a = one.variance_upper, "sd"_a = one.sd, "sd_lower"_a = one.sd_lower,
                  "sd_upper"_a = one.sd_upper, "share"_a = one.share, "degrees_of_freedom"_a = one.degrees_of_freedom,
                  "mean_square"_a = one.mean_square,
                  "mean_square_degrees_of_freedom"_a = one.mean_square_degrees_of_freedom,
                  "next_mean_square"_a = one.next_mean_square, "readings"_a = one.readings);
}

py::dict fields_of(const steadyfilm::VarianceSum& sum) {
  return py::dict("variance"_a = sum.variance, "variance_lower"_a = sum.variance_lower,
                  "variance_upper"_a = sum.variance_upper, "sd"_a = sum.sd, "sd_lower"_a = sum.sd_lower,
                  "sd_upper"_a = sum.sd_upper, "degrees_of_freedom"_a = sum.degrees_of_freedom);
}

py::dict fields_of(const steadyfilm::MeanEstimate& mean) {
  return py::dict("value"_a = mean.value, "standard_error"_a = mean.standard_error,
                  "degrees_of_freedom"_a = mean.degrees_of_freedom, "lower"_a = mean.lower, "upper"_a = mean.upper);
}

py::dict fields_of(const steadyfilm::LocationEffect& one) {
  return py::dict("mean"_a = one.mean, "effect"_a = one.effect, "lower"_a = one.lower, "upper"_a = one.upper);
}

py::dict fields_of(const steadyfilm::MixedComponent& one) {
  return py::dict("source"_a = one.source, "levels"_a = one.levels, "relative_sd"_a = one.relative_sd,
                  "variance"_a = one.variance, "variance_standard_error"_a = one.variance_standard_error,
                  "variance_lower"_a = one.variance_lower, "variance_upper"_a = one.variance_upper, "sd"_a = one.sd,
                  "sd_lower"_a = one.sd_lower, "sd_upper"_a = one.sd_upper,
                  "log_sd_standard_error"_a = one.log_sd_standard_error, "wald_sd_lower"_a = one.wald_sd_lower,
                  "wald_sd_upper"_a = one.wald_sd_upper, "share"_a = one.share,
                  "unbiased_variance"_a = one.unbiased_variance, "on_boundary"_a = one.on_boundary);
}

py::dict fields_of(const steadyfilm::FixedEffect& one) {
  return py::dict("term"_a = one.term, "level"_a = one.level, "estimate"_a = one.estimate,
                  "standard_error"_a = one.standard_error);
}

template <typename T>
py::list list_of(const std::vector<T>& items) {
  py::list out;
  for (const T& item : items) out.append(fields_of(item));
  return out;
}

/// Counts from the wrapper; int64 is what NumPy gives by default.
std::vector<std::size_t> as_counts(const Array<std::int64_t>& array, const char* name) {
  std::vector<std::size_t> out;
  for (const std::int64_t count : as_span(array, name)) {
    if (count < 0) throw steadyfilm::InvalidInput("binding", name, "must not be negative");
    out.push_back(static_cast<std::size_t>(count));
  }
  return out;
}

/// A term as the wrapper gives it: name, codes, number of levels.
using Term = std::tuple<std::string, Array<std::int32_t>, std::size_t>;
using Numbers = std::pair<std::string, Array<double>>;

std::vector<steadyfilm::LevelCodes> as_terms(const std::vector<Term>& given) {
  std::vector<steadyfilm::LevelCodes> out;
  out.reserve(given.size());
  for (const auto& [name, codes, levels] : given) out.push_back({name, as_span(codes, name.c_str()), levels});
  return out;
}

/// Asked now and then without the lock: has somebody pressed Ctrl-C?
bool no_signal() {
  const py::gil_scoped_acquire locked;
  return PyErr_CheckSignals() == 0;
}

/// Predictions of all terms, level after level, as two columns.
py::tuple columns_of(const std::vector<std::vector<steadyfilm::RandomEffect>>& effects) {
  std::vector<double> value, standard_error;
  for (const auto& term : effects) {
    for (const auto& one : term) {
      value.push_back(one.value);
      standard_error.push_back(one.standard_error);
    }
  }
  return py::make_tuple(to_array(std::move(value)), to_array(std::move(standard_error)));
}

}  // namespace

void bind_variance_components(py::module_& m) {
  m.def(
      "one_way_anova",
      [](const Array<double>& values, const Array<std::int64_t>& offsets) {
        const auto view = as_span(values, "values");
        const auto cuts = as_counts(offsets, "offsets");
        steadyfilm::OneWayAnova found;
        {
          const py::gil_scoped_release unlocked;  // plain memory only from here on
          found = steadyfilm::one_way_anova(view, cuts);
        }
        return py::dict("count"_a = found.count, "group_count"_a = found.group_count, "mean"_a = found.mean,
                        "between"_a = fields_of(found.between), "within"_a = fields_of(found.within),
                        "r_squared"_a = found.r_squared, "residual_sd"_a = found.residual_sd,
                        "group_means"_a = to_array(std::move(found.group_means)));
      },
      "values"_a.noconvert(), "offsets"_a.noconvert(), "One-way table; see steadyfilm.variance_components.");
  m.def(
      "nested_components",
      [](const Array<double>& values, const Array<std::int64_t>& counts, double confidence_level) {
        const auto view = as_span(values, "values");
        const auto sizes = as_counts(counts, "counts");
        steadyfilm::NestedComponents found;
        {
          const py::gil_scoped_release unlocked;  // plain memory only from here on
          found = steadyfilm::nested_components(view, sizes, confidence_level);
        }
        return py::dict("lines"_a = list_of(found.lines), "components"_a = list_of(found.components),
                        "total"_a = fields_of(found.total), "mean"_a = fields_of(found.mean),
                        "innermost_ratio"_a =
                            py::dict("value"_a = found.innermost_ratio.value, "lower"_a = found.innermost_ratio.lower,
                                     "upper"_a = found.innermost_ratio.upper));
      },
      "values"_a.noconvert(), "counts"_a.noconvert(), "confidence_level"_a,
      "Components of nested readings; see steadyfilm.variance_components.");
  m.def(
      "body_components",
      [](const Array<double>& values, std::size_t location_count, std::size_t repeats,
         const Array<std::int64_t>& units_per_day, double confidence_level) {
        const auto view = as_span(values, "values");
        const auto days = as_counts(units_per_day, "units_per_day");
        steadyfilm::BodyComponents found;
        {
          const py::gil_scoped_release unlocked;  // plain memory only from here on
          found = steadyfilm::body_components(view, location_count, repeats, days, confidence_level);
        }
        return py::dict("lines"_a = list_of(found.lines), "components"_a = list_of(found.components),
                        "total"_a = fields_of(found.total), "unit_average"_a = fields_of(found.unit_average),
                        "mean"_a = fields_of(found.mean), "locations"_a = list_of(found.locations),
                        "effect_standard_error"_a = found.effect_standard_error,
                        "effect_degrees_of_freedom"_a = found.effect_degrees_of_freedom,
                        "location_rms"_a = found.location_rms);
      },
      "values"_a.noconvert(), "location_count"_a, "repeats"_a, "units_per_day"_a.noconvert(), "confidence_level"_a,
      "Components of the body model; see steadyfilm.variance_components.");
  m.def(
      "combine_levels",
      [](const Array<std::int32_t>& first, const Array<std::int32_t>& second) {
        const auto one = as_span(first, "first"), two = as_span(second, "second");
        steadyfilm::CombinedLevels found;
        {
          const py::gil_scoped_release unlocked;
          found = steadyfilm::combine_levels(one, two);
        }
        return py::make_tuple(to_array(std::move(found.codes)), found.levels);
      },
      "first"_a.noconvert(), "second"_a.noconvert(), "Codes of the combinations that occur, and how many.");
  m.def(
      "mixed_components",
      [](const Array<double>& values, const std::vector<Term>& random, const std::vector<Term>& fixed,
         const std::vector<Numbers>& covariates, bool restricted, double confidence_level, bool profile_intervals) {
        const auto view = as_span(values, "values");
        steadyfilm::MixedModel model{as_terms(random), as_terms(fixed), {}};
        for (const auto& [name, numbers] : covariates)
          model.covariates.push_back({name, as_span(numbers, name.c_str())});
        steadyfilm::MixedOptions options;
        options.likelihood = restricted ? steadyfilm::Likelihood::restricted : steadyfilm::Likelihood::full;
        options.confidence_level = confidence_level;
        options.profile_intervals = profile_intervals;
        options.keep_going = no_signal;
        steadyfilm::MixedComponents found;
        try {
          const py::gil_scoped_release unlocked;  // the terms keep their arrays alive
          found = steadyfilm::mixed_components(view, model, options);
        } catch (const steadyfilm::Stopped&) {
          throw py::error_already_set();
        }
        const auto& end = found.convergence;
        return py::dict(
            "count"_a = found.count, "fixed_count"_a = found.fixed_count, "balanced"_a = found.balanced,
            "components"_a = list_of(found.components), "total_variance"_a = found.total_variance,
            "total_sd"_a = found.total_sd, "total_variance_standard_error"_a = found.total_variance_standard_error,
            "fixed"_a = list_of(found.fixed), "effects"_a = columns_of(found.effects),
            "log_likelihood"_a = found.log_likelihood, "criterion"_a = found.criterion,
            "log_determinant"_a = found.log_determinant, "penalized_sum_squares"_a = found.penalized_sum_squares,
            "degrees_of_freedom"_a = found.degrees_of_freedom,
            "convergence"_a = py::dict("converged"_a = end.converged, "steps"_a = end.steps,
                                       "evaluations"_a = end.evaluations, "last_change"_a = end.last_change));
      },
      "values"_a.noconvert(), "random"_a, "fixed"_a, "covariates"_a, "restricted"_a, "confidence_level"_a,
      "profile_intervals"_a, "Components by (restricted) maximum likelihood; see steadyfilm.variance_components.");
}
