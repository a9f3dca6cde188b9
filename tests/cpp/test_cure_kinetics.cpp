#include <doctest/doctest.h>

#include <steadyfilm/cure_kinetics.hpp>

#include <cmath>
#include <limits>
#include <random>
#include <vector>

#include <steadyfilm/core.hpp>

#include "reference.hpp"

namespace {

using namespace steadyfilm;
using List = std::vector<double>;

const reference::Register nth("nth_order_conversion", [](const reference::Args& args) {
  const double found = nth_order_conversion(args.number("rate_per_min"), args.number("time_min"), args.number("order"));
  return reference::Found{.numbers = {{"conversion", found}}, .lists = {}, .words = {}};
});

const reference::Register ratio("second_order_time_ratio", [](const reference::Args& args) {
  const double found = second_order_time_ratio(args.number("from_conversion"), args.number("to_conversion"));
  return reference::Found{.numbers = {{"ratio", found}}, .lists = {}, .words = {}};
});

const reference::Register kamal("kamal_conversion", [](const reference::Args& args) {
  auto found = kamal_conversion(args.number("k1_per_min"), args.number("k2_per_min"), args.number("m"),
                                args.number("n"), args.number("initial_conversion"), args.list("time_min"));
  return reference::Found{.numbers = {}, .lists = {{"conversion", std::move(found)}}, .words = {}};
});

const reference::Register peak("kamal_peak", [](const reference::Args& args) {
  const auto found = kamal_peak(args.number("k1_per_min"), args.number("k2_per_min"));
  return reference::Found{
      .numbers = {{"time_min", found.time_min}, {"conversion", found.conversion}}, .lists = {}, .words = {}};
});

const reference::Register auto_row("autocatalytic_conversion", [](const reference::Args& args) {
  CureKinetics kinetics{
      .model = CureModel::autocatalytic,
      .rate = {args.number("pre_exponential_per_min"), args.number("activation_energy_kj")},
      .m = args.number("m"),
      .n = args.number("n"),
      .initial_conversion = args.number("initial_conversion"),
      .gas_constant_j = args.number("gas_constant"),
  };
  if (args.has("diffusion")) {
    const List given = args.list("diffusion");
    kinetics.diffusion = {.sharpness = given[0], .offset = given[1], .slope_per_k = given[2]};
  }
  auto found =
      degree_of_cure_at(args.list("time_min"), args.list("temperature_c"), kinetics, args.list("evaluate_min"));
  return reference::Found{.numbers = {}, .lists = {{"conversion", std::move(found)}}, .words = {}};
});

// A bake with a ramp, a hold, a dip and a fall, in steps of five minutes.
const List bake_time{0, 5, 10, 15, 20, 25, 30, 35, 40, 45, 50, 55, 60};
const List bake_c{25, 60, 95, 120, 135, 140, 140, 90, 120, 140, 140, 80, 40};

List cured(const CureKinetics& kinetics, const List& time = bake_time, const List& temperature = bake_c) {
  List out(time.size());
  degree_of_cure(time, temperature, kinetics, out);
  return out;
}

const RateConstant fast{4.2e7, 65.0};

}  // namespace

