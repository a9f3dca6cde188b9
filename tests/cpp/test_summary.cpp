#include <doctest/doctest.h>

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

TEST_CASE("summary: input it cannot use is refused with name, position and value") {
  const double nan = std::numeric_limits<double>::quiet_NaN();
  CHECK_THROWS_WITH_AS((void)steadyfilm::summarize(std::vector<double>{80.0, nan}),
                       "summarize: values[1] is not finite (nan)", steadyfilm::InvalidInput);
  CHECK_THROWS_WITH_AS((void)steadyfilm::summarize(std::vector<double>{}),
                       "summarize: values needs at least 1 elements, got 0", steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::summarize(std::vector<double>{1e300, -1e300}), steadyfilm::InvalidInput);
}
