#include <doctest/doctest.h>

#include <steadyfilm/chart_nested.hpp>

#include <cmath>
#include <limits>
#include <random>
#include <vector>

#include <steadyfilm/chart_subgroup.hpp>
#include <steadyfilm/constants.hpp>
#include <steadyfilm/core.hpp>
#include <steadyfilm/variance_components.hpp>

#include "reference.hpp"

using steadyfilm::InsideSpread;
using steadyfilm::nested_chart;
using steadyfilm::NestedOptions;

namespace {

constexpr double none = std::numeric_limits<double>::quiet_NaN();

const reference::Register limits("nested_limits", [](const reference::Args& args) {
  NestedOptions options;
  options.spread = InsideSpread::range;
  options.sigma_multiple = args.number("sigma_multiple");
  const auto found = nested_chart(args.list("values"), 1, args.count("subgroup_size"), {}, {}, options);
  return reference::Found{.numbers = {{"center", found.average.limits.center},
                                      {"lower", found.average.limits.lower},
                                      {"upper", found.average.limits.upper},
                                      {"mean_range", found.spread_sum / static_cast<double>(found.spread_count)},
                                      {"mean_moving_range", found.average.mean_moving_range},
                                      {"moving_range_upper", found.average.moving_range_limits.upper},
                                      {"range_upper", found.spread_limits.upper},
                                      {"range_lower", found.spread_limits.lower},
                                      {"sigma_mean", found.average.sigma_within},
                                      {"sigma_within", found.sigma_inside},
                                      {"sigma_between", found.sigma_between},
                                      {"sigma_total", found.sigma_total}},
                          .lists = {},
                          .words = {}};
});

const reference::Register anova("nested_sigma_anova", [](const reference::Args& args) {
  const auto values = args.list("values");
  const std::size_t size = args.count("subgroup_size");
  const auto found = steadyfilm::nested_components(values, std::vector<std::size_t>{values.size() / size, size});
  return reference::Found{.numbers = {{"ms_between", found.lines[0].mean_square},
                                      {"ms_within", found.lines[1].mean_square},
                                      {"sigma_between", found.components[0].sd},
                                      {"sigma_within", found.components[1].sd}},
                          .lists = {},
                          .words = {}};
});

const reference::Register false_alarm("nested_false_alarm", [](const reference::Args& args) {
  const auto found = steadyfilm::nested_false_alarm(args.number("sigma_unit_mil"), args.number("sigma_location_mil"),
                                                    args.number("sigma_repeat_mil"), args.count("location_count"),
                                                    args.count("readings_per_location"));
  return reference::Found{.numbers = {{"false_alarm_probability", found.false_alarm_probability},
                                      {"limit_sigma_multiple", found.limit_sigma_multiple}},
                          .lists = {},
                          .words = {}};
});

std::vector<double> bodies(std::size_t units, unsigned seed) {
  std::mt19937_64 random(seed);
  std::normal_distribution<double> normal;
  std::vector<double> out;
  for (std::size_t u = 0; u < units; ++u) {
    const double unit = 0.09 * normal(random);
    for (std::size_t l = 0; l < 5; ++l) {
      const double place = 2.1 + 0.1 * static_cast<double>(l) + unit + 0.13 * normal(random);
      for (std::size_t k = 0; k < 3; ++k) out.push_back(place + 0.05 * normal(random));
    }
  }
  return out;
}

}  // namespace

TEST_CASE("chart_nested: the location pattern is removed before the spread is taken") {
  // Two places with means 2 and 6 (estimated) or 3 and 5 (given); one reading each.
  const std::vector<double> values = {1, 5, 3, 7, 2, 6};
  const auto own = nested_chart(values, 2, 1, {}, {});
  CHECK(own.location_means == std::vector<double>{2, 6});
  CHECK(own.averages == std::vector<double>{3, 5, 4});
  CHECK(own.spreads == std::vector<double>{0, 0, 0});
  CHECK(own.sigma_inside == 0.0);
  NestedOptions options;
  options.location_means = {3, 5};
  const auto given = nested_chart(values, 2, 1, {}, {}, options);
  for (const double spread : given.spreads) CHECK(spread == doctest::Approx(std::sqrt(2.0)).epsilon(1e-15));
  CHECK(given.own_mean_factor == 1.0);
  options.spread = InsideSpread::range;
  CHECK(nested_chart(values, 2, 1, {}, {}, options).spreads == std::vector<double>{2, 2, 2});
}

