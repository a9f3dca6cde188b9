#include <steadyfilm/gauge_agreement.hpp>

#include "common.hpp"

namespace {

using Codes = Array<std::int64_t>;

py::dict fields_of(const steadyfilm::Agreement& one) {
  return py::dict("value"_a = one.value, "se_null"_a = one.se_null, "z"_a = one.z, "p"_a = one.p, "se"_a = one.se,
                  "lower"_a = one.lower, "upper"_a = one.upper);
}

py::dict fields_of(const steadyfilm::Proportion& one) {
  return py::dict("count"_a = one.count, "total"_a = one.total, "share"_a = one.share, "lower"_a = one.lower,
                  "upper"_a = one.upper);
}

py::list list_of(const std::vector<steadyfilm::Agreement>& all) {
  py::list out;
  for (const auto& one : all) out.append(fields_of(one));
  return out;
}

}  // namespace

void bind_gauge_agreement(py::module_& m) {
  m.def(
      "cohen_kappa",
      [](const Codes& table, std::size_t categories, double confidence_level,
         const Array<double>& disagreement_weights) {
        const auto found = steadyfilm::cohen_kappa(as_span(table, "table"), categories, confidence_level,
                                                   as_span(disagreement_weights, "disagreement_weights"));
        return py::dict("count"_a = found.count, "observed_agreement"_a = found.observed_agreement,
                        "expected_agreement"_a = found.expected_agreement, "kappa"_a = fields_of(found.kappa),
                        "se_cohen_1960"_a = found.se_cohen_1960);
      },
      "table"_a.noconvert(), "categories"_a, "confidence_level"_a, "disagreement_weights"_a.noconvert(),
      "Kappa of two judges from their table; see steadyfilm.gauge_agreement.");

  m.def(
      "agreement_table",
      [](const Codes& judge_1, const Codes& judge_2, std::size_t categories) {
        return to_array(
            steadyfilm::agreement_table(as_span(judge_1, "judge_1"), as_span(judge_2, "judge_2"), categories));
      },
      "judge_1"_a.noconvert(), "judge_2"_a.noconvert(), "categories"_a,
      "Counts of pairs of judgements; see steadyfilm.gauge_agreement.");

  m.def(
      "distance_weights",
      [](std::size_t categories, double power) { return to_array(steadyfilm::distance_weights(categories, power)); },
      "categories"_a, "power"_a, "Weights of ordered categories; see steadyfilm.gauge_agreement.");

  m.def(
      "fleiss_kappa",
      [](const Codes& counts, std::size_t categories, double confidence_level) {
        auto found = steadyfilm::fleiss_kappa(as_span(counts, "counts"), categories, confidence_level);
        return py::dict("subjects"_a = found.subjects, "judgements"_a = found.judgements,
                        "observed_agreement"_a = found.observed_agreement,
                        "expected_agreement"_a = found.expected_agreement, "kappa"_a = fields_of(found.kappa),
                        "category"_a = list_of(found.category),
                        "category_share"_a = to_array(std::move(found.category_share)), "se_1971"_a = found.se_1971,
                        "z_1971"_a = found.z_1971, "kappa_free_marginal"_a = found.kappa_free_marginal);
      },
      "counts"_a.noconvert(), "categories"_a, "confidence_level"_a,
      "Kappa of several judgements a subject; see steadyfilm.gauge_agreement.");

  m.def(
      "fleiss_kappa_with_reference",
      [](const Codes& judgements, const Codes& reference, std::size_t categories, double confidence_level) {
        auto found = steadyfilm::fleiss_kappa_with_reference(
            as_span(judgements, "judgements"), as_span(reference, "reference"), categories, confidence_level);
        return py::dict("subjects"_a = found.subjects, "kappa"_a = fields_of(found.kappa),
                        "category"_a = list_of(found.category), "judge"_a = to_array(std::move(found.judge)));
      },
      "judgements"_a.noconvert(), "reference"_a.noconvert(), "categories"_a, "confidence_level"_a,
      "Kappa of judges with a reference; see steadyfilm.gauge_agreement.");

  m.def(
      "kendall_w",
      [](const Array<double>& ratings, std::size_t judges, double confidence_level) {
        auto found = steadyfilm::kendall_w(as_span(ratings, "ratings"), judges, confidence_level);
        return py::dict("subjects"_a = found.subjects, "judges"_a = found.judges,
                        "w_uncorrected"_a = found.w_uncorrected, "w"_a = found.w, "chi_square"_a = found.chi_square,
                        "degrees_of_freedom"_a = found.degrees_of_freedom, "p"_a = found.p, "se"_a = found.se,
                        "lower"_a = found.lower, "upper"_a = found.upper, "sum_squares"_a = found.sum_squares,
                        "tie_correction"_a = found.tie_correction, "rank_sum"_a = to_array(std::move(found.rank_sum)));
      },
      "ratings"_a.noconvert(), "judges"_a, "confidence_level"_a,
      "Concordance of rankings; see steadyfilm.gauge_agreement.");

  m.def(
      "kendall_tau_with_reference",
      [](const Array<double>& ratings, std::size_t judges, const Array<double>& reference, double confidence_level) {
        auto found = steadyfilm::kendall_tau_with_reference(as_span(ratings, "ratings"), judges,
                                                            as_span(reference, "reference"), confidence_level);
        return py::dict("subjects"_a = found.subjects, "tau"_a = fields_of(found.tau),
                        "judge"_a = to_array(std::move(found.judge)));
      },
      "ratings"_a.noconvert(), "judges"_a, "reference"_a.noconvert(), "confidence_level"_a,
      "Rankings against a known order; see steadyfilm.gauge_agreement.");

  m.def(
      "exact_proportion",
      [](std::size_t count, std::size_t total, double confidence_level) {
        return fields_of(steadyfilm::exact_proportion(count, total, confidence_level));
      },
      "count"_a, "total"_a, "confidence_level"_a,
      "A share with its exact binomial interval; see steadyfilm.gauge_agreement.");

  m.def(
      "appraiser_rates",
      [](const Codes& judgements, std::size_t trials, const Codes& reference, const Array<std::uint8_t>& rejects,
         double confidence_level) {
        const auto found =
            steadyfilm::appraiser_rates(as_span(judgements, "judgements"), trials, as_span(reference, "reference"),
                                        as_span(rejects, "rejects"), confidence_level);
        return py::dict("consistent"_a = fields_of(found.consistent), "effective"_a = fields_of(found.effective),
                        "right"_a = fields_of(found.right), "miss"_a = fields_of(found.miss),
                        "false_alarm"_a = fields_of(found.false_alarm));
      },
      "judgements"_a.noconvert(), "trials"_a, "reference"_a.noconvert(), "rejects"_a.noconvert(), "confidence_level"_a,
      "Rates of one appraiser against a reference; see steadyfilm.gauge_agreement.");
}
