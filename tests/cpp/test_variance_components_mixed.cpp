#include <doctest/doctest.h>

#include <steadyfilm/variance_components.hpp>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <map>
#include <numbers>
#include <numeric>
#include <random>
#include <string>
#include <tuple>
#include <utility>
#include <vector>

#include <steadyfilm/core.hpp>

#include "reference.hpp"

using steadyfilm::combine_levels;
using steadyfilm::InvalidInput;
using steadyfilm::Likelihood;
using steadyfilm::mixed_components;
using steadyfilm::MixedComponents;
using steadyfilm::MixedModel;
using steadyfilm::MixedOptions;

namespace {

using Codes = std::vector<std::int32_t>;

struct Levels {
  Codes codes;
  std::size_t levels = 0;
};

/// Codes by rising label: level 0 is the smallest.
Levels coded(const reference::List& labels) {
  auto kinds = labels;
  std::ranges::sort(kinds);
  kinds.erase(std::unique(kinds.begin(), kinds.end()), kinds.end());
  Levels out{{}, kinds.size()};
  for (const double label : labels) {
    out.codes.push_back(static_cast<std::int32_t>(std::ranges::lower_bound(kinds, label) - kinds.begin()));
  }
  return out;
}

/// Terms "1", "2" and "1*2" of a row.
MixedComponents of_row(const reference::Args& args) {
  const auto one = coded(args.list("factor_1"));
  const auto two = args.has("factor_2") ? coded(args.list("factor_2")) : one;
  const auto both = combine_levels(one.codes, two.codes);
  const auto terms = [&](const std::string& name) {
    std::vector<steadyfilm::LevelCodes> out;
    for (const std::string& word : args.words(name)) {
      if (word == "1") out.push_back({word, one.codes, one.levels});
      if (word == "2") out.push_back({word, two.codes, two.levels});
      if (word == "1*2") out.push_back({word, both.codes, both.levels});
    }
    return out;
  };
  return mixed_components(args.list("values"), {.random = terms("random_terms"), .fixed = terms("fixed_terms")},
                          {.confidence_level = args.number_or("confidence_level", 0.95)});
}

const reference::Register components("reml_components", [](const reference::Args& args) {
  const auto found = of_row(args);
  reference::Found out;
  out.numbers = {{"variance_residual", found.components.back().variance},
                 {"sd_residual", found.components.back().sd},
                 {"reml_criterion", found.criterion},
                 {"log_likelihood", found.log_likelihood}};
  for (std::size_t k = 0; k + 1 < found.components.size(); ++k) {
    out.lists["variance"].push_back(found.components[k].variance);
    out.lists["sd"].push_back(found.components[k].sd);
  }
  for (const auto& one : found.fixed) {
    out.lists["fixed"].push_back(one.estimate);
    out.lists["fixed_se"].push_back(one.standard_error);
  }
  return out;
});

const reference::Register intervals("reml_wald_intervals", [](const reference::Args& args) {
  const auto found = of_row(args);
  reference::Found out;
  out.numbers = {{"sd_residual_lower", found.components.back().wald_sd_lower},
                 {"sd_residual_upper", found.components.back().wald_sd_upper}};
  for (std::size_t k = 0; k + 1 < found.components.size(); ++k) {
    out.lists["sd_lower"].push_back(found.components[k].wald_sd_lower);
    out.lists["sd_upper"].push_back(found.components[k].wald_sd_upper);
  }
  return out;
});

const reference::Register shop("mixed_components", [](const reference::Args& args) {
  const std::vector<std::string> names = {"day", "body", "painter"};
  std::vector<Levels> terms;
  for (const auto& name : names) terms.push_back(coded(args.list(name)));
  const auto place = coded(args.list("place"));
  const auto age = args.list("age");
  MixedModel model{.random = {}, .fixed = {{"place", place.codes, place.levels}}, .covariates = {{"age", age}}};
  for (std::size_t k = 0; k < terms.size(); ++k) model.random.push_back({names[k], terms[k].codes, terms[k].levels});
  const auto likelihood = args.word("method") == "reml" ? Likelihood::restricted : Likelihood::full;
  const auto found = mixed_components(args.list("values"), model,
                                      {.likelihood = likelihood, .confidence_level = args.number("confidence_level")});
  reference::Found out;
  out.numbers = {{"variance_residual", found.components.back().variance}, {"log_likelihood", found.log_likelihood}};
  for (std::size_t k = 0; k < 4; ++k) {
    const auto& one = found.components[k];
    out.lists["sd_lower"].push_back(one.sd_lower);
    out.lists["sd_upper"].push_back(one.sd_upper);
    if (k == 3) continue;
    out.lists["variance"].push_back(one.variance);
    for (const auto& effect : found.effects[k]) out.lists["effect_" + names[k]].push_back(effect.value);
  }
  for (const auto& one : found.fixed) {
    out.lists["fixed"].push_back(one.estimate);
    out.lists["fixed_se"].push_back(one.standard_error);
  }
  return out;
});

/// A small unbalanced layout: units in days, places on units, a covariate.
struct Layout {
  std::vector<double> values, age;
  Codes day, unit, place;
  std::size_t days = 0, units = 0, places = 4;

