#include <doctest/doctest.h>

#include <steadyfilm/chart_subgroup.hpp>

#include <bit>
#include <cmath>
#include <cstdint>
#include <limits>
#include <random>
#include <vector>

#include <steadyfilm/constants.hpp>
#include <steadyfilm/core.hpp>

#include "reference.hpp"

using steadyfilm::subgroup_chart;
using steadyfilm::SubgroupOptions;
using steadyfilm::SubgroupSpread;
using steadyfilm::WithinEstimator;

namespace {

constexpr double none = std::numeric_limits<double>::quiet_NaN();

std::vector<std::size_t> equal_offsets(std::size_t readings, std::size_t size) {
  std::vector<std::size_t> offsets;
  for (std::size_t i = 0; i <= readings; i += size) offsets.push_back(i);
  return offsets;
}

WithinEstimator estimator_named(const std::string& name) {
  if (name == "mean_range") return WithinEstimator::mean_range;
  if (name == "mean_sd") return WithinEstimator::mean_sd;
  return name == "pooled_sd" ? WithinEstimator::pooled_sd : WithinEstimator::pooled_sd_c4;
}

steadyfilm::SubgroupChart chart_of(const reference::Args& args, SubgroupOptions options) {
  const auto values = args.list("values");
  const auto offsets = equal_offsets(values.size(), args.count("subgroup_size"));
  std::vector<std::uint8_t> takes_part(offsets.size() - 1, 1);
  if (args.has("excluded")) {
    for (const double number : args.list("excluded")) takes_part.at(static_cast<std::size_t>(number) - 1) = 0;
  }
  if (args.has("sigma_multiple")) options.sigma_multiple = args.number("sigma_multiple");
  return subgroup_chart(values, offsets, takes_part, options);
}

/// Numbers of the subgroups strictly outside.
reference::List outside(const std::vector<double>& values, const steadyfilm::ControlLimits& limits) {
  reference::List numbers;
  for (std::size_t i = 0; i < values.size(); ++i) {
    if (values[i] < limits.lower || values[i] > limits.upper) numbers.push_back(static_cast<double>(i + 1));
  }
  return numbers;
}

const reference::Register ranges("xbar_r_limits", [](const reference::Args& args) {
  const auto chart = chart_of(args, {});
  steadyfilm::SubgroupLimits lines{.limits = chart.limits, .spread_limits = chart.spread_limits};
  if (args.has("A2")) {
    lines = steadyfilm::subgroup_limits_from_averages(chart.limits.center, chart.within.mean_spread, args.number("A2"),
                                                      args.number("D3"), args.number("D4"));
  }
  const auto beyond = outside(chart.means, lines.limits);
  return reference::Found{.numbers = {{"center", lines.limits.center},
                                      {"mean_range", chart.within.mean_spread},
                                      {"sigma_within", chart.within.sigma_within},
                                      {"lower", lines.limits.lower},
                                      {"upper", lines.limits.upper},
                                      {"range_lower", lines.spread_limits.lower},
                                      {"range_upper", lines.spread_limits.upper},
                                      {"beyond_count", static_cast<double>(beyond.size())}},
                          .lists = {{"beyond", beyond}, {"range_beyond", outside(chart.spreads, lines.spread_limits)}},
                          .words = {}};
});

const reference::Register sds("xbar_s_limits", [](const reference::Args& args) {
  const auto chart = chart_of(args, {.spread = SubgroupSpread::sd, .estimator = WithinEstimator::mean_sd});
  return reference::Found{.numbers = {{"center", chart.limits.center},
                                      {"mean_sd", chart.within.mean_spread},
                                      {"sigma_within", chart.within.sigma_within},
                                      {"lower", chart.limits.lower},
                                      {"upper", chart.limits.upper},
                                      {"sd_lower", chart.spread_limits.lower},
                                      {"sd_upper", chart.spread_limits.upper}},
                          .lists = {{"sd_beyond", outside(chart.spreads, chart.spread_limits)}},
                          .words = {}};
});

const reference::Register within("within_sigma", [](const reference::Args& args) {
  const auto chart = chart_of(args, {.estimator = estimator_named(args.word("estimator"))});
  return reference::Found{.numbers = {{"sigma_within", chart.within.sigma_within}}, .lists = {}, .words = {}};
});

const reference::Register range_averages("xbar_r_limits_from_averages", [](const reference::Args& args) {
  const auto lines = steadyfilm::subgroup_limits_from_averages(args.number("center"), args.number("mean_range"),
                                                               args.number("A2"), args.number("D3"), args.number("D4"));
  return reference::Found{.numbers = {{"lower", lines.limits.lower},
                                      {"upper", lines.limits.upper},
                                      {"range_lower", lines.spread_limits.lower},
                                      {"range_upper", lines.spread_limits.upper}},
                          .lists = {},
                          .words = {}};
});

const reference::Register sd_averages("xbar_s_limits_from_averages", [](const reference::Args& args) {
  const auto lines = steadyfilm::subgroup_limits_from_averages(args.number("center"), args.number("mean_sd"),
                                                               args.number("A3"), args.number("B3"), args.number("B4"));
  return reference::Found{.numbers = {{"lower", lines.limits.lower},
                                      {"upper", lines.limits.upper},
                                      {"sd_lower", lines.spread_limits.lower},
                                      {"sd_upper", lines.spread_limits.upper}},
                          .lists = {},
                          .words = {}};
});

const std::vector<double> nine = {2.0, 2.2, 2.1, 2.3, 1.9, 2.4, 2.0, 2.1, 2.6};
const std::vector<std::size_t> cuts = {0, 2, 5, 9};  // sizes 2, 3, 4

}  // namespace

