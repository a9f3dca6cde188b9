#include <steadyfilm/film_coverage.hpp>

#include <cmath>
#include <limits>
#include <string>
#include <string_view>

#include <steadyfilm/core.hpp>
#include <steadyfilm/distributions.hpp>

namespace steadyfilm {

namespace {

constexpr double um_per_mil = 25.4;
constexpr double m2_per_ft2 = 0.3048 * 0.3048;
constexpr double l_per_gal = 231.0 * 2.54 * 2.54 * 2.54 / 1000.0;
constexpr double kg_per_lb = 0.45359237;
constexpr double m2_l_per_ft2_gal = m2_per_ft2 / l_per_gal;
constexpr double m2_kg_per_ft2_lb = m2_per_ft2 / kg_per_lb;

void require_not_negative(double value, std::string_view function, std::string_view argument) {
  require_finite(value, function, argument);
  if (value < 0.0) throw InvalidInput(function, argument, "must be 0 or more, got " + to_text(value));
}

/// A share above 0 and at most 1; what looks like percent is told so.
void require_share(double value, std::string_view function, std::string_view argument,
                   std::optional<std::size_t> position = std::nullopt) {
  if (value > 0.0 && value <= 1.0) return;
  std::string reason = "must be a share above 0 and at most 1, got " + to_text(value);
  if (value > 1.0 && value <= 100.0) reason += "; " + to_text(value) + " % is written " + to_text(value / 100.0);
  throw InvalidInput(function, argument, reason, position);
}

void require_thinner(double value, std::string_view function) {
  if (value >= 0.0 && value <= 1.0) return;
  std::string reason = "must lie between 0 and 1 (thinner for one of mixed paint by volume), got " + to_text(value);
  if (value > 1.0 && value <= 100.0) reason += "; " + to_text(value) + " % is written " + to_text(value / 100.0);
  throw InvalidInput(function, "thinner_fraction", reason);
}

/// Sum of the parts, which must be able to be a mix.
double sum_of_parts(std::span<const double> parts, std::size_t others, std::string_view function,
                    std::string_view other) {
  require_count(parts.size(), 1, function, "parts");
  if (others != parts.size()) {
    throw InvalidInput(function, other,
                       "has " + std::to_string(others) + " elements for " + std::to_string(parts.size()) + " parts");
  }
  double sum = 0.0;
  for (std::size_t i = 0; i < parts.size(); ++i) {
    if (!std::isfinite(parts[i]) || parts[i] < 0.0) {
      throw InvalidInput(function, "parts", "must be 0 or more and finite, got " + to_text(parts[i]), i);
    }
    sum += parts[i];
  }
  if (sum == 0.0) throw InvalidInput(function, "parts", "are all 0: nothing is mixed");
  require_finite(sum, function, "sum of parts");
  return sum;
}

/// Mean of `of` weighted by parts.
double weighted(std::span<const double> parts, std::span<const double> of, double sum) {
  double total = 0.0;
  for (std::size_t i = 0; i < parts.size(); ++i) total += parts[i] / sum * of[i];
  return total;
}

double in_mil(double thickness, UnitSystem units) {
  return units == UnitSystem::us ? thickness : thickness / um_per_mil;
}

}  // namespace

double solids_coverage(UnitSystem units) { return units == UnitSystem::us ? 231.0 / 0.144 : 1000.0; }

MixedSolids mixed_volume_solids(std::span<const double> parts, std::span<const double> volume_solids,
                                double thinner_fraction) {
  constexpr auto function = "mixed_volume_solids";
  const double sum = sum_of_parts(parts, volume_solids.size(), function, "volume_solids");
  for (std::size_t i = 0; i < volume_solids.size(); ++i) {
    if (volume_solids[i] != 0.0) require_share(volume_solids[i], function, "volume_solids", i);  // a thinner has none
  }
  require_thinner(thinner_fraction, function);
  const double solids = weighted(parts, volume_solids, sum);
  if (solids == 0.0) throw InvalidInput(function, "volume_solids", "leave no solids in the mix: nothing would dry on");
  return {.volume_solids = solids, .volume_solids_thinned = solids / (1.0 + thinner_fraction)};
}

WetFilm wet_film_target(double dft, double volume_solids, double thinner_fraction) {
  constexpr auto function = "wet_film_target";
  require_positive(dft, function, "dft");
  require_share(volume_solids, function, "volume_solids");
  require_thinner(thinner_fraction, function);
  return {.volume_solids_thinned = volume_solids / (1.0 + thinner_fraction),
          .wft = dft * (1.0 + thinner_fraction) / volume_solids};
}

double dry_film(double wft, double volume_solids, double thinner_fraction) {
  constexpr auto function = "dry_film";
  require_positive(wft, function, "wft");
  require_share(volume_solids, function, "volume_solids");
  require_thinner(thinner_fraction, function);
  return wft * volume_solids / (1.0 + thinner_fraction);
}

double wet_comb_step(double wft, UnitSystem units) {
  require_positive(wft, "wet_comb_step", "wft");
  const double mil = in_mil(wft, units);
  const double step = mil <= 6.0 ? 0.5 : mil <= 10.0 ? 1.0 : mil <= 30.0 ? 2.0 : 5.0;
  return units == UnitSystem::us ? step : step * um_per_mil;
}

double wet_step_as_dry(double step, double volume_solids) {
  require_positive(step, "wet_step_as_dry", "step");
  require_share(volume_solids, "wet_step_as_dry", "volume_solids");
  return step * volume_solids;
}

SolidsChange dft_after_solids_change(double dft, double solids_from, double solids_to) {
  constexpr auto function = "dft_after_solids_change";
  require_positive(dft, function, "dft");
  require_share(solids_from, function, "solids_from");
  require_share(solids_to, function, "solids_to");
  return {.dft = dft * solids_to / solids_from, .change = dft * (solids_to - solids_from) / solids_from};
}

SpreadingRate spreading_rate(double volume_solids, double dft, UnitSystem units, double transfer_efficiency,
                             double other_losses) {
  constexpr auto function = "spreading_rate";
  require_share(volume_solids, function, "volume_solids");
  require_positive(dft, function, "dft");
  require_share(transfer_efficiency, function, "transfer_efficiency");
  if (!(other_losses >= 0.0 && other_losses < 1.0)) {
    throw InvalidInput(function, "other_losses", "must be a share from 0 to below 1, got " + to_text(other_losses));
  }
  const double rate = solids_coverage(units) * volume_solids / dft;
  const double used = transfer_efficiency * (1.0 - other_losses);
  SpreadingRate found;
  found.theoretical_ft2_gal = units == UnitSystem::us ? rate : rate / m2_l_per_ft2_gal;
  found.theoretical_m2_l = units == UnitSystem::us ? rate * m2_l_per_ft2_gal : rate;
  found.practical_ft2_gal = found.theoretical_ft2_gal * used;
  found.practical_m2_l = found.theoretical_m2_l * used;
  return found;
}

PowderCoverage powder_coverage(double specific_gravity, double thickness, UnitSystem units, double utilization) {
  constexpr auto function = "powder_coverage";
  require_positive(specific_gravity, function, "specific_gravity");
  require_positive(thickness, function, "thickness");
  require_share(utilization, function, "utilization");
  // 1 kg of a film of gravity 1 is 1 L of solids; a mil is 25.4 um.
  const double um = units == UnitSystem::us ? thickness * um_per_mil : thickness;
  PowderCoverage found;
  found.theoretical_m2_kg = solids_coverage(UnitSystem::metric) / specific_gravity / um;
  found.theoretical_ft2_lb = found.theoretical_m2_kg / m2_kg_per_ft2_lb;
  found.practical_m2_kg = found.theoretical_m2_kg * utilization;
  found.practical_ft2_lb = found.theoretical_ft2_lb * utilization;
  return found;
}

OverbuildCost overbuild_cost(double area, double overbuild, UnitSystem units, double volume_solids,
                             double transfer_efficiency, double price) {
  constexpr auto function = "overbuild_cost";
  require_not_negative(area, function, "area");
  require_finite(overbuild, function, "overbuild");
  if (overbuild < 0.0) {
    throw InvalidInput(function, "overbuild",
                       "must be 0 or more, got " + to_text(overbuild) + ": film below the aim is no overbuild");
  }
  require_share(volume_solids, function, "volume_solids");
  require_share(transfer_efficiency, function, "transfer_efficiency");
  require_not_negative(price, function, "price");
  const double volume = area * overbuild / (solids_coverage(units) * volume_solids * transfer_efficiency);
  return {.volume = volume, .cost = volume * price};
}

double aim_point(double lower, double sigma, double z) {
  require_finite(lower, "aim_point", "lower");
  require_not_negative(sigma, "aim_point", "sigma");
  require_not_negative(z, "aim_point", "z");
  return lower + z * sigma;
}

double share_below(double lower, double mean, double sigma) {
  constexpr auto function = "share_below";
  require_finite(lower, function, "lower");
  require_finite(mean, function, "mean");
  require_not_negative(sigma, function, "sigma");
  if (sigma == 0.0) return mean < lower ? 1.0 : 0.0;
  const double z = (lower - mean) / sigma;
  return std::isinf(z) ? (z > 0.0 ? 1.0 : 0.0) : normal_cdf(z);
}

double mixed_voc(std::span<const double> parts, std::span<const double> voc) {
  constexpr auto function = "mixed_voc";
  const double sum = sum_of_parts(parts, voc.size(), function, "voc");
  for (std::size_t i = 0; i < voc.size(); ++i) {
    if (!std::isfinite(voc[i]) || voc[i] < 0.0) {
      throw InvalidInput(function, "voc", "must be 0 or more and finite, got " + to_text(voc[i]), i);
    }
  }
  return weighted(parts, voc, sum);
}

VocContent voc_content(double voc_mass, double volume, double water, double exempt, std::optional<double> solids) {
  constexpr auto function = "voc_content";
  require_not_negative(voc_mass, function, "voc_mass");
  require_positive(volume, function, "volume");
  require_not_negative(water, function, "water");
  require_not_negative(exempt, function, "exempt");
  const double rest = volume - water - exempt;
  // 1 - 0.7 - 0.3 is a little above 0 in doubles.
  if (!(rest > 1e-12 * volume)) {
    throw InvalidInput(
        function, "water",
        "and exempt solvents (" + to_text(water) + " and " + to_text(exempt) + ") leave nothing of " + to_text(volume));
  }
  VocContent found{.per_volume = voc_mass / volume, .less_water = voc_mass / rest};
  if (solids) {
    require_positive(*solids, function, "solids");
    if (*solids > rest * (1.0 + 1e-12)) {
      throw InvalidInput(function, "solids",
                         "(" + to_text(*solids) + ") are more than water and exempt solvents leave, " + to_text(rest));
    }
    found.per_solids = voc_mass / *solids;
  }
  return found;
}

double voc_per_solids(double voc, double density) {
  constexpr auto function = "voc_per_solids";
  require_not_negative(voc, function, "voc");
  require_positive(density, function, "density");
  if (voc >= density) {
    throw InvalidInput(function, "voc",
                       "must lie below the density of the solvent, got " + to_text(voc) + " and " + to_text(density) +
                           ": no room is left for solids");
  }
  return voc / (1.0 - voc / density);
}

double thinner_allowance(double voc_mass, double volume, double thinner_voc, double limit) {
  constexpr auto function = "thinner_allowance";
  require_not_negative(voc_mass, function, "voc_mass");
  require_positive(volume, function, "volume");
  require_positive(thinner_voc, function, "thinner_voc");
  require_positive(limit, function, "limit");
  const double room = limit * volume - voc_mass;
  if (room <= 0.0) return 0.0;
  if (thinner_voc <= limit) return std::numeric_limits<double>::infinity();
  return room / (thinner_voc - limit);
}

}  // namespace steadyfilm