  [[nodiscard]] MixedModel model() const {
    return {.random = {{"day", day, days}, {"unit", unit, units}},
            .fixed = {{"place", place, places}},
            .covariates = {{"age", age}}};
  }
};

Layout layout(unsigned seed, std::size_t days = 6) {
  std::mt19937_64 random(seed);
  std::normal_distribution<double> normal;
  Layout out;
  out.days = days;
  for (std::size_t d = 0; d < days; ++d) {
    const double day = 0.3 * normal(random);
    for (std::size_t u = 0; u < 3 + d % 3; ++u) {
      const double unit = day + 0.5 * normal(random);
      for (std::size_t k = 0; k < 3 + (u + d) % 4; ++k) {
        const std::size_t place = (k + u) % out.places;
        out.day.push_back(static_cast<std::int32_t>(d));
        out.unit.push_back(static_cast<std::int32_t>(out.units));
        out.place.push_back(static_cast<std::int32_t>(place));
        out.age.push_back(40.0 + normal(random));
        out.values.push_back(60.0 + 0.2 * static_cast<double>(place) + 0.1 * out.age.back() + unit +
                             0.2 * normal(random));
      }
      ++out.units;
    }
  }
  return out;
}

using Square = std::vector<std::vector<double>>;

/// Cholesky factor, in place, of a dense matrix; returns ln of the determinant.
double factorize(Square& a) {
  double log_determinant = 0.0;
  for (std::size_t j = 0; j < a.size(); ++j) {
    for (std::size_t i = j; i < a.size(); ++i) {
      for (std::size_t k = 0; k < j; ++k) a[i][j] -= a[i][k] * a[j][k];
      a[i][j] = i == j ? std::sqrt(a[i][j]) : a[i][j] / a[j][j];
    }
    log_determinant += 2.0 * std::log(a[j][j]);
  }
  return log_determinant;
}

std::vector<double> half_solved(const Square& factor, std::vector<double> side) {
  for (std::size_t i = 0; i < side.size(); ++i) {
    for (std::size_t k = 0; k < i; ++k) side[i] -= factor[i][k] * side[k];
    side[i] /= factor[i][i];
  }
  return side;
}

/// -2 ln L from its definition, with the covariance matrix of all readings written out: V = sum of variance Z Z' + I.
double written_out(const Layout& data, const std::vector<double>& variances, bool restricted) {
  const std::size_t n = data.values.size();
  Square v(n, std::vector<double>(n, 0.0));
  for (std::size_t i = 0; i < n; ++i) {
    for (std::size_t j = 0; j <= i; ++j) {
      v[i][j] = (data.day[i] == data.day[j] ? variances[0] : 0.0) +
                (data.unit[i] == data.unit[j] ? variances[1] : 0.0) + (i == j ? variances[2] : 0.0);
    }
  }
  double out = factorize(v);
  std::vector<std::vector<double>> x(5, std::vector<double>(n, 0.0));
  for (std::size_t i = 0; i < n; ++i) {
    x[0][i] = 1.0;
    if (data.place[i] > 0) x[static_cast<std::size_t>(data.place[i])][i] = 1.0;
    x[4][i] = data.age[i];
  }
  for (auto& column : x) column = half_solved(v, column);
  const auto y = half_solved(v, data.values);
  Square xx(5, std::vector<double>(5));
  std::vector<double> xy(5);
  const auto dot = [](const auto& a, const auto& b) { return std::inner_product(a.begin(), a.end(), b.begin(), 0.0); };
  for (std::size_t i = 0; i < 5; ++i) {
    xy[i] = dot(x[i], y);
    for (std::size_t j = 0; j < 5; ++j) xx[i][j] = dot(x[i], x[j]);
  }
  const double fixed = factorize(xx);
  const auto explained = half_solved(xx, xy);
  out += dot(y, y) - dot(explained, explained) +
         static_cast<double>(n - (restricted ? 5 : 0)) * std::log(2.0 * std::numbers::pi);
  return out + (restricted ? fixed : 0.0);
}

std::vector<double> variances_of(const MixedComponents& found) {
  std::vector<double> out;
  for (const auto& one : found.components) out.push_back(one.variance);
  return out;
}

}  // namespace

