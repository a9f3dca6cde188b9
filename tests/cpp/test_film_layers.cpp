#include <doctest/doctest.h>

#include <steadyfilm/film_layers.hpp>

#include <cmath>
#include <limits>
#include <vector>

#include <steadyfilm/core.hpp>

#include "reference.hpp"

namespace {

using steadyfilm::LayerMeasurement;

const reference::Register derived("derived_layer_uncertainty", [](const reference::Args& args) {
  const auto found = steadyfilm::layer_uncertainty(
      {.readings = {args.count("readings_primer"), args.count("readings_total")},
       .sigma_repeat = {args.number("sigma_repeat_mil")},
       .sigma_location = {args.number("sigma_primer_location_mil"), args.number("sigma_topcoat_location_mil")},
       .same_spot = args.count("same_spot") != 0,
       .locations = args.count("locations")});
  return reference::Found{.numbers = {{"uncertainty_mil", found.uncertainty[1]}, {"correlation", found.correlation[1]}},
                          .lists = {},
                          .words = {}};
});

const reference::Register gain("gain_error", [](const reference::Args& args) {
  const double error = steadyfilm::gain_error(args.number("gain"), args.number("topcoat_mil"));
  return reference::Found{.numbers = {{"error_mil", error}}, .lists = {}, .words = {}};
});

const reference::Register stack("stack_up", [](const reference::Args& args) {
  const auto found = steadyfilm::stack_up(args.list("centers_mil"), args.list("half_widths_mil"));
  return reference::Found{.numbers = {{"rss_lower_mil", found.rss_lower},
                                      {"rss_upper_mil", found.rss_upper},
                                      {"worst_lower_mil", found.worst_lower},
                                      {"worst_upper_mil", found.worst_upper}},
                          .lists = {},
                          .words = {}};
});

const reference::Register share("equal_layer_half_width", [](const reference::Args& args) {
  const double half =
      steadyfilm::equal_layer_half_width(args.number("total_half_width_mil"), args.count("layer_count"));
  return reference::Found{.numbers = {{"half_width_mil", half}}, .lists = {}, .words = {}};
});

constexpr double none = std::numeric_limits<double>::quiet_NaN();

}  // namespace

TEST_CASE("film layers: neighbors err against each other, layers further apart do not") {
  const auto found = steadyfilm::layer_uncertainty(
      {.readings = {3, 3, 3}, .sigma_repeat = {0.03}, .sigma_location = {0.1, 0.1, 0.1}, .same_spot = true});
  const double build = 0.03 * 0.03 / 3.0;
  const std::vector<double> expected = {build, -build, 0.0, -build, 2.0 * build, -build, 0.0, -build, 2.0 * build};
  for (std::size_t i = 0; i < expected.size(); ++i) CHECK(found.error_covariance[i] == doctest::Approx(expected[i]));
  CHECK(found.total_uncertainty == doctest::Approx(std::sqrt(build)));
}

TEST_CASE("film layers: the sum of the layers is known as the last build is") {
  for (const bool same_zero : {true, false}) {
    CAPTURE(same_zero);
    const LayerMeasurement given{.readings = {2, 5, 3, 1},
                                 .sigma_repeat = {0.02, 0.03, 0.04, 0.05},
                                 .locations = 4,
                                 .sigma_offset = 0.06,
                                 .same_zero = same_zero,
                                 .gain = 0.02,
                                 .layer = {1.0, 2.0, 0.5, 1.5}};
    const auto found = steadyfilm::layer_uncertainty(given);
    double sum = 0.0;
    for (const double covariance : found.error_covariance) sum += covariance;
    CHECK(std::sqrt(sum) == doctest::Approx(found.total_uncertainty).epsilon(1e-12));
  }
}

