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
#include <limits>
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
  std::size_t line = 0;  ///< position of its zone line in RulePlan::widths
  std::uint64_t earlier =
      0;  ///< the window's places but the newest, in a word whose highest place is the newest of them

  [[nodiscard]] bool steps() const { return pattern == Pattern::trend || pattern == Pattern::alternating; }
};

/// Rules made ready.
struct RulePlan {
  double center = 0.0;          ///< taken off each point
  std::vector<double> widths;   ///< zone lines: beyond is strictly further than this from the center
  std::vector<RuleTest> tests;  ///< in the order in which one point's signals are listed
  bool newest = true;           ///< counted patterns are met only at hits
  bool steps = false;           ///< some rule looks at neighbors: points must be standardized
  bool none_below = false;      ///< no point can lie beyond a line below the center
};

/// Whether planes can do these rules: all windows fit, and no signal changes what follows it.
[[nodiscard]] bool planes_fit(std::span<const RunRule> rules, const RuleOptions& options);

/// For standardized points.
[[nodiscard]] RulePlan make_plan(std::span<const RunRule> rules, const RuleOptions& options);

/// The same plan for points as they are: each line becomes the largest distance from the center that does not lie
/// beyond it once divided by sigma, so that comparing gives exactly the answer that dividing first would give.
/// @param sigma   0 or more; see `standardized` in support/chart.hpp
/// @param lowest  no point lies below this: a range, for example, not below 0
/// Not for plans with steps.
[[nodiscard]] RulePlan on_values(RulePlan plan, double center, double sigma,
                                 double lowest = -std::numeric_limits<double>::infinity());

/// Patterns of steps whose length has no bound.
enum class StepRun : std::uint8_t { rising, falling, turning };
inline constexpr std::size_t step_runs = 3;

/// A signal as a stretch keeps it: small, since a long series has very many.
struct FoundSignal {
  std::uint32_t point = 0;   ///< counted from the stretch's first
  std::uint32_t test = 0;    ///< position in RulePlan::tests
  std::uint32_t length = 0;  ///< of a trend or an alternation, as if no step had come before the stretch
};

/// What one stretch found.
struct Stretch {
  std::vector<FoundSignal> signals;
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
  /// @param ahead         null, or points of a later tile, to ask for meanwhile
  void find(const double* x, const std::uint8_t* takes_part, const std::uint8_t* break_before, std::size_t first,
            std::size_t points, Stretch& found, const double* ahead = nullptr);

 private:
  using Plane = std::array<std::uint64_t, kernels::run_rules::plane_words>;
  using Tile = std::array<std::uint64_t, kernels::run_rules::tile_words>;

  void read(const double* x, const std::uint8_t* takes_part, const std::uint8_t* break_before, std::size_t first,
            const double* ahead);
  void read_steps(const double* x, std::size_t first);
  void append(std::size_t points, Stretch& found);
  void count_steps(std::size_t points, Stretch& found);
  void move_on();
  [[nodiscard]] std::size_t hit_length(std::size_t test, std::size_t i) const;
  [[nodiscard]] std::size_t step_length(StepRun run, std::size_t i) const;

  const RulePlan& plan_;
  const kernels::run_rules::Table& table_;
  bool masked_;
  Tile above_{};               // above the center
  std::vector<Plane> beyond_;  // one a line
  std::vector<Plane> hits_;    // one a test
  std::vector<Tile> met_;      // one a test
  std::vector<FoundSignal> tile_signals_;
  Plane present_{};  // takes part
  Plane open_{};     // takes part and no break before it: older points can be seen from here
  std::array<Plane, step_runs> step_planes_{};
  std::array<std::size_t, step_runs> step_counts_{};  // steps in a row at the end of the tile before
};

/// The signals of a series, from those of its stretches.
[[nodiscard]] std::vector<RuleSignal> join(std::span<const Stretch> stretches, const RulePlan& plan);

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
