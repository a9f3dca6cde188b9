#include <doctest/doctest.h>

#include <steadyfilm/planning.hpp>

#include <cmath>

#include <steadyfilm/conformity.hpp>
#include <steadyfilm/core.hpp>
#include <steadyfilm/distributions.hpp>

#include "reference.hpp"

namespace {

using reference::Args;
using reference::Found;

Found one(const std::string& name, double value) { return {.numbers = {{name, value}}, .lists = {}, .words = {}}; }

const reference::Register share("window_share", [](const Args& args) {
  const double u = args.number("sigma_repeat_mil") / std::sqrt(args.number("readings"));
  return one("percent", 100.0 * steadyfilm::window_share(u, args.number("window_mil")));
});

const reference::Register share_readings("readings_for_window_share", [](const Args& args) {
  const auto found = steadyfilm::readings_for_window_share(args.number("sigma_repeat_mil"), args.number("window_mil"),
                                                           args.number("share"));
  return one("readings", static_cast<double>(found.readings));
});

const reference::Register guarded("guard_band_window", [](const Args& args) {
  const auto found = steadyfilm::guard_band({.lower = 0.0, .upper = args.number("window_mil"), .target = std::nullopt},
                                            args.number("standard_uncertainty_mil"), args.number("alpha"),
                                            args.number("bias_bound_mil"));
  return Found{.numbers = {{"guard_mil", found.guard}, {"left_mil", found.left}}, .lists = {}, .words = {}};
});

const reference::Register average("unit_average_uncertainty", [](const Args& args) {
  return one("uncertainty_mil", steadyfilm::unit_average_uncertainty(
                                    args.number("sigma_location_mil"), args.number("sigma_repeat_mil"),
                                    args.count("location_count"), args.count("readings_per_location")));
});

const reference::Register repeats("optimal_repeats", [](const Args& args) {
  return one("repeats",
             steadyfilm::optimal_repeats(args.number("sigma_location_mil"), args.number("sigma_repeat_mil"),
                                         args.number("cost_location"), args.number("cost_reading")));
});

const reference::Register half_width("readings_for_half_width", [](const Args& args) {
  const auto found = steadyfilm::readings_for_half_width(args.number("sd_mil"), args.number("half_width_mil"),
                                                         args.number("confidence_level"));
  return Found{
      .numbers = {{"readings", static_cast<double>(found.readings)}, {"normal_formula", found.normal_formula}},
      .lists = {},
      .words = {}};
});

}  // namespace

TEST_CASE("planning: what all readings share is not taken out by more of them") {
  const auto none = steadyfilm::readings_for_window_share(0.05, 0.2, 0.3, 0.011);
  CHECK(none.readings == 0);  // 6 * 0.011 / 0.2 is 33 %
  CHECK(none.share == doctest::Approx(0.33));
  const auto some = steadyfilm::readings_for_window_share(0.04, 0.2, 0.3, 0.006);
  CHECK(some.readings == 25);  // 0.04^2 / (0.01^2 - 0.006^2)
  CHECK(some.share == doctest::Approx(0.3));
  CHECK(steadyfilm::readings_for_window_share(0.0, 0.2, 0.3).readings == 1);
}

TEST_CASE("planning: the smallest number for a half width does, one fewer does not") {
  for (const double ratio : {0.2, 0.5, 1.0, 3.0, 12.0}) {
    CAPTURE(ratio);
    const auto found = steadyfilm::readings_for_half_width(ratio, 1.0, 0.9);
    const auto half = [&](double n) { return steadyfilm::student_t_quantile(0.95, n - 1.0) * ratio / std::sqrt(n); };
    const auto n = static_cast<double>(found.readings);
    CHECK(half(n) <= 1.0);
    if (found.readings > 2) CHECK(half(n - 1.0) > 1.0);
    CHECK(found.half_width == doctest::Approx(half(n)));
    CHECK(n > found.normal_formula);
  }
}

TEST_CASE("planning: the best whole-number plan is the best of all plans tried one by one") {
  for (const double cost_location : {0.0, 0.5, 3.0, 20.0}) {
    for (const double wanted : {0.03, 0.05, 0.08}) {
      CAPTURE(cost_location);
      CAPTURE(wanted);
      const steadyfilm::ReadingCosts given{.sigma_location = 0.1,
                                           .sigma_repeat = 0.15,
                                           .sigma_common = 0.01,
                                           .cost_location = cost_location,
                                           .cost_reading = 1.0,
                                           .most_places = 40};
      const auto found = steadyfilm::cheapest_plan(given, wanted);
      double cheapest = 1e300;
      double surest = 1e300;
      for (std::size_t a = 1; a <= 40; ++a) {
        for (std::size_t b = 1; b <= 400; ++b) {
          const double u = std::sqrt(1e-4 + 0.01 / static_cast<double>(a) + 0.0225 / static_cast<double>(a * b));
          const double cost = static_cast<double>(a) * (cost_location + static_cast<double>(b));
          if (u <= wanted && cost < cheapest) cheapest = cost;
          if (cost <= 60.0 && u < surest) surest = u;
        }
      }
      CHECK(found.cost == doctest::Approx(cheapest).epsilon(1e-12));
      CHECK(found.uncertainty <= wanted);
      CHECK(steadyfilm::best_plan(given, 60.0).uncertainty == doctest::Approx(surest).epsilon(1e-12));
    }
  }
}

