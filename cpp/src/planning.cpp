#include <steadyfilm/planning.hpp>

#include <algorithm>
#include <cmath>
#include <limits>
#include <string>
#include <string_view>

#include <steadyfilm/core.hpp>
#include <steadyfilm/distributions.hpp>

#include "support/mean_squares.hpp"

namespace steadyfilm {

namespace {

constexpr double kTie = 1e-9;  // (6 * 0.02 / (0.2 * 0.2))^2 is 9, not a trifle more
constexpr double kMost = 1e9;

double square(double x) { return x * x; }

void require_not_negative(double value, std::string_view function, std::string_view argument) {
  require_finite(value, function, argument);
  if (value < 0.0) throw InvalidInput(function, argument, "must be 0 or more (" + to_text(value) + ")");
}

void require_at_least_one(std::size_t count, std::string_view function, std::string_view argument) {
  if (count == 0) throw InvalidInput(function, argument, "must be 1 or more (0)");
}

/// Smallest whole number at least x, but for a relative 1e-9; at least 1.
std::size_t whole(double x, std::string_view function, std::string_view argument) {
  if (!(x <= kMost)) {
    throw InvalidInput(function, argument, "asks for more than 1e9 readings; give a larger one");
  }
  return static_cast<std::size_t>(std::max(1.0, std::ceil(x * (1.0 - kTie))));
}

void check(const ReadingCosts& given, std::string_view function) {
  require_not_negative(given.sigma_location, function, "sigma_location");
  require_not_negative(given.sigma_repeat, function, "sigma_repeat");
  require_not_negative(given.sigma_common, function, "sigma_common");
  require_not_negative(given.cost_location, function, "cost_location");
  require_positive(given.cost_reading, function, "cost_reading");
  require_at_least_one(given.most_places, function, "most_places");
}

ReadingPlan plan_of(const ReadingCosts& given, std::size_t places, std::size_t repeats) {
  return {
      .location_count = places,
      .readings_per_location = repeats,
      .cost = static_cast<double>(places) * (given.cost_location + static_cast<double>(repeats) * given.cost_reading),
      .uncertainty =
          unit_average_uncertainty(given.sigma_location, given.sigma_repeat, places, repeats, given.sigma_common)};
}

bool less(double a, double b) { return a < b * (1.0 - kTie); }

void check(const StudyComponents& components, const StudySize& size, const StudyOptions& options,
           std::string_view function) {
  require_positive(components.sigma_repeat, function, "sigma_repeat");
  require_not_negative(components.sigma_appraiser, function, "sigma_appraiser");
  require_not_negative(components.sigma_interaction, function, "sigma_interaction");
  require_open_unit(options.confidence_level, function, "confidence_level");
  require_at_least_one(size.parts, function, "parts");
  require_at_least_one(size.appraisers, function, "appraisers");
  require_at_least_one(size.trials, function, "trials");
  if (size.appraisers == 1) {
    if (components.sigma_appraiser > 0.0 || components.sigma_interaction > 0.0) {
      throw InvalidInput(function, "appraisers", "must be 2 or more to see how appraisers differ (1)");
    }
    if (size.trials < 2) throw InvalidInput(function, "trials", "must be 2 or more with one appraiser (1)");
  } else if (size.parts < 2) {
    throw InvalidInput(function, "parts", "must be 2 or more for several appraisers (1)");
  }
}

/// Lines of the analysis with their expectations, for measurement = sum of weight times mean square.
std::vector<StudyMeanSquare> expected_lines(const StudyComponents& given, const StudySize& size, bool interaction) {
  const auto p = static_cast<double>(size.parts);
  const auto o = static_cast<double>(size.appraisers);
  const auto r = static_cast<double>(size.trials);
  const double repeat = square(given.sigma_repeat);
  const double crossed = square(given.sigma_interaction);
  if (size.appraisers == 1) return {{1.0, repeat, p * (r - 1.0)}};
  const double appraiser = repeat + r * crossed + p * r * square(given.sigma_appraiser);
  const double inter_df = (o - 1.0) * (p - 1.0);
  const double repeat_df = p * o * (r - 1.0);
  if (size.trials == 1) return {{1.0 / p, appraiser, o - 1.0}, {1.0 - 1.0 / p, repeat + crossed, inter_df}};
  if (interaction) {
    return {{1.0 / (p * r), appraiser, o - 1.0},
            {(p - 1.0) / (p * r), repeat + r * crossed, inter_df},
            {1.0 - 1.0 / r, repeat, repeat_df}};
  }
  // Pooled, the two lines' sums of squares add up.
  const double pooled = ((repeat + r * crossed) * inter_df + repeat * repeat_df) / (inter_df + repeat_df);
  return {{1.0 / (p * r), appraiser, o - 1.0}, {1.0 - 1.0 / (p * r), pooled, inter_df + repeat_df}};
}

std::vector<support::WeightedMeanSquare> weighted(const std::vector<StudyMeanSquare>& lines) {
  std::vector<support::WeightedMeanSquare> terms;
  terms.reserve(lines.size());
  for (const auto& line : lines) terms.push_back({line.weight, {line.expected, line.degrees_of_freedom}});
  return terms;
}

support::Interval satterthwaite(double variance, double degrees_of_freedom, double confidence_level) {
  const double tail = 0.5 - 0.5 * confidence_level;
  return {variance * degrees_of_freedom / chi_square_quantile(1.0 - tail, degrees_of_freedom),
          variance * degrees_of_freedom / chi_square_quantile(tail, degrees_of_freedom)};
}

StudyInterval interval_of(const StudyComponents& components, const StudySize& size, const StudyOptions& options) {
  StudyInterval found;
  found.size = size;
  found.readings = size.parts * size.appraisers * size.trials;
  found.mean_squares = expected_lines(components, size, options.interaction);
  const auto terms = weighted(found.mean_squares);
  double variance = 0.0;
  for (const auto& line : found.mean_squares) variance += line.weight * line.expected;
  found.sigma_measurement = std::sqrt(variance);
  found.degrees_of_freedom = support::satterthwaite_degrees_of_freedom(terms);
  const auto limits = options.method == StudyIntervalMethod::satterthwaite
                          ? satterthwaite(variance, found.degrees_of_freedom, options.confidence_level)
                          : support::sum_interval(terms, options.confidence_level);
  found.lower = std::sqrt(std::max(0.0, limits.lower));
  found.upper = std::sqrt(limits.upper);
  found.relative_width = (found.upper - found.lower) / found.sigma_measurement;
  return found;
}

/// A mean square over its expectation at equal steps of its normal score, with the weights of the trapezoid rule, which
/// has hardly any error for a smooth function under a normal density.
struct Ladder {
  std::vector<double> ratio;
  std::vector<double> weight;
};

Ladder ladder_of(double degrees_of_freedom) {
  constexpr int kSteps = 13;
  constexpr double kStep = 0.5;
  Ladder found;
  for (int i = -kSteps; i <= kSteps; ++i) {
    const double z = kStep * i;
    found.ratio.push_back(chi_square_quantile(normal_cdf(z), degrees_of_freedom) / degrees_of_freedom);
    found.weight.push_back(kStep * normal_density(z));
  }
  return found;
}

}  // namespace

double window_share(double standard_uncertainty, double window_width, double sigma_spread) {
  constexpr auto function = "window_share";
  require_not_negative(standard_uncertainty, function, "standard_uncertainty");
  require_positive(window_width, function, "window_width");
  require_positive(sigma_spread, function, "sigma_spread");
  return sigma_spread * standard_uncertainty / window_width;
}

ShareReadings readings_for_window_share(double sigma_repeat, double window_width, double share, double sigma_common,
                                        double sigma_spread) {
  constexpr auto function = "readings_for_window_share";
  require_not_negative(sigma_repeat, function, "sigma_repeat");
  require_positive(window_width, function, "window_width");
  require_positive(share, function, "share");
  require_not_negative(sigma_common, function, "sigma_common");
  require_positive(sigma_spread, function, "sigma_spread");
  ShareReadings found;
  found.single_share = window_share(std::hypot(sigma_common, sigma_repeat), window_width, sigma_spread);
  const double allowed = share * window_width / sigma_spread;
  if (sigma_repeat == 0.0 || sigma_common >= allowed) {
    const bool met = sigma_repeat == 0.0 && sigma_common <= allowed * (1.0 + kTie);
    found.readings = met ? 1 : 0;
    found.share = window_share(sigma_common, window_width, sigma_spread);
    return found;
  }
  // (a - c)(a + c) keeps the digits of a^2 - c^2.
  const double room = (allowed - sigma_common) * (allowed + sigma_common);
  found.readings = whole(square(sigma_repeat) / room, function, "share");
  const double u = std::hypot(sigma_common, sigma_repeat / std::sqrt(static_cast<double>(found.readings)));
  found.share = window_share(u, window_width, sigma_spread);
  return found;
}

HalfWidthReadings readings_for_half_width(double sd, double half_width, double confidence_level) {
  constexpr auto function = "readings_for_half_width";
  require_not_negative(sd, function, "sd");
  require_positive(half_width, function, "half_width");
  require_open_unit(confidence_level, function, "confidence_level");
  const double upper_tail = 0.5 + 0.5 * confidence_level;
  HalfWidthReadings found;
  found.normal_formula = square(normal_quantile(upper_tail) * sd / half_width);
  const auto t_at = [&](std::size_t n) { return student_t_quantile(upper_tail, static_cast<double>(n) - 1.0); };
  const auto enough = [&](std::size_t n) {
    return t_at(n) * sd / std::sqrt(static_cast<double>(n)) <= half_width * (1.0 + kTie);
  };
  // Student t asks for more than the normal formula does, and less the more readings there are.
  std::size_t few = std::max<std::size_t>(2, whole(found.normal_formula, function, "half_width"));
  std::size_t many = few;
  while (!enough(many)) many *= 2;
  while (few < many) {
    const std::size_t middle = few + (many - few) / 2;
    if (enough(middle)) {
      many = middle;
    } else {
      few = middle + 1;
    }
  }
  found.readings = many;
  found.t = t_at(many);
  found.half_width = found.t * sd / std::sqrt(static_cast<double>(many));
  return found;
}

double unit_average_uncertainty(double sigma_location, double sigma_repeat, std::size_t location_count,
                                std::size_t readings_per_location, double sigma_common) {
  constexpr auto function = "unit_average_uncertainty";
  require_not_negative(sigma_location, function, "sigma_location");
  require_not_negative(sigma_repeat, function, "sigma_repeat");
  require_not_negative(sigma_common, function, "sigma_common");
  require_at_least_one(location_count, function, "location_count");
  require_at_least_one(readings_per_location, function, "readings_per_location");
  const auto a = static_cast<double>(location_count);
  const auto b = static_cast<double>(readings_per_location);
  return std::sqrt(square(sigma_common) + square(sigma_location) / a + square(sigma_repeat) / (a * b));
}

double optimal_repeats(double sigma_location, double sigma_repeat, double cost_location, double cost_reading) {
  constexpr auto function = "optimal_repeats";
  require_positive(sigma_location, function, "sigma_location");
  require_not_negative(sigma_repeat, function, "sigma_repeat");
  require_not_negative(cost_location, function, "cost_location");
  require_positive(cost_reading, function, "cost_reading");
  return sigma_repeat / sigma_location * std::sqrt(cost_location / cost_reading);
}

ReadingPlan cheapest_plan(const ReadingCosts& given, double uncertainty) {
  constexpr auto function = "cheapest_plan";
  check(given, function);
  require_positive(uncertainty, function, "uncertainty");
  const auto most = static_cast<double>(given.most_places);
  ReadingPlan best;
  best.uncertainty = std::hypot(given.sigma_common, given.sigma_location / std::sqrt(most));
  const double room = (uncertainty - given.sigma_common) * (uncertainty + given.sigma_common);
  const bool spread = given.sigma_location > 0.0 || given.sigma_repeat > 0.0;
  if (!spread) {
    if (given.sigma_common <= uncertainty * (1.0 + kTie)) best = plan_of(given, 1, 1);
    return best;
  }
  if (!(room > 0.0)) return best;
  // For each number of places the fewest repeats that do; more places than this never pay.
  const double fewest = square(given.sigma_location) / room;
  if (!(fewest <= most * (1.0 + kTie))) return best;
  for (std::size_t a = whole(fewest, function, "uncertainty"); a <= given.most_places; ++a) {
    const auto places = static_cast<double>(a);
    if (best.location_count > 0 && less(best.cost, places * (given.cost_location + given.cost_reading))) break;
    const double left = places * room - square(given.sigma_location);
    std::size_t b = 1;
    if (given.sigma_repeat > 0.0) {
      // With nothing left for the repeats, endlessly many would be needed.
      if (!(left > kTie * places * room)) continue;
      if (!(square(given.sigma_repeat) / left <= kMost)) continue;
      b = whole(square(given.sigma_repeat) / left, function, "uncertainty");
    }
    const ReadingPlan plan = plan_of(given, a, b);
    const bool better = best.location_count == 0 || less(plan.cost, best.cost) ||
                        (!less(best.cost, plan.cost) && less(plan.uncertainty, best.uncertainty));
    if (better) best = plan;
  }
  return best;
}

ReadingPlan best_plan(const ReadingCosts& given, double budget) {
  constexpr auto function = "best_plan";
  check(given, function);
  require_positive(budget, function, "budget");
  ReadingPlan best;
  best.uncertainty = std::numeric_limits<double>::quiet_NaN();
  for (std::size_t a = 1; a <= given.most_places; ++a) {
    const double each = budget * (1.0 + kTie) / static_cast<double>(a) - given.cost_location;
    const double repeats = std::floor(each / given.cost_reading);
    if (!(repeats >= 1.0)) break;
    // Beyond a repeat sd of a millionth of the rest, or a thousand million readings, more change nothing.
    const ReadingPlan plan = plan_of(given, a, static_cast<std::size_t>(std::min(repeats, kMost)));
    const bool better = best.location_count == 0 || less(plan.uncertainty, best.uncertainty) ||
                        (!less(best.uncertainty, plan.uncertainty) && less(plan.cost, best.cost));
    if (better) best = plan;
  }
  return best;
}

StudyInterval study_interval(const StudyComponents& components, const StudySize& size, const StudyOptions& options) {
  check(components, size, options, "study_interval");
  return interval_of(components, size, options);
}

StudyAverage study_average(const StudyComponents& components, const StudySize& size, const StudyOptions& options) {
  check(components, size, options, "study_average");
  const auto lines = expected_lines(components, size, options.interaction);
  const double tail = 0.5 - 0.5 * options.confidence_level;
  struct Term {
    double expected = 0.0, down = 0.0, up = 0.0, per_df = 0.0;
    Ladder ladder;
  };
  std::vector<Term> terms;
  double variance = 0.0;
  for (const auto& line : lines) {
    const double expected = line.weight * line.expected;
    variance += expected;
    terms.push_back({expected, support::reach_down(tail, line.degrees_of_freedom),
                     support::reach_up(tail, line.degrees_of_freedom), 1.0 / line.degrees_of_freedom,
                     ladder_of(line.degrees_of_freedom)});
  }
  // Absent lines have one rung, of weight 1 and value 0.
  while (terms.size() < 3) terms.push_back({0.0, 0.0, 0.0, 0.0, {{1.0}, {1.0}}});
  StudyAverage found;
  double total = 0.0;
  for (std::size_t i = 0; i < terms[0].ladder.ratio.size(); ++i) {
    for (std::size_t j = 0; j < terms[1].ladder.ratio.size(); ++j) {
      for (std::size_t k = 0; k < terms[2].ladder.ratio.size(); ++k) {
        const double weight = terms[0].ladder.weight[i] * terms[1].ladder.weight[j] * terms[2].ladder.weight[k];
        const double parts[3] = {terms[0].expected * terms[0].ladder.ratio[i],
                                 terms[1].expected * terms[1].ladder.ratio[j],
                                 terms[2].expected * terms[2].ladder.ratio[k]};
        const double value = parts[0] + parts[1] + parts[2];
        double lower = 0.0, upper = 0.0;
        if (options.method == StudyIntervalMethod::satterthwaite) {
          double spread = 0.0;
          for (std::size_t t = 0; t < 3; ++t) spread += square(parts[t]) * terms[t].per_df;
          const auto limits = satterthwaite(value, square(value) / spread, options.confidence_level);
          lower = limits.lower;
          upper = limits.upper;
        } else {
          double down = 0.0, up = 0.0;
          for (std::size_t t = 0; t < 3; ++t) {
            down += square(terms[t].down * parts[t]);
            up += square(terms[t].up * parts[t]);
          }
          lower = value - std::sqrt(down);
          upper = value + std::sqrt(up);
        }
        total += weight;
        found.lower += weight * std::sqrt(std::max(0.0, lower));
        found.upper += weight * std::sqrt(upper);
      }
    }
  }
  found.lower /= total;
  found.upper /= total;
  found.relative_width = (found.upper - found.lower) / std::sqrt(variance);
  return found;
}

std::vector<PlannedStudy> plan_study(const StudyComponents& components, double relative_width,
                                     const StudyBounds& bounds, const StudyOptions& options) {
  constexpr auto function = "plan_study";
  require_positive(relative_width, function, "relative_width");
  require_not_negative(bounds.cost_part, function, "cost_part");
  require_not_negative(bounds.cost_appraiser, function, "cost_appraiser");
  require_positive(bounds.cost_reading, function, "cost_reading");
  if (bounds.fewest_parts < 2 || bounds.most_parts < bounds.fewest_parts) {
    throw InvalidInput(function, "most_parts", "must be at least fewest_parts, and that 2 or more");
  }
  if (bounds.most_trials < 2) throw InvalidInput(function, "most_trials", "must be 2 or more");
  const bool alone = components.sigma_appraiser == 0.0 && components.sigma_interaction == 0.0;
  const std::size_t fewest_appraisers = alone ? 1 : 2;
  if (bounds.most_appraisers < fewest_appraisers) {
    throw InvalidInput(function, "most_appraisers", "must be 2 or more to see how appraisers differ");
  }
  check(components, {bounds.fewest_parts, fewest_appraisers, 2}, options, function);

  std::vector<PlannedStudy> found;
  for (std::size_t o = fewest_appraisers; o <= bounds.most_appraisers; ++o) {
    PlannedStudy best;
    // Repeats are wanted: without them neither repeatability nor interaction is seen by itself.
    for (std::size_t r = 2; r <= bounds.most_trials; ++r) {
      for (std::size_t p = bounds.fewest_parts; p <= bounds.most_parts; ++p) {
        PlannedStudy next;
        next.cost = bounds.cost_part * static_cast<double>(p) + bounds.cost_appraiser * static_cast<double>(o) +
                    bounds.cost_reading * static_cast<double>(p * o * r);
        if (best.reached && less(best.cost, next.cost)) break;
        next.interval = interval_of(components, {p, o, r}, options);
        next.reached = next.interval.relative_width <= relative_width * (1.0 + kTie);
        const bool first = best.interval.readings == 0;
        const bool narrower = less(next.interval.relative_width, best.interval.relative_width);
        const bool cheaper = best.reached ? less(next.cost, best.cost) || narrower : true;
        const bool reached = next.reached;
        if (first || (reached ? cheaper : !best.reached && narrower)) best = std::move(next);
        if (reached) break;  // more parts cost more
      }
    }
    found.push_back(std::move(best));
  }
  const auto better = [](const PlannedStudy& a, const PlannedStudy& b) {
    if (a.reached != b.reached) return a.reached;
    return a.reached ? less(a.cost, b.cost) : less(a.interval.relative_width, b.interval.relative_width);
  };
  std::rotate(found.begin(), std::min_element(found.begin(), found.end(), better), found.end());
  std::sort(found.begin() + 1, found.end(), [](const PlannedStudy& a, const PlannedStudy& b) {
    return a.interval.size.appraisers < b.interval.size.appraisers;
  });
  return found;
}

}  // namespace steadyfilm
