#include <steadyfilm/monitor.hpp>

#include <algorithm>
#include <cmath>
#include <limits>
#include <string>

#include <steadyfilm/core.hpp>

#include "support/ewma.hpp"

namespace steadyfilm {
namespace {

constexpr const char* name = "monitor";

void check(const MonitorLimits& limits) {
  require_finite(limits.center, name, "center");
  require_positive(limits.sigma_point, name, "sigma_point");
  if (limits.rules.size() > 63) {
    throw InvalidInput(name, "rules", "holds " + std::to_string(limits.rules.size()) + " rules, at most 63 fit");
  }
  if (!(limits.smoothing >= 0.0 && limits.smoothing <= 1.0)) {
    throw InvalidInput(name, "smoothing", "must lie between 0 and 1, got " + to_text(limits.smoothing));
  }
  if (limits.smoothing > 0.0) require_positive(limits.ewma_multiple, name, "ewma_multiple");
}

void check(const MonitorPoints& points) {
  const auto check_length = [&](std::size_t length, const char* argument) {
    if (length != 0 && length != points.value.size()) {
      throw InvalidInput(
          name, argument,
          "has " + std::to_string(length) + " elements for " + std::to_string(points.value.size()) + " points");
    }
  };
  check_length(points.takes_part.size(), "takes_part");
  check_length(points.break_before.size(), "break_before");
  check_length(points.center.size(), "center");
  check_length(points.sigma_point.size(), "sigma_point");
}

void check(const RuleMemory& memory, std::size_t rules, std::size_t stream) {
  for (const std::size_t have : {memory.above.size(), memory.below.size()}) {
    if (have != 0 && have != rules) {
      throw InvalidInput(name, "state",
                         "was left by " + std::to_string(have) + " rules, the limits have " + std::to_string(rules),
                         stream);
    }
  }
}

void check(const ChartMemory& memory, std::size_t rules, std::size_t stream) {
  check(memory.rules, rules, stream);
  if (memory.ewma_pending >= support::ewma_block_size) {
    throw InvalidInput(name, "state", "holds an unfinished block of more than 7 points", stream);
  }
}

/// The standardized value of a point that takes part.
double standardize(const MonitorLimits& limits, const MonitorPoints& points, std::size_t i) {
  const double center = points.center.empty() ? limits.center : points.center[i];
  const double sigma = points.sigma_point.empty() ? limits.sigma_point : points.sigma_point[i];
  const auto refuse = [&](const char* argument, double number, const char* reason) {
    throw InvalidInput(name, argument, reason + (" (" + to_text(number) + ")"), i);
  };
  if (!std::isfinite(points.value[i])) refuse("value", points.value[i], "is not finite");
  if (!std::isfinite(center)) refuse("center", center, "is not finite");
  if (!(sigma > 0.0) || !std::isfinite(sigma)) refuse("sigma_point", sigma, "is not positive and finite");
  return (points.value[i] - center) / sigma;
}

/// One run through the points of a stream: with or without clearing at each signal.
class Chart {
 public:
  Chart(const MonitorLimits& limits, ChartMemory& memory)
      : limits_(limits), weights_(limits.smoothing), memory_(memory) {}

  void restart() {
    clear(memory_.rules);
    restart_ewma();
  }

  /// A point that takes no part: no pattern looks across it, the EWMA is carried over.
  void pass_over() {
    clear(memory_.rules);
    if (memory_.ewma_length > 0) ++memory_.ewma_length;
  }

  /// Take in a point and give the rules met there.
  const std::vector<RuleSignal>& take(double z) {
    met_.clear();
    advance(memory_.rules, limits_.rules, z, 0,
            {.last_point_beyond = limits_.last_point_beyond, .clear_after_signal = false}, met_);
    if (limits_.smoothing > 0.0) take_ewma(z);
    return met_;
  }

  [[nodiscard]] double ewma() const { return support::ewma_now(weights_, block()); }

 private:
  [[nodiscard]] support::EwmaState block() const {
    return {.level = memory_.ewma_level, .pending = memory_.ewma_pending, .values = memory_.ewma_values};
  }

