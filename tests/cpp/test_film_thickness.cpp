#include <doctest/doctest.h>

#include <steadyfilm/film_thickness.hpp>

#include <cmath>
#include <cstdint>
#include <limits>
#include <string>
#include <vector>

#include <steadyfilm/core.hpp>

#include "reference.hpp"

namespace {

namespace sf = steadyfilm;
using reference::Args;
using reference::Found;
using reference::Register;

Found words(std::map<std::string, std::string> found) {
  return {.numbers = {}, .lists = {}, .words = std::move(found)};
}
Found numbers(std::map<std::string, double> found) { return {.numbers = std::move(found), .lists = {}, .words = {}}; }

std::string verdict_word(std::int8_t verdict) {
  switch (static_cast<sf::Acceptance>(verdict)) {
    case sf::Acceptance::pass:
      return "pass";
    case sf::Acceptance::fail:
      return "fail";
    case sf::Acceptance::not_demonstrated:
      break;
  }
  return "not demonstrated";
}

/// Readings of one unit with one area, `per_spot` to a spot.
sf::AcceptanceFound judge_one(const sf::AcceptanceLimits& limits, const std::vector<double>& values,
                              std::size_t per_spot = 1, const std::optional<sf::GuardBand>& guard = std::nullopt) {
  std::vector<std::int64_t> spots;
  for (std::size_t i = 0; i <= values.size(); i += per_spot) spots.push_back(static_cast<std::int64_t>(i));
  const std::vector<std::int64_t> areas = {0, static_cast<std::int64_t>(spots.size()) - 1};
  const std::vector<std::int64_t> units = {0, 1};
  return sf::judge_film(limits, {.values = values, .spot_start = spots, .area_start = areas, .unit_start = units},
                        guard);
}

const Register area_count("area_count", [](const Args& args) {
  const auto rule = sf::area_rule();
  const auto count = args.has("surface_ft2") ? sf::count_for(rule.areas_ft2, args.number("surface_ft2"))
                                             : sf::count_for(rule.areas_m2, args.number("surface_m2"));
  return numbers({{"areas", static_cast<double>(count)}});
});

const Register area_verdict("area_verdict", [](const Args& args) {
  Found found;
  for (int level = 1; level <= 5; ++level) {
    auto rule = sf::area_rule(level);
    rule.readings_per_spot = 1;  // the row gives spots
    const auto limits = sf::limits_of(rule, {.lower = args.number("lower_mil"), .upper = args.number("upper_mil")});
    const auto judged = judge_one(limits, args.list("spots_mil"));
    found.numbers["area_mean_mil"] = judged.area_mean[0];
    found.words["verdict[" + std::to_string(level) + "]"] = verdict_word(judged.unit_verdict[0]);
  }
  return found;
});

const Register average("average_acceptance_probability", [](const Args& args) {
  const double share = sf::average_acceptance_probability(
      args.number("true_mean_mil"), args.number("lower_mil"), args.number("sigma_location_mil"),
      args.number("sigma_repeat_mil"), args.count("location_count"), args.count("readings_per_location"));
  return numbers({{"percent", 100.0 * share}});
});

const Register below("below_share_probability", [](const Args& args) {
  const double share = sf::below_share_probability(args.number("mean_ratio"), args.number("cv"),
                                                   args.number("fraction"), args.count("reading_count"));
  return numbers({{"probability", share}, {"percent", 100.0 * share}});
});

const Register met("limit_met", [](const Args& args) {
  const double limit = args.number("limit_factor") * args.number("limit_base");
  const bool passed = sf::limit_met(args.list("readings"), limit, args.word("side") == "lower");
  return words({{"verdict", passed ? "pass" : "fail"}});
});

const Register ninety_ten("ninety_ten_verdict", [](const Args& args) {
  const auto limits = sf::limits_of(sf::ninety_ten_rule(), {.lower = args.number("nominal_um"), .upper = std::nullopt});
  return words({{"verdict", verdict_word(judge_one(limits, args.list("readings_um")).unit_verdict[0])}});
});

const Register rough_count("rough_steel_reading_count", [](const Args& args) {
  const auto count = sf::count_for(sf::rough_steel_rule().readings_m2, args.number("surface_m2"));
  return numbers({{"readings", static_cast<double>(count)}});
});

const Register rough("rough_steel_verdict", [](const Args& args) {
  const auto rule = sf::rough_steel_rule(args.word("share_rule") == "at_most");
  const double nominal = args.number("nominal_um");
  if (!sf::at_least(nominal, *rule.lowest_nominal_um)) return words({{"verdict", "out of scope"}});
  sf::Bounds window{.lower = nominal, .upper = std::nullopt};
  if (args.has("max_factor")) window.upper = args.number("max_factor") * nominal;
  auto values = args.list("readings_um");
  for (double& value : values) value -= args.number("correction_um");
  return words({{"verdict", verdict_word(judge_one(sf::limits_of(rule, window), values).unit_verdict[0])}});
});

const Register single("single_value_range", [](const Args& args) {
  const auto rule = sf::area_rule(static_cast<int>(args.count("level")));
  const auto window = sf::single_value_window(args.number("nominal_mil"), rule.single_value_share);
  const auto spot = sf::limits_of(rule, window).spot;
  return numbers({{"lower_mil", *window.lower},
                  {"upper_mil", *window.upper},
                  {"spot_lower_mil", spot.lower.value_or(std::nan(""))},
                  {"spot_upper_mil", spot.upper.value_or(std::nan(""))}});
});

const Register mean("spot_mean", [](const Args& args) {
  std::vector<std::size_t> dropped;
  for (const double number : args.list("dropped")) dropped.push_back(static_cast<std::size_t>(number) - 1);
  return numbers({{"spot_mil", sf::spot_mean(args.list("readings_mil"), dropped)}});
});

constexpr auto pass = static_cast<std::int8_t>(sf::Acceptance::pass);
constexpr auto fail = static_cast<std::int8_t>(sf::Acceptance::fail);
constexpr auto open = static_cast<std::int8_t>(sf::Acceptance::not_demonstrated);

}  // namespace

