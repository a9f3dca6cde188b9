/// @file
/// What every topic shares: chart lines, specification windows, and the one exception family.
#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <stdexcept>
#include <string>
#include <string_view>

namespace steadyfilm {

/// Lines of a chart, in the unit of the data.
struct ControlLimits {
  double lower = 0.0;   ///< LCL
  double center = 0.0;  ///< a mean or a given target
  double upper = 0.0;   ///< UCL
};

/// A specification (acceptance) window, in the unit of the data; either side may be absent.
struct SpecLimits {
  std::optional<double> lower;   ///< LSL
  std::optional<double> upper;   ///< USL
  std::optional<double> target;  ///< aim; need not be the middle
};

/// Thrown for input that a function cannot use. The text names the function, the argument, the position and the value.
class InvalidInput : public std::invalid_argument {
 public:
  /// @param function  the function that refuses
  /// @param argument  the argument at fault
  /// @param reason    what is wrong, for example "is not finite (nan)"
  /// @param position  index of the offending element, counted from 0, when there is one
  InvalidInput(std::string_view function, std::string_view argument, std::string_view reason,
               std::optional<std::size_t> position = std::nullopt);

  [[nodiscard]] const std::string& function() const noexcept { return function_; }
  [[nodiscard]] const std::string& argument() const noexcept { return argument_; }
  [[nodiscard]] std::optional<std::size_t> position() const noexcept { return position_; }

 private:
  std::string function_;
  std::string argument_;
  std::optional<std::size_t> position_;
};

/// The instruction set that the long loops run with: "baseline", "v3" or "v4" (levels of x86-64). The best that the
/// processor has, unless the environment variable STEADYFILM_ISA names one; all give the same bits.
/// @throws InvalidInput  STEADYFILM_ISA names no set, or one that this processor or this build lacks
[[nodiscard]] std::string_view instruction_set();

/// A number as an error message shows it: the shortest text that reads back to the same double.
[[nodiscard]] std::string to_text(double value);

/// Refuse the first element that is NaN or infinite.
/// @throws InvalidInput  naming the element and its value
void require_finite(std::span<const double> values, std::string_view function, std::string_view argument = "values");

/// Refuse a single number that is NaN or infinite.
void require_finite(double value, std::string_view function, std::string_view argument);

/// Refuse a number that is not positive and finite.
void require_positive(double value, std::string_view function, std::string_view argument);

/// Refuse a probability or confidence level that does not lie strictly between 0 and 1.
void require_open_unit(double value, std::string_view function, std::string_view argument);

/// Refuse fewer elements than a function needs.
void require_count(std::size_t have, std::size_t need, std::string_view function, std::string_view argument = "values");

}  // namespace steadyfilm
