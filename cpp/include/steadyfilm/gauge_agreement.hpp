/// @file
/// Agreement of judgements: of judges with one another, with themselves and with a reference.
///
/// Judgements come as category codes from 0 or as ranks, subject by subject: one row a subject, one column a judge.
/// All intervals are two-sided. A figure that the data leaves open (every judgement in one category) is NaN.
#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

namespace steadyfilm {

/// A coefficient of agreement with its large-sample standard errors, without unit.
struct Agreement {
  double value = 0.0;
  double se_null = 0.0;  ///< standard error when there is no agreement but by chance; for the test
  double z = 0.0;        ///< value / se_null; NaN for 0 over 0
  double p = 0.0;        ///< two-sided
  double se = 0.0;       ///< standard error at the agreement found; for the interval. NaN where it is not known
  double lower = 0.0;    ///< value -+ z(confidence) se, kept within the coefficient's own range
  double upper = 0.0;
};

/// Two judges, by the table of their judgements.
struct CohenKappa {
  std::size_t count = 0;            ///< subjects
  double observed_agreement = 0.0;  ///< weighted share
  double expected_agreement = 0.0;  ///< by chance, from the two judges' own shares
  Agreement kappa;
  double se_cohen_1960 = 0.0;  ///< the older sqrt(po (1 - po) / (n (1 - pe)^2))
};

/// Cohen's kappa, weighted when disagreements differ in weight; standard errors of Fleiss, Cohen and Everitt.
///
/// @param table     counts row by row: rows the first judge's categories, columns the second's.
/// @param disagreement_weights  as long as table, 0 on the diagonal and 0 or more elsewhere; empty: all alike.
/// @throws InvalidInput  fewer than two categories, a table that is not square, a negative count, no count at all,
///                       weights out of their domain or all 0.
/// @note   kappa is NaN when chance alone makes the judges agree on everything (one category in use, both judges).
/// @see    cpp/methods/gauge_agreement.md
[[nodiscard]] CohenKappa cohen_kappa(std::span<const std::int64_t> table, std::size_t categories,
                                     double confidence_level, std::span<const double> disagreement_weights = {});

/// Counts of pairs of judgements, row by row, as `cohen_kappa` takes them.
/// @throws InvalidInput  lengths that differ, a code out of range.
[[nodiscard]] std::vector<std::int64_t> agreement_table(std::span<const std::int64_t> judge_1,
                                                        std::span<const std::int64_t> judge_2, std::size_t categories);

/// Disagreement weights |i - j|^power of ordered categories, row by row.
[[nodiscard]] std::vector<double> distance_weights(std::size_t categories, double power);

/// Several judgements a subject, by whomever.
struct FleissKappa {
  std::size_t subjects = 0;
  std::size_t judgements = 0;       ///< a subject
  double observed_agreement = 0.0;  ///< share of agreeing pairs of judgements on a subject
  double expected_agreement = 0.0;
  Agreement kappa;
  std::vector<Agreement> category;     ///< that category against all others; NaN for one never or always used
  std::vector<double> category_share;  ///< of all judgements
  double se_1971 = 0.0;                ///< of Fleiss (1971), in place of kappa.se_null; larger
  double z_1971 = 0.0;
  double kappa_free_marginal = 0.0;  ///< chance 1 / categories in place of expected_agreement
};

/// Fleiss' kappa; null standard errors of Fleiss, Nee and Landis, interval by linearization over the subjects.
///
/// @param counts  row by row: one row a subject, one column a category; all rows have the same sum.
/// @throws InvalidInput  no subject, fewer than two categories or judgements a subject, a negative count, rows whose
///                       sums differ.
/// @note   kappa and its category figures are NaN when all judgements fall in one category; `se` is NaN for one
///         subject.
/// @see    cpp/methods/gauge_agreement.md
[[nodiscard]] FleissKappa fleiss_kappa(std::span<const std::int64_t> counts, std::size_t categories,
                                       double confidence_level);

/// Judges against a known reference.
struct ReferenceKappa {
  std::size_t subjects = 0;
  Agreement kappa;                  ///< mean over the judges
  std::vector<Agreement> category;  ///< the same, one category against all others
  std::vector<double> judge;        ///< kappa of each judge with the reference
};

/// Fleiss' kappa of each judge with the reference as a second judge, and the mean over the judges.
///
/// @param judgements  codes, one row a subject, one column a judge (a repeat of a judge is a column of its own).
/// @param reference   code of each subject.
/// @throws InvalidInput  no subject, no judge, fewer than two categories, lengths that differ, a code out of range.
/// @note   The null standard error takes judges as independent; `se` does not: judges err on the same subjects.
[[nodiscard]] ReferenceKappa fleiss_kappa_with_reference(std::span<const std::int64_t> judgements,
                                                         std::span<const std::int64_t> reference,
                                                         std::size_t categories, double confidence_level);

/// Rankings of the same subjects by several judges.
struct KendallW {
  std::size_t subjects = 0;
  std::size_t judges = 0;
  double w_uncorrected = 0.0;
  double w = 0.0;  ///< corrected for ties; NaN when every judge ties all subjects
  double chi_square = 0.0;
  double degrees_of_freedom = 0.0;
  double p = 0.0;   ///< of so large a chi_square when judges rank at random
  double se = 0.0;  ///< of w, by leaving out one subject at a time; NaN for fewer than three subjects
  double lower = 0.0;
  double upper = 0.0;
  double sum_squares = 0.0;     ///< of rank_sum about their mean
  double tie_correction = 0.0;  ///< sum over judges and ties of t^3 - t
  std::vector<double> rank_sum;
};

/// Kendall's coefficient of concordance; each judge's grades become ranks, equal ones share their mean rank.
///
/// @param ratings  finite grades or ranks, one row a subject, one column a judge.
/// @throws InvalidInput  fewer than two subjects or judges, no whole rows, a grade that is not finite.
/// @see    cpp/methods/gauge_agreement.md
[[nodiscard]] KendallW kendall_w(std::span<const double> ratings, std::size_t judges, double confidence_level);

/// Rankings against a known order.
struct ReferenceTau {
  std::size_t subjects = 0;
  Agreement tau;              ///< mean of the judges' tau-b with the reference
  std::vector<double> judge;  ///< tau-b of each judge; NaN for a judge who ties all subjects
};

/// Kendall's tau-b of each judge with the reference, and the mean over the judges.
///
/// @param ratings    as in `kendall_w`; one judge is enough.
/// @param reference  finite grade or rank of each subject.
/// @throws InvalidInput  fewer than two subjects, no judge, lengths that differ, a grade that is not finite.
/// @note   NaN when the reference, or a judge, ties all subjects.
[[nodiscard]] ReferenceTau kendall_tau_with_reference(std::span<const double> ratings, std::size_t judges,
                                                      std::span<const double> reference, double confidence_level);

/// A share with its exact interval.
struct Proportion {
  std::size_t count = 0;
  std::size_t total = 0;
  double share = 0.0;  ///< NaN for a total of 0
  double lower = 0.0;  ///< Clopper-Pearson; 0 and 1 for a total of 0
  double upper = 0.0;
};

/// Share of `count` in `total` with the exact binomial interval (Clopper and Pearson).
/// @throws InvalidInput  count above total, a confidence level that is none.
[[nodiscard]] Proportion exact_proportion(std::size_t count, std::size_t total, double confidence_level);

/// How an appraiser's decisions fare against the reference.
struct AppraiserRates {
  Proportion consistent;   ///< subjects judged alike in all trials
  Proportion effective;    ///< subjects judged right in all trials
  Proportion right;        ///< decisions that match the reference
  Proportion miss;         ///< decisions on subjects to reject that accept them
  Proportion false_alarm;  ///< decisions on subjects to accept that reject them
};

/// Rates of one appraiser.
///
/// @param judgements  codes, one row a subject, one column a trial.
/// @param reference   code of each subject.
/// @param rejects     one flag a category: 1 when a subject so judged is rejected.
/// @throws InvalidInput  no subject, no trial, lengths that differ, a code out of range.
/// @note   The intervals of right, miss and false_alarm count every decision by itself; with several trials a subject
///         these are alike, and the intervals then are narrower than they should be. Those of consistent and effective
///         count subjects.
[[nodiscard]] AppraiserRates appraiser_rates(std::span<const std::int64_t> judgements, std::size_t trials,
                                             std::span<const std::int64_t> reference,
                                             std::span<const std::uint8_t> rejects, double confidence_level);

}  // namespace steadyfilm
