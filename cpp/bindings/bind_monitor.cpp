#include <steadyfilm/monitor.hpp>

#include <algorithm>
#include <map>

#include "common.hpp"

namespace {

using steadyfilm::ChartMemory;
using steadyfilm::MonitorState;

/// Visits every number of a state, in a fixed order, each under its name.
template <typename Visit>
void visit(ChartMemory& memory, std::size_t rules, const std::string& prefix, Visit&& each) {
  memory.rules.above.resize(rules);
  memory.rules.below.resize(rules);
  for (auto& history : memory.rules.above) each(prefix + "hits_above", history);
  for (auto& history : memory.rules.below) each(prefix + "hits_below", history);
  each(prefix + "has_last", memory.rules.has_last);
  each(prefix + "last_z", memory.rules.last_z);
  each(prefix + "trend", memory.rules.trend);
  each(prefix + "alternation", memory.rules.alternation);
  each(prefix + "ewma_level", memory.ewma_level);
  each(prefix + "ewma_pending", memory.ewma_pending);
  for (auto& z : memory.ewma_values) each(prefix + "ewma_values", z);
  each(prefix + "ewma_count", memory.ewma_count);
  each(prefix + "ewma_side", memory.ewma_side);
  each(prefix + "ewma_length", memory.ewma_length);
}

template <typename Visit>
void visit(MonitorState& state, std::size_t rules, bool marks, Visit&& each) {
  each("count", state.count);
  each("used", state.used);
  each("episodes", state.episodes);
  visit(state.memory, rules, "", each);
  if (marks) visit(state.marks, rules, "marks_", each);
}

/// States as one array a name: whole numbers as int64, others as float64, stream after stream.
py::dict store(std::vector<MonitorState>& states, std::size_t rules, bool marks) {
  std::map<std::string, std::vector<std::int64_t>> whole;
  std::map<std::string, std::vector<double>> real;
  for (auto& state : states) {
    visit(state, rules, marks, [&]<typename T>(const std::string& name, T& value) {
      if constexpr (std::is_same_v<T, double>) {
        real[name].push_back(value);
      } else {
        whole[name].push_back(static_cast<std::int64_t>(value));
      }
    });
  }
  py::dict out;
  for (auto& [name, values] : whole) out[name.c_str()] = to_array(std::move(values));
  for (auto& [name, values] : real) out[name.c_str()] = to_array(std::move(values));
  return out;
}

std::vector<MonitorState> load(const py::dict& arrays, std::size_t streams, std::size_t rules, bool marks) {
  std::vector<MonitorState> states(streams);
  if (arrays.empty()) return states;
  std::map<std::string, std::span<const std::int64_t>> whole;
  std::map<std::string, std::span<const double>> real;
  for (const auto& [key, array] : arrays) {
    const auto name = key.cast<std::string>();
    if (py::isinstance<Array<double>>(array)) {
      real[name] = as_span(array.cast<Array<double>>(), name.c_str());
    } else {
      whole[name] = as_span(array.cast<Array<std::int64_t>>(), name.c_str());
    }
  }
  const auto next = [](auto& columns, const std::string& name) {
    auto& rest = columns[name];
    if (rest.empty()) throw steadyfilm::InvalidInput("monitor", "state", "holds too few numbers under " + name);
    const auto value = rest.front();
    rest = rest.subspan(1);
    return value;
  };
  for (auto& state : states) {
    visit(state, rules, marks, [&]<typename T>(const std::string& name, T& value) {
      if constexpr (std::is_same_v<T, double>) {
        value = next(real, name);
      } else {
        value = static_cast<T>(next(whole, name));
      }
    });
  }
  return states;
}

steadyfilm::MonitorLimits to_limits(const py::dict& limits) {
  return {.center = limits["center"].cast<double>(),
          .sigma_point = limits["sigma_point"].cast<double>(),
          .rules = steadyfilm::parse_rules(limits["rules"].cast<std::vector<std::string>>()),
          .smoothing = limits["smoothing"].cast<double>(),
          .ewma_multiple = limits["ewma_multiple"].cast<double>(),
          .ewma_time_varying = limits["ewma_time_varying"].cast<bool>(),
          .last_point_beyond = limits["last_point_beyond"].cast<bool>(),
          .mark_every_signal = limits["mark_every_signal"].cast<bool>()};
}

/// One column of the signals or episodes as int64.
template <typename Record, typename Field>
py::array_t<std::int64_t> column(const std::vector<Record>& records, Field field) {
  std::vector<std::int64_t> values(records.size());
  std::transform(records.begin(), records.end(), values.begin(),
                 [&](const Record& record) { return static_cast<std::int64_t>(record.*field); });
  return to_array(std::move(values));
}

}  // namespace