TEST_CASE("chart_subgroup: a mean adds left to right") {
  // 1e16 + 1 + 1 is 1e16 from the left, 1e16 + 2 from the right.
  const std::vector<double> values = {1e16, 1.0, 1.0, 1.0, 1.0, 1e16};
  std::vector<double> means(2), spread(2);
  steadyfilm::subgroup_means_ranges(values, std::vector<std::size_t>{0, 3, 6}, means, spread);
  CHECK(means[0] == 1e16 / 3.0);
  CHECK(means[1] == (2.0 + 1e16) / 3.0);
  CHECK(std::bit_cast<std::uint64_t>(means[0]) != std::bit_cast<std::uint64_t>(means[1]));
}

TEST_CASE("chart_subgroup: unequal sizes weigh ranges by d2^2 / d3^2 and sds by c4^2 / (1 - c4^2)") {
  const double r[] = {0.2, 0.4, 0.6};
  double top = 0.0, bottom = 0.0, s_top = 0.0, s_bottom = 0.0, squares = 0.0;
  std::vector<double> s(3);
  steadyfilm::subgroup_sds(nine, cuts, s);
  for (std::size_t i = 0; i < 3; ++i) {
    const std::size_t n = i + 2;
    const double d2 = steadyfilm::d2(n), d3 = steadyfilm::d3(n), c4 = steadyfilm::c4(static_cast<double>(n));
    top += d2 * d2 / (d3 * d3) * r[i] / d2;
    bottom += d2 * d2 / (d3 * d3);
    s_top += c4 * c4 / (1.0 - c4 * c4) * s[i] / c4;
    s_bottom += c4 * c4 / (1.0 - c4 * c4);
    squares += static_cast<double>(n - 1) * s[i] * s[i];
  }
  const auto sigma = [](WithinEstimator estimator) {
    return subgroup_chart(nine, cuts, {}, {.estimator = estimator}).within;
  };
  CHECK(sigma(WithinEstimator::mean_range).sigma_within == doctest::Approx(top / bottom).epsilon(1e-13));
  CHECK(sigma(WithinEstimator::mean_sd).sigma_within == doctest::Approx(s_top / s_bottom).epsilon(1e-12));
  CHECK(sigma(WithinEstimator::pooled_sd).sigma_within == doctest::Approx(std::sqrt(squares / 6.0)).epsilon(1e-13));
  CHECK(sigma(WithinEstimator::pooled_sd_c4).sigma_within ==
        doctest::Approx(std::sqrt(squares / 6.0) / steadyfilm::c4(7.0)).epsilon(1e-13));
  CHECK(sigma(WithinEstimator::pooled_sd).degrees_of_freedom == 6.0);
}

TEST_CASE("chart_subgroup: equal sizes have the degrees of freedom of d2*") {
  std::vector<double> values(60);
  std::mt19937_64 random(3);
  std::normal_distribution<double> normal(80.0, 2.0);
  for (double& x : values) x = normal(random);
  const auto chart = subgroup_chart(values, equal_offsets(60, 5), {});
  CHECK(chart.within.degrees_of_freedom ==
        doctest::Approx(steadyfilm::d2_star(12, 5).degrees_of_freedom).epsilon(1e-10));
}

TEST_CASE("chart_subgroup: limits move with the size, a lone reading has no spread") {
  const std::vector<double> values = {2.0, 2.2, 2.1, 2.3, 1.9, 2.4, 2.0, 2.1};
  const auto chart =
      subgroup_chart(values, std::vector<std::size_t>{0, 4, 7, 8}, {}, {.center = 2.0, .sigma_within = 0.1});
  CHECK(chart.upper[0] == doctest::Approx(2.15).epsilon(1e-15));
  CHECK(chart.upper[1] == doctest::Approx(2.0 + 0.3 / std::sqrt(3.0)).epsilon(1e-15));
  CHECK(chart.upper[2] == doctest::Approx(2.3).epsilon(1e-15));
  CHECK(chart.standardized[2] == doctest::Approx(1.0).epsilon(1e-13));
  CHECK(chart.nominal_size == 4);
  CHECK(std::isnan(chart.spreads[2]));
  CHECK(std::isnan(chart.spread_upper[2]));
  CHECK(chart.spread_center[1] == doctest::Approx(0.1 * steadyfilm::d2(3)).epsilon(1e-15));
  CHECK(std::isnan(chart.within.degrees_of_freedom));
}

