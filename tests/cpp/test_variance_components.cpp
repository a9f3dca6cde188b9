#include <doctest/doctest.h>

#include <steadyfilm/variance_components.hpp>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>
#include <random>
#include <vector>

#include <steadyfilm/core.hpp>

#include "reference.hpp"
#include "support/mean_squares.hpp"

using steadyfilm::body_components;
using steadyfilm::nested_components;
using steadyfilm::one_way_anova;

namespace {

constexpr double none = std::numeric_limits<double>::quiet_NaN();

/// Values group after group, groups by rising label, and where the groups begin.
struct Groups {
  std::vector<double> values;
  std::vector<std::size_t> offsets;
};

Groups grouped(const reference::List& values, const std::vector<reference::List>& levels) {
  std::vector<std::size_t> order(values.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  const auto before = [&](std::size_t a, std::size_t b) {
    for (const auto& level : levels) {
      if (level[a] != level[b]) return level[a] < level[b];
    }
    return false;
  };
  std::stable_sort(order.begin(), order.end(), before);
  Groups out;
  for (std::size_t i = 0; i < order.size(); ++i) {
    if (i == 0 || before(order[i - 1], order[i])) out.offsets.push_back(i);
    out.values.push_back(values[order[i]]);
  }
  out.offsets.push_back(order.size());
  return out;
}

const reference::Register one_way("one_way_anova", [](const reference::Args& args) {
  const auto data = grouped(args.list("values"), {args.list("group")});
  const auto found = one_way_anova(data.values, data.offsets);
  return reference::Found{.numbers = {{"df_between", found.between.degrees_of_freedom},
                                      {"df_within", found.within.degrees_of_freedom},
                                      {"ss_between", found.between.sum_squares},
                                      {"ss_within", found.within.sum_squares},
                                      {"ms_between", found.between.mean_square},
                                      {"ms_within", found.within.mean_square},
                                      {"f", found.between.f},
                                      {"r_squared", found.r_squared},
                                      {"residual_sd", found.residual_sd}},
                          .lists = {},
                          .words = {}};
});

const reference::Register nested("nested_anova", [](const reference::Args& args) {
  const auto outer = args.list("outer");
  const auto data = grouped(args.list("values"), {outer, args.list("inner")});
  const std::size_t groups = grouped(outer, {outer}).offsets.size() - 1;
  const std::size_t inner = (data.offsets.size() - 1) / groups;
  const std::vector<std::size_t> counts = {groups, inner, data.values.size() / groups / inner};
  const auto found = nested_components(data.values, counts, args.number("confidence_level"));
  std::map<std::string, double> numbers = {{"ratio_inner_error_lower", found.innermost_ratio.lower},
                                           {"ratio_inner_error_upper", found.innermost_ratio.upper},
                                           {"variance_error_lower", found.components[2].variance_lower},
                                           {"variance_error_upper", found.components[2].variance_upper},
                                           {"mean", found.mean.value},
                                           {"ss_total", 0.0}};
  const std::vector<std::string> names = {"outer", "inner", "error"};
  for (std::size_t k = 0; k < 3; ++k) {
    numbers["ss_total"] += found.lines[k].sum_squares;
    numbers["ss_" + names[k]] = found.lines[k].sum_squares;
    numbers["df_" + names[k]] = found.lines[k].degrees_of_freedom;
    numbers["ms_" + names[k]] = found.lines[k].mean_square;
    numbers["f_" + names[k]] = found.lines[k].f;
    numbers["p_" + names[k]] = found.lines[k].p;
    numbers["variance_" + names[k]] = found.components[k].variance;
    numbers["sd_" + names[k]] = found.components[k].sd;
  }
  return reference::Found{.numbers = numbers, .lists = {}, .words = {}};
});

/// Readings of the body model with a fixed pattern of five places.
std::vector<double> bodies(std::size_t units, std::size_t locations, std::size_t repeats, unsigned seed) {
  std::mt19937_64 random(seed);
  std::normal_distribution<double> normal;
  std::vector<double> out;
  for (std::size_t u = 0; u < units; ++u) {
    const double unit = 0.09 * normal(random);
    for (std::size_t l = 0; l < locations; ++l) {
      const double place = 2.1 + 0.05 * static_cast<double>(l) + unit + 0.13 * normal(random);
      for (std::size_t k = 0; k < repeats; ++k) out.push_back(place + 0.05 * normal(random));
    }
  }
  return out;
}

}  // namespace

TEST_CASE("variance_components: limits for a difference of mean squares agree with a published study's form") {
  // Part variance of the gauge study rows in variance_components.csv (Burdick, Borror & Montgomery 2003/2005 form):
  // 10 parts, 3 appraisers, 3 trials; computed there at 30 digits.
  const auto found =
      steadyfilm::support::difference_interval({9.81799271604938, 9.0}, {0.0199434567901235, 18.0}, 0.95);
  CHECK(found.lower / 9.0 == doctest::Approx(0.513945630210170).epsilon(1e-9));
  CHECK(found.upper / 9.0 == doctest::Approx(3.63346784492196).epsilon(1e-9));
  // Repeatability with 60 degrees of freedom: the exact chi-square interval.
  const auto single = steadyfilm::support::sum_interval({{1.0, {0.0459822222222222, 60.0}}}, 0.95);
  CHECK(single.lower == doctest::Approx(0.0331213726841899).epsilon(1e-9));
  CHECK(single.upper == doctest::Approx(0.0681525246986260).epsilon(1e-9));
  // Appraiser + interaction + repeatability as a sum of three mean squares.
  const auto sum = steadyfilm::support::sum_interval({{1.0 / 30.0, {1.58363111111111, 2.0}},
                                                      {9.0 / 30.0, {0.0199434567901235, 18.0}},
                                                      {20.0 / 30.0, {0.0459822222222222, 60.0}}},
                                                     0.95);
  CHECK(sum.lower == doctest::Approx(0.0499206395175779).epsilon(1e-9));
  CHECK(sum.upper == doctest::Approx(2.12170693129758).epsilon(1e-9));
}

TEST_CASE("variance_components: one level of nesting is the one-way table") {
  const std::vector<double> values = {3, 1, 4, 1, 5, 9, 2, 6, 5, 3, 5, 8};
  const auto table = one_way_anova(values, std::vector<std::size_t>{0, 4, 8, 12});
  const auto found = nested_components(values, std::vector<std::size_t>{3, 4});
  CHECK(found.lines[0].sum_squares == doctest::Approx(table.between.sum_squares).epsilon(1e-14));
  CHECK(found.lines[1].sum_squares == doctest::Approx(table.within.sum_squares).epsilon(1e-14));
  CHECK(found.lines[0].p == doctest::Approx(table.between.p).epsilon(1e-12));
  CHECK(found.components[0].variance ==
        doctest::Approx((table.between.mean_square - table.within.mean_square) / 4.0).epsilon(1e-12));
}

TEST_CASE("variance_components: the body model in hand arithmetic") {
  // Two units, two places, two readings; cell means 2 5 | 4 9, unit means 3.5 6.5, place means 3 7, grand mean 5.
  const std::vector<double> values = {1, 3, 5, 5, 4, 4, 8, 10};
  const auto found = body_components(values, 2, 2);
  REQUIRE(found.lines.size() == 4);
  CHECK(found.lines[0].sum_squares == 18.0);  // 4 readings x 2 x 1.5^2
  CHECK(found.lines[1].sum_squares == 32.0);  // 4 x 2 x 2^2
  CHECK(found.lines[2].sum_squares == 2.0);   // 2 x 4 x 0.5^2
  CHECK(found.lines[3].sum_squares == 4.0);
  CHECK(found.lines[3].degrees_of_freedom == 4.0);
  CHECK(found.lines[0].f == 9.0);   // over unit x location
  CHECK(found.lines[1].f == 16.0);  // over unit x location
  CHECK(found.lines[2].f == 2.0);   // over repeat
  CHECK(found.components[0].variance == 4.0);
  CHECK(found.components[1].variance == 0.5);
  CHECK(found.components[2].variance == 1.0);
  CHECK(found.total.variance == 5.5);
  CHECK(found.unit_average.variance == 4.5);  // 4 + 0.5/2 + 1/4 = the variance of 3.5 and 6.5
  CHECK(found.mean.value == 5.0);
  CHECK(found.mean.standard_error == 1.5);
  CHECK(found.locations[0].effect == -2.0);
  CHECK(found.effect_standard_error == doctest::Approx(std::sqrt(2.0 / 4.0 / 2.0)).epsilon(1e-15));
  CHECK(found.location_rms == 2.0);
}

TEST_CASE("variance_components: days of equal size give the nested mean squares, unequal ones each day counted once") {
  const auto values = bodies(12, 5, 3, 4);
  const auto found = body_components(values, 5, 3, std::vector<std::size_t>{4, 4, 4});
  CHECK(found.lines[0].source == "day");
  CHECK(found.components[0].mean_square == doctest::Approx(found.lines[0].mean_square).epsilon(1e-13));
  CHECK(found.components[0].readings == 60.0);
  CHECK(found.mean.standard_error == doctest::Approx(std::sqrt(found.lines[0].mean_square / 180.0)).epsilon(1e-13));
  const auto plain = body_components(values, 5, 3);
  CHECK(plain.lines[0].sum_squares ==
        doctest::Approx(found.lines[0].sum_squares + found.lines[1].sum_squares).epsilon(1e-12));

  // One place, one reading, days of 1 and 3 units: means 2 and 6 about 4; the units' mean square is 1.
  const auto uneven = body_components(std::vector<double>{2, 5, 6, 7}, 1, 1, std::vector<std::size_t>{1, 3});
  CHECK(uneven.components[0].readings == doctest::Approx(1.5).epsilon(1e-15));      // 2 / (1/1 + 1/3)
  CHECK(uneven.components[0].mean_square == doctest::Approx(12.0).epsilon(1e-15));  // 1.5 (2^2 + 2^2)
  CHECK(uneven.components[0].variance == doctest::Approx(11.0 / 1.5).epsilon(1e-15));
  CHECK(uneven.lines[0].sum_squares == doctest::Approx(12.0).epsilon(1e-15));  // 1 x 3^2 + 3 x 1^2
}

TEST_CASE("variance_components: what cannot be told apart is one component") {
  const auto single = body_components(bodies(8, 5, 1, 2), 5, 1);
  REQUIRE(single.components.size() == 2);
  CHECK(single.components[1].source == "unit_location");
  CHECK(single.unit_average.variance ==
        doctest::Approx(single.components[0].variance + single.components[1].variance / 5.0).epsilon(1e-12));
  const auto one_place = body_components(bodies(8, 1, 3, 2), 1, 3);
  CHECK(one_place.components[0].source == "unit");
  CHECK(one_place.components[1].source == "repeat");
  CHECK(std::isnan(one_place.effect_standard_error));
  CHECK(one_place.locations[0].effect == 0.0);
  const auto one_reading = body_components(bodies(8, 1, 1, 2), 1, 1);
  REQUIRE(one_reading.components.size() == 1);
  CHECK(one_reading.components[0].variance == one_reading.unit_average.variance);
}

TEST_CASE("variance_components: constant and exactly additive data have components of exactly 0") {
  const auto found = body_components(std::vector<double>(30, 0.1), 5, 3);
  CHECK(found.total.sd == 0.0);
  CHECK(found.total.sd_upper == 0.0);
  CHECK(found.components[0].share == 0.0);
  CHECK(std::isnan(found.lines[0].f));
  CHECK(std::isnan(found.lines[0].p));
  // Unit and place alone, in binary fractions, yet with means that are none: what is left over is exactly nothing.
  std::vector<double> values;
  for (int u = 0; u < 3; ++u) {
    for (int l = 0; l < 7; ++l) {
      for (int k = 0; k < 3; ++k) values.push_back(1000.0 + 0.25 * u * u + 0.5 * l);
    }
  }
  const auto additive = body_components(values, 7, 3);
  CHECK(additive.lines[0].sum_squares > 0.0);
  CHECK(additive.lines[2].sum_squares == 0.0);
  CHECK(additive.lines[3].sum_squares == 0.0);
  CHECK(std::isinf(additive.lines[0].f));
  CHECK(additive.lines[0].p == 0.0);
  const auto nested_constant = nested_components(std::vector<double>(12, 0.3), std::vector<std::size_t>{2, 3, 2});
  CHECK(nested_constant.mean.standard_error == 0.0);
  CHECK(std::isnan(nested_constant.innermost_ratio.value));
}

TEST_CASE("variance_components: input it cannot use is refused with name, position and value") {
  const std::vector<double> four = {1, 2, 3, 4};
  using Sizes = std::vector<std::size_t>;
  CHECK_THROWS_WITH_AS((void)one_way_anova(std::vector<double>{1, none, 3}, Sizes{0, 1, 3}),
                       "one_way_anova: values[1] is not finite (nan)", steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)one_way_anova(four, Sizes{0, 4}), steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)one_way_anova(four, Sizes{0, 2, 3}), steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)one_way_anova(four, Sizes{0, 2, 2, 4}), steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)one_way_anova(four, Sizes{0, 1, 2, 3, 4}), steadyfilm::InvalidInput);
  CHECK_THROWS_WITH_AS((void)nested_components(four, Sizes{4, 1}),
                       "nested_components: counts[1] must be 2 or more, got 1", steadyfilm::InvalidInput);
  CHECK_THROWS_WITH_AS((void)nested_components(four, Sizes{2, 3}),
                       "nested_components: counts do not multiply to the 4 values", steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)nested_components(four, Sizes{4}), steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)nested_components(four, Sizes{2, 2}, 1.0), steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)body_components(four, 3, 1), steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)body_components(four, 0, 1), steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)body_components(four, 1, 0), steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)body_components(four, 2, 2), steadyfilm::InvalidInput);  // one unit
  CHECK_THROWS_AS((void)body_components(four, 1, 1, Sizes{4}), steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)body_components(four, 1, 1, Sizes{1, 1, 1, 1}), steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)body_components(four, 1, 1, Sizes{2, 3}), steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)body_components(four, 1, 1, Sizes{4, 0}), steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)one_way_anova(std::vector<double>{1e300, -1e300, 1e300}, Sizes{0, 1, 3}),
                  steadyfilm::InvalidInput);
}
