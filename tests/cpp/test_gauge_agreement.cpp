#include <doctest/doctest.h>

#include <steadyfilm/gauge_agreement.hpp>

#include <algorithm>
#include <cmath>
#include <limits>
#include <vector>

#include <steadyfilm/core.hpp>

#include "reference.hpp"

namespace {

using Counts = std::vector<std::int64_t>;

Counts as_counts(const reference::Matrix& matrix) {
  Counts out;
  for (const auto& row : matrix) {
    for (const double x : row) out.push_back(static_cast<std::int64_t>(x));
  }
  return out;
}

reference::List flat(const reference::Matrix& matrix) {
  reference::List out;
  for (const auto& row : matrix) out.insert(out.end(), row.begin(), row.end());
  return out;
}

const reference::Register cohen("cohen_kappa", [](const reference::Args& args) {
  const auto table = args.matrix("table");
  const auto weights = args.has("disagreement_weights") ? flat(args.matrix("disagreement_weights")) : reference::List{};
  const auto found = steadyfilm::cohen_kappa(as_counts(table), table.size(), args.number("confidence_level"), weights);
  return reference::Found{.numbers = {{"kappa", found.kappa.value},
                                      {"observed_agreement", found.observed_agreement},
                                      {"expected_agreement", found.expected_agreement},
                                      {"se", found.kappa.se},
                                      {"se_null", found.kappa.se_null},
                                      {"z", found.kappa.z},
                                      {"se_cohen_1960", found.se_cohen_1960},
                                      {"lower", found.kappa.lower},
                                      {"upper", found.kappa.upper}},
                          .lists = {},
                          .words = {}};
});

const reference::Register ratings("cohen_kappa_ratings", [](const reference::Args& args) {
  const auto one = args.list("rater_1"), two = args.list("rater_2");
  auto used = one;
  used.insert(used.end(), two.begin(), two.end());
  std::sort(used.begin(), used.end());
  used.erase(std::unique(used.begin(), used.end()), used.end());
  const auto codes = [&](const reference::List& values) {
    Counts out;
    for (const double x : values) out.push_back(std::lower_bound(used.begin(), used.end(), x) - used.begin());
    return out;
  };
  const auto table = steadyfilm::agreement_table(codes(one), codes(two), used.size());
  const auto found = steadyfilm::cohen_kappa(table, used.size(), args.number("confidence_level"));
  return reference::Found{
      .numbers = {{"kappa", found.kappa.value}, {"z", found.kappa.z}, {"p", found.kappa.p}}, .lists = {}, .words = {}};
});

const reference::Register fleiss("fleiss_kappa", [](const reference::Args& args) {
  const auto counts = args.matrix("counts");
  const auto found = steadyfilm::fleiss_kappa(as_counts(counts), counts[0].size(), 0.95);
  reference::List category;
  for (const auto& one : found.category) category.push_back(one.value);
  return reference::Found{.numbers = {{"kappa", found.kappa.value},
                                      {"observed_agreement", found.observed_agreement},
                                      {"expected_agreement", found.expected_agreement},
                                      {"se_null", found.kappa.se_null},
                                      {"z", found.kappa.z},
                                      {"se_1971", found.se_1971},
                                      {"z_1971", found.z_1971},
                                      {"se_category", found.category[0].se_null},
                                      {"kappa_free_marginal", found.kappa_free_marginal}},
                          .lists = {{"kappa_category", category}},
                          .words = {}};
});

const reference::Register kendall("kendall_w", [](const reference::Args& args) {
  const auto rows = args.matrix("ratings");
  const auto found = steadyfilm::kendall_w(flat(rows), rows[0].size(), 0.95);
  return reference::Found{.numbers = {{"w_uncorrected", found.w_uncorrected},
                                      {"w", found.w},
                                      {"chi_square", found.chi_square},
                                      {"df", found.degrees_of_freedom},
                                      {"p", found.p}},
                          .lists = {{"rank_sum", found.rank_sum}},
                          .words = {}};
});

}  // namespace

TEST_CASE("gauge agreement: renaming categories or swapping judges changes nothing") {
  const auto one = steadyfilm::cohen_kappa(Counts{20, 3, 1, 4, 15, 2, 0, 5, 10}, 3, 0.9);
  const auto swapped = steadyfilm::cohen_kappa(Counts{20, 4, 0, 3, 15, 5, 1, 2, 10}, 3, 0.9);
  const auto renamed = steadyfilm::cohen_kappa(Counts{10, 5, 0, 2, 15, 4, 1, 3, 20}, 3, 0.9);
  for (const auto& other : {swapped, renamed}) {
    CHECK(other.kappa.value == doctest::Approx(one.kappa.value).epsilon(1e-14));
    CHECK(other.kappa.se == doctest::Approx(one.kappa.se).epsilon(1e-13));
    CHECK(other.kappa.se_null == doctest::Approx(one.kappa.se_null).epsilon(1e-13));
  }
}

