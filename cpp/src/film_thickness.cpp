#include <steadyfilm/film_thickness.hpp>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <numeric>
#include <string>
#include <string_view>

#include <steadyfilm/core.hpp>
#include <steadyfilm/distributions.hpp>

namespace steadyfilm {

namespace {

constexpr double nan_value = std::numeric_limits<double>::quiet_NaN();
constexpr double most_counted = 1e9;

std::optional<double> product(const std::optional<double>& share, const std::optional<double>& end) {
  if (!share || !end) return std::nullopt;
  return *share * *end;
}

void require_window(const Bounds& window, std::string_view function) {
  if (!window.lower && !window.upper) throw InvalidInput(function, "window", "has neither a lower nor an upper end");
  if (window.lower) require_positive(*window.lower, function, "window.lower");
  if (window.upper) require_positive(*window.upper, function, "window.upper");
  if (window.lower && window.upper && *window.lower > *window.upper) {
    throw InvalidInput(
        function, "window",
        "has its lower end " + to_text(*window.lower) + " above its upper end " + to_text(*window.upper));
  }
}

/// Side of a value, with the limits moved inward by `margin` (outward when it is negative).
std::int8_t side_of(double value, const Bounds& limits, double margin) {
  if (limits.lower && !at_least(value - margin, *limits.lower)) return -1;
  if (limits.upper && !at_most(value + margin, *limits.upper)) return 1;
  return 0;
}

void require_starts(std::span<const std::int64_t> starts, std::size_t below, std::string_view argument) {
  constexpr auto function = "judge_film";
  if (starts.empty() || starts.front() != 0 || starts.back() < 0 || static_cast<std::size_t>(starts.back()) != below) {
    throw InvalidInput(function, argument, "must begin with 0 and end with " + std::to_string(below));
  }
  for (std::size_t k = 1; k < starts.size(); ++k) {
    if (starts[k] < starts[k - 1]) throw InvalidInput(function, argument, "must not fall", k);
  }
}

std::size_t at(std::span<const std::int64_t> starts, std::size_t k) { return static_cast<std::size_t>(starts[k]); }

/// What is there, before any limit: means, and the variance of a mean in repeats (that of one reading is 1).
struct Gathered {
  std::vector<double> spot_mean, area_mean, unit_mean;
  std::vector<double> spot_variance, area_variance, unit_variance;
  std::vector<std::uint8_t> spot_sound, area_sound, unit_sound;
};

/// Mean of the spots from `first` to `last`, and its variance.
void average_spots(const Gathered& all, std::size_t first, std::size_t last, std::vector<double>& mean,
                   std::vector<double>& variance) {
  double sum = 0.0;
  double squares = 0.0;
  for (std::size_t s = first; s < last; ++s) {
    sum += all.spot_mean[s];
    squares += all.spot_variance[s];
  }
  const auto count = static_cast<double>(last - first);
  mean.push_back(first == last ? nan_value : sum / count);
  variance.push_back(first == last ? nan_value : squares / (count * count));
}

Gathered gather(const AcceptanceLimits& limits, const FilmReadings& given) {
  Gathered all;
  for (std::size_t s = 0; s + 1 < given.spot_start.size(); ++s) {
    const std::size_t first = at(given.spot_start, s);
    const std::size_t last = at(given.spot_start, s + 1);
    const auto count = static_cast<double>(last - first);
    const auto begin = given.values.begin();
    const double sum =
        std::accumulate(begin + static_cast<std::ptrdiff_t>(first), begin + static_cast<std::ptrdiff_t>(last), 0.0);
    all.spot_mean.push_back(first == last ? nan_value : sum / count);
    all.spot_variance.push_back(first == last ? nan_value : 1.0 / count);
    const std::size_t taken = given.spot_taken.empty() ? last - first : at(given.spot_taken, s);
    bool sound = last > first && taken >= limits.readings_per_spot;
    for (std::size_t i = first; i < last && !given.suspect.empty(); ++i) sound = sound && given.suspect[i] == 0;
    all.spot_sound.push_back(sound ? 1 : 0);
  }
  for (std::size_t a = 0; a + 1 < given.area_start.size(); ++a) {
    const std::size_t first = at(given.area_start, a);
    const std::size_t last = at(given.area_start, a + 1);
    average_spots(all, first, last, all.area_mean, all.area_variance);
    bool sound = last - first >= limits.spots_per_area;
    for (std::size_t s = first; s < last; ++s) sound = sound && all.spot_sound[s] != 0;
    all.area_sound.push_back(sound ? 1 : 0);
  }
  for (std::size_t u = 0; u + 1 < given.unit_start.size(); ++u) {
    const std::size_t first = at(given.unit_start, u);
    const std::size_t last = at(given.unit_start, u + 1);
    const std::size_t first_spot = at(given.area_start, first);
    const std::size_t last_spot = at(given.area_start, last);
    average_spots(all, first_spot, last_spot, all.unit_mean, all.unit_variance);
    const std::size_t readings = at(given.spot_start, last_spot) - at(given.spot_start, first_spot);
    const bool enough = readings >= given.readings_required;
    bool sound = last > first && last - first >= given.areas_required;
    for (std::size_t a = first; a < last; ++a) {
      if (!enough) all.area_sound[a] = 0;  // a mean or a share stands on all the readings that the surface asks for
      sound = sound && all.area_sound[a] != 0;
    }
    all.unit_sound.push_back(sound ? 1 : 0);
  }
  return all;
}

/// Verdicts with every limit moved inward by `direction` times the guard band.
class Judge {
 public:
  Judge(const AcceptanceLimits& limits, const FilmReadings& given, const Gathered& all,
        const std::optional<GuardBand>& guard, double direction)
      : limits_(limits), given_(given), all_(all), guard_(guard), direction_(direction) {}

