// Moments of any doubles: a refusal or figures that hang together, never a crash.
#include <cmath>
#include <steadyfilm/core.hpp>
#include <steadyfilm/summary.hpp>

#include "fuzz.hpp"

int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const auto values = fuzz::doubles(data, size);
  steadyfilm::Summary found;
  try {
    found = steadyfilm::summarize(values);
  } catch (const steadyfilm::InvalidInput&) {
    return 0;
  }
#ifdef STEADYFILM_PLANTED_FAULT
  if (found.count == 3 && found.sd > 1.0) found.mean = found.maximum + found.sd;
#endif
  fuzz::require(found.count == values.size(), "every value is counted");
  fuzz::require(found.minimum <= found.mean && found.mean <= found.maximum, "the mean lies between the extremes");
  fuzz::require(std::isfinite(found.sum_squares) && found.sum_squares >= 0.0,
                "the sum of squares is finite and not negative");
  fuzz::require(std::isfinite(found.sd) && found.sd >= 0.0, "the standard deviation is finite and not negative");
  fuzz::require(found.minimum < found.maximum || found.sd == 0.0, "constant data have no spread");
  fuzz::require(found.sd > 0.0 || found.maximum - found.minimum < 1e-300, "data that differ have a spread");
  fuzz::require(std::isfinite(found.lag1_autocorrelation) && std::isfinite(found.skewness) &&
                    std::isfinite(found.excess_kurtosis),
                "shape figures are finite");
  return 0;
}