TEST_CASE("gauge agreement: weights that are all alike are no weights, and their size does not matter") {
  const Counts table = {20, 3, 1, 4, 15, 2, 0, 5, 10};
  const std::vector<double> alike = {0.0, 2.5, 2.5, 2.5, 0.0, 2.5, 2.5, 2.5, 0.0};
  CHECK(steadyfilm::cohen_kappa(table, 3, 0.95, alike).kappa.value ==
        doctest::Approx(steadyfilm::cohen_kappa(table, 3, 0.95).kappa.value));
  auto squares = steadyfilm::distance_weights(3, 2.0);
  CHECK(squares == std::vector<double>{0.0, 1.0, 4.0, 1.0, 0.0, 1.0, 4.0, 1.0, 0.0});
  const double once = steadyfilm::cohen_kappa(table, 3, 0.95, squares).kappa.se;
  for (double& x : squares) x *= 7.0;
  CHECK(steadyfilm::cohen_kappa(table, 3, 0.95, squares).kappa.se == doctest::Approx(once).epsilon(1e-13));
}

TEST_CASE("gauge agreement: full agreement is 1 with nothing left to chance") {
  const auto found = steadyfilm::cohen_kappa(Counts{7, 0, 0, 5}, 2, 0.95);
  CHECK(found.kappa.value == 1.0);
  CHECK(found.kappa.se == doctest::Approx(0.0));
  CHECK(found.kappa.lower == doctest::Approx(1.0));
  CHECK(steadyfilm::fleiss_kappa(Counts{3, 0, 0, 3, 3, 0}, 2, 0.95).kappa.value == doctest::Approx(1.0));
  const std::vector<double> order = {1, 1, 2, 2, 3, 3};
  CHECK(steadyfilm::kendall_w(order, 2, 0.95).w == 1.0);
  CHECK(steadyfilm::kendall_tau_with_reference(order, 2, std::vector<double>{5.0, 6.0, 9.0}, 0.95).tau.value == 1.0);
}

TEST_CASE("gauge agreement: one category in use leaves kappa undefined") {
  for (const std::size_t categories : {2U, 3U}) {
    Counts table(categories * categories, 0);
    table[0] = 9;
    const auto found = steadyfilm::cohen_kappa(table, categories, 0.95);
    CHECK(found.observed_agreement == 1.0);
    CHECK(std::isnan(found.kappa.value));
    CHECK(std::isnan(found.kappa.lower));
  }
  const auto fleiss_one = steadyfilm::fleiss_kappa(Counts{3, 0, 3, 0}, 2, 0.95);
  CHECK(std::isnan(fleiss_one.kappa.value));
  CHECK(std::isnan(fleiss_one.category[0].value));
  CHECK(std::isnan(fleiss_one.se_1971));
  // A judge with one category against one with two: kappa can only be 0, and no test is possible.
  const auto half = steadyfilm::cohen_kappa(Counts{5, 0, 3, 0}, 2, 0.95);
  CHECK(half.kappa.value == doctest::Approx(0.0));
  CHECK(half.kappa.se_null == 0.0);
  CHECK(std::isnan(half.kappa.z));
  CHECK(std::isnan(half.kappa.lower));
  CHECK(std::isnan(half.kappa.lower));
  // A category that nobody used says nothing about itself, and the others stand.
  const auto unused = steadyfilm::fleiss_kappa(Counts{2, 1, 0, 0, 3, 0}, 3, 0.95);
  CHECK(std::isnan(unused.category[2].value));
  CHECK(unused.category[0].value == doctest::Approx(unused.kappa.value));
}

TEST_CASE("gauge agreement: two categories have one kappa, whichever is looked at") {
  const auto found = steadyfilm::fleiss_kappa(Counts{4, 0, 3, 1, 1, 3, 0, 4, 2, 2}, 2, 0.95);
  for (const auto& one : found.category) {
    CHECK(one.value == doctest::Approx(found.kappa.value));
    CHECK(one.se_null == doctest::Approx(found.kappa.se_null));
    CHECK(one.se == doctest::Approx(found.kappa.se));
  }
}

TEST_CASE("gauge agreement: a judge who equals the reference agrees fully, one who is its opposite not at all") {
  const Counts known = {0, 1, 0, 1};
  const auto found =
      steadyfilm::fleiss_kappa_with_reference(Counts{0, 1, 1, 0, 0, 1, 1, 0}, known, 2, 0.95);  // two judges
  CHECK(found.judge[0] == doctest::Approx(1.0));
  CHECK(found.judge[1] == doctest::Approx(-1.0));
  CHECK(found.kappa.value == doctest::Approx(0.0));
  CHECK(std::isnan(steadyfilm::fleiss_kappa_with_reference(Counts{0, 0}, Counts{0, 0}, 2, 0.95).kappa.value));
}

TEST_CASE("gauge agreement: ties of all judges leave concordance undefined") {
  const std::vector<double> same = {1, 1, 1, 1, 1, 1};
  CHECK(std::isnan(steadyfilm::kendall_w(same, 2, 0.95).w));
  CHECK(steadyfilm::kendall_w(same, 2, 0.95).w_uncorrected == 0.0);
  CHECK(std::isnan(steadyfilm::kendall_tau_with_reference(same, 2, std::vector<double>{1, 2, 3}, 0.95).tau.value));
  CHECK(std::isnan(steadyfilm::kendall_w(std::vector<double>{1, 1, 2, 2}, 2, 0.95).se));  // two subjects
}

