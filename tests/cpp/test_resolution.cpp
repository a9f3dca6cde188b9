#include <doctest/doctest.h>

#include <steadyfilm/resolution.hpp>

#include <cmath>
#include <vector>

#include <steadyfilm/core.hpp>
#include <steadyfilm/distributions.hpp>

#include "reference.hpp"

namespace {

using reference::Args;
using reference::Found;

const reference::Register steps("window_steps", [](const Args& args) {
  const auto found = steadyfilm::window_steps(args.number("lower"), args.number("upper"), args.number("step"));
  return Found{.numbers = {{"steps", found.steps},
                           {"shown_inside", static_cast<double>(found.shown_inside)},
                           {"standard_uncertainty", found.standard_uncertainty}},
               .lists = {},
               .words = {}};
});

const reference::Register effect("rounding_effect", [](const Args& args) {
  const auto found = steadyfilm::rounding_effect(args.number("sigma"), args.number("step"), args.number("mean"),
                                                 args.count("subgroup_size"));
  return Found{.numbers = {{"mean_range", found.mean_range},
                           {"zero_range_share", found.zero_range_share},
                           {"zero_range_percent", 100.0 * found.zero_range_share},
                           {"sigma_ratio", found.sigma_ratio},
                           {"sd_rounded", found.sd_rounded},
                           {"false_alarm", found.false_alarm}},
               .lists = {},
               .words = {}};
});

const reference::Register fit("rounded_fit", [](const Args& args) {
  const auto found =
      steadyfilm::fit_rounded(args.list("values"), args.number("step"), args.number("confidence_level"));
  return Found{.numbers = {{"mean", found.mean},
                           {"sd", found.sd},
                           {"log_likelihood", found.log_likelihood},
                           {"sd_lower", found.sd_lower},
                           {"sd_upper", found.sd_upper},
                           {"sd_of_readings", found.sd_of_readings}},
               .lists = {},
               .words = {}};
});

const std::vector<double> coarse = {2.0, 2.1, 2.1, 2.2, 2.1, 2.0, 2.1, 2.1, 2.3, 2.2};

}  // namespace

TEST_CASE("resolution: the likelihood is the product of the chances of the cells, far out as well") {
  using steadyfilm::normal_cdf;
  using steadyfilm::normal_survival;
  const std::vector<double> values = {3.0, 5.0};
  const double direct = std::log(normal_cdf((3.5 - 4.2) / 0.8) - normal_cdf((2.5 - 4.2) / 0.8)) +
                        std::log(normal_survival((4.5 - 4.2) / 0.8) - normal_survival((5.5 - 4.2) / 0.8));
  CHECK(steadyfilm::rounded_log_likelihood(values, 1.0, 4.2, 0.8) == doctest::Approx(direct).epsilon(1e-13));
  // One cell wide beside the spread, one narrow: a hundred spreads away the tail is phi(z)/z (1 - 1/z^2 + 3/z^4).
  const double z = 100.0;
  const double tail = -0.5 * z * z - 0.5 * std::log(2.0 * std::acos(-1.0)) - std::log(z) + std::log1p(-1e-4 + 3e-8);
  const double both = steadyfilm::rounded_log_likelihood(std::vector{0.0, 101.0}, 2.0 / 2.0, 0.5, 1.0);
  const double near = std::log(normal_cdf(0.0) - normal_cdf(-1.0));
  CHECK(both == doctest::Approx(tail + near).epsilon(1e-9));
}

