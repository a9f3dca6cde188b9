/// @file
/// Leaf loops over temperature traces: which readings are at temperature, where the log has gaps, and the dose.
#pragma once

#include <cstddef>
#include <cstdint>

namespace steadyfilm::kernels::cure_profile {

/// Readings that go together: their factors fit the first-level cache.
inline constexpr std::size_t tile_readings = 512;

/// What was seen of some readings; start with the initial values.
struct Seen {
  double lowest = 0.0;  ///< of what there was; of no meaning when not `finite`
  double highest = 0.0;
  bool finite = true;
};

/// What was seen of the intervals between readings.
struct Intervals {
  double shortest = 0.0;  ///< 0 or less, or NaN: the times do not ascend
  std::size_t usual = 0;  ///< intervals of the expected length
};

/// Where the factor of readings and what its derivatives come from lie.
struct Factors {
  double* f;
  double* w;
  double* r;
};

struct Table {
  /// One bit for each of 64 words readings: whether it is at least `line`.
  void (*at_least)(const double* x, std::size_t words, double line, std::uint64_t* bits, Seen* seen);
  /// One bit for each of 64 words intervals: whether it is longer than `limit`. Reads one time more than that.
  void (*longer)(const double* time, std::size_t words, double limit, double usual_from, double usual_to,
                 std::uint64_t* bits, Intervals* seen);
  /// f = exp(energy_k (inverse_reference - 1 / T)), w = energy_k / T^2 and r = w - 2 / T of `count` readings in C, a
  /// multiple of 8: the derivatives of f are f w and f w r. Tells the lowest and whether all are finite.
  void (*factors)(const double* temperature_c, std::size_t count, double energy_k, double inverse_reference,
                  const Factors& out, Seen* seen);
  /// Sum over `words` times 64 intervals of the trapezoid corrected for slopes and curvatures at the ends, and one bit
  /// for each interval whose step |dT| w is above `largest`. Reads one element more than that of each array.
  double (*dose)(const double* time, const double* temperature_c, const Factors& at, std::size_t words, double largest,
                 std::uint64_t* bits);
};

/// Of the chosen instruction set.
[[nodiscard]] const Table& table();

}  // namespace steadyfilm::kernels::cure_profile
