#include <doctest/doctest.h>

#include <array>
#include <cmath>
#include <limits>
#include <string>

#include <steadyfilm/core.hpp>

using steadyfilm::InvalidInput;
using steadyfilm::require_finite;
using steadyfilm::to_text;

TEST_CASE("numbers in messages read back to the same double, and a nan has no sign") {
  CHECK(to_text(0.1) == "0.1");
  CHECK(to_text(-1e300) == "-1e+300");
  const double nan = std::numeric_limits<double>::quiet_NaN();
  CHECK(to_text(nan) == "nan");
  CHECK(to_text(std::copysign(nan, -1.0)) == "nan");
  CHECK(to_text(-std::numeric_limits<double>::infinity()) == "-inf");
}

TEST_CASE("an error names the function, the argument, the position and the value") {
  const std::array<double, 3> values = {1.0, std::numeric_limits<double>::infinity(), 2.0};
  try {
    require_finite(values, "f", "x");
    FAIL("not refused");
  } catch (const InvalidInput& error) {
    CHECK(std::string(error.what()) == "f: x[1] is not finite (inf)");
    CHECK(error.function() == "f");
    CHECK(error.argument() == "x");
    CHECK(error.position() == 1);
  }
}