TEST_CASE("film thickness: a limit that is a product in doubles is met by readings exactly on it") {
  CHECK(0.88 < 0.8 * 1.1);  // the trap
  CHECK(sf::at_least(0.88, 0.8 * 1.1));
  CHECK(sf::at_most(1.56, 1.2 * 1.3));
  CHECK_FALSE(sf::at_least(0.8799, 0.8 * 1.1));
  CHECK_FALSE(sf::at_most(1.5601, 1.2 * 1.3));
}

TEST_CASE("film thickness: unit systems count by themselves") {
  const auto rule = sf::area_rule();
  CHECK(sf::count_for(rule.areas_m2, 99.0) == 3);
  CHECK(sf::count_for(rule.areas_ft2, 99.0 / (0.3048 * 0.3048)) == 4);  // the same surface
  CHECK(sf::count_for(rule.areas_ft2, 3000.0) == 5);
  CHECK(sf::count_for(rule.areas_ft2, 3000.0 * (1 + 1e-12)) == 5);
  CHECK(sf::count_for(rule.areas_ft2, 3000.1) == 6);
}

TEST_CASE("film thickness: missing spots leave a unit open unless what is there fails already") {
  const auto limits = sf::limits_of(sf::area_rule(3), {.lower = 2.0, .upper = 2.2});
  std::vector<double> four(12, 2.1);
  CHECK(judge_one(limits, four, 3).unit_verdict[0] == open);
  four[0] = four[1] = four[2] = 1.5;
  CHECK(judge_one(limits, four, 3).unit_verdict[0] == fail);
  std::vector<double> low(12, 1.9);  // only the mean of an area that is not whole is off
  CHECK(judge_one(limits, low, 3).unit_verdict[0] == open);
  CHECK(judge_one(limits, std::vector<double>(15, 1.9), 3).unit_verdict[0] == fail);
  CHECK(judge_one(limits, std::vector<double>(15, 2.1), 3).unit_verdict[0] == pass);
  CHECK(judge_one(limits, std::vector<double>(10, 2.1), 2).unit_verdict[0] == open);  // two readings a spot
}

TEST_CASE("film thickness: suspect readings prove neither way") {
  const auto limits = sf::limits_of(sf::area_rule(3), {.lower = 2.0, .upper = 2.2});
  std::vector<double> values(15, 2.1);
  values[0] = values[1] = values[2] = 1.0;
  const std::vector<std::int64_t> spots = {0, 3, 6, 9, 12, 15}, areas = {0, 5}, units = {0, 1};
  std::vector<std::uint8_t> suspect(15, 0);
  suspect[1] = 1;
  const sf::FilmReadings given{
      .values = values, .spot_start = spots, .area_start = areas, .unit_start = units, .suspect = suspect};
  const auto found = sf::judge_film(limits, given);
  CHECK(found.unit_verdict[0] == open);
  CHECK(found.spot_side[0] == -1);  // what it would be
  suspect[1] = 0;
  CHECK(sf::judge_film(limits, given).unit_verdict[0] == fail);
}