  void areas(AcceptanceFound& found) const {
    for (std::size_t a = 0; a + 1 < given_.area_start.size(); ++a) area(a, found);
  }

  /// After the areas.
  void units(AcceptanceFound& found) const {
    for (std::size_t u = 0; u + 1 < given_.unit_start.size(); ++u) {
      const bool sound = all_.unit_sound[u] != 0;
      const double mean = all_.unit_mean[u];
      found.unit_side.push_back(std::isnan(mean) ? std::int8_t{0}
                                                 : side_of(mean, limits_.unit, margin(all_.unit_variance[u])));
      bool failed = sound && found.unit_side.back() != 0;
      for (std::size_t a = at(given_.unit_start, u); a < at(given_.unit_start, u + 1); ++a) {
        failed = failed || found.area_verdict[a] == static_cast<std::int8_t>(Acceptance::fail);
      }
      found.unit_verdict.push_back(verdict(failed, sound));
    }
  }

 private:
  [[nodiscard]] double margin(double variance) const {
    if (!guard_) return 0.0;
    return direction_ * (guard_->bias_bound + guard_->multiple * guard_->sigma_repeat * std::sqrt(variance));
  }

  [[nodiscard]] static std::int8_t verdict(bool failed, bool sound) {
    return static_cast<std::int8_t>(failed  ? Acceptance::fail
                                    : sound ? Acceptance::pass
                                            : Acceptance::not_demonstrated);
  }

