#include <doctest/doctest.h>

#include <steadyfilm/oven_survey.hpp>

#include <cmath>
#include <limits>
#include <vector>

#include <steadyfilm/core.hpp>

#include "reference.hpp"

namespace {

using namespace steadyfilm;
using List = std::vector<double>;

const reference::Register ratio("dose_ratio", [](const reference::Args& args) {
  const auto found =
      dose_ratio(args.number("target_c"), args.number("tolerance_k"), args.number("activation_energy_kj"));
  return reference::Found{.numbers = {{"low", found.low}, {"high", found.high}}, .lists = {}, .words = {}};
});

List minutes(std::size_t count) {
  List out;
  for (std::size_t i = 0; i < count; ++i) out.push_back(static_cast<double>(i));
  return out;
}

}  // namespace

TEST_CASE("oven survey: cold and hot places, spread and uniformity") {
  const List readings{60.0, 62.0, 57.0,   //
                      61.0, 63.0, 55.0};  // two times, three places
  const auto found = uniformity_survey(readings, 3, 60.0, {55.0, 60.0});
  CHECK(found.coldest == 2);
  CHECK(found.hottest == 1);
  CHECK(found.coldest_first == 2);
  CHECK(found.mean_c[0] == doctest::Approx(60.5));
  CHECK(found.lowest_c[2] == 55.0);
  CHECK(found.below_k == doctest::Approx(5.0));
  CHECK(found.above_k == doctest::Approx(3.0));
  CHECK(found.uniformity_k == doctest::Approx(5.0));
  CHECK(found.spread_k == doctest::Approx(8.0));
  const double expected = 0.5 * (cure_rate_factor(57.0, {55.0, 60.0}) + cure_rate_factor(55.0, {55.0, 60.0}));
  CHECK(found.dose_ratio[2] == doctest::Approx(expected).epsilon(1e-12));
  const auto even = uniformity_survey(List{60.0, 60.0}, 2, 60.0, {55.0, 60.0});
  CHECK(even.uniformity_k == 0.0);
  CHECK(even.dose_ratio == List{1.0, 1.0});
}

TEST_CASE("oven survey: a burner that fails is told from a door that was opened") {
  const List time = minutes(126);
  List burner(126), door(126), end(126), both(126);
  for (std::size_t i = 0; i < 126; ++i) {
    const double t = time[i];
    burner[i] = t < 20.0 ? 66.0 : 48.0;
    door[i] = t < 40.0 ? 66.0 : 66.0 - 12.0 * std::exp(-(t - 40.0) / 6.0);
    end[i] = t <= 105.0 ? 66.0 : 66.0 - 12.0 * std::exp(-(t - 106.0) / 6.0);
    both[i] = burner[i] - (t <= 105.0 ? 0.0 : 12.0 * std::exp(-(t - 106.0) / 6.0));
  }
  auto falls = air_falls(time, burner, 66.0);
  REQUIRE(falls.size() == 1);
  CHECK_FALSE(falls[0].door);
  CHECK_FALSE(falls[0].came_back);
  CHECK(falls[0].from_min == 19.0);
  CHECK(falls[0].to_min == 125.0);
  CHECK(falls[0].mean_c == doctest::Approx(48.0));
  falls = air_falls(time, door, 66.0);
  REQUIRE(falls.size() == 1);
  CHECK(falls[0].door);
  CHECK(falls[0].came_back);
  CHECK(falls[0].lowest_c == doctest::Approx(54.0));
  falls = air_falls(time, end, 66.0);
  REQUIRE(falls.size() == 1);
  CHECK(falls[0].door);
  falls = air_falls(time, both, 66.0);
  REQUIRE(falls.size() == 1);
  CHECK_FALSE(falls[0].door);
}

TEST_CASE("oven survey: heating up is no fall, and a moment is none") {
  const List time = minutes(60);
  List heating(60), moment(60, 66.0);
  for (std::size_t i = 0; i < 60; ++i) heating[i] = 66.0 - 46.0 * std::exp(-time[i] / 8.0);
  CHECK(air_falls(time, heating, 66.0).empty());
  moment[30] = moment[31] = 55.0;
  CHECK(air_falls(time, moment, 66.0).empty());
  CHECK(air_falls(time, List(60, 20.0), 66.0).empty());  // never warm at all
}

TEST_CASE("oven survey: the recovery of the air gives its time constant back") {
  for (const double tau : {2.0, 6.0, 25.0}) {
    const List time = minutes(21);
    List air(21);
    for (std::size_t i = 0; i < 21; ++i) air[i] = 66.0 - 12.0 * std::exp(-time[i] / tau);
    const auto found = air_recovery(time, air, 66.0);
    CHECK(found.time_constant_min == doctest::Approx(tau).epsilon(1e-6));
    CHECK(found.drop_k == doctest::Approx(12.0).epsilon(1e-6));
    CHECK(found.back_min == doctest::Approx(tau * std::log(12.0)).epsilon(1e-5));
    CHECK(found.residual_k < 1e-6);
  }
}

TEST_CASE("oven survey: input it cannot use is refused with name, position and value") {
  constexpr double none = std::numeric_limits<double>::quiet_NaN();
  const CureRate rate{55.0, 60.0};
  CHECK_THROWS_WITH_AS((void)uniformity_survey(List{1, 2, 3}, 2, 60.0, rate),
                       "uniformity_survey: readings must be whole rows of 2 places, got 3 numbers", InvalidInput);
  CHECK_THROWS_AS((void)uniformity_survey({}, 2, 60.0, rate), InvalidInput);
  CHECK_THROWS_AS((void)uniformity_survey(List{1, none}, 2, 60.0, rate), InvalidInput);
  CHECK_THROWS_AS((void)dose_ratio(60.0, -1.0, 55.0), InvalidInput);
  CHECK_THROWS_AS((void)dose_ratio(60.0, 400.0, 55.0), InvalidInput);
  CHECK_THROWS_AS((void)air_falls(List{0, 0}, List{1, 2}, 66.0), InvalidInput);
  CHECK_THROWS_AS((void)air_falls(List{0, 1}, List{1, 2}, none), InvalidInput);
  CHECK_THROWS_AS((void)air_falls(List{0, 1}, List{1, 2}, 66.0, {.band_k = 0.0}), InvalidInput);
  CHECK_THROWS_AS((void)air_recovery(List{0, 1, 2}, List{1, 2, 3}, 66.0), InvalidInput);
  CHECK_THROWS_AS((void)air_recovery(List{0, 1, 2, 3}, List{70, 70, 70, 70}, 66.0), InvalidInput);
}