TEST_CASE("film thickness: a spot needs its readings taken, and one of them left") {
  const auto limits = sf::limits_of(sf::area_rule(3), {.lower = 2.0, .upper = 2.2});
  std::vector<double> values(14, 2.1);
  const std::vector<std::int64_t> spots = {0, 2, 5, 8, 11, 14}, areas = {0, 5}, units = {0, 1};
  const std::vector<std::int64_t> taken(5, 3), few = {3, 3, 2, 3, 3};
  sf::FilmReadings given{.values = values, .spot_start = spots, .area_start = areas, .unit_start = units};
  CHECK(sf::judge_film(limits, given).unit_verdict[0] == open);
  given.spot_taken = taken;
  CHECK(sf::judge_film(limits, given).unit_verdict[0] == pass);
  given.spot_taken = few;
  CHECK_THROWS_AS((void)sf::judge_film(limits, given), sf::InvalidInput);
  const std::vector<std::int64_t> none_left = {0, 0, 3, 6, 9, 12};
  values.resize(12);
  given = {.values = values, .spot_start = none_left, .area_start = areas, .unit_start = units};
  given.spot_taken = taken;
  CHECK(sf::judge_film(limits, given).unit_verdict[0] == open);
}

TEST_CASE(
    "film thickness: fewer readings than the surface asks for leave mean and share open, a bad reading does not") {
  const auto limits = sf::limits_of(sf::rough_steel_rule(), {.lower = 100.0, .upper = std::nullopt});
  const std::vector<std::int64_t> spots = {0, 1, 2, 3, 4, 5}, areas = {0, 5}, units = {0, 1};
  std::vector<double> values = {110, 110, 110, 110, 110};
  sf::FilmReadings given{.values = values,
                         .spot_start = spots,
                         .area_start = areas,
                         .unit_start = units,
                         .suspect = {},
                         .spot_taken = {},
                         .areas_required = 0,
                         .readings_required = 10};
  CHECK(sf::judge_film(limits, given).unit_verdict[0] == open);
  given.readings_required = 5;
  CHECK(sf::judge_film(limits, given).unit_verdict[0] == pass);
  values = {90, 90, 110, 110, 110};
  CHECK(sf::judge_film(limits, given).unit_verdict[0] == fail);
  given.readings_required = 10;
  CHECK(sf::judge_film(limits, given).unit_verdict[0] == open);
  values = {79, 110, 110, 110, 110};
  CHECK(sf::judge_film(limits, given).unit_verdict[0] == fail);
}

TEST_CASE("film thickness: the guard band sorts verdicts into clear and doubtful and changes none") {
  const auto limits = sf::limits_of(sf::area_rule(1), {.lower = 2.0, .upper = 2.2});
  const sf::GuardBand guard{.sigma_repeat = 0.03, .bias_bound = 0.02, .multiple = 1.645};
  const double spot = 0.02 + 1.645 * 0.03 / std::sqrt(3.0);  // 0.0485 mil
  const auto check = [&](double level, std::int8_t verdict, sf::GuardClass kind) {
    const auto found = judge_one(limits, std::vector<double>(15, level), 3, guard);
    CHECK(found.unit_verdict[0] == verdict);
    CHECK(found.guard_class[0] == static_cast<std::int8_t>(kind));
  };
  check(2.0 + spot + 0.001, pass, sf::GuardClass::clear);
  check(2.0 + spot - 0.001, pass, sf::GuardClass::doubtful);
  check(2.0 - 0.001, fail, sf::GuardClass::doubtful);
  check(2.2 + spot + 0.001, fail, sf::GuardClass::clear);
  CHECK(judge_one(limits, std::vector<double>(15, 2.1), 3).guard_class[0] == 0);
}

TEST_CASE("film thickness: an operating curve agrees with the closed forms where there are some") {
  sf::AcceptanceLimits averages;
  averages.area.lower = 2.0;
  const std::vector<double> means = {1.90, 1.95, 2.00, 2.05, 2.10};
  const sf::SamplingPlan plan{
      .areas = 1, .spots = 5, .readings = 3, .sigma_area = 0.0, .sigma_location = 0.13, .sigma_repeat = 0.05};
  for (const auto& point : sf::operating_curve(averages, plan, means, 20000, 7)) {
    const double exact = sf::average_acceptance_probability(point.true_mean, 2.0, 0.13, 0.05, 5, 3);
    CHECK(std::abs(point.probability - exact) < 4.0 * std::sqrt(exact * (1 - exact) / 20000));
  }
  sf::AcceptanceLimits each;
  each.reading.lower = 80.0;
  const sf::SamplingPlan lone{
      .areas = 1, .spots = 30, .readings = 1, .sigma_area = 0.0, .sigma_location = 0.12 * 115.0, .sigma_repeat = 0.0};
  const std::vector<double> level = {115.0};
  const double exact = 1.0 - sf::below_share_probability(1.15, 0.12, 0.8, 30);
  const auto curve = sf::operating_curve(each, lone, level, 20000, 7);
  CHECK(std::abs(curve[0].probability - exact) < 4.0 * std::sqrt(exact * (1 - exact) / 20000));
}

