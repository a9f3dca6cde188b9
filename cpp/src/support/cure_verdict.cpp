// Whether a place had its cure: the three states of cure_profile.hpp.
#include <algorithm>
#include <cmath>
#include <limits>
#include <string_view>

#include <steadyfilm/core.hpp>
#include <steadyfilm/cure_profile.hpp>

#include "support/overbake.hpp"
#include "support/trace.hpp"

namespace steadyfilm {
namespace {

// A demand in minutes is met within the rounding of sums.
bool reaches(double have, double want) { return have >= want * (1.0 - 1e-9); }

CureState state_of(double observed, double credited, double want) {
  if (reaches(observed, want)) return CureState::pass;
  return reaches(credited, want) ? CureState::not_demonstrated : CureState::fail;
}

CureState worse(CureState one, CureState two) { return std::max(one, two); }
CureState better(CureState one, CureState two) { return std::min(one, two); }

void require_recipe(const CureRecipe& recipe, std::string_view function) {
  require_count(recipe.schedule.size(), 1, function, "schedule");
  for (std::size_t i = 0; i < recipe.schedule.size(); ++i) {
    if (!std::isfinite(recipe.schedule[i].temperature_c)) {
      throw InvalidInput(function, "temperature_c", "is not finite", i);
    }
    if (!std::isfinite(recipe.schedule[i].minutes) || !(recipe.schedule[i].minutes > 0.0)) {
      throw InvalidInput(function, "minutes", "must be above 0 (" + to_text(recipe.schedule[i].minutes) + ")", i);
    }
  }
  if (recipe.maximum_c) require_finite(*recipe.maximum_c, function, "maximum_c");
  if (recipe.dose_min) require_positive(*recipe.dose_min, function, "dose_min");
  support::require_overbake(recipe.overbake, function);
}

// Highest reading that is sound, and highest that is suspect.
struct Highest {
  double sound = std::numeric_limits<double>::quiet_NaN();
  double suspect = std::numeric_limits<double>::quiet_NaN();
};

Highest highest(std::span<const double> temperature, std::span<const ReadingState> state) {
  Highest found;
  for (std::size_t i = 0; i < temperature.size(); ++i) {
    const ReadingState kind = state.empty() ? ReadingState::sound : state[i];
    if (kind == ReadingState::lost) continue;
    double& most = kind == ReadingState::sound ? found.sound : found.suspect;
    if (!(temperature[i] <= most)) most = temperature[i];
  }
  return found;
}

}  // namespace

PlaceVerdict judge_place(std::span<const double> time_min, std::span<const double> temperature_c,
                         const CureRecipe& recipe, std::span<const ReadingState> state, const TraceRule& rule) {
  require_recipe(recipe, "judge_place");
  PlaceVerdict found;
  double best = -1.0;  // share observed, and a little for what is credited, of the point to tell
  for (const SchedulePoint& point : recipe.schedule) {
    const TimeAbovePair above = time_above(time_min, temperature_c, point.temperature_c, state, rule);
    const auto minutes = [&](const TimeAbove& time) { return recipe.unbroken ? time.longest_min : time.total_min; };
    SchedulePointMet met{.observed_min = minutes(above.observed), .credited_min = minutes(above.credited)};
    met.state = state_of(met.observed_min, met.credited_min, point.minutes);
    // The point to tell is of the best state, and of those the one of which the largest share was observed; of failed
    // ones without any, that of which the largest is credited.
    const double hoped = met.state == CureState::fail ? 1e-6 * met.credited_min : 0.0;
    const double share = (met.observed_min + hoped) / point.minutes;
    const CureState told = found.points.empty() ? CureState::fail : found.points[found.nearest].state;
    if (met.state < told || (met.state == told && share > best * (1.0 + 1e-12))) {
      best = share;
      found.nearest = found.points.size();
    }
    found.schedule = better(found.schedule, met.state);
    found.points.push_back(met);
  }
  const Highest most = highest(temperature_c, state);
  found.highest_c = most.sound;
  if (recipe.maximum_c) {
    const double limit = *recipe.maximum_c + support::same_temperature_k;
    if (most.suspect > limit) found.maximum = CureState::not_demonstrated;
    if (most.sound > limit) found.maximum = CureState::fail;
  }
  if (recipe.dose_min) {
    found.equivalent = equivalent_time(time_min, temperature_c, recipe.rate, state, rule);
    found.dose = state_of(found.equivalent.observed_min, found.equivalent.credited_min, *recipe.dose_min);
  }
  CureState cured = found.schedule;
  if (recipe.dose_min && recipe.dose_role == DoseRole::enough) cured = better(cured, found.dose);
  if (recipe.dose_min && recipe.dose_role == DoseRole::needed) cured = worse(cured, found.dose);
  found.overbake = support::overbake_of(time_min, temperature_c, recipe.overbake, state, rule, "judge_place");
  found.state = worse(worse(cured, found.maximum), found.overbake.state);
  return found;
}

HoldOwed hold_owed(std::span<const double> time_min, std::span<const double> temperature_c, const CureRecipe& recipe,
                   double hold_c, std::span<const ReadingState> state, const TraceRule& rule) {
  constexpr std::string_view self = "hold_owed";
  require_recipe(recipe, self);
  require_finite(hold_c, self, "hold_c");
  HoldOwed owed{.schedule_min = {},
                .least_schedule_min = std::numeric_limits<double>::infinity(),
                .dose_min = std::numeric_limits<double>::quiet_NaN(),
                .above_maximum = recipe.maximum_c && hold_c > *recipe.maximum_c + support::same_temperature_k};
  const double gap_limit = trace_logging(time_min, temperature_c, state, rule).gap_limit_min;
  for (const SchedulePoint& point : recipe.schedule) {
    const TimeAbove above = time_above(time_min, temperature_c, point.temperature_c, state, rule).observed;
    double have = above.total_min;
    if (recipe.unbroken && above.longest_min < point.minutes) {
      // Only a run that is still going on can be carried further.
      have = 0.0;
      const auto at = [&](std::size_t i) {
        return temperature_c[i] >= point.temperature_c && (state.empty() || state[i] == ReadingState::sound);
      };
      if (at(time_min.size() - 1)) {
        std::size_t begin = time_min.size() - 1;
        while (begin > 0 && at(begin - 1) && time_min[begin] - time_min[begin - 1] <= gap_limit) --begin;
        have = time_min.back() - time_min[begin];
      }
    }
    double left = std::max(0.0, point.minutes - have);
    if (left <= 1e-9 * point.minutes) left = 0.0;
    if (left > 0.0 && hold_c < point.temperature_c - support::same_temperature_k) {
      left = std::numeric_limits<double>::infinity();
    }
    owed.schedule_min.push_back(left);
    owed.least_schedule_min = std::min(owed.least_schedule_min, left);
  }
  if (recipe.dose_min) {
    const double have = equivalent_time(time_min, temperature_c, recipe.rate, state, rule).observed_min;
    owed.dose_min = std::max(0.0, *recipe.dose_min - have) / cure_rate_factor(hold_c, recipe.rate);
  }
  return owed;
}

}  // namespace steadyfilm
