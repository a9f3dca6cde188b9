#include <doctest/doctest.h>

#include <steadyfilm/gauge_bias.hpp>

#include <cmath>
#include <limits>
#include <vector>

#include <steadyfilm/core.hpp>

#include "reference.hpp"

namespace {

using steadyfilm::OffsetEvidence;
using steadyfilm::OffsetVerdict;

const reference::Register range_method("bias_range_method", [](const reference::Args& args) {
  const auto found =
      steadyfilm::bias_range_test(args.list("values"), args.number("reference"), args.number("confidence_level"),
                                  {.d2 = args.number("d2"),
                                   .d2_star = args.number("d2_star"),
                                   .degrees_of_freedom = args.number("degrees_of_freedom")});
  return reference::Found{.numbers = {{"mean", found.mean},
                                      {"sigma_repeatability", found.sigma_repeatability},
                                      {"sigma_bias", found.sigma_bias},
                                      {"t", found.t},
                                      {"t_critical", found.t_critical},
                                      {"lower", found.lower},
                                      {"upper", found.upper},
                                      {"bias", found.bias},
                                      {"range", found.range}},
                          .lists = {},
                          .words = {}};
});

const reference::Register t_test("bias_t_test", [](const reference::Args& args) {
  const auto found =
      steadyfilm::bias_test(args.list("values"), args.number("reference"), args.number("confidence_level"));
  return reference::Found{.numbers = {{"mean", found.mean},
                                      {"bias", found.bias},
                                      {"sd", found.sd},
                                      {"sigma_bias", found.sigma_bias},
                                      {"t", found.t},
                                      {"p", found.p},
                                      {"lower", found.lower},
                                      {"upper", found.upper}},
                          .lists = {},
                          .words = {}};
});

const reference::Register linearity("linearity", [](const reference::Args& args) {
  const auto found =
      steadyfilm::bias_linearity(args.list("values"), args.list("reference"), args.number("confidence_level"));
  return reference::Found{.numbers = {{"slope", found.slope},
                                      {"intercept", found.intercept},
                                      {"t_slope", found.t_slope},
                                      {"t_intercept", found.t_intercept},
                                      {"r_squared", found.r_squared},
                                      {"t_critical", found.t_critical},
                                      {"residual_sd", found.residual_sd},
                                      {"se_slope", found.se_slope},
                                      {"se_intercept", found.se_intercept},
                                      {"p_slope", found.p_slope},
                                      {"p_intercept", found.p_intercept}},
                          .lists = {{"bias_mean", found.bias_mean},
                                    {"band_fit", found.band_fit},
                                    {"band_lower", found.band_lower},
                                    {"band_upper", found.band_upper}},
                          .words = {}};
});

const reference::Register single_part("single_part_study", [](const reference::Args& args) {
  const auto found = steadyfilm::single_part_study(args.list("values"), args.number("reference"),
                                                   {.tolerance_width = args.number("tolerance_width"),
                                                    .tolerance_share = args.number("tolerance_share"),
                                                    .sigma_spread = args.number("sigma_spread")});
  return reference::Found{.numbers = {{"cg", found.cg},
                                      {"cgk", found.cgk},
                                      {"mean", found.mean},
                                      {"sd", found.sd},
                                      {"bias", found.bias},
                                      {"t", found.t},
                                      {"p", found.p},
                                      {"minimum_tolerance", found.minimum_tolerance},
                                      {"pct_variation", found.pct_variation}},
                          .lists = {},
                          .words = {}};
});

const reference::Register limit("verification_limit", [](const reference::Args& args) {
  const double percent = steadyfilm::verification_limit(args.number("gauge_percent"), args.number("shim_percent"));
  return reference::Found{.numbers = {{"percent", percent}}, .lists = {}, .words = {}};
});

const reference::Register comparison("gauge_comparison", [](const reference::Args& args) {
  const auto found =
      steadyfilm::compare_gauges(args.list("first"), args.list("second"),
                                 {.margin = args.number("margin"), .agreement_share = args.number("agreement_share")});
  return reference::Found{.numbers = {{"mean_difference", found.mean_difference},
                                      {"sd", found.sd},
                                      {"agreement_lower", found.agreement_lower.value},
                                      {"agreement_upper", found.agreement_upper.value}},
                          .lists = {},
                          .words = {}};
});

const std::vector<double> readings = {5.8, 5.7, 5.9, 5.9, 6.0, 6.1, 6.0};

}  // namespace

