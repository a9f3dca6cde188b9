#include <doctest/doctest.h>

#include <sstream>

#include "reference.hpp"

TEST_CASE("every reference row of the project passes") {
  std::ostringstream out;
  const auto counts = reference::run_folder(STEADYFILM_REFERENCE, out, STEADYFILM_REFERENCE);
  MESSAGE(out.str());
  CHECK(counts.failed == 0);
  CHECK(counts.passed > 0);
}
