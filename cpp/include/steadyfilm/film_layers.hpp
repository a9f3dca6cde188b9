/// @file
/// Layers of a build of several coats: each is the difference of two successive builds, and so is its error.
///
/// All lengths of one call are in one unit, whichever; what comes back is in the same. A "build" is what a gauge shows
/// after a coat: the sum of all layers up to it.
#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

namespace steadyfilm {

/// How the builds are measured, first coat first.
struct LayerMeasurement {
  std::vector<std::size_t> readings{};  ///< a spot and build, 1 or more; one element a coat
  std::vector<double> sigma_repeat{};   ///< sd of one reading at one spot; one element a build, or one for all
  /// sd of each true layer from spot to spot, one element a coat; empty: not known. Different spots need it.
  std::vector<double> sigma_location{};
  bool same_spot = true;        ///< every build is read at the very spots of the build before
  std::size_t locations = 1;    ///< spots averaged, 1 or more
  double sigma_offset = 0.0;    ///< standard uncertainty of the gauge's zero
  bool same_zero = true;        ///< one gauge with one zero for all builds; else each build has a zero of its own
  double gain = 0.0;            ///< relative error of the scale: 0.03 for 3 %
  std::vector<double> layer{};  ///< thickness of each layer, which the gain error needs; else empty
};

/// What is known of the layers; matrices are row by row, one row and column a layer.
struct LayerUncertainty {
  std::vector<double> uncertainty;       ///< standard uncertainty of each layer
  std::vector<double> error_covariance;  ///< of the layers' errors, unit squared; negative between neighbors
  /// Correlation of the estimates from spot to spot when the true layers vary independently; NaN when their spread is
  /// not known.
  std::vector<double> correlation;
  double total_uncertainty = 0.0;  ///< of the last build
};

/// Uncertainty of layers found as differences, layer k = build k - build k-1.
///
/// A build's error enters two layers with opposite signs, so that neighbors err against each other. Read at different
/// spots, a layer also takes in how the layers below it vary from spot to spot. Repeats and spots average out; the zero
/// and the gain do not.
///
/// @throws InvalidInput  no coat, counts of 0, lengths that differ, a negative or not finite sd, different spots
/// without sigma_location, a gain error without layers.
/// @see    cpp/methods/film_layers.md
[[nodiscard]] LayerUncertainty layer_uncertainty(const LayerMeasurement& measurement);

/// Error that a scale which is off by `gain` puts on a layer; no number of readings takes it out.
[[nodiscard]] double gain_error(double gain, double layer);

/// The total that layers within center -+ half width add up to.
struct StackUp {
  double center = 0.0;
  double worst_half_width = 0.0;
  double worst_lower = 0.0;  ///< every layer at its lower end
  double worst_upper = 0.0;
  double rss_half_width = 0.0;
  double rss_lower = 0.0;  ///< by root sum of squares
  double rss_upper = 0.0;
};

/// Worst case, and root sum of squares of the half widths.
///
/// @param correlation  between any two layers; 0 for independent ones, positive when one painter and gun make both.
/// @throws InvalidInput  no layer, lengths that differ, a negative half width, a correlation that so many layers cannot
///                       all have with one another.
/// @see    cpp/methods/film_layers.md
[[nodiscard]] StackUp stack_up(std::span<const double> centers, std::span<const double> half_widths,
                               double correlation = 0.0);

/// Half width that each of `layer_count` equal layers may have so that their root sum of squares is the total's.
[[nodiscard]] double equal_layer_half_width(double total_half_width, std::size_t layer_count, double correlation = 0.0);

/// A layer's or a total's window, both ends in one unit.
struct LayerWindow {
  double lower = 0.0;
  double upper = 0.0;
};

/// Whether windows of layers agree with that of their total.
struct WindowConsistency {
  double implied_lower = 0.0;  ///< of the total, every layer at its lower end
  double implied_upper = 0.0;
  double room_below = 0.0;  ///< of the total's window below the implied range; negative: conforming layers can miss it
  double room_above = 0.0;
  bool implied = false;  ///< the total conforms whenever all layers do
  /// Where each layer may lie while the total and all other layers conform.
  std::vector<double> layer_lower;
  std::vector<double> layer_upper;
  std::vector<std::uint8_t> layer_implied;  ///< that range lies inside the layer's own window
  double center_difference = 0.0;           ///< sum of the layers' middles less the total's middle
};

/// Compare windows of layers with the window of their total. Ends within 1e-9 (relative) count as equal.
/// @throws InvalidInput  no layer, an end not finite, lower not below upper
[[nodiscard]] WindowConsistency window_consistency(std::span<const LayerWindow> layers, const LayerWindow& total);

/// Change of two successive builds against their usual levels, and how well it is known.
struct BuildChange {
  double first = 0.0;        ///< present less usual level of the first build
  double second = 0.0;       ///< of the build on top of it
  double sigma_first = 0.0;  ///< standard uncertainties, independent of each other
  double sigma_second = 0.0;
};

/// One straight pattern of the two changes, size * (first, second), against what was seen.
struct PatternFit {
  double size = 0.0;     ///< by weighted least squares
  double sigma = 0.0;    ///< its standard uncertainty
  double misfit = 0.0;   ///< weighted sum of squares that it leaves, chi-square with 1 degree of freedom if it is true
  double p_value = 1.0;  ///< chance of so large a misfit if it is true
};

/// @throws InvalidInput  a change not finite, an uncertainty not positive, a pattern of two zeros
[[nodiscard]] PatternFit fit_pattern(const BuildChange& change, double first, double second);

/// Readings gathered in cells (a spot and build); arrays have one element a cell.
struct CellMeans {
  std::vector<double> mean;         ///< NaN for a cell without readings
  std::vector<std::int64_t> count;  ///< readings of the cell
  std::vector<double> sum_squares;  ///< of deviations from the cell's mean, unit squared
};

/// Mean and scatter of the readings of each cell.
///
/// @param values  finite.
/// @param cell    of each reading, from 0 to cells - 1.
/// @throws InvalidInput  a value that is not finite, a cell out of range, lengths that differ.
[[nodiscard]] CellMeans cell_means(std::span<const double> values, std::span<const std::int64_t> cell,
                                   std::size_t cells);

/// Layers from builds, row by row: one row a spot, one column a coat; the first layer is the first build. A build that
/// is NaN (not measured) leaves the two layers that it bounds NaN.
///
/// @param layers  output, as long as builds; may be the same memory.
/// @throws InvalidInput  no coat, or builds that are no whole number of rows.
void successive_layers(std::span<const double> builds, std::size_t coats, std::span<double> layers);

}  // namespace steadyfilm
