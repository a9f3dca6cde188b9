#include <doctest/doctest.h>

#include <steadyfilm/film_coverage.hpp>

#include <cmath>
#include <limits>
#include <vector>

#include <steadyfilm/core.hpp>
#include <steadyfilm/distributions.hpp>

#include "reference.hpp"

namespace {

using steadyfilm::InvalidInput;
using steadyfilm::UnitSystem;

reference::Found numbers(std::map<std::string, double> found) {
  return {.numbers = std::move(found), .lists = {}, .words = {}};
}

const reference::Register wet("wet_film_target", [](const reference::Args& args) {
  const auto found = steadyfilm::wet_film_target(args.number("dft_mil"), args.number("volume_solids"),
                                                 args.number("thinner_fraction"));
  return numbers({{"volume_solids_thinned", found.volume_solids_thinned}, {"wft_mil", found.wft}});
});

const reference::Register spread("spreading_rate", [](const reference::Args& args) {
  const auto found = steadyfilm::spreading_rate(args.number("volume_solids"), args.number("dft_mil"), UnitSystem::us,
                                                args.number("transfer_efficiency"));
  return numbers({{"theoretical_ft2_gal", found.theoretical_ft2_gal},
                  {"theoretical_m2_l", found.theoretical_m2_l},
                  {"practical_ft2_gal", found.practical_ft2_gal}});
});

const reference::Register mix("mixed_volume_solids", [](const reference::Args& args) {
  const auto found =
      steadyfilm::mixed_volume_solids(args.list("parts"), args.list("volume_solids"), args.number("thinner_fraction"));
  return numbers({{"volume_solids", found.volume_solids}, {"volume_solids_thinned", found.volume_solids_thinned}});
});

const reference::Register change("dft_after_solids_change", [](const reference::Args& args) {
  const auto found =
      steadyfilm::dft_after_solids_change(args.number("dft_mil"), args.number("solids_from"), args.number("solids_to"));
  return numbers({{"dft_mil", found.dft}, {"change_mil", found.change}});
});

const reference::Register overbuild("overbuild_cost", [](const reference::Args& args) {
  const auto found = steadyfilm::overbuild_cost(args.number("area_ft2"), args.number("overbuild_mil"), UnitSystem::us,
                                                args.number("volume_solids"), args.number("transfer_efficiency"),
                                                args.number("price_per_gal"));
  return numbers({{"gallons", found.volume}, {"cost", found.cost}});
});

const reference::Register aim("aim_point", [](const reference::Args& args) {
  return numbers(
      {{"target_mil", steadyfilm::aim_point(args.number("lower_mil"), args.number("sigma_mil"), args.number("z"))}});
});

const reference::Register powder("powder_coverage", [](const reference::Args& args) {
  const auto found =
      steadyfilm::powder_coverage(args.number("specific_gravity"), args.number("thickness_mil"), UnitSystem::us);
  return numbers({{"coverage_ft2_lb", found.theoretical_ft2_lb}});
});

const reference::Register step("wet_step_as_dry", [](const reference::Args& args) {
  return numbers(
      {{"step_dry_mil", steadyfilm::wet_step_as_dry(args.number("step_mil"), args.number("volume_solids"))}});
});

const reference::Register thinner("thinner_allowance", [](const reference::Args& args) {
  return numbers(
      {{"thinner_gal", steadyfilm::thinner_allowance(args.number("voc_lb"), args.number("volume_gal"),
                                                     args.number("thinner_voc_lb_gal"), args.number("limit_lb_gal"))}});
});

const reference::Register content("voc_content", [](const reference::Args& args) {
  const auto found = steadyfilm::voc_content(args.number("voc_lb"), args.number("volume_gal"), args.number("water_gal"),
                                             0.0, args.number("solids_gal"));
  return numbers({{"per_gallon", found.per_volume},
                  {"less_water", found.less_water},
                  {"per_gallon_solids", found.per_solids.value()}});
});

const reference::Register solids("voc_per_solids", [](const reference::Args& args) {
  return numbers(
      {{"per_gallon_solids", steadyfilm::voc_per_solids(args.number("voc_lb_gal"), args.number("density_lb_gal"))}});
});

const reference::Register voc("mixed_voc", [](const reference::Args& args) {
  return numbers({{"voc", steadyfilm::mixed_voc(args.list("parts"), args.list("voc"))}});
});

constexpr double none = std::numeric_limits<double>::quiet_NaN();
constexpr double liters_per_gallon = 3.785411784;      // NIST SP 811, appendix B
constexpr double square_meters_per_foot = 0.09290304;  // the same

}  // namespace

