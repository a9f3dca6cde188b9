#include <steadyfilm/film_layers.hpp>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>
#include <optional>
#include <string>
#include <string_view>

#include <steadyfilm/core.hpp>
#include <steadyfilm/distributions.hpp>
#include <steadyfilm/film_thickness.hpp>

namespace steadyfilm {

namespace {

void require_not_negative(std::span<const double> values, std::string_view function, std::string_view argument) {
  require_finite(values, function, argument);
  for (std::size_t i = 0; i < values.size(); ++i) {
    if (values[i] < 0.0) throw InvalidInput(function, argument, "must be 0 or more (" + to_text(values[i]) + ")", i);
  }
}

void require_elements(std::size_t have, std::size_t need, std::string_view function, std::string_view argument) {
  if (have == need) return;
  throw InvalidInput(function, argument,
                     "needs " + std::to_string(need) + " elements, one a coat, got " + std::to_string(have));
}

void check(const LayerMeasurement& given) {
  constexpr auto function = "layer_uncertainty";
  const std::size_t coats = given.readings.size();
  require_count(coats, 1, function, "readings");
  for (std::size_t k = 0; k < coats; ++k) {
    if (given.readings[k] == 0) throw InvalidInput(function, "readings", "must be 1 or more (0)", k);
  }
  if (given.locations == 0) throw InvalidInput(function, "locations", "must be 1 or more (0)");
  if (given.sigma_repeat.size() != 1) require_elements(given.sigma_repeat.size(), coats, function, "sigma_repeat");
  require_not_negative(given.sigma_repeat, function, "sigma_repeat");
  if (!given.sigma_location.empty()) {
    require_elements(given.sigma_location.size(), coats, function, "sigma_location");
    require_not_negative(given.sigma_location, function, "sigma_location");
  } else if (!given.same_spot && coats > 1) {
    throw InvalidInput(function, "sigma_location",
                       "is needed for builds read at different spots: the layers below vary from spot to spot");
  }
  require_not_negative(std::span(&given.sigma_offset, 1), function, "sigma_offset");
  require_finite(given.gain, function, "gain");
  if (!given.layer.empty()) {
    require_elements(given.layer.size(), coats, function, "layer");
    require_finite(given.layer, function, "layer");
  } else if (given.gain != 0.0) {
    throw InvalidInput(function, "layer", "is needed for a gain error: it grows with the thickness");
  }
}

/// Adds to a matrix of layers what `of_build(k)`, independent from build to build, does there: build k enters layer k
/// with plus and layer k + 1 with minus.
template <typename Variance>
void add_builds(std::vector<double>& matrix, std::size_t coats, const Variance& of_build) {
  for (std::size_t k = 0; k < coats; ++k) {
    const double variance = of_build(k);
    matrix[k * coats + k] += variance;
    if (k + 1 == coats) continue;
    matrix[(k + 1) * coats + k + 1] += variance;
    matrix[(k + 1) * coats + k] -= variance;
    matrix[k * coats + k + 1] -= variance;
  }
}

double square(double x) { return x * x; }

/// Half width of a sum: the root of sum h_i^2 + 2 correlation sum h_i h_j.
double combined(double squares, double sum, double correlation) {
  return std::sqrt(std::max(0.0, (1.0 - correlation) * squares + correlation * square(sum)));
}

void require_correlation(double correlation, std::size_t layers, std::string_view function) {
  const double least = layers > 1 ? -1.0 / (static_cast<double>(layers) - 1.0) : -1.0;
  if (std::isfinite(correlation) && correlation >= least && correlation <= 1.0) return;
  throw InvalidInput(function, "correlation",
                     "must lie between " + to_text(least) + " and 1 for " + std::to_string(layers) + " layers, got " +
                         to_text(correlation));
}

}  // namespace

LayerUncertainty layer_uncertainty(const LayerMeasurement& given) {
  check(given);
  const std::size_t coats = given.readings.size();
  const auto spots = static_cast<double>(given.locations);
  const auto repeat_variance = [&](std::size_t k) {
    const double sd = given.sigma_repeat.size() == 1 ? given.sigma_repeat[0] : given.sigma_repeat[k];
    return square(sd) / static_cast<double>(given.readings[k]) / spots;
  };
  // Of the sum of the layers up to coat k, from spot to spot; the layers are independent.
  std::vector<double> below(coats + 1, 0.0);
  for (std::size_t k = 0; k < coats && !given.sigma_location.empty(); ++k) {
    below[k + 1] = below[k] + square(given.sigma_location[k]) / spots;
  }

  LayerUncertainty found;
  auto& errors = found.error_covariance;
  errors.assign(coats * coats, 0.0);
  add_builds(errors, coats, repeat_variance);
  // Zero and gain are the same at every spot: they move the estimates, yet do not make them vary together.
  std::vector<double> estimates = errors;
  if (given.same_zero) {
    errors[0] += square(given.sigma_offset);  // cancels in every difference
  } else {
    add_builds(errors, coats, [&](std::size_t) { return square(given.sigma_offset); });
  }
  for (std::size_t i = 0; i < coats && given.gain != 0.0; ++i) {
    for (std::size_t j = 0; j < coats; ++j) {
      errors[i * coats + j] += square(given.gain) * given.layer[i] * given.layer[j];
    }
  }
  if (given.same_spot) {
    for (std::size_t k = 0; k < coats; ++k) estimates[k * coats + k] += below[k + 1] - below[k];
  } else {
    add_builds(estimates, coats, [&](std::size_t k) { return below[k + 1]; });
    // Against the layer at the newer build's own spots, only the layers below it differ between the two readings.
    for (std::size_t k = 1; k < coats; ++k) {
      errors[k * coats + k] += 2.0 * below[k];
      if (k + 1 == coats) continue;
      errors[k * coats + k + 1] -= below[k];
      errors[(k + 1) * coats + k] -= below[k];
    }
  }

  for (std::size_t k = 0; k < coats; ++k) found.uncertainty.push_back(std::sqrt(errors[k * coats + k]));
  double total = repeat_variance(coats - 1) + square(given.sigma_offset);
  total += square(given.gain * std::accumulate(given.layer.begin(), given.layer.end(), 0.0));
  found.total_uncertainty = std::sqrt(total);
  require_finite(found.uncertainty, "layer_uncertainty", "uncertainty");
  require_finite(found.total_uncertainty, "layer_uncertainty", "total_uncertainty");

  found.correlation.assign(coats * coats, std::numeric_limits<double>::quiet_NaN());
  for (std::size_t i = 0; i < coats && !given.sigma_location.empty(); ++i) {
    for (std::size_t j = 0; j < coats; ++j) {
      const double scale = std::sqrt(estimates[i * coats + i]) * std::sqrt(estimates[j * coats + j]);
      if (scale > 0.0) found.correlation[i * coats + j] = i == j ? 1.0 : estimates[i * coats + j] / scale;
    }
  }
  return found;
}

double gain_error(double gain, double layer) {
  require_finite(gain, "gain_error", "gain");
  require_finite(layer, "gain_error", "layer");
  return gain * layer;
}

StackUp stack_up(std::span<const double> centers, std::span<const double> half_widths, double correlation) {
  constexpr auto function = "stack_up";
  require_count(centers.size(), 1, function, "centers");
  require_elements(half_widths.size(), centers.size(), function, "half_widths");
  require_finite(centers, function, "centers");
  require_not_negative(half_widths, function, "half_widths");
  require_correlation(correlation, centers.size(), function);

  StackUp found;
  double squares = 0.0;
  for (std::size_t i = 0; i < centers.size(); ++i) {
    found.center += centers[i];
    found.worst_half_width += half_widths[i];
    squares += square(half_widths[i]);
  }
  found.worst_lower = found.center - found.worst_half_width;
  found.worst_upper = found.center + found.worst_half_width;
  found.rss_half_width = combined(squares, found.worst_half_width, correlation);
  found.rss_lower = found.center - found.rss_half_width;
  found.rss_upper = found.center + found.rss_half_width;
  require_finite(found.rss_upper, function, "sum of centers and half_widths");
  return found;
}

double equal_layer_half_width(double total_half_width, std::size_t layer_count, double correlation) {
  constexpr auto function = "equal_layer_half_width";
  require_not_negative(std::span(&total_half_width, 1), function, "total_half_width");
  if (layer_count == 0) throw InvalidInput(function, "layer_count", "must be 1 or more (0)");
  require_correlation(correlation, layer_count, function);
  const auto layers = static_cast<double>(layer_count);
  const double share = combined(layers, layers, correlation);
  if (!(share > 0.0)) {
    throw InvalidInput(function, "correlation", "makes layers that always cancel: any half width has the same total");
  }
  return total_half_width / share;
}

WindowConsistency window_consistency(std::span<const LayerWindow> layers, const LayerWindow& total) {
  constexpr auto function = "window_consistency";
  require_count(layers.size(), 1, function, "layers");
  const auto require_window = [&](const LayerWindow& window, std::string_view argument, std::optional<std::size_t> at) {
    if (std::isfinite(window.lower) && std::isfinite(window.upper) && window.lower < window.upper) return;
    throw InvalidInput(
        function, argument,
        "needs finite ends, lower below upper, got " + to_text(window.lower) + " to " + to_text(window.upper), at);
  };
  for (std::size_t k = 0; k < layers.size(); ++k) require_window(layers[k], "layers", k);
  require_window(total, "total", std::nullopt);

  WindowConsistency found;
  for (const auto& layer : layers) {
    found.implied_lower += layer.lower;
    found.implied_upper += layer.upper;
  }
  require_finite(found.implied_lower, function, "sum of layers");
  require_finite(found.implied_upper, function, "sum of layers");
  found.implied = at_least(found.implied_lower, total.lower) && at_most(found.implied_upper, total.upper);
  found.room_below = found.implied_lower - total.lower;
  found.room_above = total.upper - found.implied_upper;
  found.center_difference = 0.5 * (found.implied_lower + found.implied_upper) - 0.5 * (total.lower + total.upper);
  for (const auto& layer : layers) {
    const double lower = total.lower - (found.implied_upper - layer.upper);
    const double upper = total.upper - (found.implied_lower - layer.lower);
    found.layer_lower.push_back(lower);
    found.layer_upper.push_back(upper);
    found.layer_implied.push_back(at_least(lower, layer.lower) && at_most(upper, layer.upper) ? 1 : 0);
  }
  return found;
}

PatternFit fit_pattern(const BuildChange& change, double first, double second) {
  constexpr auto function = "fit_pattern";
  require_finite(change.first, function, "change.first");
  require_finite(change.second, function, "change.second");
  require_positive(change.sigma_first, function, "change.sigma_first");
  require_positive(change.sigma_second, function, "change.sigma_second");
  require_finite(first, function, "first");
  require_finite(second, function, "second");
  if (first == 0.0 && second == 0.0) throw InvalidInput(function, "second", "and first are both 0: no pattern");
  // In units of the uncertainties the changes are a point, the pattern a line through the origin.
  const double x = change.first / change.sigma_first;
  const double y = change.second / change.sigma_second;
  const double a = first / change.sigma_first;
  const double b = second / change.sigma_second;
  const double length = a * a + b * b;
  PatternFit found;
  found.size = (a * x + b * y) / length;
  found.sigma = 1.0 / std::sqrt(length);
  found.misfit = square(x * b - y * a) / length;
  require_finite(found.misfit, function, "misfit");
  found.p_value = chi_square_survival(found.misfit, 1.0);
  return found;
}

CellMeans cell_means(std::span<const double> values, std::span<const std::int64_t> cell, std::size_t cells) {
  constexpr auto function = "cell_means";
  require_finite(values, function);
  if (cell.size() != values.size()) {
    throw InvalidInput(
        function, "cell",
        "has " + std::to_string(cell.size()) + " elements for " + std::to_string(values.size()) + " values");
  }
  CellMeans found;
  found.mean.assign(cells, 0.0);
  found.count.assign(cells, 0);
  found.sum_squares.assign(cells, 0.0);
  for (std::size_t i = 0; i < values.size(); ++i) {
    if (cell[i] < 0 || static_cast<std::size_t>(cell[i]) >= cells) {
      throw InvalidInput(function, "cell", "lies outside 0 to " + std::to_string(cells) + " - 1", i);
    }
    const auto c = static_cast<std::size_t>(cell[i]);
    found.mean[c] += values[i];
    ++found.count[c];
  }
  for (std::size_t c = 0; c < cells; ++c) {
    found.mean[c] = found.count[c] == 0 ? std::numeric_limits<double>::quiet_NaN()
                                        : found.mean[c] / static_cast<double>(found.count[c]);
    if (found.count[c] != 0) require_finite(found.mean[c], function, "mean of values");
  }
  for (std::size_t i = 0; i < values.size(); ++i) {
    const auto c = static_cast<std::size_t>(cell[i]);
    found.sum_squares[c] += square(values[i] - found.mean[c]);
  }
  return found;
}

void successive_layers(std::span<const double> builds, std::size_t coats, std::span<double> layers) {
  constexpr auto function = "successive_layers";
  if (coats == 0) throw InvalidInput(function, "coats", "must be 1 or more (0)");
  if (builds.size() % coats != 0 || layers.size() != builds.size()) {
    throw InvalidInput(function, "builds", "must hold whole rows of " + std::to_string(coats) + " coats");
  }
  for (std::size_t row = 0; row < builds.size(); row += coats) {
    double before = 0.0;
    for (std::size_t k = 0; k < coats; ++k) {
      const double build = builds[row + k];
      layers[row + k] = k == 0 ? build : build - before;
      before = build;
    }
  }
}

}  // namespace steadyfilm