TEST_CASE("gauge bias: moving readings and reference together moves nothing but the mean") {
  const auto one = steadyfilm::bias_test(readings, 6.0, 0.9);
  std::vector<double> moved;
  for (const double x : readings) moved.push_back(x + 1024.0);
  const auto two = steadyfilm::bias_test(moved, 1030.0, 0.9);
  CHECK(two.bias == doctest::Approx(one.bias).epsilon(1e-10));
  CHECK(two.p == doctest::Approx(one.p).epsilon(1e-9));
  CHECK(two.lower == doctest::Approx(one.lower).epsilon(1e-10));
}

TEST_CASE("gauge bias: an uncertain reference widens the interval, with more degrees of freedom") {
  const auto sure = steadyfilm::bias_test(readings, 6.0, 0.95);
  const auto unsure = steadyfilm::bias_test(readings, 6.0, 0.95, sure.sigma_bias);
  CHECK(unsure.sigma_bias == doctest::Approx(std::sqrt(2.0) * sure.sigma_bias));
  CHECK(unsure.degrees_of_freedom == doctest::Approx(4.0 * sure.degrees_of_freedom));
}

TEST_CASE("gauge bias: equal readings are an answer") {
  const std::vector<double> same = {6.1, 6.1, 6.1};
  const auto off = steadyfilm::bias_test(same, 6.0, 0.95);
  CHECK(off.lower == doctest::Approx(0.1));
  CHECK(off.upper == off.lower);
  CHECK(std::isinf(off.t));
  CHECK(off.p == 0.0);
  CHECK(std::isnan(steadyfilm::bias_test(same, 6.1, 0.95).p));
  const auto study =
      steadyfilm::single_part_study(same, 6.0, {.tolerance_width = 1.0, .tolerance_share = 0.2, .sigma_spread = 6.0});
  CHECK(std::isinf(study.cg));
  CHECK(steadyfilm::bias_range_test(same, 6.0, 0.95).range == 0.0);
}

TEST_CASE("gauge bias: the range method takes its own constants when none are given") {
  const auto given =
      steadyfilm::bias_range_test(std::vector<double>{1.0, 2.0}, 1.0, 0.95,
                                  {.d2 = 2.0 / std::sqrt(3.14159265358979324), .d2_star = std::sqrt(2.0)});
  const auto own = steadyfilm::bias_range_test(std::vector<double>{1.0, 2.0}, 1.0, 0.95);
  CHECK(own.d2 == doctest::Approx(given.d2).epsilon(1e-13));
  CHECK(own.d2_star == doctest::Approx(given.d2_star).epsilon(1e-13));
  CHECK(own.sigma_repeatability == doctest::Approx(1.0 / std::sqrt(2.0)));
  CHECK(own.degrees_of_freedom == doctest::Approx(1.0).epsilon(1e-6));  // of two readings: exactly one
}

TEST_CASE("gauge linearity: a pure gain error is found with its size, and where it matters") {
  const std::vector<double> reference = {1.0, 1.0, 2.0, 2.0, 3.0, 3.0};
  std::vector<double> values;
  for (std::size_t i = 0; i < reference.size(); ++i)
    values.push_back(1.03 * reference[i] + (i % 2 == 0 ? 0.03 : -0.03));
  const auto found = steadyfilm::bias_linearity(values, reference, 0.95);
  CHECK(found.slope == doctest::Approx(0.03));
  CHECK(found.intercept == doctest::Approx(0.0).epsilon(1e-9));
  REQUIRE(found.biased.size() == 1);
  CHECK(found.biased[0].side == 1);
  CHECK(found.biased[0].to == 3.0);
  // At the edge of the stretch the band touches zero.
  const double x = found.biased[0].from;
  const double half =
      found.t_critical * found.residual_sd * std::sqrt(1.0 / 6.0 + (x - 2.0) * (x - 2.0) / found.sum_squares_reference);
  CHECK(found.intercept + found.slope * x == doctest::Approx(half).epsilon(1e-9));
}

