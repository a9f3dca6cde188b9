/// @file
/// Run rules on 64 points at once: the same signals as `advance` point after point (run_rules.hpp), for long series.
///
/// A series is cut into stretches of whole tiles. A stretch starts one tile early, in silence, so that every pattern
/// that reaches into it is seen whole; only the length of a trend or an alternation may go further back, and is put
/// right when the stretches are joined. Every cut gives the same signals.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include <steadyfilm/run_rules.hpp>

#include "kernels/run_rules.hpp"

namespace steadyfilm::support {

inline constexpr std::size_t tile_points = kernels::run_rules::tile_points;

/// One side of one rule, as planes need it.
struct RuleTest {
  std::size_t rule = 0;
  int side = 0;
  Pattern pattern = Pattern::beyond;
  std::size_t least = 1;
  std::size_t window = 1;
  static constexpr std::size_t no_line = static_cast<std::size_t>(-1);
  std::size_t above = no_line;  ///< position of the line above which, in RulePlan::above
  std::size_t below = no_line;  ///< and of that below which, in RulePlan::below
};

/// Rules made ready.
struct RulePlan {
  std::vector<double> above;    ///< points are beyond when strictly above this line
  std::vector<double> below;    ///< or strictly below this
  std::vector<RuleTest> tests;  ///< in the order in which one point's signals are listed
  bool newest = true;           ///< counted patterns are met only at hits
  bool steps = false;           ///< some rule looks at neighbors: points must be standardized
};

/// Whether planes can do these rules: all windows fit, and no signal changes what follows it.
[[nodiscard]] bool planes_fit(std::span<const RunRule> rules, const RuleOptions& options);

/// For standardized points.
[[nodiscard]] RulePlan make_plan(std::span<const RunRule> rules, const RuleOptions& options);

/// The same plan for points as they are: each line becomes the last double that does not lie beyond it once
/// standardized, so that comparing gives exactly the answer that standardizing first would give, without a division.
/// @param sigma  0 or more; see `standardized` in support/chart.hpp
/// Not for plans with steps.
[[nodiscard]] RulePlan on_values(RulePlan plan, double center, double sigma);

/// Patterns of steps whose length has no bound.
enum class StepRun : std::uint8_t { rising, falling, turning };
inline constexpr std::size_t step_runs = 3;

/// What one stretch found.
struct Stretch {
  std::vector<RuleSignal> signals;  ///< trends and alternations as if no step had come before the stretch
  std::size_t points = 0;
  std::array<std::size_t, step_runs> leading{};   ///< steps in a row from the first point on
  std::array<std::size_t, step_runs> trailing{};  ///< steps in a row up to the last point
};

/// Walks through the tiles of one stretch.
class RuleScan {
 public:
  /// @param masked  whether tiles come with marks
  RuleScan(const RulePlan& plan, bool masked);

  /// Look at the next tile without finding anything: what lies in front of the stretch.
  void prepare(const double* x, const std::uint8_t* takes_part, const std::uint8_t* break_before, std::size_t first);

  /// Find the signals of the next tile.
  /// @param x             tile_points numbers; x[-1] too can be read when the plan has steps
  /// @param takes_part    null, or tile_points marks
  /// @param break_before  null, or tile_points marks
  /// @param first         the point that x[0] is
  /// @param points        how many of the tile's points there are; fewer than tile_points in the last tile alone
  void find(const double* x, const std::uint8_t* takes_part, const std::uint8_t* break_before, std::size_t first,
            std::size_t points, Stretch& found);

 private:
  using Plane = std::array<std::uint64_t, kernels::run_rules::plane_words>;
  using Tile = std::array<std::uint64_t, kernels::run_rules::tile_words>;

  void read(const double* x, const std::uint8_t* takes_part, const std::uint8_t* break_before, std::size_t first);
  void read_steps(const double* x, std::size_t first);
  void read_hits(const RuleTest& test, Plane& hits) const;
  void append(std::size_t first, std::size_t points, Stretch& found) const;
  void count_steps(std::size_t points, Stretch& found);
  void move_on();
  [[nodiscard]] std::size_t hit_length(const RuleTest& test, const Plane& hits, std::size_t i) const;
  [[nodiscard]] std::size_t step_length(StepRun run, std::size_t i) const;

  const RulePlan& plan_;
  const kernels::run_rules::Table& table_;
  bool masked_;
  std::vector<std::uint64_t> above_;  // planes of the lines
  std::vector<std::uint64_t> below_;
  std::vector<Plane> hits_;  // one a test
  std::vector<Tile> met_;    // one a test
  Plane present_{};          // takes part
  Plane open_{};             // takes part and no break before it: older points can be seen from here
  std::array<Plane, step_runs> step_planes_{};
  std::array<std::size_t, step_runs> step_counts_{};  // steps in a row at the end of the tile before
};

/// The signals of a series, from those of its stretches.
[[nodiscard]] std::vector<RuleSignal> join(std::span<Stretch> stretches, std::span<const RunRule> rules);

/// Tiles of one stretch: long enough that its silent first tile and its thread cost nothing, short enough to share out.
inline constexpr std::size_t usual_stretch_tiles = 128;

/// `rule_signals` by planes.
/// @param stretch_tiles  1 or more; the signals are the same for all
/// @throws InvalidInput  z of a point that takes part is NaN
[[nodiscard]] std::vector<RuleSignal> plane_signals(std::span<const double> z, std::span<const std::uint8_t> takes_part,
                                                    std::span<const std::uint8_t> break_before,
                                                    std::span<const RunRule> rules, const RuleOptions& options,
                                                    std::size_t stretch_tiles = usual_stretch_tiles);

}  // namespace steadyfilm::support