TEST_CASE("resolution: as the step goes to nothing the fit is mean and sd with divisor n") {
  const std::vector<double> values = {2.07, 2.11, 2.14, 2.09, 2.18, 2.02};
  double mean = 0.0, squares = 0.0;
  for (const double x : values) mean += x / 6.0;
  for (const double x : values) squares += (x - mean) * (x - mean);
  for (const double step : {1e-2, 1e-3, 1e-5, 1e-8}) {
    CAPTURE(step);
    const auto found = steadyfilm::fit_rounded(values, step);
    CHECK(found.mean == doctest::Approx(mean).epsilon(step * step + 1e-12));
    // Rounding adds step^2 / 12 to the square, to first order.
    CHECK(found.sd == doctest::Approx(std::sqrt(squares / 6.0 - step * step / 12.0)).epsilon(step * step * 10.0 + 1e-10));
    CHECK(found.sd_unbiased == doctest::Approx(found.sd * std::sqrt(1.2)).epsilon(1e-12));
  }
}

TEST_CASE("resolution: no nearby mean and sd has a larger likelihood, and the interval's ends fall by the quantile") {
  const auto found = steadyfilm::fit_rounded(coarse, 0.1, 0.9);
  CHECK_FALSE(found.only_an_upper_limit);
  CHECK(found.log_likelihood == doctest::Approx(steadyfilm::rounded_log_likelihood(coarse, 0.1, found.mean, found.sd)));
  for (const double up : {0.999, 1.001}) {
    CHECK(steadyfilm::rounded_log_likelihood(coarse, 0.1, found.mean, found.sd * up) < found.log_likelihood);
    CHECK(steadyfilm::rounded_log_likelihood(coarse, 0.1, found.mean * up, found.sd) < found.log_likelihood);
  }
  const double drop = 0.5 * steadyfilm::chi_square_quantile(0.9, 1.0);
  for (const double sd : {found.sd_lower, found.sd_upper}) {
    double best = -1e300;
    for (int i = -2000; i <= 2000; ++i) {
      best = std::max(best, steadyfilm::rounded_log_likelihood(coarse, 0.1, found.mean + 1e-5 * i, sd));
    }
    CHECK(best == doctest::Approx(found.log_likelihood - drop).epsilon(1e-7));
  }
  for (const double mean : {found.mean_lower, found.mean_upper}) {
    double best = -1e300;
    for (int i = -400; i <= 400; ++i) {
      best = std::max(best, steadyfilm::rounded_log_likelihood(coarse, 0.1, mean, found.sd * std::exp(0.002 * i)));
    }
    CHECK(best == doctest::Approx(found.log_likelihood - drop).epsilon(1e-6));
  }
}

TEST_CASE("resolution: shifted and scaled readings have a shifted and scaled fit") {
  const auto found = steadyfilm::fit_rounded(coarse, 0.1);
  std::vector<double> other;
  for (const double x : coarse) other.push_back(25.4 * (x + 10.0));
  const auto moved = steadyfilm::fit_rounded(other, 2.54);
  CHECK(moved.mean == doctest::Approx(25.4 * (found.mean + 10.0)).epsilon(1e-10));
  CHECK(moved.sd == doctest::Approx(25.4 * found.sd).epsilon(1e-9));
  CHECK(moved.sd_lower == doctest::Approx(25.4 * found.sd_lower).epsilon(1e-8));
  CHECK(moved.mean_upper == doctest::Approx(25.4 * (found.mean_upper + 10.0)).epsilon(1e-9));
  CHECK(moved.log_likelihood == doctest::Approx(found.log_likelihood).epsilon(1e-11));
}

TEST_CASE("resolution: one value, or two neighbors, give an upper limit alone") {
  const auto one = steadyfilm::fit_rounded(std::vector<double>(8, 2.1), 0.1);
  CHECK(one.only_an_upper_limit);
  CHECK(one.sd == 0.0);
  CHECK(one.mean == doctest::Approx(2.1));
  CHECK(one.log_likelihood == 0.0);
  CHECK(one.sd_upper > 0.02);
  CHECK(one.sd_upper < 0.06);
  CHECK(one.mean_lower == doctest::Approx(2.05).epsilon(1e-6));  // beyond the edge at least half would lie outside
  const auto two = steadyfilm::fit_rounded(std::vector<double>{2.1, 2.1, 2.2}, 0.1);
  CHECK(two.only_an_upper_limit);
  CHECK(two.mean == doctest::Approx(2.15));
  CHECK(two.log_likelihood == doctest::Approx(2.0 * std::log(2.0 / 3.0) + std::log(1.0 / 3.0)));
  CHECK_FALSE(steadyfilm::fit_rounded(std::vector<double>{2.1, 2.3}, 0.1).only_an_upper_limit);
}