TEST_CASE("film coverage: wet to dry and back") {
  for (const double dft : {0.4, 2.1, 53.0, 400.0}) {
    for (const double thinner_fraction : {0.0, 0.1, 1.0}) {
      const auto found = steadyfilm::wet_film_target(dft, 0.52, thinner_fraction);
      CHECK(steadyfilm::dry_film(found.wft, 0.52, thinner_fraction) == doctest::Approx(dft).epsilon(1e-15));
      CHECK(found.wft * found.volume_solids_thinned == doctest::Approx(dft).epsilon(1e-15));
    }
  }
  CHECK(steadyfilm::wet_film_target(2.1, 1.0).wft == 2.1);
}

TEST_CASE("film coverage: a thinner is a component without solids") {
  const std::vector<double> parts = {4.0, 1.0}, shares = {0.48, 0.65};
  const std::vector<double> with = {4.0, 1.0, 0.5}, none_in_thinner = {0.48, 0.65, 0.0};
  CHECK(steadyfilm::mixed_volume_solids(with, none_in_thinner).volume_solids ==
        doctest::Approx(steadyfilm::mixed_volume_solids(parts, shares, 0.1).volume_solids_thinned).epsilon(1e-15));
}

TEST_CASE("film coverage: both systems cover the same area") {
  const auto us = steadyfilm::spreading_rate(0.52, 2.1, UnitSystem::us, 0.65, 0.1);
  const auto metric = steadyfilm::spreading_rate(0.52, 2.1 * 25.4, UnitSystem::metric, 0.65, 0.1);
  CHECK(us.theoretical_m2_l == doctest::Approx(metric.theoretical_m2_l).epsilon(1e-14));
  CHECK(us.practical_ft2_gal == doctest::Approx(metric.practical_ft2_gal).epsilon(1e-14));
  CHECK(metric.theoretical_m2_l == doctest::Approx(1000.0 * 0.52 / 53.34).epsilon(1e-14));
  CHECK(metric.practical_m2_l == doctest::Approx(0.65 * 0.9 * metric.theoretical_m2_l).epsilon(1e-14));
  CHECK(steadyfilm::solids_coverage(UnitSystem::us) * 25.4 * square_meters_per_foot / liters_per_gallon ==
        doctest::Approx(steadyfilm::solids_coverage(UnitSystem::metric)).epsilon(1e-14));

  const auto cloud = steadyfilm::powder_coverage(1.5, 2.5, UnitSystem::us, 0.9);
  const auto same = steadyfilm::powder_coverage(1.5, 63.5, UnitSystem::metric, 0.9);
  CHECK(cloud.theoretical_ft2_lb == doctest::Approx(same.theoretical_ft2_lb).epsilon(1e-14));
  CHECK(same.practical_m2_kg == doctest::Approx(0.9 * 1000.0 / 1.5 / 63.5).epsilon(1e-14));

  const auto gallons = steadyfilm::overbuild_cost(67200.0, 0.3, UnitSystem::us, 0.52, 0.65, 95.0);
  const auto liters = steadyfilm::overbuild_cost(67200.0 * square_meters_per_foot, 0.3 * 25.4, UnitSystem::metric, 0.52,
                                                 0.65, 95.0 / liters_per_gallon);
  CHECK(liters.volume == doctest::Approx(gallons.volume * liters_per_gallon).epsilon(1e-14));
  CHECK(liters.cost == doctest::Approx(gallons.cost).epsilon(1e-14));
}

TEST_CASE("film coverage: paint bought over paint needed is what the practical rate says") {
  const auto rate = steadyfilm::spreading_rate(0.52, 2.1, UnitSystem::us, 0.65);
  const auto paint = steadyfilm::overbuild_cost(67200.0, 2.1, UnitSystem::us, 0.52, 0.65, 0.0);
  CHECK(paint.volume * rate.practical_ft2_gal == doctest::Approx(67200.0).epsilon(1e-14));
  CHECK(paint.cost == 0.0);
}