TEST_CASE("chart_nested: without locations the range panel is that of a subgroup chart, averages are single values") {
  const auto values = bodies(12, 5);
  NestedOptions options;
  options.spread = InsideSpread::range;
  const auto found = nested_chart(values, 1, 15, {}, {}, options);
  std::vector<std::size_t> offsets;
  for (std::size_t i = 0; i <= 12; ++i) offsets.push_back(15 * i);
  const auto other = steadyfilm::subgroup_chart(values, offsets, {});
  for (std::size_t u = 0; u < 12; ++u) CHECK(found.spreads[u] == doctest::Approx(other.spreads[u]).epsilon(1e-14));
  CHECK(found.spread_limits.upper == doctest::Approx(other.spread_upper[0]).epsilon(1e-12));
  CHECK(found.sigma_inside == doctest::Approx(other.within.sigma_within).epsilon(1e-12));
  const auto single = steadyfilm::individuals_chart(found.averages, {}, {});
  CHECK(found.average.limits.upper == single.limits.upper);
}

TEST_CASE("chart_nested: sigma of an inside value is right on average, also from location means of the same units") {
  // Location averages vary by 0.13 and 0.05 / sqrt 3 beyond unit and pattern.
  const double truth = std::sqrt(0.13 * 0.13 + 0.05 * 0.05 / 3.0);
  double sd = 0.0, range = 0.0;
  NestedOptions options;
  options.spread = InsideSpread::range;
  constexpr int runs = 3000;
  for (unsigned seed = 0; seed < runs; ++seed) {
    const auto values = bodies(4, seed);
    sd += nested_chart(values, 5, 3, {}, {}).sigma_inside;
    range += nested_chart(values, 5, 3, {}, {}, options).sigma_inside;
  }
  // One estimate from 4 units has about 12 degrees of freedom: relative sd 0.2; four standard errors of the mean.
  CHECK(std::abs(sd / runs / truth - 1.0) < 4 * 0.21 / std::sqrt(runs));
  CHECK(std::abs(range / runs / truth - 1.0) < 4 * 0.22 / std::sqrt(runs));
}

TEST_CASE("chart_nested: units that are excluded or lack a reading stay in place and shape nothing") {
  auto values = bodies(6, 3);
  const auto without = nested_chart(std::vector<double>(values.begin() + 15, values.end()), 5, 3, {}, {});
  values[7] = none;  // in the first unit
  const auto found = nested_chart(values, 5, 3, {}, {});
  CHECK(std::isnan(found.averages[0]));
  CHECK(std::isnan(found.spreads[0]));
  CHECK(found.average.limits.upper == without.average.limits.upper);
  CHECK(found.spread_limits.upper == without.spread_limits.upper);
  values[7] = 9.0;
  const auto excluded = nested_chart(values, 5, 3, std::vector<std::uint8_t>{0, 1, 1, 1, 1, 1}, {});
  CHECK(excluded.spread_limits.upper == without.spread_limits.upper);
  CHECK(excluded.spreads[0] > 1.0);
  CHECK(std::isnan(excluded.average.moving_range[1]));
}

