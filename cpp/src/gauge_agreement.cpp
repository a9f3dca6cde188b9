#include <steadyfilm/gauge_agreement.hpp>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>
#include <string>
#include <string_view>

#include <steadyfilm/core.hpp>
#include <steadyfilm/distributions.hpp>

namespace steadyfilm {

namespace {

constexpr double none = std::numeric_limits<double>::quiet_NaN();

double square(double x) { return x * x; }

/// Variances that are 0 but for rounding come out as 0.
double root(double variance) { return std::sqrt(std::max(0.0, variance)); }

/// Test and interval around a value; the ends stay within [least, 1].
Agreement agreement(double value, double se_null, double se, double least, double confidence_level) {
  Agreement out{.value = value, .se_null = se_null, .z = none, .p = none, .se = se, .lower = none, .upper = none};
  if (std::isnan(value)) {
    out.se_null = out.se = none;
    return out;
  }
  if (se_null > 0.0) {
    out.z = value / se_null;
    out.p = 2.0 * normal_survival(std::abs(out.z));
  }
  const double reach = normal_quantile(0.5 + 0.5 * confidence_level) * se;
  out.lower = std::isnan(se) ? none : std::max(least, value - reach);
  out.upper = std::isnan(se) ? none : std::min(1.0, value + reach);
  return out;
}

void require_codes(std::span<const std::int64_t> codes, std::size_t categories, std::string_view function,
                   std::string_view argument) {
  for (std::size_t i = 0; i < codes.size(); ++i) {
    if (codes[i] >= 0 && static_cast<std::size_t>(codes[i]) < categories) continue;
    throw InvalidInput(
        function, argument,
        "must be a code from 0 to " + std::to_string(categories) + " - 1, got " + std::to_string(codes[i]), i);
  }
}

void require_counts(std::span<const std::int64_t> counts, std::string_view function, std::string_view argument) {
  for (std::size_t i = 0; i < counts.size(); ++i) {
    if (counts[i] < 0) throw InvalidInput(function, argument, "is negative (" + std::to_string(counts[i]) + ")", i);
  }
}

void require_rows(std::size_t elements, std::size_t columns, std::string_view function, std::string_view argument) {
  if (columns > 0 && elements % columns == 0) return;
  throw InvalidInput(function, argument, "must hold whole rows of " + std::to_string(columns) + " columns");
}

void require_length(std::size_t have, std::size_t need, std::string_view function, std::string_view argument) {
  if (have == need) return;
  throw InvalidInput(function, argument,
                     "needs " + std::to_string(need) + " elements, one a subject, got " + std::to_string(have));
}

void require_categories(std::size_t categories, std::string_view function) {
  if (categories >= 2) return;
  throw InvalidInput(function, "categories",
                     "must be 2 or more, got " + std::to_string(categories) + ": name those that could have been used");
}

}  // namespace

// -- two judges -------------------------------------------------------------------------------------------------------

CohenKappa cohen_kappa(std::span<const std::int64_t> table, std::size_t categories, double confidence_level,
                       std::span<const double> disagreement_weights) {
  constexpr auto function = "cohen_kappa";
  require_categories(categories, function);
  if (table.size() != categories * categories) {
    throw InvalidInput(function, "table",
                       "must have " + std::to_string(categories) + " rows and columns, got " +
                           std::to_string(table.size()) + " cells");
  }
  require_counts(table, function, "table");
  require_open_unit(confidence_level, function, "confidence_level");
  std::vector<double> weights(table.size(), 1.0);
  if (!disagreement_weights.empty()) {
    require_length(disagreement_weights.size(), table.size(), function, "disagreement_weights");
    require_finite(disagreement_weights, function, "disagreement_weights");
    weights.assign(disagreement_weights.begin(), disagreement_weights.end());
  }
  double largest = 0.0;
  for (std::size_t i = 0; i < weights.size(); ++i) {
    const bool diagonal = i / categories == i % categories;
    if (disagreement_weights.empty() && diagonal) weights[i] = 0.0;
    if (weights[i] < 0.0 || (diagonal && weights[i] != 0.0)) {
      throw InvalidInput(function, "disagreement_weights",
                         std::string("must be 0 ") + (diagonal ? "where the judges agree" : "or more") + ", got " +
                             to_text(weights[i]),
                         i);
    }
    largest = std::max(largest, weights[i]);
  }
  if (largest == 0.0) {
    throw InvalidInput(function, "disagreement_weights", "are all 0: nothing would be a disagreement");
  }

  CohenKappa found;
  found.count = static_cast<std::size_t>(std::accumulate(table.begin(), table.end(), std::int64_t{0}));
  if (found.count == 0) throw InvalidInput(function, "table", "holds no judgement");
  const auto n = static_cast<double>(found.count);
  std::vector<double> row(categories, 0.0), column(categories, 0.0);
  for (std::size_t i = 0; i < table.size(); ++i) {
    row[i / categories] += static_cast<double>(table[i]) / n;
    column[i % categories] += static_cast<double>(table[i]) / n;
  }
  // As shares of the worst disagreement; sums of terms that are 0 or more, so that 0 is exact.
  double observed = 0.0, expected = 0.0;
  std::vector<double> row_mean(categories, 0.0), column_mean(categories, 0.0);
  const auto agree = [&](std::size_t i) { return 1.0 - weights[i] / largest; };
  for (std::size_t i = 0; i < table.size(); ++i) {
    const std::size_t r = i / categories, c = i % categories;
    observed += weights[i] / largest * static_cast<double>(table[i]) / n;
    expected += weights[i] / largest * row[r] * column[c];
    row_mean[r] += column[c] * agree(i);
    column_mean[c] += row[r] * agree(i);
  }
  found.observed_agreement = 1.0 - observed;
  found.expected_agreement = 1.0 - expected;
  if (expected == 0.0) {
    found.kappa = agreement(none, none, none, -1.0, confidence_level);
    found.se_cohen_1960 = none;
    return found;
  }
  double spread = 0.0, spread_null = 0.0;
  for (std::size_t i = 0; i < table.size(); ++i) {
    const std::size_t r = i / categories, c = i % categories;
    const double means = row_mean[r] + column_mean[c];
    spread += static_cast<double>(table[i]) / n * square(agree(i) * expected - means * observed);
    spread_null += row[r] * column[c] * square(agree(i) - means);
  }
  const double po = found.observed_agreement, pe = found.expected_agreement;
  const double variance = (spread - square(po * pe - 2.0 * pe + po)) / (n * square(square(expected)));
  double null = (spread_null - square(pe)) / (n * square(expected));
  // A judge with one category leaves no room for chance; what is left is rounding.
  if (null < 1e-15 * spread_null) null = 0.0;
  const double kappa = 1.0 - observed / expected, least = -std::numeric_limits<double>::infinity();
  // Without room for chance kappa is 0 whatever the other judge does: no test and no interval.
  found.kappa = agreement(kappa, root(null), null > 0.0 ? root(variance) : none, least, confidence_level);
  found.se_cohen_1960 = root(po * observed / (n * square(expected)));
  return found;
}

std::vector<std::int64_t> agreement_table(std::span<const std::int64_t> judge_1, std::span<const std::int64_t> judge_2,
                                          std::size_t categories) {
  constexpr auto function = "agreement_table";
  require_length(judge_2.size(), judge_1.size(), function, "judge_2");
  require_codes(judge_1, categories, function, "judge_1");
  require_codes(judge_2, categories, function, "judge_2");
  std::vector<std::int64_t> table(categories * categories, 0);
  for (std::size_t i = 0; i < judge_1.size(); ++i) {
    ++table[static_cast<std::size_t>(judge_1[i]) * categories + static_cast<std::size_t>(judge_2[i])];
  }
  return table;
}

std::vector<double> distance_weights(std::size_t categories, double power) {
  require_categories(categories, "distance_weights");
  require_positive(power, "distance_weights", "power");
  std::vector<double> weights;
  weights.reserve(categories * categories);
  for (std::size_t i = 0; i < categories; ++i) {
    for (std::size_t j = 0; j < categories; ++j) {
      weights.push_back(std::pow(std::abs(static_cast<double>(i) - static_cast<double>(j)), power));
    }
  }
  return weights;
}

// -- several judges ---------------------------------------------------------------------------------------------------

namespace {

/// Kappa of judgements that fall in two or more categories, and what each subject adds to its deviation.
struct Linearized {
  double observed = 0.0;
  double expected = 0.0;
  double kappa = 0.0;              ///< NaN when one category has all
  std::vector<double> share;       ///< of each category
  std::vector<double> deviations;  ///< of the subjects; their mean is 0, kappa moves by their mean
};

/// @param count_of(i, j)  judgements of subject i in category j
template <typename CountOf>
Linearized linearized(std::size_t subjects, std::size_t categories, double judgements, const CountOf& count_of) {
  const auto n = static_cast<double>(subjects);
  Linearized out;
  out.share.assign(categories, 0.0);
  std::vector<double> own(subjects, 0.0), chance(subjects, 0.0);
  for (std::size_t i = 0; i < subjects; ++i) {
    double pairs = 0.0;
    for (std::size_t j = 0; j < categories; ++j) {
      const double count = count_of(i, j);
      pairs += count * (count - 1.0);
      out.share[j] += count / (n * judgements);
    }
    own[i] = pairs / (judgements * (judgements - 1.0));
    out.observed += own[i] / n;
  }
  const bool one_has_all = std::count_if(out.share.begin(), out.share.end(), [](double p) { return p > 0.0; }) == 1;
  for (const double p : out.share) out.expected += p * p;
  if (one_has_all) {
    out.expected = 1.0;
    out.kappa = none;
    return out;
  }
  for (std::size_t i = 0; i < subjects; ++i) {
    for (std::size_t j = 0; j < categories; ++j) chance[i] += out.share[j] * count_of(i, j) / judgements;
  }
  const double room = 1.0 - out.expected;
  out.kappa = (out.observed - out.expected) / room;
  for (std::size_t i = 0; i < subjects; ++i) {
    out.deviations.push_back((own[i] - out.observed) / room -
                             2.0 * (1.0 - out.kappa) * (chance[i] - out.expected) / room);
  }
  return out;
}

/// Standard error of a mean over subjects.
double spread_of_mean(std::span<const double> deviations) {
  const auto n = static_cast<double>(deviations.size());
  if (deviations.size() < 2) return none;
  double squares = 0.0;
  for (const double x : deviations) squares += x * x;
  return std::sqrt(squares / (n * (n - 1.0)));
}

/// Null standard error of Fleiss, Nee and Landis (1979) for shares p.
double null_error(std::span<const double> share, double subjects, double judgements) {
  double pq = 0.0, skew = 0.0;
  for (const double p : share) {
    pq += p * (1.0 - p);
    skew += p * (1.0 - p) * (1.0 - 2.0 * p);
  }
  return std::sqrt(2.0 / (subjects * judgements * (judgements - 1.0))) * root(pq * pq - skew) / pq;
}

}  // namespace

FleissKappa fleiss_kappa(std::span<const std::int64_t> counts, std::size_t categories, double confidence_level) {
  constexpr auto function = "fleiss_kappa";
  require_categories(categories, function);
  require_rows(counts.size(), categories, function, "counts");
  require_count(counts.size(), categories, function, "counts");
  require_counts(counts, function, "counts");
  require_open_unit(confidence_level, function, "confidence_level");
  FleissKappa found;
  found.subjects = counts.size() / categories;
  for (std::size_t i = 0; i < found.subjects; ++i) {
    const auto row = counts.subspan(i * categories, categories);
    const auto sum = static_cast<std::size_t>(std::accumulate(row.begin(), row.end(), std::int64_t{0}));
    if (i == 0) found.judgements = sum;
    if (sum == found.judgements) continue;
    throw InvalidInput(function, "counts",
                       "must have the same sum in every row: row 0 has " + std::to_string(found.judgements) + ", row " +
                           std::to_string(i) + " has " + std::to_string(sum));
  }
  if (found.judgements < 2) {
    throw InvalidInput(function, "counts",
                       "needs two judgements or more of each subject, got " + std::to_string(found.judgements));
  }
  const auto n = static_cast<double>(found.subjects), m = static_cast<double>(found.judgements);
  const auto count_of = [&](std::size_t i, std::size_t j) { return static_cast<double>(counts[i * categories + j]); };
  const Linearized all = linearized(found.subjects, categories, m, count_of);
  found.observed_agreement = all.observed;
  found.expected_agreement = all.expected;
  found.category_share = all.share;
  const double least = -1.0 / (m - 1.0);
  const auto with_errors = [&](const Linearized& one) {
    if (std::isnan(one.kappa)) return agreement(none, none, none, least, confidence_level);
    return agreement(one.kappa, null_error(one.share, n, m), spread_of_mean(one.deviations), least, confidence_level);
  };
  found.kappa = with_errors(all);
  for (std::size_t j = 0; j < categories; ++j) {
    found.category.push_back(with_errors(linearized(found.subjects, 2, m, [&](std::size_t i, std::size_t side) {
      return side == 0 ? count_of(i, j) : m - count_of(i, j);
    })));
  }
  const double pe = all.expected, chance = 1.0 / static_cast<double>(categories);
  found.kappa_free_marginal = (all.observed - chance) / (1.0 - chance);
  double cubes = 0.0;
  for (const double p : all.share) cubes += p * p * p;
  found.se_1971 = std::isnan(all.kappa) ? none
                                        : root(2.0 * (pe - (2.0 * m - 3.0) * pe * pe + 2.0 * (m - 2.0) * cubes) /
                                               (n * m * (m - 1.0) * square(1.0 - pe)));
  found.z_1971 = found.se_1971 > 0.0 ? all.kappa / found.se_1971 : none;
  return found;
}

ReferenceKappa fleiss_kappa_with_reference(std::span<const std::int64_t> judgements,
                                           std::span<const std::int64_t> reference, std::size_t categories,
                                           double confidence_level) {
  constexpr auto function = "fleiss_kappa_with_reference";
  require_categories(categories, function);
  require_count(reference.size(), 1, function, "reference");
  require_rows(judgements.size(), reference.size(), function, "judgements");
  require_count(judgements.size(), reference.size(), function, "judgements");
  require_codes(judgements, categories, function, "judgements");
  require_codes(reference, categories, function, "reference");
  require_open_unit(confidence_level, function, "confidence_level");
  ReferenceKappa found;
  found.subjects = reference.size();
  const std::size_t judges = judgements.size() / reference.size();
  const auto n = static_cast<double>(found.subjects), m = static_cast<double>(judges);

  /// Mean over the judges; `pick` numbers a code, 0 or 1 for one category against the others.
  const auto mean_of = [&](std::size_t kinds, const auto& pick, std::vector<double>* each) {
    double kappa = 0.0, null = 0.0;
    std::vector<double> deviations(found.subjects, 0.0);
    for (std::size_t k = 0; k < judges; ++k) {
      const auto one = linearized(found.subjects, kinds, 2.0, [&](std::size_t i, std::size_t j) {
        return (pick(judgements[i * judges + k]) == j ? 1.0 : 0.0) + (pick(reference[i]) == j ? 1.0 : 0.0);
      });
      if (each != nullptr) each->push_back(one.kappa);
      kappa += one.kappa / m;
      if (std::isnan(one.kappa)) continue;
      null += square(null_error(one.share, n, 2.0) / m);
      for (std::size_t i = 0; i < found.subjects; ++i) deviations[i] += one.deviations[i] / m;
    }
    return agreement(kappa, std::sqrt(null), spread_of_mean(deviations), -1.0, confidence_level);
  };
  found.kappa = mean_of(categories, [](std::int64_t code) { return static_cast<std::size_t>(code); }, &found.judge);
  for (std::size_t j = 0; j < categories; ++j) {
    const auto pick = [j](std::int64_t code) { return static_cast<std::size_t>(code) == j ? 0U : 1U; };
    found.category.push_back(mean_of(2, pick, nullptr));
  }
  return found;
}

// -- rankings ---------------------------------------------------------------------------------------------------------

namespace {

struct Ranks {
  std::vector<double> rank;
  double ties = 0.0;  ///< sum of t^3 - t
};

/// Ranks from 1, equal values sharing their mean.
Ranks mid_ranks(std::span<const double> values) {
  std::vector<std::size_t> order(values.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return values[a] < values[b]; });
  Ranks out;
  out.rank.resize(values.size());
  for (std::size_t first = 0; first < order.size();) {
    std::size_t end = first + 1;
    while (end < order.size() && values[order[end]] == values[order[first]]) ++end;
    for (std::size_t i = first; i < end; ++i) out.rank[order[i]] = 0.5 * static_cast<double>(first + 1 + end);
    const auto tied = static_cast<double>(end - first);
    out.ties += tied * tied * tied - tied;
    first = end;
  }
  return out;
}

struct Concordance {
  double sum_squares = 0.0;
  double ties = 0.0;
  double w_uncorrected = 0.0;
  double w = 0.0;
  std::vector<double> rank_sum;
};

Concordance concordance(std::span<const double> ratings, std::size_t judges) {
  const std::size_t subjects = ratings.size() / judges;
  Concordance out;
  out.rank_sum.assign(subjects, 0.0);
  std::vector<double> own(subjects);
  for (std::size_t k = 0; k < judges; ++k) {
    for (std::size_t i = 0; i < subjects; ++i) own[i] = ratings[i * judges + k];
    const Ranks ranks = mid_ranks(own);
    for (std::size_t i = 0; i < subjects; ++i) out.rank_sum[i] += ranks.rank[i];
    out.ties += ranks.ties;
  }
  const auto n = static_cast<double>(subjects), m = static_cast<double>(judges);
  for (const double sum : out.rank_sum) out.sum_squares += square(sum - 0.5 * m * (n + 1.0));
  const double most = m * m * (n * n * n - n);
  out.w_uncorrected = 12.0 * out.sum_squares / most;
  out.w = most > m * out.ties ? 12.0 * out.sum_squares / (most - m * out.ties) : none;
  return out;
}

}  // namespace

