/// @file
/// Run rules: patterns of plotted points that a steady process seldom shows. The scalar engine; it defines what faster
/// ones must give.
///
/// Points come standardized, z = (value - center) / sigma of the point, each with its own center and sigma. A point
/// within `on_line` sigma of a line is on it and belongs to the inner side; two neighbors within `on_line` of each
/// other are equal.
#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace steadyfilm {

/// Half width of a line, in sigma: absorbs the rounding of z, far below anything a gauge can show.
inline constexpr double on_line = 1e-9;

/// Longest window of a counted pattern: its history of 52 earlier points stays exact in a JSON number.
inline constexpr std::size_t longest_counted_window = 53;
/// Longest trend or alternation.
inline constexpr std::size_t longest_step_window = 100;

enum class Pattern : std::uint8_t {
  beyond,      ///< hits of the last window points lie beyond the zone line
  within,      ///< hits of the last window points lie within the zone lines, the lines included
  trend,       ///< window points in a row, each higher than the one before, or each lower
  alternating  ///< window points in a row, up and down by turns
};

/// The side on which the hits of `Pattern::beyond` must lie; the other patterns have `either`.
enum class Side : std::uint8_t {
  one,     ///< all above or all below
  either,  ///< above and below count alike
  above,
  below
};

struct RunRule {
  Pattern pattern = Pattern::beyond;
  std::size_t hits = 1;    ///< k of "k of the last m"
  std::size_t window = 1;  ///< m; the number of points of a trend or an alternation
  double zone = 3.0;       ///< distance of the line from the center, in sigma; 0 for trend and alternating
  Side side = Side::one;
  std::string name;  ///< the rule word

  friend bool operator==(const RunRule&, const RunRule&) = default;
};

/// One rule met at one point.
struct RuleSignal {
  std::size_t point = 0;   ///< the pattern's last point, from 0
  std::size_t rule = 0;    ///< position in the rules given
  int side = 0;            ///< +1 above or rising, -1 below or falling, 0 neither alone
  std::size_t length = 1;  ///< points from the first that takes part in the pattern to this one, both counted

  friend bool operator==(const RuleSignal&, const RuleSignal&) = default;
};

struct RuleOptions {
  /// A counted pattern is met only at a point that is itself a hit; false: at every point whose window holds enough
  /// hits.
  bool last_point_beyond = true;
  /// Forget all earlier points, this one too, once any rule is met.
  bool clear_after_signal = false;
  /// Most threads that a long series is shared out to; 0: as many as run at once. The signals are the same for all.
  std::size_t threads = 0;
};

/// What a set of rules remembers between two points. Plain numbers: a series can be cut anywhere, stored and resumed.
struct RuleMemory {
  std::vector<std::uint64_t> above;  ///< one a rule: hits among the earlier points of the window, the newest in bit 0
  std::vector<std::uint64_t> below;  ///< the same for hits below, of a rule with Side::one
  bool has_last = false;
  double last_z = 0.0;  ///< read only when has_last
  int trend = 0;        ///< steps in the present direction: positive rising, negative falling
  int alternation = 0;  ///< steps that turned each time; the sign is the direction of the last one

  friend bool operator==(const RuleMemory&, const RuleMemory&) = default;
};

/// Read a rule word: `2of3_beyond2_one` (one, either, above, below), `15of15_within1_either`, `trend6`,
/// `alternating14`.
/// @throws InvalidInput  another text, no hit, more hits than the window, a window longer than the longest, a zone that
///                       is negative or not finite, a zone of 0 for `within`, a trend of fewer than 2 or an alternation
///                       of fewer than 3 points.
[[nodiscard]] RunRule parse_rule(std::string_view word);

/// All words of a set, in order.
[[nodiscard]] std::vector<RunRule> parse_rules(std::span<const std::string> words);

/// What is seen, in shop words: "2 of 3 points beyond 2 sigma on one side".
[[nodiscard]] std::string describe(const RunRule& rule);

/// The four zone tests of the Western Electric Statistical Quality Control Handbook (1956).
[[nodiscard]] std::vector<RunRule> western_electric();

/// The eight tests of Nelson, Journal of Quality Technology 16 (1984) 237.
[[nodiscard]] std::vector<RunRule> nelson();

/// Forget every earlier point.
void clear(RuleMemory& memory);

/// Take in the next point and append a signal for each rule that it meets, in the order of the rules; a rule met on
/// both sides gives above first. `memory` starts default constructed.
/// @param z  not NaN; the caller checks.
void advance(RuleMemory& memory, std::span<const RunRule> rules, double z, std::size_t point,
             const RuleOptions& options, std::vector<RuleSignal>& signals);

/// Every point of a series at which a rule is met.
///
/// @param z             standardized points in production order; read only where the point takes part.
/// @param takes_part    as long as z: 0 for a missing or excluded point, which breaks every pattern.
///                      Empty: all take part.
/// @param break_before  as long as z: 1 where a gap or a new period starts, which no pattern crosses. Empty: none.
/// @throws InvalidInput  lengths that differ, or a z of a point that takes part is NaN.
/// @see    cpp/methods/run_rules.md
[[nodiscard]] std::vector<RuleSignal> rule_signals(std::span<const double> z, std::span<const std::uint8_t> takes_part,
                                                   std::span<const std::uint8_t> break_before,
                                                   std::span<const RunRule> rules, const RuleOptions& options = {});

/// The points that make up a signal's pattern, oldest first: the hits of a counted pattern, every point of a trend or
/// an alternation.
///
/// @param z  the series in which the signal was found, at least up to its point.
/// @throws InvalidInput  the pattern does not lie inside z.
[[nodiscard]] std::vector<std::size_t> pattern_points(const RunRule& rule, const RuleSignal& signal,
                                                      std::span<const double> z);

/// Chance that `window` given points of a steady process meet the rule at the last of them.
///
/// A trend or an alternation needs independent points with one continuous distribution, of any shape; a counted pattern
/// is for independent normal points.
[[nodiscard]] double pattern_probability(const RunRule& rule);

}  // namespace steadyfilm