TEST_CASE("chart_nested: given lines are used as they are") {
  NestedOptions options;
  options.center = 2.0;
  options.sigma_average = 0.1;
  options.sigma_inside = 0.2;
  options.location_means = {1.9, 2.1};
  const auto found = nested_chart(std::vector<double>{2.0, 2.2}, 2, 1, {}, {}, options);
  CHECK(found.average.limits.upper == doctest::Approx(2.3).epsilon(1e-15));
  CHECK(found.spread_limits.center == doctest::Approx(0.2 * steadyfilm::c4(2.0)).epsilon(1e-14));
  CHECK(found.spread_limits.upper ==
        doctest::Approx(0.2 * (steadyfilm::c4(2.0) + 3.0 * steadyfilm::c5(2.0))).epsilon(1e-14));
  CHECK(found.spread_limits.lower == 0.0);
  CHECK(std::isnan(found.inside_degrees_of_freedom));
}

TEST_CASE("chart_nested: a fixed pattern of places hides signals, the more the larger it is") {
  // Shares worked out for the coating trade: sigma 0.09, 0.07, 0.05, pattern 0.05, 0.12, 0.20: 44, 23, 7 %.
  const std::vector<std::pair<double, double>> worked = {{0.05, 0.44}, {0.12, 0.23}, {0.20, 0.07}};
  for (const auto& [rms, share] : worked) {
    const double pattern = rms;  // clang 14 lets no lambda capture a structured binding
    CAPTURE(pattern);
    const auto found = steadyfilm::nested_false_alarm(0.09, 0.07, 0.05, 5, 3, pattern);
    CHECK(std::abs(found.false_alarm_probability - share) < 0.0051);
  }
  // Nothing between units, places a true sample: the limits are right, 0.27 % signal.
  const auto right = steadyfilm::nested_false_alarm(0.0, 0.0, 0.05, 1, 5);
  CHECK(right.limit_sigma_multiple == doctest::Approx(3.0).epsilon(1e-14));
}

TEST_CASE("chart_nested: constant data is an answer") {
  const auto found = nested_chart(std::vector<double>(12, 0.1), 2, 2, {}, {});
  CHECK(found.sigma_inside == 0.0);
  CHECK(found.sigma_between == 0.0);
  CHECK(found.spread_limits.upper == 0.0);
  CHECK(found.spread_standardized == std::vector<double>{0, 0, 0});
  CHECK(found.average.limits.upper == 0.1);
}

TEST_CASE("chart_nested: input it cannot use is refused with name, position and value") {
  const std::vector<double> four = {1, 2, 3, 4};
  CHECK_THROWS_AS((void)nested_chart(four, 1, 1, {}, {}), steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)nested_chart(four, 3, 1, {}, {}), steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)nested_chart(four, 0, 1, {}, {}), steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)nested_chart({}, 2, 1, {}, {}), steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)nested_chart(four, 2, 1, std::vector<std::uint8_t>{1}, {}), steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)nested_chart(four, 2, 1, std::vector<std::uint8_t>{0, 0}, {}), steadyfilm::InvalidInput);
  CHECK_THROWS_WITH_AS((void)nested_chart(std::vector<double>{1, 2, 3, HUGE_VAL}, 2, 1, {}, {}),
                       "nested_chart: values[3] is not finite (inf)", steadyfilm::InvalidInput);
  NestedOptions options;
  options.location_means = {1.0};
  CHECK_THROWS_AS((void)nested_chart(four, 2, 1, {}, {}, options), steadyfilm::InvalidInput);
  options = {};
  options.sigma_inside = -1.0;
  CHECK_THROWS_AS((void)nested_chart(four, 2, 1, {}, {}, options), steadyfilm::InvalidInput);
  options = {};
  options.sigma_average = 0.1;  // one unit: its location means are its own
  CHECK_THROWS_AS((void)nested_chart(four, 2, 2, {}, {}, options), steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::nested_false_alarm(0, 0, 0, 5, 3), steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::nested_false_alarm(1, 1, -1, 5, 3), steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::nested_false_alarm(1, 1, 1, 1, 1), steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::nested_false_alarm(1, 1, 1, 1, 2, 0.1), steadyfilm::InvalidInput);
}
