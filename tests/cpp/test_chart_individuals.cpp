#include <doctest/doctest.h>

#include <steadyfilm/chart_individuals.hpp>

#include <cmath>
#include <limits>
#include <random>
#include <vector>

#include <steadyfilm/constants.hpp>
#include <steadyfilm/core.hpp>

#include "reference.hpp"
#include "support/range_distribution.hpp"

using steadyfilm::individuals_chart;
using steadyfilm::IndividualsOptions;
using steadyfilm::MovingRangeEstimator;

namespace {

constexpr double none = std::numeric_limits<double>::quiet_NaN();

IndividualsOptions options_of(const reference::Args& args) {
  IndividualsOptions options;
  if (args.has("span")) options.span = args.count("span");
  options.sigma_multiple = args.number("sigma_multiple");
  if (args.has("estimator") && args.word("estimator") == "median_moving_range") {
    options.estimator = MovingRangeEstimator::median_moving_range;
  }
  if (args.has("d2")) options.divisor = args.number("d2");
  return options;
}

reference::List beyond(const std::vector<double>& standardized, double multiple) {
  reference::List points;
  for (std::size_t i = 0; i < standardized.size(); ++i) {
    if (std::abs(standardized[i]) > multiple) points.push_back(static_cast<double>(i + 1));
  }
  return points;
}

const reference::Register from_data("individuals_limits", [](const reference::Args& args) {
  const auto options = options_of(args);
  const auto found = individuals_chart(args.list("values"), {}, {}, options);
  return reference::Found{
      .numbers = {{"center", found.limits.center},
                  {"lower", found.limits.lower},
                  {"upper", found.limits.upper},
                  {"sigma_within", found.sigma_within},
                  {"mean_moving_range", found.mean_moving_range},
                  {"median_moving_range", found.median_moving_range},
                  {"moving_range_upper", found.moving_range_limits.upper}},
      .lists = {{"beyond", beyond(found.standardized, options.sigma_multiple)},
                {"moving_range_beyond", beyond(found.moving_range_standardized, options.sigma_multiple)}},
      .words = {}};
});

const reference::Register from_averages("individuals_limits_from_averages", [](const reference::Args& args) {
  const auto found = steadyfilm::individuals_limits_from_averages(args.number("center"),
                                                                  args.number("mean_moving_range"), options_of(args));
  return reference::Found{
      .numbers = {{"lower", found.limits.lower}, {"upper", found.limits.upper}}, .lists = {}, .words = {}};
});

std::vector<double> noise(std::size_t count) {
  std::mt19937_64 random(7);
  std::normal_distribution<double> normal;
  std::vector<double> out(count);
  for (double& x : out) x = normal(random);
  return out;
}

}  // namespace

TEST_CASE("chart_individuals: no range across a gap, a period boundary or a point that takes no part") {
  const std::vector<double> values = {1, 2, 4, none, 7, 11, 16, 22};
  const std::vector<std::uint8_t> takes_part = {1, 1, 1, 0, 1, 1, 1, 1}, break_before = {0, 0, 0, 0, 0, 0, 1, 0};
  const auto found = individuals_chart(values, takes_part, break_before);
  const std::vector<double> wanted = {none, 1, 2, none, none, 4, none, 6};
  for (std::size_t i = 0; i < wanted.size(); ++i) {
    CAPTURE(i);
    CHECK((std::isnan(wanted[i]) ? std::isnan(found.moving_range[i]) : found.moving_range[i] == wanted[i]));
  }
  CHECK(found.count == 7);
  CHECK(found.limits.center == 9.0);
  CHECK(found.mean_moving_range == 3.25);  // (1 + 2 + 4 + 6) / 4
  CHECK(found.median_moving_range == 3.0);
  CHECK(std::isnan(found.standardized[3]));
}

TEST_CASE("chart_individuals: wider spans") {
  const std::vector<double> values = {3, 1, 2, 5, 5};
  std::vector<double> out(5);
  steadyfilm::moving_ranges(values, {}, {}, 3, out);
  CHECK(std::isnan(out[1]));
  CHECK(std::vector<double>(out.begin() + 2, out.end()) == std::vector<double>{2, 4, 3});
  const auto found = individuals_chart(values, {}, {}, {.span = 3});
  CHECK(found.sigma_within == doctest::Approx(3.0 / steadyfilm::d2(3)).epsilon(1e-14));
}

TEST_CASE("chart_individuals: the median factor of two is sqrt(2) z(0.75)") {
  // z(0.75) = 0.67448975019608174 (NIST/SEMATECH e-Handbook, table 1.3.6.7.1 has 0.6745; the digits are SciPy's).
  CHECK(steadyfilm::support::range_median(2) == doctest::Approx(std::sqrt(2.0) * 0.67448975019608174).epsilon(1e-13));
}