TEST_CASE("gauge linearity: readings on a line, and readings without any bias") {
  const std::vector<double> reference = {1.0, 2.0, 4.0};
  const auto line = steadyfilm::bias_linearity(std::vector<double>{1.5, 2.0, 3.0}, reference, 0.95);
  CHECK(line.residual_sd == 0.0);
  CHECK(line.r_squared == doctest::Approx(1.0));
  CHECK(std::isinf(line.t_slope));
  REQUIRE(line.biased.size() == 2);  // high below 2, low above
  CHECK(line.biased[0].side == 1);
  CHECK(line.biased[0].to == doctest::Approx(2.0));
  CHECK(line.biased[1].side == -1);
  const auto none = steadyfilm::bias_linearity(reference, reference, 0.95);
  CHECK(none.slope == 0.0);
  CHECK(std::isnan(none.p_slope));
  CHECK(std::isnan(none.r_squared));
  CHECK(none.biased.empty());
}

TEST_CASE("gauge checks: a limit that is met exactly is met") {
  CHECK(steadyfilm::verification_limit(3.0, 4.0) == 5.0);
  const double five_percent = 0.05 * 2.0;
  CHECK(2.1 - 2.0 > five_percent);  // what plain doubles say
  CHECK(steadyfilm::check_standard(std::vector<double>{2.1}, 2.0, five_percent).passes);
  CHECK_FALSE(steadyfilm::check_standard(std::vector<double>{2.1001}, 2.0, five_percent).passes);
  CHECK(steadyfilm::check_standard(std::vector<double>{1.9}, 2.0, five_percent).passes);
  const std::vector<double> spread = {2.0, 2.2};
  CHECK(steadyfilm::check_standard(spread, 2.0, five_percent).passes);
  CHECK_FALSE(steadyfilm::check_standard(spread, 2.0, five_percent, true).passes);
  CHECK(steadyfilm::check_standard(spread, 2.0, five_percent).worst_deviation == doctest::Approx(0.2));
}

TEST_CASE("gauge comparison: swapping the gauges turns every sign, and keeps the verdict") {
  const std::vector<double> one = {1.02, 2.11, 2.98, 4.07, 5.01}, two = {1.00, 2.05, 3.00, 4.01, 5.02};
  const auto there = steadyfilm::compare_gauges(one, two, {.margin = 0.1});
  const auto back = steadyfilm::compare_gauges(two, one, {.margin = 0.1});
  CHECK(back.mean_difference == doctest::Approx(-there.mean_difference));
  CHECK(back.agreement_lower.lower == doctest::Approx(-there.agreement_upper.upper));
  CHECK(back.p_lower == doctest::Approx(there.p_upper));
  CHECK(back.slope == doctest::Approx(-there.slope));
  CHECK(there.equivalent == back.equivalent);
  const bool within = there.equivalence_lower > -0.1 && there.equivalence_upper < 0.1;
  CHECK(there.equivalent == within);
}

TEST_CASE("gauge comparison: differences without spread") {
  const std::vector<double> one = {1.0, 2.0, 3.0}, two = {0.75, 1.75, 2.75};
  CHECK(steadyfilm::compare_gauges(one, two, {.margin = 0.3}).equivalent);
  CHECK_FALSE(steadyfilm::compare_gauges(one, two, {.margin = 0.2}).equivalent);
  CHECK_FALSE(steadyfilm::compare_gauges(one, two, {.margin = 0.25}).equivalent);  // on the margin is not inside
  const std::vector<double> alike = {2.0, 2.0, 2.0};
  CHECK(std::isnan(steadyfilm::compare_gauges(alike, alike, {.margin = 0.1}).slope));
}

TEST_CASE("common offset: every row of the table of signatures") {
  const auto of = [](double first, double total) {
    return steadyfilm::diagnose_offset(
               {.first_shift = first, .first_uncertainty = 0.02, .total_shift = total, .total_uncertainty = 0.03})
        .verdict;
  };
  CHECK(of(0.15, 0.16) == OffsetVerdict::gauge_or_film);
  CHECK(of(-0.15, -0.16) == OffsetVerdict::gauge_or_film);
  CHECK(of(0.0, 0.15) == OffsetVerdict::upper_layer);
  CHECK(of(0.15, 0.0) == OffsetVerdict::first_reading);
  CHECK(of(0.15, 0.40) == OffsetVerdict::mixed);
  CHECK(of(0.15, -0.15) == OffsetVerdict::mixed);
  CHECK(of(0.01, 0.02) == OffsetVerdict::no_shift);
}