TEST_CASE("mixed components: the criterion is the likelihood written out, and nothing near by is higher") {
  const auto data = layout(3);
  for (const bool restricted : {true, false}) {
    const auto found = mixed_components(data.values, data.model(),
                                        {.likelihood = restricted ? Likelihood::restricted : Likelihood::full});
    CHECK(found.convergence.converged);
    const auto best = variances_of(found);
    const double least = written_out(data, best, restricted);
    CHECK(found.criterion == doctest::Approx(least).epsilon(1e-10));
    CHECK(found.log_likelihood == -0.5 * found.criterion);
    for (std::size_t k = 0; k < best.size(); ++k) {
      REQUIRE(best[k] > 0.0);
      for (const double factor : {0.97, 1.03}) {
        auto other = best;
        other[k] *= factor;
        CHECK(written_out(data, other, restricted) > least);
      }
      // Central difference: the slope at the top is 0.
      auto up = best, down = best;
      up[k] *= 1.0 + 1e-4;
      down[k] *= 1.0 - 1e-4;
      CHECK(std::abs(written_out(data, up, restricted) - written_out(data, down, restricted)) < 1e-8);
    }
  }
}

TEST_CASE("mixed components: standard errors are those of second differences of the likelihood written out") {
  const auto data = layout(3);
  const auto found = mixed_components(data.values, data.model());
  const auto best = variances_of(found);
  constexpr double h = 1e-3;
  Square second(3, std::vector<double>(3));
  const auto at = [&](std::size_t i, double a, std::size_t j, double b) {
    auto v = best;
    v[i] *= std::exp(a);
    v[j] *= std::exp(b);
    return written_out(data, v, true);
  };
  for (std::size_t i = 0; i < 3; ++i) {
    for (std::size_t j = 0; j < 3; ++j) {
      second[i][j] = (at(i, h, j, h) - at(i, h, j, -h) - at(i, -h, j, h) + at(i, -h, j, -h)) / (4.0 * h * h);
    }
  }
  factorize(second);
  for (std::size_t i = 0; i < 3; ++i) {
    std::vector<double> unit(3, 0.0);
    unit[i] = 1.0;
    const auto half = half_solved(second, unit);
    // -2 ln L in ln variance: covariance of ln variance is 2 inverse(second), of ln sd a quarter of it.
    const double error = std::sqrt(0.5 * std::inner_product(half.begin(), half.end(), half.begin(), 0.0));
    CHECK(found.components[i].log_sd_standard_error == doctest::Approx(error).epsilon(1e-4));
    CHECK(found.components[i].variance_standard_error == doctest::Approx(2.0 * best[i] * error).epsilon(1e-4));
  }
}

