/// @file
/// The exponentially weighted moving average (EWMA) of the project, once: z_i = lambda x_i + (1 - lambda) z_(i-1).
///
/// Floating point makes the order of the operations part of the answer. The order here is the one that a vector unit
/// can follow: points count in blocks of eight from the last restart, points that take no part do not count, and inside
/// a block (b = 1 - lambda, absent neighbors are 0)
///
///     s_j <- x_j + b x_(j-1);   s_j <- s_j + b^2 s_(j-2);   s_j <- s_j + b^4 s_(j-4);   z_j = lambda s_j + b^(j+1)
///     z_before
///
/// with z_before the last z of the block before. Element j needs nothing behind it, so that a series can be cut
/// anywhere and resumed with the same bits: the state is z_before and the fewer than eight points of the unfinished
/// block.
///
/// Feed deviations from the center, starting at 0: data on the center then gives exactly 0.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <span>

namespace steadyfilm::support {

inline constexpr std::size_t ewma_block_size = 8;

/// lambda and the powers of b = 1 - lambda, each made by the same few products everywhere.
struct EwmaWeights {
  double smoothing;                             ///< lambda, above 0 and at most 1; the caller checks
  std::array<double, ewma_block_size> power{};  ///< power[j] = b^(j+1)

  explicit constexpr EwmaWeights(double lambda) : smoothing(lambda) {
    const double b = 1.0 - lambda;
    const double b2 = b * b;
    const double b3 = b2 * b;
    const double b4 = b2 * b2;
    power = {b, b2, b3, b4, b4 * b, b4 * b2, b4 * b3, b4 * b4};
  }
};

/// Everything that the next point needs; plain numbers, so that it can be stored and read back.
struct EwmaState {
  double level = 0.0;                            ///< z before the unfinished block
  std::size_t pending = 0;                       ///< points of the unfinished block, 0 to 7
  std::array<double, ewma_block_size> values{};  ///< those points; the rest is not read

  friend bool operator==(const EwmaState&, const EwmaState&) = default;
};

/// z at position j of a block whose points 0 to j are given.
constexpr double ewma_in_block(const EwmaWeights& weights, const double* x, std::size_t j, double level) {
  const auto& power = weights.power;
  // Absent neighbors are added as 0, as a vector shift does: it decides the sign of a zero.
  const auto one = [&](std::size_t i) { return x[i] + power[0] * (i >= 1 ? x[i - 1] : 0.0); };
  const auto two = [&](std::size_t i) { return one(i) + power[1] * (i >= 2 ? one(i - 2) : 0.0); };
  const double scan = two(j) + power[3] * (j >= 4 ? two(j - 4) : 0.0);
  return weights.smoothing * scan + power[j] * level;
}

/// Take one point in and give z back.
constexpr double ewma_step(const EwmaWeights& weights, EwmaState& state, double x) {
  state.values[state.pending] = x;
  const double z = ewma_in_block(weights, state.values.data(), state.pending, state.level);
  if (++state.pending == ewma_block_size) state = EwmaState{.level = z, .pending = 0, .values = {}};
  return z;
}

/// z after the last point taken in; the start level when there was none.
constexpr double ewma_now(const EwmaWeights& weights, const EwmaState& state) {
  if (state.pending == 0) return state.level;
  return ewma_in_block(weights, state.values.data(), state.pending - 1, state.level);
}

/// Run through a series and leave the state ready for the next piece of it.
///
/// @param x             one number a point; read only where the point takes part.
/// @param takes_part    as long as x, 0 for a missing or excluded point: z is carried over it. Empty: all take part.
/// @param break_before  as long as x, 1 where a new period starts: z restarts at `start` before that point. Empty:
/// none.
/// @param start         level of a restart; the caller's state carries the level of the first point.
/// @param z             output, as long as x.
constexpr void ewma_run(const EwmaWeights& weights, EwmaState& state, std::span<const double> x,
                        std::span<const std::uint8_t> takes_part, std::span<const std::uint8_t> break_before,
                        double start, std::span<double> z) {
  double now = ewma_now(weights, state);
  for (std::size_t i = 0; i < x.size(); ++i) {
    if (!break_before.empty() && break_before[i] != 0) {
      state = EwmaState{.level = start, .pending = 0, .values = {}};
      now = start;
    }
    if (takes_part.empty() || takes_part[i] != 0) now = ewma_step(weights, state, x[i]);
    z[i] = now;
  }
}

}  // namespace steadyfilm::support