TEST_CASE("film layers: one zero cancels in every difference, two zeros do not") {
  LayerMeasurement given{.readings = {1, 1}, .sigma_repeat = {0.0}, .sigma_offset = 0.1};
  CHECK(steadyfilm::layer_uncertainty(given).uncertainty == std::vector<double>{0.1, 0.0});
  given.same_zero = false;
  CHECK(steadyfilm::layer_uncertainty(given).uncertainty[1] == doctest::Approx(0.1 * std::sqrt(2.0)));
}

TEST_CASE("film layers: perfectly dependent layers stack up as at worst, opposite ones cancel") {
  const std::vector<double> centers = {1.0, 2.0, 3.0}, halves = {0.1, 0.2, 0.3};
  const auto one = steadyfilm::stack_up(centers, halves, 1.0);
  CHECK(one.rss_half_width == doctest::Approx(one.worst_half_width));
  const std::vector<double> pair = {1.0, 1.0}, same = {0.2, 0.2};
  CHECK(steadyfilm::stack_up(pair, same, -1.0).rss_half_width == 0.0);
  CHECK(steadyfilm::equal_layer_half_width(0.3, 3, 1.0) == doctest::Approx(0.1));
}

TEST_CASE("film layers: a build that is not measured leaves the two layers that it bounds without a value") {
  const std::vector<double> builds = {1.0, 3.0, 3.5, 1.0, none, 3.5, none, none, none};
  std::vector<double> layers(builds.size());
  steadyfilm::successive_layers(builds, 3, layers);
  const std::vector<double> expected = {1.0, 2.0, 0.5, 1.0, none, none, none, none, none};
  for (std::size_t i = 0; i < layers.size(); ++i) {
    CAPTURE(i);
    CHECK((layers[i] == expected[i] || (std::isnan(layers[i]) && std::isnan(expected[i]))));
  }
  steadyfilm::successive_layers(layers, 9, layers);  // in place, one row
  CHECK(layers[1] == 1.0);
}

TEST_CASE("film layers: cells are gathered whatever the order of the readings") {
  const auto found = steadyfilm::cell_means(std::vector<double>{3.0, 1.0, 5.0}, std::vector<std::int64_t>{2, 0, 2}, 3);
  CHECK(found.mean[0] == 1.0);
  CHECK(std::isnan(found.mean[1]));
  CHECK(found.mean[2] == 4.0);
  CHECK(found.count == std::vector<std::int64_t>{1, 0, 2});
  CHECK(found.sum_squares == std::vector<double>{0.0, 0.0, 2.0});
  CHECK(steadyfilm::cell_means({}, {}, 0).mean.empty());
}

TEST_CASE("film layers: windows of layers that imply the total's, and do not the other way round") {
  const std::vector<steadyfilm::LayerWindow> layers = {{.lower = 1.0, .upper = 1.2}, {.lower = 2.0, .upper = 2.2}};
  const auto found = steadyfilm::window_consistency(layers, {.lower = 3.0, .upper = 3.5});
  CHECK(found.implied);
  CHECK(found.implied_upper == doctest::Approx(3.4));
  CHECK(found.room_below == doctest::Approx(0.0));
  CHECK(found.room_above == doctest::Approx(0.1));
  CHECK(found.layer_lower[1] == doctest::Approx(1.8));  // total 3.0 over a primer of 1.2
  CHECK(found.layer_upper[1] == doctest::Approx(2.5));
  CHECK(found.layer_implied == std::vector<std::uint8_t>{0, 0});
  CHECK(found.center_difference == doctest::Approx(-0.05));
  CHECK_FALSE(steadyfilm::window_consistency(layers, {.lower = 3.05, .upper = 3.5}).implied);
  // 0.1 + 0.2 is above 0.3 in doubles
  const std::vector<steadyfilm::LayerWindow> tenths = {{.lower = 0.05, .upper = 0.1}, {.lower = 0.05, .upper = 0.2}};
  CHECK(steadyfilm::window_consistency(tenths, {.lower = 0.1, .upper = 0.3}).implied);
}

