#include <steadyfilm/streams.hpp>

#include "common.hpp"

namespace {

using steadyfilm::StreamSignal;

/// One field of every signal, as an array.
template <typename Field>
py::array_t<std::int64_t> column(const std::vector<StreamSignal>& signals, const Field& field) {
  std::vector<std::int64_t> out;
  out.reserve(signals.size());
  for (const auto& signal : signals) out.push_back(static_cast<std::int64_t>(field(signal)));
  return to_array(std::move(out));
}

}  // namespace

void bind_streams(py::module_& m) {
  m.def(
      "chart_streams",
      [](const Array<double>& values, const Array<std::uint8_t>& takes_part, const Array<std::int64_t>& offsets,
         const Array<double>& multiples, double smoothing, std::size_t fewest_points, std::size_t threads,
         Array<double> ewma) {
        const auto view = as_span(values, "values");
        const auto mask = as_span(takes_part, "takes_part");
        const auto given = as_span(offsets, "offsets");
        const auto distance = as_span(multiples, "multiples");
        const auto out = as_output(ewma, "ewma");
        steadyfilm::StreamCharts found;
        {
          const py::gil_scoped_release unlocked;  // plain memory only from here on
          const std::vector<std::size_t> bounds(given.begin(), given.end());
          found = steadyfilm::chart_streams(
              view, mask, bounds, distance,
              {.smoothing = smoothing, .fewest_points = fewest_points, .threads = threads}, out);
        }
        const auto& signals = found.signals;
        return py::dict(
            "count"_a = to_array(std::move(found.count)), "center"_a = to_array(std::move(found.center)),
            "moving_range_count"_a = to_array(std::move(found.moving_range_count)),
            "mean_moving_range"_a = to_array(std::move(found.mean_moving_range)),
            "sigma_within"_a = to_array(std::move(found.sigma_within)),
            "has_limits"_a = to_array(std::move(found.has_limits)), "lower"_a = to_array(std::move(found.lower)),
            "upper"_a = to_array(std::move(found.upper)), "beyond_count"_a = to_array(std::move(found.beyond_count)),
            "ewma_count"_a = to_array(std::move(found.ewma_count)),
            "signal_stream"_a = column(signals, [](const StreamSignal& s) { return s.stream; }),
            "signal_point"_a = column(signals, [](const StreamSignal& s) { return s.point; }),
            "signal_test"_a = column(signals, [](const StreamSignal& s) { return static_cast<int>(s.test); }),
            "signal_side"_a = column(signals, [](const StreamSignal& s) { return s.side; }));
      },
      "values"_a.noconvert(), "takes_part"_a.noconvert(), "offsets"_a.noconvert(), "multiples"_a.noconvert(),
      "smoothing"_a, "fewest_points"_a, "threads"_a, "ewma"_a.noconvert(),
      "Chart each of many streams; see steadyfilm.streams.");

  m.def(
      "differences_from_others",
      [](const Array<double>& values, const Array<std::int64_t>& stream, const Array<std::int64_t>& moment,
         const Array<double>& centers, const Array<std::uint8_t>& reference, Array<double> difference,
         Array<double> level) {
        const auto view = as_span(values, "values");
        const auto streams = as_span(stream, "stream");
        const auto moments = as_span(moment, "moment");
        const auto middle = as_span(centers, "centers");
        const auto counted = as_span(reference, "reference");
        const auto out = as_output(difference, "difference");
        const auto levels = as_output(level, "level");
        const py::gil_scoped_release unlocked;  // plain memory only from here on
        steadyfilm::differences_from_others(view, streams, moments, middle, counted, out, levels);
      },
      "values"_a.noconvert(), "stream"_a.noconvert(), "moment"_a.noconvert(), "centers"_a.noconvert(),
      "reference"_a.noconvert(), "difference"_a.noconvert(), "level"_a.noconvert(),
      "Distance of each point from the others at its moment; see steadyfilm.streams.");
}