TEST_CASE("cure kinetics: closed forms agree with the Runge-Kutta solution of the same model") {
  // A divisor of 1 + exp(0 ...) = 2 halves the rate and takes the numerical way.
  const Diffusion halves{.sharpness = 0.0, .offset = 0.0, .slope_per_k = 0.0};
  for (CureKinetics kinetics :
       {CureKinetics{.model = CureModel::nth_order, .rate = fast, .n = 1.0},
        CureKinetics{.model = CureModel::nth_order, .rate = fast, .n = 2.0},
        CureKinetics{.model = CureModel::nth_order, .rate = fast, .n = 1.7},
        CureKinetics{.model = CureModel::autocatalytic, .rate = fast, .m = 0.5, .n = 1.5, .initial_conversion = 1e-3},
        CureKinetics{.model = CureModel::autocatalytic, .rate = fast, .m = 1.0, .n = 1.0, .initial_conversion = 1e-3},
        CureKinetics{.model = CureModel::autocatalytic, .rate = fast, .m = 1.3, .n = 0.7, .initial_conversion = 0.05},
        CureKinetics{.model = CureModel::kamal, .rate = {1e6, 65.0}, .second = fast, .m = 1.0, .n = 1.0}}) {
    CAPTURE(static_cast<int>(kinetics.model));
    CAPTURE(kinetics.m);
    CAPTURE(kinetics.n);
    REQUIRE(has_closed_form(kinetics));
    const List exact = cured(kinetics);
    kinetics.diffusion = halves;
    kinetics.rate.pre_exponential_per_min *= 2.0;
    kinetics.second.pre_exponential_per_min *= 2.0;
    REQUIRE_FALSE(has_closed_form(kinetics));
    const List numeric = cured(kinetics);
    for (std::size_t i = 0; i < exact.size(); ++i) {
      CAPTURE(i);
      CHECK(numeric[i] == doctest::Approx(exact[i]).epsilon(1e-9));
    }
    CHECK(exact.back() > 0.01);
  }
}

TEST_CASE("cure kinetics: equal equivalent times are equal cures for one activation energy") {
  const CureRate rate{65.0, 100.0};
  const double minutes = equivalent_time(bake_time, bake_c, rate, {}, {.gap_medians = 100.0}).credited_min;
  for (const CureKinetics& kinetics :
       {CureKinetics{.model = CureModel::nth_order, .rate = fast, .n = 2.0},
        CureKinetics{
            .model = CureModel::autocatalytic, .rate = fast, .m = 0.5, .n = 1.5, .initial_conversion = 1e-3}}) {
    CHECK(equivalence(kinetics) == Equivalence::exact);
    const double along = cured(kinetics).back();
    const double held = cured(kinetics, {0.0, minutes}, {100.0, 100.0}).back();
    CHECK(held == doctest::Approx(along).epsilon(1e-9));
  }
}

TEST_CASE("cure kinetics: two energies make equivalent time approximate, diffusion makes it worthless") {
  CureKinetics kinetics{.model = CureModel::kamal, .rate = {1e4, 50.0}, .second = {4.2e6, 65.0}, .m = 1.0, .n = 1.0};
  CHECK(equivalence(kinetics) == Equivalence::approximate);
  CHECK_FALSE(has_closed_form(kinetics));
  kinetics.rate.pre_exponential_per_min = 0.0;
  kinetics.initial_conversion = 0.01;
  CHECK(equivalence(kinetics) == Equivalence::exact);
  kinetics.diffusion = {.sharpness = 30.0, .offset = -1.5, .slope_per_k = 0.005};
  CHECK(equivalence(kinetics) == Equivalence::none);
}

TEST_CASE("cure kinetics: an order below one finishes, and stays finished") {
  CHECK(nth_order_conversion(0.05, 39.0, 0.5) < 1.0);
  CHECK(nth_order_conversion(0.05, 40.0, 0.5) == 1.0);
  CHECK(nth_order_conversion(0.05, 1e6, 0.5) == 1.0);
  CHECK(nth_order_conversion(0.05, 10.0, 0.0) == doctest::Approx(0.5));
  const List out = cured({.model = CureModel::nth_order, .rate = {4.2e8, 65.0}, .n = 0.5});
  for (const double a : out) CHECK((a >= 0.0 && a <= 1.0));
  CHECK(out.back() == 1.0);
}

TEST_CASE("cure kinetics: conversions never fall and stay between 0 and 1, whatever the numbers") {
  std::mt19937_64 random(2);
  std::uniform_real_distribution<double> order(0.0, 2.5), energy(0.0, 120.0), log_rate(-3.0, 1.0);
  for (int k = 0; k < 60; ++k) {
    CureKinetics kinetics{.model = k % 3 == 0   ? CureModel::nth_order
                                   : k % 3 == 1 ? CureModel::autocatalytic
                                                : CureModel::kamal,
                          .rate = {},
                          .second = {},
                          .m = order(random),
                          .n = order(random),
                          .initial_conversion = 1e-3};
    for (RateConstant* constant : {&kinetics.rate, &kinetics.second}) {
      constant->activation_energy_kj = energy(random);
      // A rate of 0.001 to 10 a minute at 120 C.
      constant->pre_exponential_per_min =
          std::pow(10.0, log_rate(random)) * std::exp(1000.0 * constant->activation_energy_kj / gas_constant / 393.15);
    }
    const List out = cured(kinetics);
    CAPTURE(k);
    for (std::size_t i = 1; i < out.size(); ++i) {
      CHECK(out[i] >= out[i - 1] - 1e-15);
      CHECK(out[i] <= 1.0);
    }
    CHECK(out[0] == doctest::Approx(1e-3));
  }
}