TEST_CASE("film layers: a pattern that explains the changes leaves nothing, another one what stands across it") {
  const steadyfilm::BuildChange change{.first = 0.1, .second = 0.1, .sigma_first = 0.02, .sigma_second = 0.02};
  const auto offset = steadyfilm::fit_pattern(change, 1.0, 1.0);
  CHECK(offset.size == doctest::Approx(0.1));
  CHECK(offset.sigma == doctest::Approx(0.02 / std::sqrt(2.0)));
  CHECK(offset.misfit == doctest::Approx(0.0));
  const auto topcoat = steadyfilm::fit_pattern(change, 0.0, 1.0);
  CHECK(topcoat.misfit == doctest::Approx(25.0));                     // the first build's 0.1 over 0.02, squared
  CHECK(topcoat.p_value == doctest::Approx(5.733e-7).epsilon(1e-3));  // two-sided 5 sigma
}

TEST_CASE("film layers: input it cannot use is refused with name, position and value") {
  using steadyfilm::InvalidInput;
  using steadyfilm::layer_uncertainty;
  CHECK_THROWS_WITH_AS((void)layer_uncertainty({.readings = {3, 0}, .sigma_repeat = {0.1}}),
                       "layer_uncertainty: readings[1] must be 1 or more (0)", InvalidInput);
  CHECK_THROWS_AS((void)layer_uncertainty({.readings = {}, .sigma_repeat = {0.1}}), InvalidInput);
  CHECK_THROWS_AS((void)layer_uncertainty({.readings = {3, 3, 3}, .sigma_repeat = {0.1, 0.1}}), InvalidInput);
  CHECK_THROWS_AS((void)layer_uncertainty({.readings = {3, 3}, .sigma_repeat = {-0.1}}), InvalidInput);
  CHECK_THROWS_AS((void)layer_uncertainty({.readings = {3, 3}, .sigma_repeat = {0.1}, .same_spot = false}),
                  InvalidInput);
  CHECK_THROWS_AS((void)layer_uncertainty({.readings = {3, 3}, .sigma_repeat = {0.1}, .gain = 0.03}), InvalidInput);
  CHECK_THROWS_AS((void)layer_uncertainty({.readings = {3, 3}, .sigma_repeat = {0.1}, .locations = 0}), InvalidInput);
  const std::vector<double> one = {1.0}, two = {1.0, 2.0}, three = {1.0, 1.0, 1.0};
  CHECK_THROWS_AS((void)steadyfilm::stack_up(one, two), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::stack_up({}, {}), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::stack_up(three, three, -0.6), InvalidInput);  // three layers: at least -1/2
  CHECK_THROWS_AS((void)steadyfilm::equal_layer_half_width(0.2, 0), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::equal_layer_half_width(0.2, 2, -1.0), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::gain_error(none, 2.0), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::cell_means(one, std::vector<std::int64_t>{1}, 1), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::cell_means(one, std::vector<std::int64_t>{-1}, 1), InvalidInput);
  const std::vector<steadyfilm::LayerWindow> turned = {{.lower = 1.2, .upper = 1.0}};
  CHECK_THROWS_AS((void)steadyfilm::window_consistency(turned, {.lower = 1.0, .upper = 2.0}), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::window_consistency({}, {.lower = 1.0, .upper = 2.0}), InvalidInput);
  const steadyfilm::BuildChange change{.first = 0.1, .second = 0.1, .sigma_first = 0.02, .sigma_second = 0.0};
  CHECK_THROWS_AS((void)steadyfilm::fit_pattern(change, 1.0, 1.0), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::fit_pattern({.sigma_first = 1.0, .sigma_second = 1.0}, 0.0, 0.0), InvalidInput);
  std::vector<double> out(2);
  CHECK_THROWS_AS(steadyfilm::successive_layers(two, 3, out), InvalidInput);
  CHECK_THROWS_AS(steadyfilm::successive_layers(two, 0, out), InvalidInput);
}