TEST_CASE("film coverage: the comb's step grows with the film, ends belonging to the finer step") {
  for (const auto& row : std::vector<std::pair<double, double>>{
           {0.1, 0.5}, {6.0, 0.5}, {6.01, 1.0}, {10.0, 1.0}, {10.5, 2.0}, {30.0, 2.0}, {31.0, 5.0}, {200.0, 5.0}}) {
    CAPTURE(row.first);
    CHECK(steadyfilm::wet_comb_step(row.first, UnitSystem::us) == row.second);
  }
  CHECK(steadyfilm::wet_comb_step(6.0 * 25.4, UnitSystem::metric) == 12.7);
  CHECK(steadyfilm::wet_comb_step(160.0, UnitSystem::metric) == 25.4);
}

TEST_CASE("film coverage: the aim point leaves the share below that its z stands for") {
  for (const double share : {0.5, 0.2, 0.05, 1e-3, 1e-9}) {
    const double target = steadyfilm::aim_point(2.0, 0.15, steadyfilm::normal_quantile(1.0 - share));
    CHECK(steadyfilm::share_below(2.0, target, 0.15) == doctest::Approx(share).epsilon(1e-6));
  }
  CHECK(steadyfilm::share_below(2.0, 2.0, 0.0) == 0.0);
  CHECK(steadyfilm::share_below(2.0, 1.9, 0.0) == 1.0);
  CHECK(steadyfilm::share_below(2.0, 2.1, 5e-324) == 0.0);
  CHECK(steadyfilm::aim_point(2.0, 0.0, 3.0) == 2.0);
}

TEST_CASE("film coverage: the thinner at the limit brings the mix to the limit, and no bound is told as none") {
  const double most = steadyfilm::thinner_allowance(15.9, 5.0, 6.4, 3.5);
  CHECK((15.9 + most * 6.4) / (5.0 + most) == doctest::Approx(3.5).epsilon(1e-14));
  CHECK(steadyfilm::thinner_allowance(17.5, 5.0, 6.4, 3.5) == 0.0);
  CHECK(steadyfilm::thinner_allowance(20.0, 5.0, 6.4, 3.5) == 0.0);
  CHECK(steadyfilm::thinner_allowance(20.0, 5.0, 1.0, 3.5) == 0.0);
  CHECK(std::isinf(steadyfilm::thinner_allowance(15.9, 5.0, 3.5, 3.5)));
}

TEST_CASE("film coverage: VOC over three volumes") {
  const auto found = steadyfilm::voc_content(30.0, 100.0, 50.0, 10.0, 40.0);
  CHECK(found.per_volume == 0.3);
  CHECK(found.less_water == 0.75);
  CHECK(found.per_solids.value() == 0.75);
  CHECK(!steadyfilm::voc_content(30.0, 100.0).per_solids.has_value());
  // A solvent-borne paint: what is no solids is solvent of the density, so that both ways to its solids agree.
  const double density = 7.36, share = 0.4;
  const double solvent = density * (1.0 - share);
  CHECK(steadyfilm::voc_per_solids(solvent, density) ==
        doctest::Approx(steadyfilm::voc_content(solvent, 1.0, 0.0, 0.0, share).per_solids.value()).epsilon(1e-14));
}