TEST_CASE("gauge agreement: rates of an appraiser, counted by hand") {
  // Categories: 0 good, 1 touch up (rejected), 2 strip (rejected). Four panels, two trials.
  const Counts judged = {0, 0, 1, 2, 2, 2, 0, 1};
  const Counts known = {0, 1, 2, 0};
  const std::vector<std::uint8_t> rejects = {0, 1, 1};
  const auto found = steadyfilm::appraiser_rates(judged, 2, known, rejects, 0.95);
  CHECK(found.consistent.count == 2);
  CHECK(found.effective.count == 2);
  CHECK(found.right.count == 6);
  CHECK(found.right.total == 8);
  CHECK(found.miss.count == 0);  // "strip" in place of "touch up" is wrong, yet no miss
  CHECK(found.miss.total == 4);
  CHECK(found.false_alarm.count == 1);
  CHECK(found.false_alarm.total == 4);
}

TEST_CASE("gauge agreement: exact intervals at the ends in closed form") {
  const auto nothing = steadyfilm::exact_proportion(0, 59, 0.90);
  CHECK(nothing.lower == 0.0);
  CHECK(nothing.upper == doctest::Approx(1.0 - std::pow(0.05, 1.0 / 59.0)).epsilon(1e-12));
  const auto all = steadyfilm::exact_proportion(59, 59, 0.90);
  CHECK(all.lower == doctest::Approx(1.0 - nothing.upper).epsilon(1e-12));
  CHECK(all.upper == 1.0);
  const auto empty = steadyfilm::exact_proportion(0, 0, 0.95);
  CHECK(std::isnan(empty.share));
  CHECK(empty.upper == 1.0);
}

TEST_CASE("gauge agreement: input it cannot use is refused with name, position and value") {
  using steadyfilm::InvalidInput;
  const double nan = std::numeric_limits<double>::quiet_NaN();
  CHECK_THROWS_WITH_AS((void)steadyfilm::cohen_kappa(Counts{1, -2, 3, 4}, 2, 0.95),
                       "cohen_kappa: table[1] is negative (-2)", InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::cohen_kappa(Counts{1, 2, 3}, 2, 0.95), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::cohen_kappa(Counts{4}, 1, 0.95), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::cohen_kappa(Counts{0, 0, 0, 0}, 2, 0.95), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::cohen_kappa(Counts{1, 2, 3, 4}, 2, 1.0), InvalidInput);
  const std::vector<double> diagonal = {1, 1, 1, 0}, negative = {0, -1, 1, 0}, zero = {0, 0, 0, 0};
  for (const auto& weights : {diagonal, negative, zero}) {
    CHECK_THROWS_AS((void)steadyfilm::cohen_kappa(Counts{1, 2, 3, 4}, 2, 0.95, weights), InvalidInput);
  }
  CHECK_THROWS_AS((void)steadyfilm::agreement_table(Counts{0, 1}, Counts{0}, 2), InvalidInput);
  CHECK_THROWS_WITH_AS((void)steadyfilm::agreement_table(Counts{0, 2}, Counts{0, 1}, 2),
                       "agreement_table: judge_1[1] must be a code from 0 to 2 - 1, got 2", InvalidInput);
  CHECK_THROWS_WITH_AS((void)steadyfilm::fleiss_kappa(Counts{3, 0, 2, 0}, 2, 0.95),
                       "fleiss_kappa: counts must have the same sum in every row: row 0 has 3, row 1 has 2",
                       InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::fleiss_kappa(Counts{1, 0, 0, 1}, 2, 0.95), InvalidInput);  // one judge
  CHECK_THROWS_AS((void)steadyfilm::fleiss_kappa(Counts{}, 2, 0.95), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::fleiss_kappa_with_reference(Counts{}, Counts{}, 2, 0.95), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::fleiss_kappa_with_reference(Counts{0, 1, 1}, Counts{0, 1}, 2, 0.95), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::kendall_w(std::vector<double>{1, 2, 3}, 1, 0.95), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::kendall_w(std::vector<double>{1, 2}, 2, 0.95), InvalidInput);
  CHECK_THROWS_WITH_AS((void)steadyfilm::kendall_w(std::vector<double>{1, 2, nan, 4}, 2, 0.95),
                       "kendall_w: ratings[2] is not finite (nan)", InvalidInput);
  CHECK_THROWS_AS(
      (void)steadyfilm::kendall_tau_with_reference(std::vector<double>{1, 2}, 1, std::vector<double>{1}, 0.9),
      InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::exact_proportion(3, 2, 0.95), InvalidInput);
  const std::vector<std::uint8_t> rejects = {0, 1};
  CHECK_THROWS_AS((void)steadyfilm::appraiser_rates(Counts{0, 1}, 0, Counts{0, 1}, rejects, 0.95), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::appraiser_rates(Counts{0, 1}, 2, Counts{0, 1}, rejects, 0.95), InvalidInput);
}
