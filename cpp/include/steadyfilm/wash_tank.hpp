/// @file
/// Arithmetic of wash tanks: titration, additions, drag-out, rinsing, coating weight, and what is used for the area
/// painted.
///
/// Concentrations are percent by volume. Volumes of one call are in one unit, whichever.
///
/// Source: additions, drag-out and rinsing are balances of matter of a well-stirred tank, derived in no published page
/// but recomputed by tests/reference/generate/wash_tank.py; titration factor, coating weight by stripping and use for
/// the area painted are common practice, no source. Formulas: cpp/methods/wash_tank.md.
#pragma once

#include <cstddef>
#include <span>
#include <vector>

namespace steadyfilm {

/// A concentration with what it is known to, percent.
struct Titration {
  double percent = 0.0;
  double standard_uncertainty = 0.0;
};

/// Titrant used times the product's factor.
///
/// @param titrant_ml           0 or more.
/// @param percent_per_ml       of the product and the sample taken; positive.
/// @param reading_uncertainty  standard uncertainty of titrant_ml, 0 or more.
/// @throws InvalidInput  a number that is not finite or out of its domain.
[[nodiscard]] Titration titration_concentration(double titrant_ml, double percent_per_ml,
                                                double reading_uncertainty = 0.0);

/// Concentrate to pour in, in the unit of the tank's volume.
struct AdditionVolume {
  double simple = 0.0;   ///< V (to - from) / 100
  double exact = 0.0;    ///< V (to - from) / (100 - from): as much of the old bath runs over as is poured in
  double growing = 0.0;  ///< V (to - from) / (100 - to): nothing runs over, the bath grows
};

/// Volume that lifts a tank from one concentration to another; 0 when it stands there already.
/// @throws InvalidInput  a volume that is not positive, percents outside 0 to 100 (`to` below 100), to below from: an
///                       addition cannot lower a concentration.
[[nodiscard]] AdditionVolume addition_volume(double tank_volume, double from_percent, double to_percent);

/// Concentration left after `hours` of loss that is made up with water: c exp(-q t / V).
/// @param loss_per_hour  in the unit of the tank's volume, 0 or more.
/// @throws InvalidInput  a number that is not finite or out of its domain.
[[nodiscard]] double drag_out_concentration(double tank_volume, double loss_per_hour, double start_percent,
                                            double hours);

/// Hours until that concentration falls to a level; infinite without loss, 0 when it is there already.
/// @throws InvalidInput  as above; a level that is not positive.
[[nodiscard]] double hours_to_concentration(double tank_volume, double loss_per_hour, double start_percent,
                                            double level_percent);

/// Steady share of the tank's concentration in its rinse, percent: 100 D / (D + F).
/// @param drag_per_hour  carried over, positive; @param flow_per_hour  fresh water, 0 or more; both in one unit.
[[nodiscard]] double rinse_ratio(double drag_per_hour, double flow_per_hour);

/// Fresh water that holds such a share.
/// @param ratio_percent  above 0, at most 100.
[[nodiscard]] double rinse_flow_for_ratio(double drag_per_hour, double ratio_percent);

/// Coating weight in both units of the trade.
struct CoatingWeight {
  double mg_per_ft2 = 0.0;
  double g_per_m2 = 0.0;
};

/// Weight lost in stripping over the area coated.
/// @param loss_mg  0 or more. @param area_m2  of all sides that were coated, positive.
[[nodiscard]] CoatingWeight coating_weight(double loss_mg, double area_m2);

/// Its error from so many weighings, by root sum of squares.
/// @param balance_mg  of one weighing, 0 or more. @param weighings  1 or more.
[[nodiscard]] CoatingWeight coating_weight_error(double balance_mg, std::size_t weighings, double area_m2);

/// What was used between readings of a meter: differences of the totals, one fewer than totals.
/// @throws InvalidInput  fewer than two totals, one that is not finite or lies below the one before it (a new meter?).
[[nodiscard]] std::vector<double> metered_use(std::span<const double> totals);

/// Use for a unit of what it is used for (area painted, hours run); NaN where none was.
/// @throws InvalidInput  lengths that differ, a number that is not finite or negative.
[[nodiscard]] std::vector<double> use_rates(std::span<const double> used, std::span<const double> exposure);

}  // namespace steadyfilm