TEST_CASE("film coverage: input it cannot use is refused with name, position and value") {
  CHECK_THROWS_WITH_AS((void)steadyfilm::wet_film_target(2.1, 52.0),
                       "wet_film_target: volume_solids must be a share above 0 and at most 1, got 52; 52 % is written "
                       "0.52",
                       InvalidInput);
  CHECK_THROWS_WITH_AS((void)steadyfilm::wet_film_target(2.1, 0.52, 10.0),
                       "wet_film_target: thinner_fraction must lie between 0 and 1 (thinner for one of mixed paint by "
                       "volume), got 10; 10 % is written 0.1",
                       InvalidInput);
  const std::vector<double> parts = {4.0, 1.0}, percent = {0.48, 65.0}, empty{}, zeros = {0.0, 0.0};
  CHECK_THROWS_WITH_AS((void)steadyfilm::mixed_volume_solids(parts, percent),
                       "mixed_volume_solids: volume_solids[1] must be a share above 0 and at most 1, got 65; 65 % is "
                       "written 0.65",
                       InvalidInput);
  CHECK_THROWS_WITH_AS((void)steadyfilm::overbuild_cost(100.0, -0.1, UnitSystem::us, 0.5, 0.5, 1.0),
                       "overbuild_cost: overbuild must be 0 or more, got -0.1: film below the aim is no overbuild",
                       InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::mixed_volume_solids(empty, empty), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::mixed_volume_solids(zeros, parts), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::mixed_volume_solids(parts, zeros), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::mixed_volume_solids(parts, empty), InvalidInput);
  for (const double bad : {0.0, -0.1, 1.01, none, std::numeric_limits<double>::infinity()}) {
    CAPTURE(bad);
    CHECK_THROWS_AS((void)steadyfilm::wet_film_target(2.1, bad), InvalidInput);
    CHECK_THROWS_AS((void)steadyfilm::dry_film(4.0, bad), InvalidInput);
    CHECK_THROWS_AS((void)steadyfilm::wet_step_as_dry(0.5, bad), InvalidInput);
    CHECK_THROWS_AS((void)steadyfilm::dft_after_solids_change(2.1, bad, 0.5), InvalidInput);
    CHECK_THROWS_AS((void)steadyfilm::dft_after_solids_change(2.1, 0.5, bad), InvalidInput);
    CHECK_THROWS_AS((void)steadyfilm::spreading_rate(bad, 2.1, UnitSystem::us), InvalidInput);
    CHECK_THROWS_AS((void)steadyfilm::spreading_rate(0.5, 2.1, UnitSystem::us, bad), InvalidInput);
    CHECK_THROWS_AS((void)steadyfilm::powder_coverage(1.5, 2.5, UnitSystem::us, bad), InvalidInput);
    CHECK_THROWS_AS((void)steadyfilm::overbuild_cost(1.0, 1.0, UnitSystem::us, bad, 0.5, 1.0), InvalidInput);
    CHECK_THROWS_AS((void)steadyfilm::overbuild_cost(1.0, 1.0, UnitSystem::us, 0.5, bad, 1.0), InvalidInput);
  }
  for (const double bad : {0.0, -2.1, none}) {
    CAPTURE(bad);
    CHECK_THROWS_AS((void)steadyfilm::wet_film_target(bad, 0.5), InvalidInput);
    CHECK_THROWS_AS((void)steadyfilm::dry_film(bad, 0.5), InvalidInput);
    CHECK_THROWS_AS((void)steadyfilm::wet_comb_step(bad, UnitSystem::us), InvalidInput);
    CHECK_THROWS_AS((void)steadyfilm::wet_step_as_dry(bad, 0.5), InvalidInput);
    CHECK_THROWS_AS((void)steadyfilm::spreading_rate(0.5, bad, UnitSystem::us), InvalidInput);
    CHECK_THROWS_AS((void)steadyfilm::powder_coverage(1.5, bad, UnitSystem::us), InvalidInput);
    CHECK_THROWS_AS((void)steadyfilm::powder_coverage(bad, 2.5, UnitSystem::us), InvalidInput);
    CHECK_THROWS_AS((void)steadyfilm::voc_content(1.0, bad), InvalidInput);
    CHECK_THROWS_AS((void)steadyfilm::voc_content(1.0, 10.0, 0.0, 0.0, bad), InvalidInput);
    CHECK_THROWS_AS((void)steadyfilm::thinner_allowance(1.0, bad, 6.4, 3.5), InvalidInput);
    CHECK_THROWS_AS((void)steadyfilm::thinner_allowance(1.0, 5.0, bad, 3.5), InvalidInput);
    CHECK_THROWS_AS((void)steadyfilm::thinner_allowance(1.0, 5.0, 6.4, bad), InvalidInput);
  }
  CHECK_THROWS_AS((void)steadyfilm::spreading_rate(0.5, 2.1, UnitSystem::us, 1.0, 1.0), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::voc_content(1.0, 10.0, 6.0, 4.0), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::voc_content(1.0, 1.0, 0.7, 0.3), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::voc_content(1.0, 10.0, 6.0, 0.0, 4.5), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::voc_content(-1.0, 10.0), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::voc_per_solids(7.36, 7.36), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::mixed_voc(parts, std::vector<double>{3.0, -1.0}), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::aim_point(2.0, -0.1, 1.6), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::aim_point(2.0, 0.1, -1.6), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::share_below(2.0, 2.1, -0.1), InvalidInput);
}
