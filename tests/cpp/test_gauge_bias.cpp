#include <doctest/doctest.h>

#include <steadyfilm/gauge_bias.hpp>

#include <limits>
#include <vector>

#include <steadyfilm/core.hpp>

#include "reference.hpp"

namespace {

const reference::Register gauge_bias("gauge_bias", [](const reference::Args& args) {
  const auto found = steadyfilm::compute_gauge_bias(args.list("values"));
  return reference::Found{.numbers = {{"value", found.value}}, .lists = {}, .words = {}};
});

}  // namespace

TEST_CASE("gauge_bias: twice the data give twice the value") {
  const auto one = steadyfilm::compute_gauge_bias(std::vector<double>{1.0, 2.0, 4.0});
  const auto two = steadyfilm::compute_gauge_bias(std::vector<double>{2.0, 4.0, 8.0});
  CHECK(two.value == doctest::Approx(2.0 * one.value));
}

TEST_CASE("gauge_bias: input it cannot use is refused with name, position and value") {
  const double nan = std::numeric_limits<double>::quiet_NaN();
  CHECK_THROWS_WITH_AS((void)steadyfilm::compute_gauge_bias(std::vector<double>{80.0, nan}),
                       "compute_gauge_bias: values[1] is not finite (nan)", steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::compute_gauge_bias(std::vector<double>{}), steadyfilm::InvalidInput);
}
