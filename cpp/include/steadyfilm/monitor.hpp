/// @file
/// Judge new points against limits that were fixed before, piece by piece.
///
/// Limits and state are plain numbers. Any cut of a series into pieces, each judged with the state that the piece
/// before left, gives the same bits as the whole: values, signals, episodes and state.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include <steadyfilm/run_rules.hpp>

namespace steadyfilm {

/// Limits, rules and options of one kind of chart.
struct MonitorLimits {
  double center = 0.0;             ///< for points that bring none of their own, in the unit of the data
  double sigma_point = 1.0;        ///< standard deviation of a plotted point, likewise
  std::vector<RunRule> rules{};    ///< at most 63
  double smoothing = 0.0;          ///< of the EWMA of z, above 0 and at most 1; 0: no EWMA
  double ewma_multiple = 0.0;      ///< distance of its limits in standard deviations of the EWMA
  bool ewma_time_varying = false;  ///< limits that widen from the restart on, in place of their end value
  bool last_point_beyond = true;   ///< as in RuleOptions
  /// Signals: every point at which a rule is met, nothing cleared (a retrospective chart). Episodes are the same either
  /// way.
  bool mark_every_signal = false;
};

/// Lines of the default rules, in sigma of a point: one point beyond, and the EWMA of z.
struct BeyondLines {
  double point_reach = 0.0;  ///< positive
  double smoothing = 0.0;    ///< 0: no EWMA
  double ewma_reach = 0.0;   ///< positive unless there is no EWMA
};

/// What one run through the points remembers: the rules' memory and the EWMA of z since its restart.
struct ChartMemory {
  RuleMemory rules;
  double ewma_level = 0.0;              ///< before the unfinished block of eight points
  std::size_t ewma_pending = 0;         ///< points of that block, 0 to 7
  std::array<double, 8> ewma_values{};  ///< their z
  std::size_t ewma_count = 0;           ///< points that took part since the restart
  int ewma_side = 0;                    ///< side of the center on which the EWMA lies
  std::size_t ewma_length = 0;          ///< points since it came to that side

  friend bool operator==(const ChartMemory&, const ChartMemory&) = default;
};

/// A stream between two pieces; starts default constructed.
struct MonitorState {
  std::size_t count = 0;     ///< points seen
  std::size_t used = 0;      ///< of these, points that took part
  std::size_t episodes = 0;  ///< episodes begun
  ChartMemory memory;        ///< cleared at each episode
  ChartMemory marks;         ///< never cleared by a signal; kept only under mark_every_signal

  friend bool operator==(const MonitorState&, const MonitorState&) = default;
};

/// New points, stream after stream, each in production order. Every span but `value` may be empty.
struct MonitorPoints {
  std::span<const double> value{};             ///< in the unit of the data; read only where the point takes part
  std::span<const std::uint8_t> takes_part{};  ///< 0: missing or excluded; breaks patterns, the EWMA is carried over it
  std::span<const std::uint8_t> break_before{};  ///< 1: a gap or a new period; patterns and the EWMA start anew
  std::span<const double> center{};              ///< the point's own center, in place of that of the limits
  std::span<const double> sigma_point{};         ///< the point's own standard deviation, likewise
};

/// One rule met at one point. `rule` counts through the rules; one past the last is the EWMA.
struct MonitorSignal {
  std::size_t stream = 0;
  std::size_t point = 0;  ///< position in the points given
  std::size_t rule = 0;
  int side = 0;            ///< as in RuleSignal
  std::size_t length = 1;  ///< as in RuleSignal; for the EWMA the points since it came to this side of the center

  friend bool operator==(const MonitorSignal&, const MonitorSignal&) = default;
};

/// The point at which one or more rules were met and all memory of the chart was cleared.
struct Episode {
  std::size_t stream = 0;
  std::size_t point = 0;    ///< position in the points given
  std::uint64_t rules = 0;  ///< bit r: rule r; the bit past the last rule: the EWMA
  int side = 0;             ///< the side on which its rules agree, else 0
  std::size_t length = 1;   ///< the longest of its patterns; it may reach back into an earlier piece

  friend bool operator==(const Episode&, const Episode&) = default;
};

struct Monitored {
  std::vector<double> z;     ///< (value - center) / sigma_point; NaN where the point takes no part
  std::vector<double> ewma;  ///< of z, carried over points that take no part; empty without smoothing
  std::vector<MonitorSignal> signals;
  std::vector<Episode> episodes;
  std::vector<MonitorState> states;  ///< one a stream, for the next piece
};

/// Judge a piece of one stream.
/// @throws InvalidInput  lengths that differ, a value, center or sigma of a point that takes part that is not finite, a
///                       sigma that is not positive, options out of range, more than 63 rules, or a state left by other
///                       rules.
/// @see    cpp/methods/monitor.md
[[nodiscard]] Monitored monitor(const MonitorLimits& limits, const MonitorState& state, const MonitorPoints& points);

/// Judge a piece of many streams in one call.
/// @param states   one a stream.
/// @param offsets  one more than streams, from 0 to the number of points, not falling: stream s has the points
///                 offsets[s] up to offsets[s + 1]. A stream may be empty.
[[nodiscard]] Monitored monitor(const MonitorLimits& limits, std::span<const MonitorState> states,
                                const MonitorPoints& points, std::span<const std::size_t> offsets);

/// Distance of the EWMA's limits from the center, in sigma of a point, at the `count`-th point after a restart.
[[nodiscard]] double ewma_reach(const MonitorLimits& limits, std::size_t count);

/// Episodes of many simulated series at once, under the default rules: as many as monitor() counts in each.
///
/// The EWMA is added up point by point here, so its last bits may differ from those of monitor().
///
/// @param z standardized points, lanes x points in the order of points: the first point of every series, then the
/// second
/// @param lanes number of series, at least 1; a divisor of the length of `z`
/// @param break_before empty, or one a point: the EWMA of every series starts anew there
/// @param counts one a series; the episodes are written there
/// @throws InvalidInput where lengths disagree, or a line is not positive and finite
void count_episodes(const BeyondLines& lines, std::span<const double> z, std::size_t lanes,
                    std::span<const std::uint8_t> break_before, std::span<std::int32_t> counts);

}  // namespace steadyfilm