TEST_CASE("cure kinetics: values at given times are those of a trace with these times") {
  const CureKinetics kinetics{.model = CureModel::nth_order, .rate = fast, .n = 2.0};
  const auto at = degree_of_cure_at(bake_time, bake_c, kinetics, List{0.0, 12.5, 30.0, 60.0});
  const List all = cured(kinetics);
  CHECK(at[0] == 0.0);
  CHECK(at[2] == doctest::Approx(all[6]).epsilon(1e-12));
  CHECK(at[3] == doctest::Approx(all[12]).epsilon(1e-12));
  CHECK((at[1] > all[2] && at[1] < all[3]));
}

TEST_CASE("cure kinetics: a peak rate needs the second rate to be the larger") {
  CHECK(kamal_peak(0.1, 0.05).time_min == 0.0);
  CHECK(kamal_conversion(0.002, 0.08, 1.0, 1.0, 0.0, List{0.0, 1e6}).back() == doctest::Approx(1.0));
}

TEST_CASE("cure kinetics: input it cannot use is refused with name, position and value") {
  const List two{0.0, 1.0}, warm{60.0, 60.0};
  List out(2);
  CHECK_THROWS_WITH_AS(
      degree_of_cure(two, warm, {.model = CureModel::autocatalytic, .rate = fast, .m = 0.5, .n = 1.5}, out),
      "degree_of_cure: initial_conversion must be above 0 (0): the reaction feeds on its own product and cannot start "
      "without any",
      InvalidInput);
  CHECK_THROWS_AS(degree_of_cure(two, warm, {.rate = {-1.0, 65.0}}, out), InvalidInput);
  CHECK_THROWS_AS(degree_of_cure(two, warm, {.rate = {1.0, -65.0}}, out), InvalidInput);
  CHECK_THROWS_AS(degree_of_cure(two, warm, {.rate = fast, .n = -1.0}, out), InvalidInput);
  CHECK_THROWS_AS(degree_of_cure(two, warm, {.rate = fast, .initial_conversion = 1.0}, out), InvalidInput);
  CHECK_THROWS_AS(degree_of_cure(List{0.0, 0.0}, warm, {.rate = fast}, out), InvalidInput);
  CHECK_THROWS_AS(degree_of_cure(two, List{60.0, -300.0}, {.rate = fast}, out), InvalidInput);
  List three(3);
  CHECK_THROWS_AS(degree_of_cure(two, warm, {.rate = fast}, three), InvalidInput);
  CHECK_THROWS_AS((void)degree_of_cure_at(two, warm, {.rate = fast}, List{2.0}), InvalidInput);
  CHECK_THROWS_AS((void)degree_of_cure_at(two, warm, {.rate = fast}, List{0.5, 0.5}), InvalidInput);
  CHECK_THROWS_AS((void)nth_order_conversion(-0.1, 1.0, 1.0), InvalidInput);
  CHECK_THROWS_AS((void)second_order_time_ratio(0.0, 0.5), InvalidInput);
  CHECK_THROWS_AS((void)kamal_conversion(0.0, 0.1, 1.0, 1.0, 0.0, List{1.0}), InvalidInput);
  CHECK_THROWS_AS((void)kamal_conversion(0.1, 0.1, 1.0, 1.0, 0.0, List{2.0, 1.0}), InvalidInput);
  CHECK_THROWS_AS((void)kamal_peak(0.0, 0.1), InvalidInput);
}