TEST_CASE("chart_individuals: neighbors' ranges are correlated as the closed form says") {
  // cov(|X1 - X2|, |X2 - X3|) = (4/pi)(sqrt(3)/2 + pi/12) - 4/pi, the mean product of two absolute normals of
  // correlation -1/2.
  const double pi = std::acos(-1.0);
  const double wanted = 4.0 / pi * (std::sqrt(3.0) / 2.0 + pi / 12.0) - 4.0 / pi;
  CHECK(steadyfilm::support::range_covariance(2, 1) == doctest::Approx(wanted).epsilon(1e-8));
}

TEST_CASE("chart_individuals: covariance of wider overlapping ranges agrees with a simulation") {
  const auto x = noise(200000);
  for (const std::size_t span : {3U, 5U}) {
    for (std::size_t lag = 1; lag < span; ++lag) {
      std::vector<double> ranges(x.size());
      steadyfilm::moving_ranges(x, {}, {}, span, ranges);
      double sum = 0.0, count = 0.0;
      for (std::size_t i = span - 1 + lag; i < x.size(); ++i, ++count) {
        sum += (ranges[i] - steadyfilm::d2(span)) * (ranges[i - lag] - steadyfilm::d2(span));
      }
      CAPTURE(span);
      CAPTURE(lag);
      CHECK(std::abs(sum / count - steadyfilm::support::range_covariance(span, lag)) < 0.012);  // four standard errors
    }
  }
}

TEST_CASE("chart_individuals: degrees of freedom are about 0.61 (n - 1), not n - 1") {
  // The large-sample efficiency 0.605 of the mean moving range: Cryer and Ryan, Journal of Quality Technology 22 (1990)
  // 187.
  const auto found = individuals_chart(noise(2001), {}, {});
  CHECK(found.degrees_of_freedom / 2000.0 == doctest::Approx(0.605).epsilon(0.002));
  CHECK(found.degrees_of_freedom ==
        doctest::Approx(steadyfilm::moving_range_degrees_of_freedom(2000, 1999)).epsilon(1e-9));  // closed form
  const auto median = individuals_chart(noise(2001), {}, {}, {.estimator = MovingRangeEstimator::median_moving_range});
  CHECK(median.degrees_of_freedom < found.degrees_of_freedom);
  CHECK(std::isnan(individuals_chart(noise(20), {}, {}, {.sigma_within = 1.0}).degrees_of_freedom));
}

TEST_CASE("chart_individuals: given center and sigma are used as they are") {
  const auto found = individuals_chart(std::vector<double>{9.0, 10.5}, {}, {}, {.center = 10.0, .sigma_within = 0.5});
  CHECK(found.limits.lower == 8.5);
  CHECK(found.limits.center == 10.0);
  CHECK(found.limits.upper == 11.5);
  CHECK(found.standardized == std::vector<double>{-2.0, 1.0});
  CHECK(found.moving_range_limits.center == 0.5 * steadyfilm::d2(2));
  CHECK(found.moving_range_limits.lower == 0.0);
}

TEST_CASE("chart_individuals: constant data is an answer") {
  const auto found = individuals_chart(std::vector<double>(9, 0.1), {}, {});
  CHECK(found.sigma_within == 0.0);
  CHECK(found.limits.lower == 0.1);
  CHECK(found.limits.upper == 0.1);
  CHECK(found.standardized == std::vector<double>(9, 0.0));
}

TEST_CASE("chart_individuals: input it cannot use is refused with name, position and value") {
  const std::vector<double> two = {80.0, 81.0};
  CHECK_THROWS_WITH_AS((void)individuals_chart(std::vector<double>{80.0, none}, {}, {}),
                       "individuals_chart: values[1] is not finite (nan)", steadyfilm::InvalidInput);
  CHECK_THROWS_WITH_AS((void)individuals_chart(two, {}, {}, {.span = 1}),
                       "individuals_chart: span must be 2 or more, got 1", steadyfilm::InvalidInput);
  CHECK_THROWS_WITH_AS(
      (void)individuals_chart(two, {}, {}, {.span = 3}),
      "individuals_chart: values hold no 3 neighbors without a break, so that there is no moving range; "
      "give sigma_within",
      steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)individuals_chart(std::vector<double>{}, {}, {}), steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)individuals_chart(two, std::vector<std::uint8_t>{1}, {}), steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)individuals_chart(two, {}, {}, {.sigma_multiple = 0.0}), steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)individuals_chart(two, {}, {}, {.sigma_within = -1.0}), steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)individuals_chart(two, {}, {}, {.divisor = 0.0}), steadyfilm::InvalidInput);
  const std::vector<double> large = {1.5e308, -1.5e308, 1.5e308};
  CHECK_THROWS_AS((void)individuals_chart(large, {}, {}), steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::individuals_limits_from_averages(none, 1.0), steadyfilm::InvalidInput);
}
