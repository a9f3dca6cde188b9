/// @file
/// Leaf loops of the run rules: points become bits, and a rule looks at 64 points at once.
///
/// A plane holds one bit a point, point i in bit i % 64 of word i / 64. The rule functions work on one tile of
/// `tile_words` words and may look back over the `history_words` words in front of it.
#pragma once

#include <cstddef>
#include <cstdint>

namespace steadyfilm::kernels::run_rules {

inline constexpr std::size_t word_points = 64;
inline constexpr std::size_t tile_words = 8;
inline constexpr std::size_t tile_points = tile_words * word_points;
/// Two words look 65 points back or more from every point: enough for a word that straddles a border and the longest
/// pattern of steps (99) besides.
inline constexpr std::size_t history_words = 2;
inline constexpr std::size_t plane_words = history_words + tile_words;

struct Table {
  /// For one tile of points: whether x lies further than widths[l] from the center, on either side; by d = x - center
  /// as it is rounded. Plane l of `beyond` starts at l * plane_words + history_words.
  /// @param widths  0 or more
  /// @param above   null, or a bit for each point: whether it lies above the center; right for points beyond some line
  /// @param ahead   null, or what will be read next and can be asked for meanwhile, as long as x
  /// NaN gives any answer.
  void (*zones)(const double* x, double center, const double* widths, std::size_t count, std::uint64_t* above,
                std::uint64_t* beyond, const double* ahead);
  /// Which points of a tile lie more than `least` above, or below, the point before; x[-1] is read.
  void (*steps)(const double* x, double least, std::uint64_t* rising, std::uint64_t* falling);
  /// Whether a tile holds a NaN.
  bool (*not_a_number)(const double* x);
  /// Which bytes of a tile are not 0.
  void (*marks)(const std::uint8_t* bytes, std::uint64_t* bits);
  /// Points at which `least` or more of the `window` newest bits are set; only where the newest is, when `newest` says
  /// so. `window` at most 64. `open` is null, or has a bit for each point that can look past itself to older points.
  void (*counted)(const std::uint64_t* hits, const std::uint64_t* open, std::size_t least, std::size_t window,
                  bool newest, std::uint64_t* found);
  /// Points at which the `count` newest bits are all set; `count` at most 128.
  void (*in_a_row)(const std::uint64_t* bits, std::size_t count, std::uint64_t* found);
};

/// Of the chosen instruction set.
[[nodiscard]] const Table& table();

}  // namespace steadyfilm::kernels::run_rules