  void area(std::size_t a, AcceptanceFound& found) const {
    bool failed = false;
    std::int64_t thin = 0;
    const std::size_t first = at(given_.area_start, a);
    const std::size_t last = at(given_.area_start, a + 1);
    for (std::size_t s = first; s < last; ++s) {
      for (std::size_t i = at(given_.spot_start, s); i < at(given_.spot_start, s + 1); ++i) {
        const double shift = margin(1.0);
        const std::int8_t side = side_of(given_.values[i], limits_.reading, shift);
        found.reading_side.push_back(side);
        failed = failed || (side != 0 && (given_.suspect.empty() || given_.suspect[i] == 0));
        if (limits_.thin_below && !at_least(given_.values[i] - shift, *limits_.thin_below)) ++thin;
      }
      const double mean = all_.spot_mean[s];
      found.spot_side.push_back(std::isnan(mean) ? std::int8_t{0}
                                                 : side_of(mean, limits_.spot, margin(all_.spot_variance[s])));
      failed = failed || (all_.spot_sound[s] != 0 && found.spot_side.back() != 0);
    }
    const bool sound = all_.area_sound[a] != 0;
    const double mean = all_.area_mean[a];
    found.area_side.push_back(std::isnan(mean) ? std::int8_t{0}
                                               : side_of(mean, limits_.area, margin(all_.area_variance[a])));
    found.thin.push_back(thin);
    const std::size_t readings = at(given_.spot_start, last) - at(given_.spot_start, first);
    found.thin_exceeded.push_back(too_many(thin, readings) ? 1 : 0);
    failed = failed || (sound && (found.area_side.back() != 0 || found.thin_exceeded.back() != 0));
    found.area_verdict.push_back(verdict(failed, sound));
  }

  [[nodiscard]] bool too_many(std::int64_t thin, std::size_t readings) const {
    if (!limits_.thin_share) return false;
    const double most = *limits_.thin_share * static_cast<double>(readings);
    const auto have = static_cast<double>(thin);
    return !at_most(have, most) || (!limits_.thin_share_allowed && thin > 0 && at_least(have, most));
  }

  const AcceptanceLimits& limits_;
  const FilmReadings& given_;
  const Gathered& all_;
  std::optional<GuardBand> guard_;  // a copy: a caller may hand in a temporary
  double direction_;
};

/// Normal numbers from a seed: splitmix64, then the trigonometric form of Box and Muller.
class Normals {
 public:
  explicit Normals(std::uint64_t seed) : state_(seed) {}

  double next() {
    if (has_spare_) {
      has_spare_ = false;
      return spare_;
    }
    const double radius = std::sqrt(-2.0 * std::log1p(-uniform()));
    const double angle = 2.0 * std::numbers::pi * uniform();
    spare_ = radius * std::sin(angle);
    has_spare_ = true;
    return radius * std::cos(angle);
  }

 private:
  /// At least 0, below 1.
  double uniform() {
    state_ += 0x9E3779B97F4A7C15ULL;
    std::uint64_t z = state_;
    z = (z ^ (z >> 30U)) * 0xBF58476D1CE4E5B9ULL;
    z = (z ^ (z >> 27U)) * 0x94D049BB133111EBULL;
    return static_cast<double>((z ^ (z >> 31U)) >> 11U) * 0x1.0p-53;
  }