TEST_CASE("resolution: a fine display changes nothing on a chart") {
  for (const std::size_t n : {1UL, 2UL, 5UL}) {
    CAPTURE(n);
    const auto found = steadyfilm::rounding_effect(1.0, 0.01, 0.3333, n);
    CHECK(found.sigma_ratio == doctest::Approx(1.0).epsilon(1e-4));
    CHECK(found.sd_ratio == doctest::Approx(std::sqrt(1.0 + 1e-4 / 12.0)).epsilon(1e-9));
    CHECK(found.false_alarm == doctest::Approx(2.0 * steadyfilm::normal_survival(3.0)).epsilon(0.02));
  }
}

TEST_CASE("resolution: mirrored places of the mean are alike, and a whole step further as well") {
  const auto found = steadyfilm::rounding_effect(0.04, 0.1, 2.13, 3);
  for (const double mean : {2.07, 2.23, -2.13}) {
    CAPTURE(mean);
    const auto other = steadyfilm::rounding_effect(0.04, 0.1, mean, 3);
    CHECK(other.mean_range == doctest::Approx(found.mean_range).epsilon(1e-9));
    CHECK(other.zero_range_share == doctest::Approx(found.zero_range_share).epsilon(1e-9));
    CHECK(other.false_alarm == doctest::Approx(found.false_alarm).epsilon(1e-9));
  }
  CHECK(found.mean_rounded == doctest::Approx(2.1 + (steadyfilm::rounding_effect(0.04, 0.1, 0.03, 3).mean_rounded)));
}

TEST_CASE("resolution: steps, zero ranges, and what is on a limit") {
  CHECK(steadyfilm::window_steps(0.8 * 1.1, 1.2, 0.04).shown_inside == 9);  // 0.88, 0.92, ... 1.20
  CHECK(steadyfilm::window_steps(2.01, 2.09, 0.1).shown_inside == 0);
  const std::vector<double> values = {1.0, 1.0, 1.0, 2.0, 2.1, 3.0, 4.0, 4.0};
  const auto found = steadyfilm::zero_ranges(values, std::vector<std::size_t>{0, 3, 5, 6, 8});
  CHECK(found.groups == 3);
  CHECK(found.zero == 2);
  CHECK(found.single == 1);
}

TEST_CASE("resolution: input it cannot use is refused with name, position and value") {
  using steadyfilm::InvalidInput;
  CHECK_THROWS_WITH_AS((void)steadyfilm::fit_rounded(std::vector{2.1, 2.13}, 0.1),
                       "fit_rounded: values[1] is no multiple of the step of 0.1 (2.13); give the step of the display "
                       "that was read",
                       InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::fit_rounded(std::vector{2.1}, 0.1), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::fit_rounded(std::vector{2.1, std::nan("")}, 0.1), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::fit_rounded(std::vector{2.1, 2.2}, 0.0), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::fit_rounded(std::vector{2.1, 2.2}, 0.1, 1.0), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::rounded_log_likelihood(std::vector{2.1, 2.2}, 0.1, 2.1, 0.0), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::rounding_effect(0.0, 0.1, 2.1, 3), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::rounding_effect(0.1, 0.1, 2.1, 0), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::rounding_effect(1.0, 1e-9, 2.1, 3), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::window_steps(2.2, 2.0, 0.1), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::zero_ranges(std::vector{1.0, 2.0}, std::vector<std::size_t>{0, 1}), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::zero_ranges(std::vector{1.0}, std::vector<std::size_t>{0, 0, 1}), InvalidInput);
}
