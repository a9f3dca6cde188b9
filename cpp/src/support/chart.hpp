/// @file
/// Small things that all charts share.
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <optional>
#include <span>
#include <string>
#include <string_view>

#include <steadyfilm/core.hpp>

namespace steadyfilm::support {

/// (value - center) / sigma. With sigma 0 every value off the center is beyond any line, and one on it is on it.
inline double standardized(double value, double center, double sigma) {
  const double deviation = value - center;
  if (sigma > 0.0) return deviation / sigma;
  if (deviation == 0.0 || std::isnan(deviation)) return deviation;
  return std::copysign(std::numeric_limits<double>::infinity(), deviation);
}

/// Lines at center -+ half_width.
inline ControlLimits lines(double center, double half_width) {
  return {.lower = center - half_width, .center = center, .upper = center + half_width};
}

/// Lines of a spread chart: a range or a standard deviation cannot fall below 0.
inline ControlLimits spread_lines(double center, double half_width) {
  return {.lower = std::max(0.0, center - half_width), .center = center, .upper = center + half_width};
}

/// A mask without elements stands for "the same for all points".
inline bool takes_part_at(std::span<const std::uint8_t> takes_part, std::size_t i) {
  return takes_part.empty() || takes_part[i] != 0;
}

inline bool break_before_at(std::span<const std::uint8_t> break_before, std::size_t i) {
  return !break_before.empty() && break_before[i] != 0;
}

/// Refuse a mask that is neither empty nor as long as the points.
inline void require_mask(std::span<const std::uint8_t> mask, std::size_t points, std::string_view function,
                         std::string_view argument) {
  if (mask.empty() || mask.size() == points) return;
  throw InvalidInput(function, argument,
                     "has " + std::to_string(mask.size()) + " elements for " + std::to_string(points) + " points");
}

/// Refuse a value that is not finite, where the point takes part.
inline void require_finite_points(std::span<const double> values, std::span<const std::uint8_t> takes_part,
                                  std::string_view function) {
  for (std::size_t i = 0; i < values.size(); ++i) {
    if (takes_part_at(takes_part, i) && !std::isfinite(values[i])) {
      throw InvalidInput(function, "values", "is not finite (" + to_text(values[i]) + ")", i);
    }
  }
}

/// Refuse a given sigma that is negative or not finite; 0 is an answer.
inline void require_sigma(std::optional<double> sigma, std::string_view function, std::string_view argument) {
  if (sigma && (!std::isfinite(*sigma) || *sigma < 0.0)) {
    throw InvalidInput(function, argument, "must be 0 or more (" + to_text(*sigma) + ")");
  }
}

}  // namespace steadyfilm::support