  std::uint64_t state_;
  double spare_ = 0.0;
  bool has_spare_ = false;
};

void check_plan(const AcceptanceLimits& limits, const SamplingPlan& plan) {
  constexpr auto function = "operating_curve";
  if (plan.areas == 0) throw InvalidInput(function, "plan.areas", "must be 1 or more (0)");
  if (plan.spots < std::max<std::size_t>(1, limits.spots_per_area)) {
    throw InvalidInput(function, "plan.spots",
                       "are " + std::to_string(plan.spots) + " an area, the rule needs " +
                           std::to_string(std::max<std::size_t>(1, limits.spots_per_area)));
  }
  if (plan.readings < std::max<std::size_t>(1, limits.readings_per_spot)) {
    throw InvalidInput(function, "plan.readings",
                       "are " + std::to_string(plan.readings) + " a spot, the rule needs " +
                           std::to_string(std::max<std::size_t>(1, limits.readings_per_spot)));
  }
  const auto readings =
      static_cast<double>(plan.areas) * static_cast<double>(plan.spots) * static_cast<double>(plan.readings);
  if (readings > 1e6) throw InvalidInput(function, "plan", "has more than 1e6 readings a unit");
  for (const double sd : {plan.sigma_area, plan.sigma_location, plan.sigma_repeat}) {
    require_finite(sd, function, "plan");
    if (sd < 0.0) throw InvalidInput(function, "plan", "has a negative standard deviation (" + to_text(sd) + ")");
  }
}

std::vector<std::int64_t> equal_starts(std::size_t groups, std::size_t size) {
  std::vector<std::int64_t> starts(groups + 1);
  for (std::size_t k = 0; k <= groups; ++k) starts[k] = static_cast<std::int64_t>(k * size);
  return starts;
}

}  // namespace

bool at_least(double value, double limit) { return value >= limit - limit_tolerance * std::abs(limit); }

bool at_most(double value, double limit) { return value <= limit + limit_tolerance * std::abs(limit); }

std::size_t count_for(const CountTable& table, double surface) {
  constexpr auto function = "count_for";
  require_positive(surface, function, "surface");
  require_count(table.steps.size(), 1, function, "table");
  for (std::size_t k = 0; k < table.steps.size(); ++k) {
    require_positive(table.steps[k].up_to, function, "table");
    if (k > 0 &&
        (table.steps[k].up_to <= table.steps[k - 1].up_to || table.steps[k].count < table.steps[k - 1].count)) {
      throw InvalidInput(function, "table", "must rise from step to step", k);
    }
  }
  for (const auto& step : table.steps) {
    if (at_most(surface, step.up_to)) return step.count;
  }
  const auto& last = table.steps.back();
  if (table.more == 0) {
    throw InvalidInput(function, "surface",
                       "is " + to_text(surface) + ", beyond the table, which ends at " + to_text(last.up_to));
  }
  require_positive(table.further, function, "table.further");
  const double parts = (surface - last.up_to) / table.further;
  if (!(parts < most_counted)) throw InvalidInput(function, "surface", "is too large (" + to_text(surface) + ")");
  // A part that is nothing but rounding is none.
  const double whole = std::round(parts);
  const double pieces = std::abs(parts - whole) <= limit_tolerance * surface / table.further ? whole : std::ceil(parts);
  return last.count + table.more * static_cast<std::size_t>(pieces);
}

Bounds scaled_bounds(const Bounds& shares, const Bounds& window) {
  constexpr auto function = "scaled_bounds";
  require_window(window, function);
  if (shares.lower) require_positive(*shares.lower, function, "shares.lower");
  if (shares.upper) require_positive(*shares.upper, function, "shares.upper");
  return {.lower = product(shares.lower, window.lower), .upper = product(shares.upper, window.upper)};
}

AcceptanceLimits limits_of(const AcceptanceRule& rule, const Bounds& window) {
  if (rule.thin_share && !(*rule.thin_share >= 0.0 && *rule.thin_share <= 1.0)) {
    throw InvalidInput("limits_of", "rule.thin_share", "must lie between 0 and 1, got " + to_text(*rule.thin_share));
  }
  return {.reading = scaled_bounds(rule.reading, window),
          .spot = scaled_bounds(rule.spot, window),
          .area = scaled_bounds(rule.area, window),
          .unit = scaled_bounds(rule.unit, window),
          .thin_below = window.lower,
          .thin_share = window.lower ? rule.thin_share : std::nullopt,
          .thin_share_allowed = rule.thin_share_allowed,
          .readings_per_spot = rule.readings_per_spot,
          .spots_per_area = rule.spots_per_area};
}

Bounds single_value_window(double value, const std::optional<double>& share) {
  constexpr auto function = "single_value_window";
  require_positive(value, function, "value");
  if (!share) return {.lower = value, .upper = std::nullopt};
  require_open_unit(*share, function, "share");
  return {.lower = (1.0 - *share) * value, .upper = (1.0 + *share) * value};
}

AcceptanceFound judge_film(const AcceptanceLimits& limits, const FilmReadings& readings,
                           const std::optional<GuardBand>& guard) {
  constexpr auto function = "judge_film";
  require_finite(readings.values, function, "values");
  require_starts(readings.spot_start, readings.values.size(), "spot_start");
  require_starts(readings.area_start, readings.spot_start.size() - 1, "area_start");
  require_starts(readings.unit_start, readings.area_start.size() - 1, "unit_start");
  if (!readings.suspect.empty() && readings.suspect.size() != readings.values.size()) {
    throw InvalidInput(function, "suspect", "needs one element a reading, or none");
  }
  if (!readings.spot_taken.empty()) {
    if (readings.spot_taken.size() + 1 != readings.spot_start.size()) {
      throw InvalidInput(function, "spot_taken", "needs one element a spot, or none");
    }
    for (std::size_t s = 0; s < readings.spot_taken.size(); ++s) {
      if (readings.spot_taken[s] >= readings.spot_start[s + 1] - readings.spot_start[s]) continue;
      throw InvalidInput(function, "spot_taken", "is less than the readings there", s);
    }
  }
  if (guard) {
    for (const double part : {guard->sigma_repeat, guard->bias_bound, guard->multiple}) {
      require_finite(part, function, "guard");
      if (part < 0.0) throw InvalidInput(function, "guard", "has a negative part (" + to_text(part) + ")");
    }
  }
  const Gathered all = gather(limits, readings);
  AcceptanceFound found;
  const Judge text(limits, readings, all, std::nullopt, 0.0);
  text.areas(found);
  text.units(found);
  found.guard_class.assign(found.unit_verdict.size(), static_cast<std::int8_t>(GuardClass::none));
  if (guard) {
    AcceptanceFound inner;
    const Judge strict(limits, readings, all, guard, 1.0);
    strict.areas(inner);
    strict.units(inner);
    AcceptanceFound outer;
    const Judge lenient(limits, readings, all, guard, -1.0);
    lenient.areas(outer);
    lenient.units(outer);
    for (std::size_t u = 0; u < found.unit_verdict.size(); ++u) {
      const auto verdict = static_cast<Acceptance>(found.unit_verdict[u]);
      if (verdict == Acceptance::not_demonstrated) continue;
      const auto& other = verdict == Acceptance::pass ? inner : outer;
      const bool clear = other.unit_verdict[u] == found.unit_verdict[u];
      found.guard_class[u] = static_cast<std::int8_t>(clear ? GuardClass::clear : GuardClass::doubtful);
    }
  }
  found.spot_mean = all.spot_mean;
  found.area_mean = all.area_mean;
  found.unit_mean = all.unit_mean;
  return found;
}

double spot_mean(std::span<const double> readings, std::span<const std::size_t> dropped) {
  constexpr auto function = "spot_mean";
  require_finite(readings, function, "readings");
  std::vector<std::uint8_t> kept(readings.size(), 1);
  for (std::size_t k = 0; k < dropped.size(); ++k) {
    if (dropped[k] >= readings.size()) throw InvalidInput(function, "dropped", "is no reading of the spot", k);
    if (kept[dropped[k]] == 0) throw InvalidInput(function, "dropped", "names a reading twice", k);
    kept[dropped[k]] = 0;
  }
  require_count(readings.size() - dropped.size(), 1, function, "readings kept");
  double sum = 0.0;
  for (std::size_t i = 0; i < readings.size(); ++i) sum += kept[i] != 0 ? readings[i] : 0.0;
  return sum / static_cast<double>(readings.size() - dropped.size());
}

bool limit_met(std::span<const double> readings, double limit, bool lower) {
  require_finite(limit, "limit_met", "limit");
  const double mean = spot_mean(readings);
  return lower ? at_least(mean, limit) : at_most(mean, limit);
}

double below_share_probability(double mean_ratio, double cv, double fraction, std::size_t readings) {
  constexpr auto function = "below_share_probability";
  require_positive(mean_ratio, function, "mean_ratio");
  require_positive(cv, function, "cv");
  require_finite(fraction, function, "fraction");
  require_count(readings, 1, function, "readings");
  const double one = normal_cdf((fraction - mean_ratio) / (cv * mean_ratio));
  if (readings == 1) return one;
  return -std::expm1(static_cast<double>(readings) * std::log1p(-one));
}

double average_acceptance_probability(double true_mean, double lower, double sigma_location, double sigma_repeat,
                                      std::size_t locations, std::size_t readings) {
  constexpr auto function = "average_acceptance_probability";
  require_finite(true_mean, function, "true_mean");
  require_finite(lower, function, "lower");
  for (const double sd : {sigma_location, sigma_repeat}) {
    require_finite(sd, function, "sigma");
    if (sd < 0.0) throw InvalidInput(function, "sigma", "must be 0 or more (" + to_text(sd) + ")");
  }
  require_count(locations, 1, function, "locations");
  require_count(readings, 1, function, "readings");
  const double places = static_cast<double>(locations);
  const double error = std::sqrt(sigma_location * sigma_location / places +
                                 sigma_repeat * sigma_repeat / (places * static_cast<double>(readings)));
  if (error == 0.0) return at_least(true_mean, lower) ? 1.0 : 0.0;
  return normal_survival((lower - true_mean) / error);
}

std::vector<OperatingPoint> operating_curve(const AcceptanceLimits& limits, const SamplingPlan& plan,
                                            std::span<const double> true_means, std::size_t draws, std::uint64_t seed) {
  constexpr auto function = "operating_curve";
  check_plan(limits, plan);
  require_finite(true_means, function, "true_means");
  require_count(draws, 1, function, "draws");
  const std::size_t spots = plan.areas * plan.spots;
  const std::size_t size = spots * plan.readings;
  // Every mean is a unit of its own; all of them get the same draw.
  const std::size_t means = true_means.size();
  const auto spot_start = equal_starts(means * spots, plan.readings);
  const auto area_start = equal_starts(means * plan.areas, plan.spots);
  const auto unit_start = equal_starts(means, plan.areas);
  std::vector<double> off(size), values(means * size);
  std::vector<std::size_t> passed(means, 0);
  Normals normals(seed);
  for (std::size_t draw = 0; draw < draws; ++draw) {
    double area = 0.0;
    double spot = 0.0;
    for (std::size_t i = 0; i < size; ++i) {
      if (i % (plan.spots * plan.readings) == 0) area = plan.sigma_area * normals.next();
      if (i % plan.readings == 0) spot = plan.sigma_location * normals.next();
      off[i] = area + spot + plan.sigma_repeat * normals.next();
    }
    for (std::size_t k = 0; k < means; ++k) {
      for (std::size_t i = 0; i < size; ++i) values[k * size + i] = true_means[k] + off[i];
    }
    const auto found = judge_film(
        limits, {.values = values, .spot_start = spot_start, .area_start = area_start, .unit_start = unit_start});
    for (std::size_t k = 0; k < means; ++k) {
      if (found.unit_verdict[k] == static_cast<std::int8_t>(Acceptance::pass)) ++passed[k];
    }
  }
  std::vector<OperatingPoint> curve;
  for (std::size_t k = 0; k < true_means.size(); ++k) {
    const double share = static_cast<double>(passed[k]) / static_cast<double>(draws);
    const double error = std::sqrt(share * (1.0 - share) / static_cast<double>(draws));
    curve.push_back({.true_mean = true_means[k], .probability = share, .standard_error = error});
  }
  return curve;
}

SearchState follow_direction(std::span<const double> spots, const Bounds& window, std::size_t needed) {
  constexpr auto function = "follow_direction";
  require_finite(spots, function, "spots");
  require_window(window, function);
  if (needed == 0) throw InvalidInput(function, "needed", "must be 1 or more (0)");
  SearchState state;
  for (const double spot : spots) {
    ++state.measured;
    if (state.closed) continue;
    if (side_of(spot, window, 0.0) == 0) {
      ++state.conforming_run;
    } else {
      state.conforming_run = 0;
      state.reach = state.measured;
    }
    state.closed = state.conforming_run >= needed;
  }
  return state;
}

}  // namespace steadyfilm
