#include <steadyfilm/film_layers.hpp>

#include "common.hpp"

void bind_film_layers(py::module_& m) {
  m.def(
      "layer_uncertainty",
      [](std::vector<std::size_t> readings, std::vector<double> sigma_repeat, std::vector<double> sigma_location,
         bool same_spot, std::size_t locations, double sigma_offset, bool same_zero, double gain,
         std::vector<double> layer) {
        auto found = steadyfilm::layer_uncertainty({.readings = std::move(readings),
                                                    .sigma_repeat = std::move(sigma_repeat),
                                                    .sigma_location = std::move(sigma_location),
                                                    .same_spot = same_spot,
                                                    .locations = locations,
                                                    .sigma_offset = sigma_offset,
                                                    .same_zero = same_zero,
                                                    .gain = gain,
                                                    .layer = std::move(layer)});
        return py::dict("uncertainty"_a = to_array(std::move(found.uncertainty)),
                        "error_covariance"_a = to_array(std::move(found.error_covariance)),
                        "correlation"_a = to_array(std::move(found.correlation)),
                        "total_uncertainty"_a = found.total_uncertainty);
      },
      "readings"_a, "sigma_repeat"_a, "sigma_location"_a, "same_spot"_a, "locations"_a, "sigma_offset"_a, "same_zero"_a,
      "gain"_a, "layer"_a, "Uncertainty of layers found as differences; see steadyfilm.film_layers.");

  m.def("gain_error", &steadyfilm::gain_error, "gain"_a, "layer"_a,
        "Error of a layer from an error of the scale; see steadyfilm.film_layers.");

  m.def(
      "stack_up",
      [](const std::vector<double>& centers, const std::vector<double>& half_widths, double correlation) {
        const auto found = steadyfilm::stack_up(centers, half_widths, correlation);
        return py::dict("center"_a = found.center, "worst_half_width"_a = found.worst_half_width,
                        "worst_lower"_a = found.worst_lower, "worst_upper"_a = found.worst_upper,
                        "rss_half_width"_a = found.rss_half_width, "rss_lower"_a = found.rss_lower,
                        "rss_upper"_a = found.rss_upper);
      },
      "centers"_a, "half_widths"_a, "correlation"_a, "Total of layers within windows; see steadyfilm.film_layers.");

  m.def("equal_layer_half_width", &steadyfilm::equal_layer_half_width, "total_half_width"_a, "layer_count"_a,
        "correlation"_a, "Share of a total's half width; see steadyfilm.film_layers.");

  m.def(
      "window_consistency",
      [](const std::vector<double>& lower, const std::vector<double>& upper, double total_lower, double total_upper) {
        if (lower.size() != upper.size()) {
          throw steadyfilm::InvalidInput("window_consistency", "upper", "needs as many elements as lower");
        }
        std::vector<steadyfilm::LayerWindow> layers;
        for (std::size_t k = 0; k < lower.size(); ++k) layers.push_back({.lower = lower[k], .upper = upper[k]});
        auto found = steadyfilm::window_consistency(layers, {.lower = total_lower, .upper = total_upper});
        return py::dict("implied_lower"_a = found.implied_lower, "implied_upper"_a = found.implied_upper,
                        "room_below"_a = found.room_below, "room_above"_a = found.room_above,
                        "implied"_a = found.implied, "layer_lower"_a = to_array(std::move(found.layer_lower)),
                        "layer_upper"_a = to_array(std::move(found.layer_upper)),
                        "layer_implied"_a = to_array(std::move(found.layer_implied)),
                        "center_difference"_a = found.center_difference);
      },
      "lower"_a, "upper"_a, "total_lower"_a, "total_upper"_a,
      "Windows of layers against that of their total; see steadyfilm.film_layers.");

  m.def(
      "fit_pattern",
      [](double change_first, double change_second, double sigma_first, double sigma_second, double first,
         double second) {
        const auto found = steadyfilm::fit_pattern(
            {.first = change_first, .second = change_second, .sigma_first = sigma_first, .sigma_second = sigma_second},
            first, second);
        return py::dict("size"_a = found.size, "sigma"_a = found.sigma, "misfit"_a = found.misfit,
                        "p_value"_a = found.p_value);
      },
      "change_first"_a, "change_second"_a, "sigma_first"_a, "sigma_second"_a, "first"_a, "second"_a,
      "A pattern of changes of two builds against what was seen; see steadyfilm.film_layers.");

  m.def(
      "cell_means",
      [](const Array<double>& values, const Array<std::int64_t>& cell, std::size_t cells) {
        const auto view = as_span(values, "values");
        const auto codes = as_span(cell, "cell");
        steadyfilm::CellMeans found;
        {
          const py::gil_scoped_release unlocked;  // plain memory only from here on
          found = steadyfilm::cell_means(view, codes, cells);
        }
        return py::dict("mean"_a = to_array(std::move(found.mean)), "count"_a = to_array(std::move(found.count)),
                        "sum_squares"_a = to_array(std::move(found.sum_squares)));
      },
      "values"_a.noconvert(), "cell"_a.noconvert(), "cells"_a,
      "Mean and scatter of the readings of each cell; see steadyfilm.film_layers.");

  m.def(
      "successive_layers",
      [](const Array<double>& builds, std::size_t coats, Array<double> layers) {
        const auto view = as_span(builds, "builds");
        const auto out = as_output(layers, "layers");
        const py::gil_scoped_release unlocked;  // plain memory only from here on
        steadyfilm::successive_layers(view, coats, out);
      },
      "builds"_a.noconvert(), "coats"_a, "layers"_a.noconvert(),
      "Layers from builds, row by row; see steadyfilm.film_layers.");
}