KendallW kendall_w(std::span<const double> ratings, std::size_t judges, double confidence_level) {
  constexpr auto function = "kendall_w";
  if (judges < 2) throw InvalidInput(function, "judges", "must be 2 or more, got " + std::to_string(judges));
  require_rows(ratings.size(), judges, function, "ratings");
  require_count(ratings.size() / judges, 2, function, "subjects of ratings");
  require_finite(ratings, function, "ratings");
  require_open_unit(confidence_level, function, "confidence_level");
  Concordance all = concordance(ratings, judges);
  KendallW found;
  found.subjects = ratings.size() / judges;
  found.judges = judges;
  const auto n = static_cast<double>(found.subjects), m = static_cast<double>(judges);
  found.w_uncorrected = all.w_uncorrected;
  found.w = all.w;
  found.degrees_of_freedom = n - 1.0;
  found.chi_square = m * (n - 1.0) * all.w;
  found.p = std::isnan(all.w) ? none : chi_square_survival(found.chi_square, n - 1.0);
  found.sum_squares = all.sum_squares;
  found.tie_correction = all.ties;
  found.rank_sum = std::move(all.rank_sum);

  std::vector<double> left(found.subjects, none), rest;
  for (std::size_t i = 0; i < found.subjects && found.subjects > 2; ++i) {
    rest.assign(ratings.begin(), ratings.end());
    const auto at = static_cast<std::ptrdiff_t>(i * judges);
    rest.erase(rest.begin() + at, rest.begin() + at + static_cast<std::ptrdiff_t>(judges));
    left[i] = concordance(rest, judges).w;
  }
  const double mean = std::accumulate(left.begin(), left.end(), 0.0) / n;
  double squares = 0.0;
  for (const double x : left) squares += square(x - mean);
  found.se = std::sqrt((n - 1.0) / n * squares);
  const double reach =
      std::isnan(found.se) ? none : student_t_quantile(0.5 + 0.5 * confidence_level, n - 1.0) * found.se;
  found.lower = std::isnan(found.se) ? none : std::max(0.0, found.w - reach);
  found.upper = std::isnan(found.se) ? none : std::min(1.0, found.w + reach);
  return found;
}