TEST_CASE("film thickness: the search outward closes after two conforming spots in a row") {
  const sf::Bounds window{.lower = 2.0, .upper = 2.2};
  const auto closed = sf::follow_direction(std::vector<double>{1.9, 2.0, 1.99, 2.2, 2.1}, window);
  CHECK(closed.closed);
  CHECK(closed.reach == 3);
  CHECK(closed.measured == 5);
  CHECK_FALSE(sf::follow_direction(std::vector<double>{1.9, 2.0, 1.99, 2.2}, window).closed);
  // 80 % of the lower end is enough for a spot, not in this search.
  CHECK(sf::follow_direction(std::vector<double>{1.7}, window).reach == 1);
  CHECK(sf::follow_direction({}, window).measured == 0);
}

TEST_CASE("film thickness: every rule says how each part of it is known") {
  for (int level = 1; level <= 5; ++level) CHECK(sf::area_rule(level).facts.size() == 5);
  CHECK(sf::area_rule(4).facts[0].how == "from memory");
  CHECK(sf::area_rule(3).facts[0].how == "seen in excerpt");
  for (const auto& rule : {sf::area_rule(), sf::rough_steel_rule(), sf::ninety_ten_rule()}) {
    CHECK_FALSE(rule.edition.empty());
    for (const auto& fact : rule.facts) CHECK_FALSE(fact.how.empty());
  }
  CHECK(sf::roughness_corrections().size() == 4);
}

TEST_CASE("film thickness: input it cannot use is refused with name, position and value") {
  using sf::InvalidInput;
  constexpr double none = std::numeric_limits<double>::quiet_NaN();
  CHECK_THROWS_WITH_AS((void)sf::area_rule(6), "area_rule: level must be 1 (strictest) to 5, got 6", InvalidInput);
  CHECK_THROWS_AS((void)sf::count_for(sf::area_rule().areas_ft2, 0.0), InvalidInput);
  CHECK_THROWS_AS((void)sf::count_for(sf::area_rule().areas_ft2, 1e300), InvalidInput);
  CHECK_THROWS_AS((void)sf::count_for(sf::ninety_ten_rule().readings_m2, 10.0), InvalidInput);
  CHECK_THROWS_AS((void)sf::count_for({.steps = {{10.0, 2}, {5.0, 3}}}, 1.0), InvalidInput);
  CHECK_THROWS_WITH_AS((void)sf::count_for({.steps = {{10.0, 2}}}, 11.0),
                       "count_for: surface is 11, beyond the table, which ends at 10", InvalidInput);
  CHECK_THROWS_AS((void)sf::limits_of(sf::area_rule(), {}), InvalidInput);
  CHECK_THROWS_AS((void)sf::limits_of(sf::area_rule(), {.lower = 2.2, .upper = 2.0}), InvalidInput);
  CHECK_THROWS_AS((void)sf::limits_of(sf::area_rule(), {.lower = 0.0, .upper = 2.0}), InvalidInput);
  const auto limits = sf::limits_of(sf::ninety_ten_rule(), {.lower = 100.0, .upper = std::nullopt});
  const std::vector<double> bad = {1.0, none};
  CHECK_THROWS_AS((void)judge_one(limits, bad), InvalidInput);
  const std::vector<double> two = {1.0, 2.0};
  const std::vector<std::int64_t> falling = {0, 2, 1, 2}, short_one = {0, 1}, whole = {0, 1, 2}, one = {0, 1};
  CHECK_THROWS_AS((void)sf::judge_film(limits, {.values = two, .spot_start = falling}), InvalidInput);
  CHECK_THROWS_AS((void)sf::judge_film(limits, {.values = two, .spot_start = short_one}), InvalidInput);
  CHECK_THROWS_AS(
      (void)sf::judge_film(limits, {.values = two, .spot_start = whole, .area_start = one, .unit_start = one}),
      InvalidInput);
  const std::vector<std::size_t> twice = {0, 0}, far = {5}, both = {0, 1};
  CHECK_THROWS_AS((void)sf::spot_mean(two, twice), InvalidInput);
  CHECK_THROWS_AS((void)sf::spot_mean(two, far), InvalidInput);
  CHECK_THROWS_AS((void)sf::spot_mean(two, both), InvalidInput);
  const sf::SamplingPlan few{.areas = 1, .spots = 4, .readings = 3};
  const auto area = sf::limits_of(sf::area_rule(), {.lower = 2.0, .upper = 2.2});
  CHECK_THROWS_WITH_AS((void)sf::operating_curve(area, few, two),
                       "operating_curve: plan.spots are 4 an area, the rule needs 5", InvalidInput);
  CHECK_THROWS_AS((void)sf::follow_direction(two, {.lower = 1.0, .upper = 2.0}, 0), InvalidInput);
  CHECK_THROWS_AS((void)sf::below_share_probability(1.0, 0.0, 0.8), InvalidInput);
}
