#include <steadyfilm/core.hpp>

#include <array>
#include <charconv>
#include <cmath>

namespace steadyfilm {
namespace {

std::string message(std::string_view function, std::string_view argument, std::string_view reason,
                    std::optional<std::size_t> position) {
  std::string text(function);
  text += ": ";
  text += argument;
  if (position) {
    text += '[';
    text += std::to_string(*position);
    text += ']';
  }
  text += " ";
  text += reason;
  return text;
}

}  // namespace

InvalidInput::InvalidInput(std::string_view function, std::string_view argument, std::string_view reason,
                           std::optional<std::size_t> position)
    : std::invalid_argument(message(function, argument, reason, position)),
      function_(function),
      argument_(argument),
      position_(position) {}

std::string to_text(double value) {
  if (std::isnan(value)) return "nan";  // its sign says nothing
  std::array<char, 32> buffer{};
  const auto end = std::to_chars(buffer.data(), buffer.data() + buffer.size(), value).ptr;
  return {buffer.data(), end};
}

void require_finite(std::span<const double> values, std::string_view function, std::string_view argument) {
  for (std::size_t i = 0; i < values.size(); ++i) {
    if (!std::isfinite(values[i])) {
      throw InvalidInput(function, argument, "is not finite (" + to_text(values[i]) + ")", i);
    }
  }
}

void require_finite(double value, std::string_view function, std::string_view argument) {
  if (!std::isfinite(value)) throw InvalidInput(function, argument, "is not finite (" + to_text(value) + ")");
}

void require_positive(double value, std::string_view function, std::string_view argument) {
  if (!(value > 0.0) || !std::isfinite(value)) {
    throw InvalidInput(function, argument, "must be positive and finite, got " + to_text(value));
  }
}

void require_open_unit(double value, std::string_view function, std::string_view argument) {
  if (!(value > 0.0 && value < 1.0)) {
    throw InvalidInput(function, argument, "must lie between 0 and 1, got " + to_text(value));
  }
}

void require_count(std::size_t have, std::size_t need, std::string_view function, std::string_view argument) {
  if (have < need) {
    throw InvalidInput(function, argument,
                       "needs at least " + std::to_string(need) + " elements, got " + std::to_string(have));
  }
}

}  // namespace steadyfilm