  void take_ewma(double z) {
    support::EwmaState state = block();
    const double level = support::ewma_step(weights_, state, z);
    memory_.ewma_level = state.level;
    memory_.ewma_pending = state.pending;
    memory_.ewma_values = state.values;
    ++memory_.ewma_count;
    const int side = (level > 0.0) - (level < 0.0);
    memory_.ewma_length = side == memory_.ewma_side ? memory_.ewma_length + 1 : 1;
    memory_.ewma_side = side;
    if (std::abs(level) > ewma_reach(limits_, memory_.ewma_count) + on_line) {
      met_.push_back({.point = 0, .rule = limits_.rules.size(), .side = side, .length = memory_.ewma_length});
    }
  }

  void restart_ewma() {
    memory_.ewma_level = 0.0;
    memory_.ewma_pending = 0;
    memory_.ewma_values = {};
    memory_.ewma_count = 0;
    memory_.ewma_side = 0;
    memory_.ewma_length = 0;
  }

  const MonitorLimits& limits_;
  support::EwmaWeights weights_;
  ChartMemory& memory_;
  std::vector<RuleSignal> met_;
};

Episode episode(std::size_t stream, std::size_t point, const std::vector<RuleSignal>& met) {
  Episode found{.stream = stream, .point = point, .rules = 0, .side = 0, .length = 1};
  bool above = false;
  bool below = false;
  for (const auto& signal : met) {
    found.rules |= std::uint64_t{1} << signal.rule;
    found.length = std::max(found.length, signal.length);
    above = above || signal.side > 0;
    below = below || signal.side < 0;
  }
  found.side = static_cast<int>(above) - static_cast<int>(below);
  return found;
}

void run_stream(const MonitorLimits& limits, const MonitorPoints& points, std::size_t stream, std::size_t first,
                std::size_t last, Monitored& out) {
  MonitorState& state = out.states[stream];
  Chart chart(limits, state.memory);
  Chart marks(limits, state.marks);
  const bool mark = limits.mark_every_signal;
  const auto add_signals = [&](std::size_t point, const std::vector<RuleSignal>& met) {
    for (const auto& signal : met) {
      out.signals.push_back(
          {.stream = stream, .point = point, .rule = signal.rule, .side = signal.side, .length = signal.length});
    }
  };

  for (std::size_t i = first; i < last; ++i) {
    ++state.count;
    if (!points.break_before.empty() && points.break_before[i] != 0) {
      chart.restart();
      if (mark) marks.restart();
    }
    if (!points.takes_part.empty() && points.takes_part[i] == 0) {
      chart.pass_over();
      if (mark) marks.pass_over();
      if (!out.ewma.empty()) out.ewma[i] = mark ? marks.ewma() : chart.ewma();
      continue;
    }
    ++state.used;
    const double z = standardize(limits, points, i);
    out.z[i] = z;
    const auto& met = chart.take(z);
    if (mark) add_signals(i, marks.take(z));
    if (!out.ewma.empty()) out.ewma[i] = mark ? marks.ewma() : chart.ewma();
    if (met.empty()) continue;
    if (!mark) add_signals(i, met);
    out.episodes.push_back(episode(stream, i, met));
    ++state.episodes;
    chart.restart();
  }
}

/// So many series side by side keep their levels in the nearest cache.
constexpr std::size_t lane_width = 64;

struct Lanes {
  std::array<double, lane_width> level{};
  std::array<double, lane_width> found{};  // whole numbers; of the same width as levels, for vectors
};

/// The next point of each series; a loop of fixed length without branches.
void take(Lanes& lane, const double* z, double smoothing, double far, double far_level) {
  for (std::size_t j = 0; j < lane_width; ++j) {
    const double next = lane.level[j] + smoothing * (z[j] - lane.level[j]);
    // Not above 0 where neither line is passed.
    const double past = std::max(std::abs(z[j]) - far, std::abs(next) - far_level);
    lane.found[j] += past > 0.0 ? 1.0 : 0.0;
    lane.level[j] = past > 0.0 ? 0.0 : next;
  }
}

}  // namespace

double ewma_reach(const MonitorLimits& limits, std::size_t count) {
  const double b = 1.0 - limits.smoothing;
  double variance = limits.smoothing / (2.0 - limits.smoothing);
  if (limits.ewma_time_varying) variance *= 1.0 - std::pow(b, 2.0 * static_cast<double>(count));
  return limits.ewma_multiple * std::sqrt(variance);
}

Monitored monitor(const MonitorLimits& limits, const MonitorState& state, const MonitorPoints& points) {
  const std::array<std::size_t, 2> offsets = {0, points.value.size()};
  return monitor(limits, std::span(&state, 1), points, offsets);
}

Monitored monitor(const MonitorLimits& limits, std::span<const MonitorState> states, const MonitorPoints& points,
                  std::span<const std::size_t> offsets) {
  check(limits);
  check(points);
  if (offsets.size() != states.size() + 1) {
    throw InvalidInput(name, "offsets",
                       "needs " + std::to_string(states.size() + 1) + " elements for " + std::to_string(states.size()) +
                           " streams, got " + std::to_string(offsets.size()));
  }
  if (offsets.front() != 0 || offsets.back() != points.value.size()) {
    throw InvalidInput(name, "offsets", "must run from 0 to " + std::to_string(points.value.size()));
  }
  for (std::size_t s = 0; s < states.size(); ++s) {
    if (offsets[s + 1] < offsets[s]) throw InvalidInput(name, "offsets", "must not fall", s + 1);
    check(states[s].memory, limits.rules.size(), s);
    check(states[s].marks, limits.rules.size(), s);
  }

  Monitored out;
  out.z.assign(points.value.size(), std::numeric_limits<double>::quiet_NaN());
  if (limits.smoothing > 0.0) out.ewma.assign(points.value.size(), 0.0);
  out.states.assign(states.begin(), states.end());
  for (auto& state : out.states) {
    // One shape for every state, also before its first point, so that equal states compare equal.
    for (ChartMemory* memory : {&state.memory, &state.marks}) {
      memory->rules.above.resize(limits.rules.size());
      memory->rules.below.resize(limits.rules.size());
    }
  }
  for (std::size_t s = 0; s < states.size(); ++s) run_stream(limits, points, s, offsets[s], offsets[s + 1], out);
  return out;
}

void count_episodes(const BeyondLines& lines, std::span<const double> z, std::size_t lanes,
                    std::span<const std::uint8_t> break_before, std::span<std::int32_t> counts) {
  constexpr const char* function = "count_episodes";
  require_positive(lines.point_reach, function, "point_reach");
  if (!(lines.smoothing >= 0.0 && lines.smoothing <= 1.0)) {
    throw InvalidInput(function, "smoothing", "must lie between 0 and 1, got " + to_text(lines.smoothing));
  }
  if (lines.smoothing > 0.0) require_positive(lines.ewma_reach, function, "ewma_reach");
  if (lanes == 0 || z.size() % lanes != 0) {
    throw InvalidInput(function, "lanes", std::to_string(lanes) + " do not divide " + std::to_string(z.size()));
  }
  const std::size_t points = z.size() / lanes;
  if (counts.size() != lanes) {
    throw InvalidInput(function, "counts",
                       "has " + std::to_string(counts.size()) + " elements for " + std::to_string(lanes));
  }
  if (!break_before.empty() && break_before.size() != points) {
    throw InvalidInput(
        function, "break_before",
        "has " + std::to_string(break_before.size()) + " elements for " + std::to_string(points) + " points");
  }
  const double far = lines.point_reach + on_line;
  const double far_level = lines.smoothing > 0.0 ? lines.ewma_reach + on_line : std::numeric_limits<double>::infinity();
  for (std::size_t first = 0; first < lanes; first += lane_width) {
    const std::size_t here = std::min(lane_width, lanes - first);
    Lanes lane;
    for (std::size_t i = 0; i < points; ++i) {
      if (!break_before.empty() && break_before[i] != 0) lane.level = {};
      const double* const row = z.data() + i * lanes + first;
      if (here == lane_width) {
        take(lane, row, lines.smoothing, far, far_level);
      } else {
        std::array<double, lane_width> part{};
        std::copy_n(row, here, part.begin());
        take(lane, part.data(), lines.smoothing, far, far_level);
      }
    }
    for (std::size_t j = 0; j < here; ++j) counts[first + j] = static_cast<std::int32_t>(lane.found[j]);
  }
}

}  // namespace steadyfilm