TEST_CASE(
    "mixed components: at the ends of a profile interval the best likelihood has fallen by the chi-square quantile") {
  const auto data = layout(3);
  const auto found = mixed_components(data.values, data.model(), {.confidence_level = 0.9});
  const double fall = std::pow(1.6448536269514722, 2);  // 0.95 quantile of the normal, squared
  for (const std::size_t k : {1U, 2U}) {
    const auto& one = found.components[k];
    REQUIRE(one.variance_lower > 0.0);
    CHECK(one.variance_lower < one.variance);
    CHECK(one.variance < one.variance_upper);
    for (const double end : {one.variance_lower, one.variance_upper}) {
      // The best under that value by a plain search over the other two, coarse to fine.
      auto best = variances_of(found);
      best[k] = end;
      double least = written_out(data, best, true);
      for (double step = 0.5; step > 1e-5; step *= 0.5) {
        for (bool moved = true; moved;) {
          moved = false;
          for (std::size_t j = 0; j < 3; ++j) {
            for (const double factor : {std::exp(step), std::exp(-step)}) {
              auto other = best;
              if (j == k) continue;
              other[j] *= factor;
              const double value = written_out(data, other, true);
              if (value < least) {
                least = value;
                best = other;
                moved = true;
              }
            }
          }
        }
      }
      CHECK(least - found.criterion == doctest::Approx(fall).epsilon(1e-5));
    }
  }
  CHECK(found.components[0].variance_lower == 0.0);  // days: seven of them, and little between them
}

