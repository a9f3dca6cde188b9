/// @file
/// Arithmetic of paint: from wet to dry film, what a volume covers, what too much film costs, where to aim, and VOC
/// content.
///
/// Volume solids, transfer efficiency and losses are shares (0.52, not 52). A thinner fraction is thinner for one of
/// mixed paint by volume. Quantities of one call are in one `UnitSystem`; where none is named, any units do that agree
/// with one another. All of it is arithmetic: how much thinner a paint may have, and what may be sprayed, say its data
/// sheet and the local rules.
#pragma once

#include <cstddef>
#include <optional>
#include <span>

namespace steadyfilm {

/// Units that belong together.
enum class UnitSystem {
  us,      ///< mil, ft2, US gal, lb
  metric,  ///< um, m2, L, kg
};

/// Area times film that one volume of solids makes: 231 / 0.144 ft2 mil/gal (a US gallon is 231 in3), or 1000 m2 um/L.
[[nodiscard]] double solids_coverage(UnitSystem units);

/// Volume solids of a mix, before and after thinning.
struct MixedSolids {
  double volume_solids = 0.0;
  double volume_solids_thinned = 0.0;  ///< volume_solids / (1 + thinner_fraction)
};

/// Solids of components mixed by volume, as if volumes added up.
///
/// @param parts          by volume, 0 or more, not all 0.
/// @param volume_solids  of each component: 0 to 1, and above 0 for the mix.
/// @throws InvalidInput  no component, lengths that differ, a number out of its domain.
/// @see    cpp/methods/film_coverage.md
[[nodiscard]] MixedSolids mixed_volume_solids(std::span<const double> parts, std::span<const double> volume_solids,
                                              double thinner_fraction = 0.0);

/// Wet film that dries to a wanted one.
struct WetFilm {
  double volume_solids_thinned = 0.0;
  double wft = 0.0;  ///< in the unit of the dry film
};

/// Wet film = dry film (1 + thinner_fraction) / volume_solids.
/// @param dft  dry film, positive.
/// @throws InvalidInput  a number out of its domain.
[[nodiscard]] WetFilm wet_film_target(double dft, double volume_solids, double thinner_fraction = 0.0);

/// Dry film that a wet one leaves, the inverse of `wet_film_target`.
[[nodiscard]] double dry_film(double wft, double volume_solids, double thinner_fraction = 0.0);

/// Step between neighboring notches of a wet-film comb where it reads `wft`: 0.5 mil up to 6 mil, 1 mil up to 10, 2 mil
/// up to 30, 5 mil above.
[[nodiscard]] double wet_comb_step(double wft, UnitSystem units);

/// Dry film between two notches of a comb: step * volume_solids (of the paint as sprayed).
[[nodiscard]] double wet_step_as_dry(double step, double volume_solids);

/// A dry film after the paint's solids have changed.
struct SolidsChange {
  double dft = 0.0;
  double change = 0.0;  ///< less the film before
};

/// Dry film that the same wet film leaves with other solids.
[[nodiscard]] SolidsChange dft_after_solids_change(double dft, double solids_from, double solids_to);

/// Area that a volume of mixed paint covers, in both unit systems.
struct SpreadingRate {
  double theoretical_ft2_gal = 0.0;
  double theoretical_m2_l = 0.0;
  double practical_ft2_gal = 0.0;  ///< theoretical * transfer_efficiency * (1 - other_losses)
  double practical_m2_l = 0.0;
};

/// @param dft                  dry film, positive, mil or um by `units`.
/// @param transfer_efficiency  share of the sprayed solids that stays on the part: above 0, at most 1.
/// @param other_losses         share of the paint that is never sprayed at a part (lines, cups, pot life): 0 to
/// below 1.
/// @throws InvalidInput  a number out of its domain.
[[nodiscard]] SpreadingRate spreading_rate(double volume_solids, double dft, UnitSystem units,
                                           double transfer_efficiency = 1.0, double other_losses = 0.0);

/// Area that a mass of powder covers, in both unit systems.
struct PowderCoverage {
  double theoretical_ft2_lb = 0.0;
  double theoretical_m2_kg = 0.0;
  double practical_ft2_lb = 0.0;  ///< theoretical * utilization
  double practical_m2_kg = 0.0;
};

/// @param specific_gravity  of the cured film against 1 g/cm3, positive.
/// @param thickness         mil or um by `units`, positive.
/// @param utilization       share of the powder that ends on the part, reclaim counted: above 0, at most 1.
[[nodiscard]] PowderCoverage powder_coverage(double specific_gravity, double thickness, UnitSystem units,
                                             double utilization = 1.0);

/// Paint that goes into film beyond what is wanted.
struct OverbuildCost {
  double volume = 0.0;  ///< of mixed paint, gal or L
  double cost = 0.0;    ///< in the money of the price
};

/// Volume = area * overbuild / (solids_coverage * volume_solids * transfer_efficiency), and its price.
///
/// @param area                 painted, ft2 or m2, 0 or more.
/// @param overbuild            film above the aim, mil or um, 0 or more; a whole film gives the paint that it takes.
/// @param price                of a gal or L of mixed paint, 0 or more.
/// @throws InvalidInput  a number out of its domain.
[[nodiscard]] OverbuildCost overbuild_cost(double area, double overbuild, UnitSystem units, double volume_solids,
                                           double transfer_efficiency, double price);

/// Mean to aim at so that z standard deviations lie above the lower limit: lower + z sigma, in the unit of both.
/// @param lower  finite. @param sigma  0 or more. @param z  0 or more.
[[nodiscard]] double aim_point(double lower, double sigma, double z);

/// Normal share below a lower limit. Without spread all values are the mean, and a limit itself is not below.
[[nodiscard]] double share_below(double lower, double mean, double sigma);

/// VOC of components mixed by volume: sum of parts * voc over the sum of parts, in the unit of voc.
/// @param parts  0 or more, not all 0. @param voc  mass in a volume, 0 or more.
[[nodiscard]] double mixed_voc(std::span<const double> parts, std::span<const double> voc);

/// VOC of a coating as applied, mass over three different volumes.
struct VocContent {
  double per_volume = 0.0;                ///< of the whole paint
  double less_water = 0.0;                ///< of the paint without water and exempt solvents
  std::optional<double> per_solids = {};  ///< of the solids, where their volume is known
};

/// @param voc_mass  0 or more. @param volume  of the paint, positive.
/// @param water, exempt  volumes in it, 0 or more, together below `volume`.
/// @param solids    their volume in it, positive and at most what water and exempt solvents leave.
/// @throws InvalidInput  a number out of its domain.
[[nodiscard]] VocContent voc_content(double voc_mass, double volume, double water = 0.0, double exempt = 0.0,
                                     std::optional<double> solids = std::nullopt);

/// VOC in a volume of solids, from that in a volume of paint less water: voc / (1 - voc / density).
/// @param density  of the VOC, above `voc`: the solvent must fit into the paint.
[[nodiscard]] double voc_per_solids(double voc, double density);

/// Volume of thinner at which a mix reaches a VOC limit: (limit volume - voc_mass) / (thinner_voc - limit); 0 for a mix
/// that is at its limit or above, infinite where the thinner holds no more VOC than the limit and so never lifts a mix
/// over it. A bound of arithmetic, no permission: the data sheet and the local rules have their own.
///
/// @param voc_mass  in the mix, 0 or more. @param volume  of the mix, positive.
/// @param thinner_voc  mass in a volume of thinner, positive. @param limit  mass in a volume, positive.
/// @throws InvalidInput  a number out of its domain.
[[nodiscard]] double thinner_allowance(double voc_mass, double volume, double thinner_voc, double limit);

}  // namespace steadyfilm
