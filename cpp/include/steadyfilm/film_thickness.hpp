/// @file
/// Film acceptance: readings make spots, spots areas, areas units, and a rule given as data says which units pass.
///
/// Lengths of one call are in one unit, whichever. A window's ends and a rule's shares of them are compared with means
/// and readings as they are, without rounding; a value within `limit_tolerance` of a limit is on it, and a limit is
/// inside.
///
/// The verdicts work on the numbers they were given. They do not replace the data sheets of the coating's maker, local
/// codes or the judgment of licensed professionals; a pass is no permission to ship, and a thin film is no reason to
/// spray more before the data sheet and the booth's design have been asked.
///
/// @see cpp/methods/film_thickness.md
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

namespace steadyfilm {

/// Relative. Three readings of 0.88 must meet 0.8 * 1.1, which is above 0.88 in doubles; no gauge shows ten digits.
inline constexpr double limit_tolerance = 1e-9;

/// Whether a value is at or above a limit, at or below it.
[[nodiscard]] bool at_least(double value, double limit);
[[nodiscard]] bool at_most(double value, double limit);

/// Two ends, either absent: of a window in its unit, or shares of a window's ends.
struct Bounds {
  std::optional<double> lower;
  std::optional<double> upper;
};

/// How many for a surface up to `up_to`.
struct CountStep {
  double up_to = 0.0;
  std::size_t count = 0;
};

/// Counts by surface: the first step that holds it; beyond the last one `more` for each `further` or part of it.
struct CountTable {
  std::vector<CountStep> steps{};  ///< rising; empty: the rule has no such count
  double further = 0.0;
  std::size_t more = 0;
};

/// How a part of a rule is known.
struct RuleFact {
  std::string about;
  std::string how;  ///< "seen in excerpt", "from memory", "own choice" or "own rule"
  std::string source;
};

/// A rule as data. Bounds are shares of the window's ends: of its lower end for `lower`, of its upper end for `upper`.
struct AcceptanceRule {
  std::string name;
  std::string edition;
  Bounds reading{};  ///< of every reading
  Bounds spot{};     ///< of every spot, the mean of its readings
  Bounds area{};     ///< of every area, the mean of its spots
  Bounds unit{};     ///< of the unit, the mean of all its spots
  /// Largest share of an area's readings that may lie below the window's lower end; absent: no such limit.
  std::optional<double> thin_share{};
  bool thin_share_allowed = true;     ///< whether exactly that share passes
  std::size_t readings_per_spot = 1;  ///< at least
  std::size_t spots_per_area = 1;     ///< at least
  CountTable areas_ft2{};             ///< areas of a unit by its surface
  CountTable areas_m2{};
  CountTable readings_m2{};  ///< readings of a unit by its surface
  /// Whether film in mil goes with surface in ft2 and film in um with m2 only: the text forbids mixing.
  bool one_unit_system = false;
  /// A single value asked for stands for value -+ this share; absent: for its lower end.
  std::optional<double> single_value_share{};
  std::optional<double> lowest_nominal_um{};  ///< below it the rule does not apply
  std::vector<RuleFact> facts{};
};

/// Readings, spots and areas with five restriction levels, 1 strictest, 3 the usual one.
/// @throws InvalidInput  level outside 1 to 5
[[nodiscard]] AcceptanceRule area_rule(int level = 3);

/// The "80 % rule" for blasted steel: every reading at least 0.8 of the nominal value, the mean at least it, a share of
/// 20 % between. @param share_allowed  whether exactly 20 % passes; the strict reading is the careful one.
[[nodiscard]] AcceptanceRule rough_steel_rule(bool share_allowed = false);

/// At least 90 % of readings at the nominal value, none below 0.9 of it.
[[nodiscard]] AcceptanceRule ninety_ten_rule();

/// What is subtracted from each reading on a blast profile; um.
struct RoughnessCorrection {
  std::string profile;  ///< "fine", "medium", "coarse" or "unknown"
  double correction_um = 0.0;
  std::string how;
};
/// The table of corrections, one row a profile.
/// Source: a standard's annex, seen in excerpt; the row "unknown" from memory (cpp/methods/film_thickness.md).
[[nodiscard]] const std::vector<RoughnessCorrection>& roughness_corrections();

/// @throws InvalidInput  surface not positive, an empty or falling table, a count beyond 1e9
[[nodiscard]] std::size_t count_for(const CountTable& table, double surface);

/// The window that a single value stands for: value -+ share of it, or without a share at least the value.
[[nodiscard]] Bounds single_value_window(double value, const std::optional<double>& share);

/// Shares of a window's ends as limits in its unit; a limit whose share or end is absent is absent.
/// @throws InvalidInput  a window without any end, an end or share that is not positive, lower above upper
[[nodiscard]] Bounds scaled_bounds(const Bounds& shares, const Bounds& window);

/// Limits in the window's unit.
struct AcceptanceLimits {
  Bounds reading{};
  Bounds spot{};
  Bounds area{};
  Bounds unit{};
  std::optional<double> thin_below{};  ///< readings below it are counted as thin
  std::optional<double> thin_share{};
  bool thin_share_allowed = true;
  std::size_t readings_per_spot = 1;
  std::size_t spots_per_area = 1;
};

/// @throws InvalidInput  as scaled_bounds, and a thin share outside 0 to 1
[[nodiscard]] AcceptanceLimits limits_of(const AcceptanceRule& rule, const Bounds& window);

/// Readings in order: those of a spot together, spots of an area together, areas of a unit together. Each `_start` has
/// one element more than there are groups: group k holds elements start[k] to start[k + 1] - 1 of the level below.
struct FilmReadings {
  std::span<const double> values{};
  std::span<const std::int64_t> spot_start{};
  std::span<const std::int64_t> area_start{};  ///< in spots
  std::span<const std::int64_t> unit_start{};  ///< in areas
  std::span<const std::uint8_t> suspect{};     ///< one a reading, or empty: none is
  /// Readings taken at each spot, those left out with a reason among them: a spot needs so many taken, and one left.
  /// Empty: as many as are there.
  std::span<const std::int64_t> spot_taken{};
  std::size_t areas_required = 0;     ///< of each unit
  std::size_t readings_required = 0;  ///< of each unit
};

/// How far a measured value may be from the true one: bias_bound + multiple * sigma_repeat / sqrt(readings of the
/// mean).
struct GuardBand {
  double sigma_repeat = 0.0;
  double bias_bound = 0.0;
  double multiple = 0.0;  ///< 1.645 for 5 % on one side
};

enum class Acceptance : std::int8_t { fail = 0, pass = 1, not_demonstrated = 2 };
enum class GuardClass : std::int8_t { none = 0, clear = 1, doubtful = 2 };

/// What was judged; `_side` is -1 below its limits, +1 above, 0 inside or not judged.
struct AcceptanceFound {
  std::vector<double> spot_mean;  ///< NaN for a spot without readings
  std::vector<double> area_mean;  ///< NaN without spots
  std::vector<double> unit_mean;
  std::vector<std::int8_t> reading_side;
  std::vector<std::int8_t> spot_side;
  std::vector<std::int8_t> area_side;
  std::vector<std::int8_t> unit_side;
  std::vector<std::int64_t> thin;           ///< readings below the window, one element an area
  std::vector<std::uint8_t> thin_exceeded;  ///< the area has more of them than the rule admits
  std::vector<std::int8_t> area_verdict;    ///< as Acceptance
  std::vector<std::int8_t> unit_verdict;
  std::vector<std::int8_t> guard_class;  ///< one a unit, as GuardClass; none without a guard band
};

/// Judge units.
///
/// A reading, spot, area or unit is sound when nothing that it needs is missing or suspect. A unit fails when anything
/// sound in it is outside its limits, passes when all of it is sound and inside, and is otherwise not demonstrated.
/// With a guard band a pass is clear when it would pass with every limit moved inward by the band, a failure when it
/// would fail with every limit moved outward; else it is doubtful. The verdict itself has no guard band.
///
/// @throws InvalidInput  readings not finite, starts that do not rise from 0 to the count below, lengths that differ
[[nodiscard]] AcceptanceFound judge_film(const AcceptanceLimits& limits, const FilmReadings& readings,
                                         const std::optional<GuardBand>& guard = std::nullopt);

/// Mean of a spot's readings without those dropped (indices from 0). @throws InvalidInput  nothing left, index twice
[[nodiscard]] double spot_mean(std::span<const double> readings, std::span<const std::size_t> dropped = {});

/// Whether the mean of readings meets a limit: at least it, or at most it.
[[nodiscard]] bool limit_met(std::span<const double> readings, double limit, bool lower);

/// Chance that one of n independent normal readings at least lies below `fraction` of a nominal value, where the mean
/// is `mean_ratio` times it and the coefficient of variation `cv`.
[[nodiscard]] double below_share_probability(double mean_ratio, double cv, double fraction, std::size_t readings = 1);

/// Chance that the average of `locations` places with `readings` each is at least `lower`, for normal variation from
/// place to place and from reading to reading; 0.5 when the true mean is the limit itself.
[[nodiscard]] double average_acceptance_probability(double true_mean, double lower, double sigma_location,
                                                    double sigma_repeat, std::size_t locations, std::size_t readings);

/// How many readings are taken, and how they vary inside a unit of one true mean.
struct SamplingPlan {
  std::size_t areas = 1;
  std::size_t spots = 5;
  std::size_t readings = 3;
  double sigma_area = 0.0;
  double sigma_location = 0.0;
  double sigma_repeat = 0.0;
};

/// Share of units that the rule passes, at one true mean.
struct OperatingPoint {
  double true_mean = 0.0;
  double probability = 0.0;
  double standard_error = 0.0;
};

/// Operating curve of a rule and a plan by simulation: the same draws at every mean, the same for every seed on every
/// run.
/// @throws InvalidInput  a count of 0, a negative sd, a plan with fewer readings or spots than the rule needs, no draws
[[nodiscard]] std::vector<OperatingPoint> operating_curve(const AcceptanceLimits& limits, const SamplingPlan& plan,
                                                          std::span<const double> true_means, std::size_t draws = 10000,
                                                          std::uint64_t seed = 1);

/// Where a search outward from a bad spot stands, in one direction.
struct SearchState {
  std::size_t measured = 0;
  std::size_t conforming_run = 0;  ///< conforming spots in a row at the end
  std::size_t reach = 0;           ///< steps out to the last spot that does not conform; 0: the bad spot itself
  bool closed = false;             ///< as many conforming ones in a row as needed
};

/// Follow the spots of one direction, nearest first; limits are the window itself, without any allowance for spots.
/// Spots beyond the first closing run are counted but change nothing.
/// @throws InvalidInput  a spot that is not finite, no end at all, needed 0
[[nodiscard]] SearchState follow_direction(std::span<const double> spots, const Bounds& window, std::size_t needed = 2);

}  // namespace steadyfilm