TEST_CASE("common offset: what is known of the gauge decides") {
  OffsetEvidence given{.first_shift = 0.15, .first_uncertainty = 0.01, .total_shift = 0.15, .total_uncertainty = 0.02};
  const auto with = [&](double deviation, double uncertainty) {
    given.gauge_deviation = {deviation};
    given.gauge_uncertainty = {uncertainty};
    return steadyfilm::diagnose_offset(given).verdict;
  };
  CHECK(with(0.149, 0.005) == OffsetVerdict::zero_error);
  CHECK(with(0.0, 0.005) == OffsetVerdict::film);
  CHECK(with(0.06, 0.005) == OffsetVerdict::gauge_in_part);
  CHECK(with(0.05, 0.1) == OffsetVerdict::undecided);
  given.gauge_deviation = {0.14, 0.16, 0.9};
  given.gauge_uncertainty = {0.01, 0.01, 1.0};
  const auto pooled = steadyfilm::diagnose_offset(given);
  CHECK(pooled.gauge_error == doctest::Approx((0.14 + 0.16 + 0.9e-4) / (2.0 + 1e-4)));
  given.gauge_uncertainty = {0.01, 0.0, 1.0};
  CHECK(steadyfilm::diagnose_offset(given).gauge_error == 0.16);
}

TEST_CASE("common offset: the best common value weighs both shifts by what they are known to") {
  const auto found = steadyfilm::diagnose_offset(
      {.first_shift = 0.10, .first_uncertainty = 0.01, .total_shift = 0.13, .total_uncertainty = 0.02});
  CHECK(found.offset == doctest::Approx((0.10 / 1e-4 + 0.13 / 4e-4) / (1.0 / 1e-4 + 1.0 / 4e-4)));
  CHECK(found.offset_uncertainty == doctest::Approx(1.0 / std::sqrt(1.0 / 1e-4 + 1.0 / 4e-4)));
  // Shifts known exactly that differ in their last bits only are one shift.
  const auto exact = steadyfilm::diagnose_offset({.first_shift = 0.1 + 0.2, .total_shift = 0.3});
  CHECK(exact.verdict == OffsetVerdict::gauge_or_film);
}

TEST_CASE("gauge bias: input it cannot use is refused with name, position and value") {
  using steadyfilm::InvalidInput;
  const double nan = std::numeric_limits<double>::quiet_NaN();
  const std::vector<double> one = {1.0}, two = {1.0, 2.0}, three = {1.0, 2.0, 3.0};
  CHECK_THROWS_WITH_AS((void)steadyfilm::bias_test(std::vector<double>{80.0, nan}, 80.0, 0.95),
                       "bias_test: values[1] is not finite (nan)", InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::bias_test(one, 1.0, 0.95), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::bias_test(two, 1.0, 1.0), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::bias_test(two, 1.0, 0.95, -0.1), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::bias_range_test(two, 1.0, 0.95, {.d2 = 0.0}), InvalidInput);
  CHECK_THROWS_WITH_AS((void)steadyfilm::bias_linearity(three, std::vector<double>{2.0, 2.0, 2.0}, 0.95),
                       "bias_linearity: reference holds one value only (2): a line needs two or more; one value has a "
                       "bias test",
                       InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::bias_linearity(three, two, 0.95), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::bias_linearity(two, two, 0.95), InvalidInput);
  CHECK_THROWS_WITH_AS((void)steadyfilm::single_part_study(
                           two, 1.0, {.tolerance_width = 1.0, .tolerance_share = 20.0, .sigma_spread = 6.0}),
                       "single_part_study: tolerance_share must be at most 1 (0.2 for 20 %), got 20", InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::single_part_study(two, 1.0, {.tolerance_width = 1.0, .tolerance_share = 0.2}),
                  InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::verification_limit(-1.0, 5.0), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::check_standard(std::vector<double>{}, 2.0, 0.1), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::compare_gauges(three, three, {}), InvalidInput);  // no margin
  CHECK_THROWS_AS((void)steadyfilm::compare_gauges(three, two, {.margin = 0.1}), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::compare_gauges(two, two, {.margin = 0.1}), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::diagnose_offset({.first_uncertainty = -0.1}), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::diagnose_offset({.correlation = 1.5}), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::diagnose_offset({.gauge_deviation = {0.1}}), InvalidInput);
}