namespace {

int sign_of(double x) { return (x > 0.0) - (x < 0.0); }

/// Pairs of subjects, of all and of each subject.
struct Pairs {
  double sum = 0.0;     ///< concordant less discordant
  double unlike = 0.0;  ///< pairs that the judge does not tie
  double unlike_reference = 0.0;
  std::vector<double> own_sum, own_unlike, own_unlike_reference;
};

Pairs pairs_of(std::span<const double> one, std::span<const double> reference) {
  const std::size_t n = one.size();
  Pairs out;
  out.own_sum.assign(n, 0.0);
  out.own_unlike.assign(n, 0.0);
  out.own_unlike_reference.assign(n, 0.0);
  for (std::size_t i = 0; i < n; ++i) {
    for (std::size_t j = i + 1; j < n; ++j) {
      const int a = sign_of(one[i] - one[j]), b = sign_of(reference[i] - reference[j]);
      for (const std::size_t k : {i, j}) {
        out.own_sum[k] += a * b;
        out.own_unlike[k] += a != 0;
        out.own_unlike_reference[k] += b != 0;
      }
      out.sum += a * b;
      out.unlike += a != 0;
      out.unlike_reference += b != 0;
    }
  }
  return out;
}

double tau_b(double sum, double unlike, double unlike_reference) {
  return unlike > 0.0 && unlike_reference > 0.0 ? sum / std::sqrt(unlike * unlike_reference) : none;
}

/// Sums over groups of equal values that the null variance of the pair sum needs.
struct Ties {
  double pairs = 0.0;     ///< t (t - 1)
  double triples = 0.0;   ///< t (t - 1) (t - 2)
  double weighted = 0.0;  ///< t (t - 1) (2 t + 5)
};

Ties ties_of(std::span<const double> values) {
  std::vector<double> sorted(values.begin(), values.end());
  std::sort(sorted.begin(), sorted.end());
  Ties out;
  for (std::size_t first = 0; first < sorted.size();) {
    std::size_t end = first + 1;
    while (end < sorted.size() && sorted[end] == sorted[first]) ++end;
    const auto t = static_cast<double>(end - first);
    out.pairs += t * (t - 1.0);
    out.triples += t * (t - 1.0) * (t - 2.0);
    out.weighted += t * (t - 1.0) * (2.0 * t + 5.0);
    first = end;
  }
  return out;
}

double null_variance(const Ties& a, const Ties& b, double n) {
  double out = (n * (n - 1.0) * (2.0 * n + 5.0) - a.weighted - b.weighted) / 18.0;
  out += a.pairs * b.pairs / (2.0 * n * (n - 1.0));
  if (n > 2.0) out += a.triples * b.triples / (9.0 * n * (n - 1.0) * (n - 2.0));
  return out;
}

}  // namespace

