#include <doctest/doctest.h>

#include <cmath>
#include <limits>
#include <vector>

#include <steadyfilm/core.hpp>
#include <steadyfilm/summary.hpp>

#include "reference.hpp"

namespace {

const reference::Register univariate("univariate_summary", [](const reference::Args& args) {
  const auto found = steadyfilm::summarize(args.list("values"));
  return reference::Found{
      .numbers = {{"mean", found.mean}, {"sd", found.sd}, {"lag1_autocorrelation", found.lag1_autocorrelation}},
      .lists = {},
      .words = {}};
});

}  // namespace

TEST_CASE("summary: a common offset moves the mean alone") {
  const std::vector<double> small = {1, 3, 2, 2, 4, 0};
  for (const double offset : {0.0, 1e6, 1e12}) {
    CAPTURE(offset);
    auto moved = small;
    for (double& x : moved) x += offset;
    const auto found = steadyfilm::summarize(moved);
    CHECK(found.mean == offset + 2.0);
    CHECK(found.sum_squares == 10.0);  // 1 + 1 + 0 + 0 + 4 + 4
  }
}

TEST_CASE("summary: constant data is an answer") {
  const auto found = steadyfilm::summarize(std::vector<double>(7, 0.1));
  CHECK(found.mean == 0.1);
  CHECK(found.sd == 0.0);
  CHECK(found.lag1_autocorrelation == 0.0);
}

TEST_CASE("summary: the unit does not matter, however small or large the numbers") {
  for (const double scale : {1e-310, 1e-150, 1.0, 1e150}) {
    CAPTURE(scale);
    const auto found = steadyfilm::summarize(std::vector<double>{0.0, 0.0, 0.0, 4.0 * scale});
    CHECK(found.sd == doctest::Approx(2.0 * scale).epsilon(1e-12));
    // m2 = 3, m3 = 6, m4 = 21 for the four values 0 0 0 4
    CHECK(found.skewness == doctest::Approx(6.0 / std::sqrt(27.0)).epsilon(1e-12));
    CHECK(found.excess_kurtosis == doctest::Approx(21.0 / 9.0 - 3.0).epsilon(1e-12));
    CHECK(found.lag1_autocorrelation == doctest::Approx(-1.0 / 12.0).epsilon(1e-12));  // (1 + 1 - 3) / (1 + 1 + 1 + 9)
  }
}

TEST_CASE("summary: input it cannot use is refused with name, position and value") {
  const double nan = std::numeric_limits<double>::quiet_NaN();
  CHECK_THROWS_WITH_AS((void)steadyfilm::summarize(std::vector<double>{80.0, nan}),
                       "summarize: values[1] is not finite (nan)", steadyfilm::InvalidInput);
  CHECK_THROWS_WITH_AS((void)steadyfilm::summarize(std::vector<double>{}),
                       "summarize: values needs at least 1 elements, got 0", steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::summarize(std::vector<double>{1e300, -1e300}), steadyfilm::InvalidInput);
}