void bind_monitor(py::module_& m) {
  m.def(
      "monitor",
      [](const py::dict& limits, const py::dict& state, const Array<double>& value,
         const Array<std::uint8_t>& takes_part, const Array<std::uint8_t>& break_before, const Array<double>& center,
         const Array<double>& sigma_point, const Array<std::int64_t>& offsets) {
        using steadyfilm::Episode;
        using steadyfilm::MonitorSignal;
        const auto given = to_limits(limits);
        const auto offset_view = as_span(offsets, "offsets");
        const std::vector<std::size_t> bounds(offset_view.begin(), offset_view.end());
        const auto states =
            load(state, bounds.empty() ? 0 : bounds.size() - 1, given.rules.size(), given.mark_every_signal);
        const steadyfilm::MonitorPoints points{.value = as_span(value, "value"),
                                               .takes_part = as_span(takes_part, "takes_part"),
                                               .break_before = as_span(break_before, "break_before"),
                                               .center = as_span(center, "center"),
                                               .sigma_point = as_span(sigma_point, "sigma_point")};
        steadyfilm::Monitored found;
        {
          const py::gil_scoped_release unlocked;  // plain memory only from here on
          found = steadyfilm::monitor(given, states, points, bounds);
        }
        return py::dict("z"_a = to_array(std::move(found.z)), "ewma"_a = to_array(std::move(found.ewma)),
                        "signals"_a = py::dict("stream"_a = column(found.signals, &MonitorSignal::stream),
                                               "point"_a = column(found.signals, &MonitorSignal::point),
                                               "rule"_a = column(found.signals, &MonitorSignal::rule),
                                               "side"_a = column(found.signals, &MonitorSignal::side),
                                               "length"_a = column(found.signals, &MonitorSignal::length)),
                        "episodes"_a = py::dict("stream"_a = column(found.episodes, &Episode::stream),
                                                "point"_a = column(found.episodes, &Episode::point),
                                                "rules"_a = column(found.episodes, &Episode::rules),
                                                "side"_a = column(found.episodes, &Episode::side),
                                                "length"_a = column(found.episodes, &Episode::length)),
                        "state"_a = store(found.states, given.rules.size(), given.mark_every_signal));
      },
      "limits"_a, "state"_a, "value"_a.noconvert(), "takes_part"_a.noconvert(), "break_before"_a.noconvert(),
      "center"_a.noconvert(), "sigma_point"_a.noconvert(), "offsets"_a.noconvert(),
      "Judge new points against fixed limits; see steadyfilm.monitor.");

  m.def(
      "episode_counts",
      [](const py::dict& limits, const Array<double>& value, const Array<std::int64_t>& offsets) {
        const auto given = to_limits(limits);
        const auto offset_view = as_span(offsets, "offsets");
        const std::vector<std::size_t> bounds(offset_view.begin(), offset_view.end());
        const std::vector<MonitorState> states(bounds.empty() ? 0 : bounds.size() - 1);
        const auto values = as_span(value, "value");
        std::vector<std::int64_t> counts;
        {
          const py::gil_scoped_release unlocked;  // plain memory only from here on
          const auto found = steadyfilm::monitor(given, states, {.value = values}, bounds);
          for (const auto& state : found.states) counts.push_back(static_cast<std::int64_t>(state.episodes));
        }
        return to_array(std::move(counts));
      },
      "limits"_a, "value"_a.noconvert(), "offsets"_a.noconvert(),
      "Episodes of each of many series; see steadyfilm.baseline.expected_episodes.");

  m.def(
      "lane_episode_counts",
      [](const Array<double>& z, std::size_t lanes, const Array<std::uint8_t>& break_before, double point_reach,
         double smoothing, double ewma_reach) {
        const auto values = as_span(z, "z");
        const auto breaks = as_span(break_before, "break_before");
        std::vector<std::int32_t> counts(lanes);
        {
          const py::gil_scoped_release unlocked;  // plain memory only from here on
          steadyfilm::count_episodes({.point_reach = point_reach, .smoothing = smoothing, .ewma_reach = ewma_reach},
                                     values, lanes, breaks, counts);
        }
        return to_array(std::move(counts));
      },
      "z"_a.noconvert(), "lanes"_a, "break_before"_a.noconvert(), "point_reach"_a, "smoothing"_a, "ewma_reach"_a,
      "Episodes of each of many series that lie side by side; see steadyfilm.baseline.expected_episodes.");

  m.def(
      "ewma_reach",
      [](double smoothing, double ewma_multiple, bool time_varying, std::size_t count) {
        return steadyfilm::ewma_reach(
            {.rules = {}, .smoothing = smoothing, .ewma_multiple = ewma_multiple, .ewma_time_varying = time_varying},
            count);
      },
      "smoothing"_a, "ewma_multiple"_a, "time_varying"_a, "count"_a,
      "Distance of EWMA limits from the center in sigma; see steadyfilm.monitor.");
}