ReferenceTau kendall_tau_with_reference(std::span<const double> ratings, std::size_t judges,
                                        std::span<const double> reference, double confidence_level) {
  constexpr auto function = "kendall_tau_with_reference";
  if (judges == 0) throw InvalidInput(function, "judges", "must be 1 or more (0)");
  require_rows(ratings.size(), judges, function, "ratings");
  require_count(ratings.size() / judges, 2, function, "subjects of ratings");
  require_length(reference.size(), ratings.size() / judges, function, "reference");
  require_finite(ratings, function, "ratings");
  require_finite(reference, function, "reference");
  require_open_unit(confidence_level, function, "confidence_level");
  ReferenceTau found;
  found.subjects = reference.size();
  const auto n = static_cast<double>(found.subjects), m = static_cast<double>(judges);
  const Ties known = ties_of(reference);
  double mean = 0.0, null = 0.0;
  std::vector<double> left(found.subjects, 0.0), own(found.subjects);
  for (std::size_t k = 0; k < judges; ++k) {
    for (std::size_t i = 0; i < found.subjects; ++i) own[i] = ratings[i * judges + k];
    const Pairs pairs = pairs_of(own, reference);
    found.judge.push_back(tau_b(pairs.sum, pairs.unlike, pairs.unlike_reference));
    mean += found.judge.back() / m;
    null += null_variance(ties_of(own), known, n) / (pairs.unlike * pairs.unlike_reference) / (m * m);
    for (std::size_t i = 0; i < found.subjects; ++i) {
      left[i] += tau_b(pairs.sum - pairs.own_sum[i], pairs.unlike - pairs.own_unlike[i],
                       pairs.unlike_reference - pairs.own_unlike_reference[i]) /
                 m;
    }
  }
  const double average = std::accumulate(left.begin(), left.end(), 0.0) / n;
  double squares = 0.0;
  for (const double x : left) squares += square(x - average);
  found.tau = agreement(mean, std::sqrt(null), std::sqrt((n - 1.0) / n * squares), -1.0, confidence_level);
  return found;
}