TEST_CASE("planning: a plan that cannot be is answered with no places") {
  steadyfilm::ReadingCosts given{.sigma_location = 0.1, .sigma_repeat = 0.05, .sigma_common = 0.02, .cost_location = 5.0};
  CHECK(steadyfilm::cheapest_plan(given, 0.02).location_count == 0);
  given.most_places = 4;
  const auto found = steadyfilm::cheapest_plan(given, 0.05);
  CHECK(found.location_count == 0);
  CHECK(found.uncertainty == doctest::Approx(std::hypot(0.02, 0.05)));
  const auto poor = steadyfilm::best_plan(given, 5.9);
  CHECK(poor.location_count == 0);
  CHECK(std::isnan(poor.uncertainty));
  CHECK(steadyfilm::best_plan(given, 6.0).location_count == 1);
}

TEST_CASE("planning: with one appraiser the interval of a study is the exact one of a standard deviation") {
  const auto found = steadyfilm::study_interval({.sigma_repeat = 0.03}, {10, 1, 3}, {.confidence_level = 0.9});
  CHECK(found.degrees_of_freedom == doctest::Approx(20.0));
  CHECK(found.lower == doctest::Approx(0.03 * std::sqrt(20.0 / steadyfilm::chi_square_quantile(0.95, 20.0))));
  CHECK(found.upper == doctest::Approx(0.03 * std::sqrt(20.0 / steadyfilm::chi_square_quantile(0.05, 20.0))));
  const auto mean = steadyfilm::study_average({.sigma_repeat = 0.03}, {10, 1, 3}, {.confidence_level = 0.9});
  // The mean of a sample sd is c4 sigma: c4(21) = 0.98758
  CHECK(mean.upper == doctest::Approx(0.987583 * found.upper).epsilon(1e-6));
}

TEST_CASE("planning: both intervals agree when one mean square is all there is to it") {
  const steadyfilm::StudyComponents repeat_only{.sigma_repeat = 0.05};
  const steadyfilm::StudySize size{8, 1, 4};
  const auto large = steadyfilm::study_interval(repeat_only, size);
  const auto other = steadyfilm::study_interval(
      repeat_only, size,
      {.confidence_level = 0.95, .method = steadyfilm::StudyIntervalMethod::satterthwaite, .interaction = true});
  CHECK(large.lower == doctest::Approx(other.lower).epsilon(1e-12));
  CHECK(large.upper == doctest::Approx(other.upper).epsilon(1e-12));
}

TEST_CASE("planning: each planned study keeps the width, and the first is the cheapest") {
  const steadyfilm::StudyComponents given{.sigma_repeat = 0.035, .sigma_appraiser = 0.01, .sigma_interaction = 0.0};
  const auto plans = steadyfilm::plan_study(given, 1.0);
  REQUIRE(plans.size() == 5);
  CHECK(plans[0].reached);
  for (const auto& plan : plans) {
    if (!plan.reached) continue;
    CHECK(plan.interval.relative_width <= 1.0);
    CHECK(plan.cost >= plans[0].cost);
  }
  double cheapest = 1e300;
  for (std::size_t o = 2; o <= 6; ++o) {
    for (std::size_t p = 5; p <= 30; ++p) {
      for (std::size_t r = 2; r <= 4; ++r) {
        const auto width = steadyfilm::study_interval(given, {p, o, r}).relative_width;
        if (width <= 1.0) cheapest = std::min(cheapest, static_cast<double>(p * o * r));
      }
    }
  }
  CHECK(plans[0].cost == cheapest);
}

TEST_CASE("planning: input it cannot use is refused with its name") {
  using steadyfilm::InvalidInput;
  CHECK_THROWS_WITH_AS((void)steadyfilm::unit_average_uncertainty(0.1, 0.1, 0, 3),
                       "unit_average_uncertainty: location_count must be 1 or more (0)", InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::window_share(0.1, 0.0), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::window_share(-0.1, 1.0), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::readings_for_window_share(0.1, 0.2, 0.0), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::readings_for_window_share(1.0, 1.0, 1e-9), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::readings_for_half_width(0.1, 0.0), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::readings_for_half_width(0.1, 0.1, 1.0), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::optimal_repeats(0.0, 0.1, 1.0, 1.0), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::cheapest_plan({.cost_reading = 0.0}, 0.1), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::best_plan({.sigma_repeat = 0.1}, -1.0), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::study_interval({.sigma_repeat = 0.0}, {10, 3, 3}), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::study_interval({.sigma_repeat = 0.1}, {10, 1, 1}), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::study_interval({.sigma_repeat = 0.1}, {1, 3, 3}), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::study_interval({.sigma_repeat = 0.1, .sigma_appraiser = 0.1}, {10, 1, 3}),
                  InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::plan_study({.sigma_repeat = 0.1}, 1.0, {.fewest_parts = 10, .most_parts = 5}),
                  InvalidInput);
}
