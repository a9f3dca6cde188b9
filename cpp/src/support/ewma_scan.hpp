/// @file
/// The EWMA of a long series: the bits of `ewma_run` (ewma.hpp), by vectors and threads.
#pragma once

#include <cstddef>
#include <cstdint>
#include <span>

#include "support/ewma.hpp"

namespace steadyfilm::support {

/// Points that one thread takes at a time, a whole number of blocks.
inline constexpr std::size_t usual_ewma_stretch = 65'536;

/// `ewma_run` from a fresh state with start level 0.
///
/// A stretch of the series starts from a guess of the level that the one before it ends on, made from the points just
/// in front of it: older ones have no weight left in a double. Afterwards the guess is compared bit by bit, and a
/// stretch that started wrong runs again.
///
/// @param x, takes_part, break_before, z  as for ewma_run; z must not overlap x.
/// @param threads  most threads; 0: as many as run at once.
/// @param stretch  points a stretch, a multiple of 8; the result is the same for all.
void ewma_scan(const EwmaWeights& weights, std::span<const double> x, std::span<const std::uint8_t> takes_part,
               std::span<const std::uint8_t> break_before, std::span<double> z, std::size_t threads,
               std::size_t stretch = usual_ewma_stretch);

}  // namespace steadyfilm::support