TEST_CASE("chart_subgroup: an excluded subgroup keeps its figures and moves nothing") {
  const std::vector<double> values = {2.0, 2.2, 9.0, 3.0, 2.1, 2.3};
  const auto chart = subgroup_chart(values, equal_offsets(6, 2), std::vector<std::uint8_t>{1, 0, 1});
  CHECK(chart.limits.center == doctest::Approx(2.15).epsilon(1e-15));
  CHECK(chart.within.mean_spread == doctest::Approx(0.2).epsilon(1e-14));
  CHECK(chart.means[1] == 6.0);
  CHECK(chart.spreads[1] == 6.0);
  CHECK(chart.standardized[1] > 3.0);
  CHECK(chart.count == 4);
  CHECK(chart.within.groups == 2);
}

TEST_CASE("chart_subgroup: standard deviations survive a large offset") {
  std::vector<double> found(1);
  for (const double offset : {0.0, 1e6, 1e12}) {
    const std::vector<double> values = {offset + 1.0, offset + 3.0, offset + 2.0};
    steadyfilm::subgroup_sds(values, std::vector<std::size_t>{0, 3}, found);
    CHECK(found[0] == 1.0);
  }
}

TEST_CASE("chart_subgroup: constant data is an answer") {
  for (const auto estimator : {WithinEstimator::mean_range, WithinEstimator::mean_sd, WithinEstimator::pooled_sd_c4}) {
    const auto chart =
        subgroup_chart(std::vector<double>(7, 0.1), std::vector<std::size_t>{0, 3, 7}, {}, {.estimator = estimator});
    CHECK(chart.within.sigma_within == 0.0);
    CHECK(chart.limits.lower == 0.1);
    CHECK(chart.limits.upper == 0.1);
    CHECK(chart.standardized == std::vector<double>{0.0, 0.0});
    CHECK(chart.spread_standardized == std::vector<double>{0.0, 0.0});
  }
}

TEST_CASE("chart_subgroup: input it cannot use is refused with name, position and value") {
  using steadyfilm::InvalidInput;
  const std::vector<double> four = {2.0, 2.1, 2.2, 2.3};
  const std::vector<std::size_t> pairs = {0, 2, 4};
  CHECK_THROWS_WITH_AS((void)subgroup_chart(std::vector<double>{2.0, none, 2.2, 2.3}, pairs, {}),
                       "subgroup_chart: values[1] is not finite (nan)", InvalidInput);
  CHECK_THROWS_WITH_AS((void)subgroup_chart(four, std::vector<std::size_t>{0, 2, 3}, {}),
                       "subgroup_chart: offsets must rise from 0 to the number of readings, 4", InvalidInput);
  CHECK_THROWS_AS((void)subgroup_chart(four, std::vector<std::size_t>{0, 3, 2, 4}, {}), InvalidInput);
  CHECK_THROWS_AS((void)subgroup_chart(four, std::vector<std::size_t>{}, {}), InvalidInput);
  CHECK_THROWS_WITH_AS((void)subgroup_chart(four, std::vector<std::size_t>{0, 2, 2, 4}, {}),
                       "subgroup_chart: subgroups[1] has no reading and takes part", InvalidInput);
  CHECK_THROWS_AS((void)subgroup_chart(four, std::vector<std::size_t>{0, 1, 2, 3, 4}, {}), InvalidInput);
  CHECK_THROWS_AS((void)subgroup_chart(four, pairs, std::vector<std::uint8_t>{0, 0}), InvalidInput);
  CHECK_THROWS_AS((void)subgroup_chart(four, pairs, std::vector<std::uint8_t>{1}), InvalidInput);
  CHECK_THROWS_AS((void)subgroup_chart(four, pairs, {}, {.sigma_multiple = 0.0}), InvalidInput);
  CHECK_THROWS_AS((void)subgroup_chart(four, pairs, {}, {.sigma_within = -0.1}), InvalidInput);
  CHECK_THROWS_AS((void)subgroup_chart(four, pairs, {}, {.center = none}), InvalidInput);
  const std::vector<double> large = {1e308, 1.5e308, 1e300, -1e300};
  CHECK_THROWS_WITH_AS((void)subgroup_chart(large, pairs, {}),
                       "subgroup_chart: mean of subgroups[0] is not finite (inf)", InvalidInput);
  CHECK_THROWS_AS((void)subgroup_chart(std::vector<double>{1e300, -1e300, 1.0, 2.0}, pairs, {},
                                       {.spread = SubgroupSpread::sd, .estimator = WithinEstimator::mean_sd}),
                  InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::within_sigma(pairs, std::vector<double>{0.1}, {}, WithinEstimator::mean_range),
                  InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::subgroup_limits_from_averages(1.0, -1.0, 0.5, 0.0, 2.0), InvalidInput);
}