TEST_CASE("mixed components: order of rows, names of levels, shift and scale change nothing else") {
  const auto data = layout(11);
  const auto base = mixed_components(data.values, data.model());
  std::vector<std::size_t> order(data.values.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::shuffle(order.begin(), order.end(), std::mt19937_64(1));
  Layout other = data;
  const auto days = static_cast<std::int32_t>(data.days), units = static_cast<std::int32_t>(data.units);
  for (std::size_t i = 0; i < order.size(); ++i) {
    const std::size_t from = order[i];
    other.values[i] = 1000.0 + 25.4 * data.values[from];
    other.age[i] = 10.0 * data.age[from] - 3.0;
    other.day[i] = days - 1 - data.day[from];
    other.unit[i] = (data.unit[from] * 7 + 3) % units;
    other.place[i] = data.place[from];
  }
  REQUIRE(std::gcd(7, units) == 1);
  const auto moved = mixed_components(other.values, other.model());
  for (std::size_t k = 0; k < 3; ++k) {
    const auto &a = base.components[k], &b = moved.components[k];
    CHECK(b.variance == doctest::Approx(25.4 * 25.4 * a.variance).epsilon(1e-8));
    CHECK(b.variance_standard_error == doctest::Approx(25.4 * 25.4 * a.variance_standard_error).epsilon(1e-6));
    CHECK(b.variance_upper == doctest::Approx(25.4 * 25.4 * a.variance_upper).epsilon(1e-5));
    CHECK(b.unbiased_variance == doctest::Approx(25.4 * 25.4 * a.unbiased_variance).epsilon(1e-9));
  }
  CHECK(moved.fixed[1].estimate == doctest::Approx(25.4 * base.fixed[1].estimate).epsilon(1e-8));
  CHECK(moved.fixed[4].estimate == doctest::Approx(2.54 * base.fixed[4].estimate).epsilon(1e-8));
  CHECK(moved.fixed[4].standard_error == doctest::Approx(2.54 * base.fixed[4].standard_error).epsilon(1e-8));
  for (std::size_t u = 0; u < data.units; ++u) {
    const auto &a = base.effects[1][u], &b = moved.effects[1][(u * 7 + 3) % data.units];
    CHECK(b.value == doctest::Approx(25.4 * a.value).epsilon(1e-7));
    CHECK(b.standard_error == doctest::Approx(25.4 * a.standard_error).epsilon(1e-7));
  }
}

TEST_CASE("mixed components: balanced readings give the components of the analysis of variance") {
  std::mt19937_64 random(5);
  std::normal_distribution<double> normal;
  std::vector<double> values;
  Codes lot, panel;
  for (int l = 0; l < 8; ++l) {
    const double a = 2.0 * normal(random);
    for (int p = 0; p < 3; ++p) {
      const double b = a + normal(random);
      for (int k = 0; k < 4; ++k) {
        values.push_back(b + 0.5 * normal(random));
        lot.push_back(l);
        panel.push_back(3 * l + p);
      }
    }
  }
  const auto wanted = steadyfilm::nested_components(values, std::vector<std::size_t>{8, 3, 4});
  const auto found = mixed_components(values, {.random = {{"lot", lot, 8}, {"panel", panel, 24}}});
  CHECK(found.balanced);
  for (std::size_t k = 0; k < 3; ++k) {
    REQUIRE(wanted.components[k].variance > 0.0);
    CHECK(found.components[k].variance == doctest::Approx(wanted.components[k].variance).epsilon(1e-9));
    CHECK(found.components[k].unbiased_variance == doctest::Approx(wanted.components[k].variance).epsilon(1e-12));
  }
  CHECK(found.fixed[0].estimate == doctest::Approx(wanted.mean.value).epsilon(1e-12));
  CHECK(found.fixed[0].standard_error == doctest::Approx(wanted.mean.standard_error).epsilon(1e-9));

  // A prediction in closed form: one level of nesting, shrunken means.
  const auto one = mixed_components(values, {.random = {{"lot", lot, 8}}});
  const double between = one.components[0].variance, rest = one.components[1].variance;
  const double keep = between / (between + rest / 12.0);
  for (std::size_t l = 0; l < 8; ++l) {
    const double mean = std::accumulate(values.begin() + static_cast<std::ptrdiff_t>(12 * l),
                                        values.begin() + static_cast<std::ptrdiff_t>(12 * (l + 1)), 0.0) /
                        12.0;
    CHECK(one.effects[0][l].value == doctest::Approx(keep * (mean - one.fixed[0].estimate)).epsilon(1e-10));
    // Variance of prediction less truth: between (1 - keep) of the level itself, and keep^2 times that of the mean.
    const double error = between * (1.0 - keep) + keep * keep * (between + rest / 12.0) / 8.0;
    CHECK(one.effects[0][l].standard_error == doctest::Approx(std::sqrt(error)).epsilon(1e-9));
  }
}

TEST_CASE("mixed components: a negative component is 0 with its raw estimate beside it") {
  // Mean squares by hand, as in the nested test: lots 0.02, panels 0.45, residual 0.02.
  const std::vector<double> values = {2.0, 2.2, 2.9, 3.1, 2.5, 2.7, 2.4, 2.2};
  const Codes lot = {0, 0, 0, 0, 1, 1, 1, 1}, panel = {0, 0, 1, 1, 2, 2, 3, 3};
  const auto found = mixed_components(values, {.random = {{"lot", lot, 2}, {"panel", panel, 4}}});
  CHECK(found.balanced);
  CHECK(found.components[0].on_boundary);
  CHECK(found.components[0].variance == 0.0);
  CHECK(found.components[0].sd == 0.0);
  CHECK(found.components[0].variance_lower == 0.0);
  CHECK(found.components[0].variance_upper > 0.0);
  CHECK(std::isnan(found.components[0].variance_standard_error));
  CHECK(std::isnan(found.components[0].wald_sd_upper));
  CHECK(found.components[0].unbiased_variance == doctest::Approx((0.02 - 0.45) / 4.0).epsilon(1e-12));
  CHECK(found.components[1].unbiased_variance == doctest::Approx((0.45 - 0.02) / 2.0).epsilon(1e-12));
  for (const auto& one : found.effects[0]) {
    CHECK(one.value == 0.0);
    CHECK(one.standard_error == 0.0);
  }
}

TEST_CASE("mixed components: a wide range of spreads is found from far away") {
  std::mt19937_64 random(9);
  std::normal_distribution<double> normal;
  for (const double spread : {1e-4, 1.0, 1e4, 1e4, 1e4, 1e4, 1e4}) {
    std::vector<double> values;
    Codes part, who;
    for (int p = 0; p < 12; ++p) {
      const double a = spread * normal(random);
      for (int w = 0; w < 3; ++w) {
        for (int k = 0; k < 3; ++k) {
          values.push_back(a + normal(random));
          part.push_back(p);
          who.push_back(w);
        }
      }
    }
    const auto found = mixed_components(values, {.random = {{"part", part, 12}, {"who", who, 3}}});
    CHECK(found.convergence.converged);
    CHECK(found.components[2].variance > 0.5);
    CHECK(found.components[2].variance < 2.0);
    if (spread > 1.0) {
      CHECK(found.components[0].variance == doctest::Approx(found.components[0].unbiased_variance).epsilon(1e-6));
      CHECK(found.components[0].sd > 0.3 * spread);
    }
  }
}

TEST_CASE("mixed components: crossed columns that touch most of the dense block agree with few at a time") {
  // 60 x 25 crossed: the larger factor is eliminated in panels; with 12 levels of the other it is not.
  std::mt19937_64 random(4);
  std::normal_distribution<double> normal;
  for (const std::int32_t other : {25, 12}) {
    std::vector<double> values;
    Codes part, who;
    for (std::int32_t p = 0; p < 60; ++p) {
      for (std::int32_t w = 0; w < other; ++w) {
        values.push_back(0.1 * p + 0.05 * w * w + normal(random));
        part.push_back(p);
        who.push_back(w);
      }
    }
    const auto found =
        mixed_components(values, {.random = {{"part", part, 60}, {"who", who, static_cast<std::size_t>(other)}}},
                         {.profile_intervals = false});
    REQUIRE(found.balanced);
    CHECK(std::isnan(found.components[0].variance_lower));
    for (const auto& one : found.components) {
      CHECK(one.variance == doctest::Approx(one.unbiased_variance).epsilon(1e-8));
    }
  }
}

TEST_CASE("mixed components: constant readings are an answer") {
  const Codes part = {0, 0, 1, 1, 2, 2};
  const auto found = mixed_components(std::vector<double>(6, 0.1), {.random = {{"part", part, 3}}});
  CHECK(found.total_variance == 0.0);
  CHECK(found.components[0].sd_upper == 0.0);
  CHECK(found.fixed[0].estimate == doctest::Approx(0.1).epsilon(1e-15));
  CHECK(found.convergence.converged);
  CHECK(found.effects[0].size() == 3);
}

TEST_CASE("mixed components: what cannot be estimated is refused by name") {
  const std::vector<double> values = {1.0, 2.0, 3.5, 4.0, 5.5, 5.0, 7.0, 8.5};
  const Codes one = {0, 0, 0, 0, 1, 1, 1, 1}, two = {0, 0, 1, 1, 2, 2, 3, 3}, same = {1, 1, 0, 0, 3, 3, 2, 2};
  const Codes each = {0, 1, 2, 3, 4, 5, 6, 7}, single(8, 0);
  const auto refused = [&](const MixedModel& model, const std::string& words, const std::vector<double>& y) {
    try {
      static_cast<void>(mixed_components(y, model));
      FAIL_CHECK("not refused: " << words);
    } catch (const InvalidInput& error) {
      CHECK_MESSAGE(std::string(error.what()).find(words) != std::string::npos, error.what());
    }
  };
  refused({.random = {}}, "one term or more", values);
  refused({.random = {{"lot", single, 1}}}, "lot has one level", values);
  refused({.random = {{"unit", each, 8}}}, "unit has a level for every reading", values);
  refused({.random = {{"a", two, 4}, {"b", same, 4}}}, "'a' and 'b' divide the readings alike", values);
  refused({.random = {{"a", two, 5}}}, "a[4] has a level without a reading", values);
  refused({.random = {{"a", two, 3}}}, "a[6] code 3 is no level", values);
  refused({.random = {{"a", one, 2}}, .fixed = {{"b", two, 4}}}, "a is settled by the fixed effects", values);
  refused({.random = {{"a", two, 4}}, .fixed = {{"b", one, 2}, {"c", one, 2}}},
          "'c' (level 1) follows from the fixed effects before it", values);
  const std::vector<double> flat(8, 3.0);
  refused({.random = {{"a", two, 4}}, .covariates = {{"age", flat}}}, "age is the same for all readings", values);
  refused({.random = {{"a", two, 4}, {"b", one, 2}}, .fixed = {{"c", each, 8}}}, "too few", values);
  refused({.random = {{"a", two, 4}}}, "no residual variation", {1.0, 1.0, 2.0, 2.0, 4.0, 4.0, 3.0, 3.0});
  refused({.random = {{"a", two, 4}}}, "values[1] is not finite", {1.0, std::nan(""), 2.0, 2.0, 4.0, 4.0, 3.0, 3.0});
  const Codes brief = {0, 1};
  refused({.random = {{"a", brief, 2}}}, "has 2 codes for 8 values", values);
}

TEST_CASE("mixed components: a caller can stop the search") {
  const auto data = layout(3);
  int asked = 0;
  MixedOptions options;
  options.keep_going = [&] { return ++asked < 4; };
  CHECK_THROWS_AS(static_cast<void>(mixed_components(data.values, data.model(), options)), steadyfilm::Stopped);
  CHECK(asked == 4);
}

TEST_CASE("mixed components: a fit and its profile intervals take few evaluations") {
  std::mt19937_64 chance(21);
  std::normal_distribution<double> normal;
  Codes day, unit, person;
  std::vector<double> values;
  std::vector<double> days(12), units(60), people(5);
  for (double& x : days) x = 0.3 * normal(chance);
  for (double& x : units) x = 0.2 * normal(chance);
  for (double& x : people) x = 0.15 * normal(chance);
  for (std::size_t u = 0; u < units.size(); ++u) {
    for (int k = 0; k < 6; ++k) {
      if (chance() % 9 == 0) continue;
      const std::size_t who = chance() % people.size();
      day.push_back(static_cast<std::int32_t>(u / 5));
      unit.push_back(static_cast<std::int32_t>(u));
      person.push_back(static_cast<std::int32_t>(who));
      values.push_back(days[u / 5] + units[u] + people[who] + 0.1 * normal(chance));
    }
  }
  const MixedModel model{{{"day", day, 12}, {"unit", unit, 60}, {"person", person, 5}}};
  std::size_t evaluations = 0;
  MixedOptions options;
  options.keep_going = [&] { return ++evaluations > 0; };
  const auto found = mixed_components(values, model, options);
  // Speed by its cause: about 20 for the fit and its standard errors, about 6 an end of an interval.
  CHECK(found.convergence.evaluations <= 20);
  CHECK(evaluations <= 90);

  for (const auto& one : found.components) {
    CHECK(one.sd_lower < one.sd);
    CHECK(one.sd_upper > one.sd);
    CHECK(one.sd_lower == doctest::Approx(one.wald_sd_lower).epsilon(0.25));
    CHECK(one.sd_upper == doctest::Approx(one.wald_sd_upper).epsilon(0.40));
  }
}
