#include <doctest/doctest.h>

#include <steadyfilm/wash_tank.hpp>

#include <cmath>
#include <limits>
#include <vector>

#include <steadyfilm/core.hpp>

#include "reference.hpp"

namespace {

double area_m2(const reference::Args& args) {
  return args.number("width_in") * 0.0254 * args.number("length_in") * 0.0254 * args.number("sides");
}

const reference::Register addition("addition_volume", [](const reference::Args& args) {
  const auto found =
      steadyfilm::addition_volume(args.number("tank_gal"), args.number("from_percent"), args.number("to_percent"));
  return reference::Found{
      .numbers = {{"simple_gal", found.simple}, {"exact_gal", found.exact}}, .lists = {}, .words = {}};
});

const reference::Register drag_out("drag_out_concentration", [](const reference::Args& args) {
  const double percent = steadyfilm::drag_out_concentration(args.number("tank_gal"), args.number("loss_gal_h"),
                                                            args.number("start_percent"), args.number("hours"));
  return reference::Found{.numbers = {{"percent", percent}}, .lists = {}, .words = {}};
});

const reference::Register rinse("rinse_ratio", [](const reference::Args& args) {
  const double percent = steadyfilm::rinse_ratio(args.number("drag_gal_h"), args.number("flow_gal_h"));
  return reference::Found{.numbers = {{"percent", percent}}, .lists = {}, .words = {}};
});

const reference::Register flow("rinse_flow_for_ratio", [](const reference::Args& args) {
  const double found = steadyfilm::rinse_flow_for_ratio(args.number("drag_gal_h"), args.number("ratio_percent"));
  return reference::Found{.numbers = {{"flow_gal_h", found}}, .lists = {}, .words = {}};
});

const reference::Register weight("coating_weight", [](const reference::Args& args) {
  const auto found = steadyfilm::coating_weight(args.number("loss_mg"), area_m2(args));
  return reference::Found{
      .numbers = {{"mg_ft2", found.mg_per_ft2}, {"g_m2", found.g_per_m2}}, .lists = {}, .words = {}};
});

const reference::Register weight_error("coating_weight_error", [](const reference::Args& args) {
  const auto found =
      steadyfilm::coating_weight_error(args.number("balance_mg"), args.count("weighings"), area_m2(args));
  return reference::Found{.numbers = {{"mg_ft2", found.mg_per_ft2}}, .lists = {}, .words = {}};
});

}  // namespace

TEST_CASE("wash tank: the exact addition gives the concentration asked for") {
  for (const double to : {2.6, 3.0, 10.0, 60.0}) {
    const auto found = steadyfilm::addition_volume(1200.0, 2.5, to);
    const double grown = (1200.0 * 2.5 / 100.0 + found.growing) / (1200.0 + found.growing) * 100.0;
    CHECK(grown == doctest::Approx(to).epsilon(1e-13));
    const double displaced = ((1200.0 - found.exact) * 2.5 / 100.0 + found.exact) / 1200.0 * 100.0;
    CHECK(displaced == doctest::Approx(to).epsilon(1e-13));
  }
  CHECK(steadyfilm::addition_volume(1200.0, 3.0, 3.0).exact == 0.0);
}

TEST_CASE("wash tank: losses in parts are one loss, and the time to a level takes one there") {
  const double first = steadyfilm::drag_out_concentration(600.0, 12.0, 3.0, 4.0);
  CHECK(steadyfilm::drag_out_concentration(600.0, 12.0, first, 5.0) ==
        doctest::Approx(steadyfilm::drag_out_concentration(600.0, 12.0, 3.0, 9.0)).epsilon(1e-14));
  const double hours = steadyfilm::hours_to_concentration(600.0, 12.0, 3.0, 2.5);
  CHECK(steadyfilm::drag_out_concentration(600.0, 12.0, 3.0, hours) == doctest::Approx(2.5).epsilon(1e-14));
  CHECK(hours == doctest::Approx(50.0 * std::log(1.2)));
  CHECK(steadyfilm::hours_to_concentration(600.0, 12.0, 2.0, 2.5) == 0.0);
  CHECK(std::isinf(steadyfilm::hours_to_concentration(600.0, 0.0, 3.0, 2.5)));
}

TEST_CASE("wash tank: the flow for a ratio gives that ratio") {
  CHECK(steadyfilm::rinse_ratio(2.0, steadyfilm::rinse_flow_for_ratio(2.0, 3.0)) == doctest::Approx(3.0));
  CHECK(steadyfilm::rinse_ratio(2.0, 0.0) == 100.0);
  CHECK(steadyfilm::rinse_flow_for_ratio(2.0, 100.0) == 0.0);
}

TEST_CASE("wash tank: titration and weights by their definitions") {
  const auto found = steadyfilm::titration_concentration(8.0, 0.35, 0.1);
  CHECK(found.percent == doctest::Approx(2.8));
  CHECK(found.standard_uncertainty == doctest::Approx(0.035));
  const auto coat = steadyfilm::coating_weight(1000.0, 1.0);
  CHECK(coat.g_per_m2 == 1.0);
  CHECK(coat.mg_per_ft2 == doctest::Approx(92.90304));
}

TEST_CASE("wash tank: use between readings of a meter, for what it was used for") {
  const auto used = steadyfilm::metered_use(std::vector<double>{10.0, 10.5, 10.5, 12.0});
  CHECK(used == std::vector<double>{0.5, 0.0, 1.5});
  const auto rates = steadyfilm::use_rates(used, std::vector<double>{100.0, 100.0, 0.0});
  CHECK(rates[0] == 0.005);
  CHECK(rates[1] == 0.0);
  CHECK(std::isnan(rates[2]));
}

TEST_CASE("wash tank: input it cannot use is refused with name, position and value") {
  using steadyfilm::InvalidInput;
  CHECK_THROWS_WITH_AS((void)steadyfilm::addition_volume(1200.0, 3.0, 2.5),
                       "addition_volume: to_percent lies below from_percent (2.5 below 3): concentrate cannot lower a "
                       "concentration",
                       InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::addition_volume(0.0, 2.5, 3.0), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::addition_volume(1200.0, 2.5, 100.0), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::addition_volume(1200.0, 2.5, 101.0), InvalidInput);
  CHECK_THROWS_WITH_AS((void)steadyfilm::metered_use(std::vector<double>{10.0, 9.0}),
                       "metered_use: totals[1] lies below the reading before it (9 after 10): split the log where the "
                       "meter was changed or set back",
                       InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::metered_use(std::vector<double>{10.0}), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::use_rates(std::vector<double>{1.0}, std::vector<double>{-1.0}), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::use_rates(std::vector<double>{1.0}, std::vector<double>{1.0, 2.0}), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::rinse_ratio(0.0, 1.0), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::rinse_flow_for_ratio(1.0, 0.0), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::coating_weight(-1.0, 1.0), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::coating_weight_error(0.2, 0, 1.0), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::drag_out_concentration(600.0, -1.0, 3.0, 1.0), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::hours_to_concentration(600.0, 1.0, 3.0, 0.0), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::titration_concentration(8.0, 0.0), InvalidInput);
}