// -- decisions --------------------------------------------------------------------------------------------------------

Proportion exact_proportion(std::size_t count, std::size_t total, double confidence_level) {
  constexpr auto function = "exact_proportion";
  require_open_unit(confidence_level, function, "confidence_level");
  if (count > total) {
    throw InvalidInput(function, "count",
                       "is more than the total: " + std::to_string(count) + " of " + std::to_string(total));
  }
  if (total == 0) return {.count = 0, .total = 0, .share = none, .lower = 0.0, .upper = 1.0};
  const auto x = static_cast<double>(count), n = static_cast<double>(total);
  const double tail = 0.5 - 0.5 * confidence_level;
  return {.count = count,
          .total = total,
          .share = x / n,
          .lower = count == 0 ? 0.0 : beta_quantile(tail, x, n - x + 1.0),
          .upper = count == total ? 1.0 : beta_quantile(1.0 - tail, x + 1.0, n - x)};
}

AppraiserRates appraiser_rates(std::span<const std::int64_t> judgements, std::size_t trials,
                               std::span<const std::int64_t> reference, std::span<const std::uint8_t> rejects,
                               double confidence_level) {
  constexpr auto function = "appraiser_rates";
  if (trials == 0) throw InvalidInput(function, "trials", "must be 1 or more (0)");
  require_count(reference.size(), 1, function, "reference");
  require_length(judgements.size(), trials * reference.size(), function, "judgements");
  require_codes(judgements, rejects.size(), function, "judgements");
  require_codes(reference, rejects.size(), function, "reference");
  std::size_t consistent = 0, effective = 0, right = 0, missed = 0, bad = 0, alarms = 0, good = 0;
  for (std::size_t i = 0; i < reference.size(); ++i) {
    const auto row = judgements.subspan(i * trials, trials);
    const bool reject = rejects[static_cast<std::size_t>(reference[i])] != 0;
    const auto hits = static_cast<std::size_t>(std::count(row.begin(), row.end(), reference[i]));
    right += hits;
    effective += hits == trials ? 1U : 0U;
    consistent += static_cast<std::size_t>(std::count(row.begin(), row.end(), row[0])) == trials ? 1U : 0U;
    (reject ? bad : good) += trials;
    for (const std::int64_t code : row) {
      if ((rejects[static_cast<std::size_t>(code)] != 0) == reject) continue;
      ++(reject ? missed : alarms);
    }
  }
  const auto share = [&](std::size_t count, std::size_t total) {
    return exact_proportion(count, total, confidence_level);
  };
  return {.consistent = share(consistent, reference.size()),
          .effective = share(effective, reference.size()),
          .right = share(right, judgements.size()),
          .miss = share(missed, bad),
          .false_alarm = share(alarms, good)};
}

}  // namespace steadyfilm
