#include <doctest/doctest.h>

#include <cmath>
#include <initializer_list>
#include <limits>
#include <vector>

#include <steadyfilm/capability.hpp>
#include <steadyfilm/chart_individuals.hpp>
#include <steadyfilm/chart_subgroup.hpp>
#include <steadyfilm/core.hpp>
#include <steadyfilm/distributions.hpp>
#include <steadyfilm/summary.hpp>

#include "reference.hpp"
#include "support/roots.hpp"

namespace {

namespace sf = steadyfilm;
using reference::Args;
using reference::Found;
using reference::Register;

sf::SpecLimits window(const Args& args) {
  sf::SpecLimits found;
  if (args.has("lower")) found.lower = args.number("lower");
  if (args.has("upper")) found.upper = args.number("upper");
  if (args.has("target")) found.target = args.number("target");
  return found;
}

sf::IntervalOptions level(const Args& args) {
  return {.confidence_level = args.number("confidence_level"), .sides = static_cast<int>(args.count("sides"))};
}

Found numbers(std::map<std::string, double> found) { return {.numbers = std::move(found), .lists = {}, .words = {}}; }

Found interval(const sf::IndexInterval& found) {
  return numbers({{"lower", found.lower},
                  {"upper", found.upper.value_or(std::numeric_limits<double>::quiet_NaN())},
                  {"degrees_of_freedom", found.degrees_of_freedom}});
}

Found present(const sf::CapabilityIndices& found) {
  Found out;
  for (const auto& [name, value] : {std::pair{"cp", found.cp},
                                    {"cpk", found.cpk},
                                    {"cpu", found.cpu},
                                    {"cpl", found.cpl},
                                    {"cpm", found.cpm},
                                    {"off_center_ratio", found.off_center_ratio}}) {
    if (value) out.numbers[name] = *value;
  }
  return out;
}

const Register from_moments("capability_from_moments", [](const Args& args) {
  return present(sf::capability_indices(args.number("mean"), args.number("sigma_total"), window(args)));
});

const Register indices("capability_indices", [](const Args& args) {
  const auto values = args.list("values");
  const auto& estimator = args.word("estimator");
  double sigma = 0.0;
  if (estimator == "overall") {
    sigma = sf::summarize(values).sd;
  } else if (estimator == "mean_moving_range") {
    sigma = sf::individuals_chart(values, {}, {}).sigma_within;
  } else {
    sf::SubgroupOptions options;
    options.estimator = estimator == "mean_range" ? sf::WithinEstimator::mean_range
                        : estimator == "mean_sd"  ? sf::WithinEstimator::mean_sd
                                                  : sf::WithinEstimator::pooled_sd;
    std::vector<std::size_t> offsets;
    for (std::size_t at = 0; at <= values.size(); at += args.count("subgroup_size")) offsets.push_back(at);
    sigma = sf::subgroup_chart(values, offsets, {}, options).within.sigma_within;
  }
  return present(sf::capability_indices(sf::summarize(values).mean, sigma, window(args)));
});

const Register cp_index("cp_index", [](const Args& args) {
  const auto limits = window(args);
  return present(sf::capability_indices(*limits.lower, args.number("sigma_total"), limits));
});

const Register cp_interval("cp_interval", [](const Args& args) {
  return interval(sf::cp_interval(args.number("estimate"), args.number("sample_size") - 1.0, level(args)));
});

const Register cpk_interval("cpk_interval", [](const Args& args) {
  const auto n = args.count("sample_size");
  const auto method = args.word("method") == "bissell" ? sf::CpkMethod::bissell : sf::CpkMethod::kushler_hurley_simple;
  return interval(sf::cpk_interval(args.number("estimate"), n, static_cast<double>(n) - 1.0, level(args), method));
});

const Register cpk_law("cpk_sampling_distribution", [](const Args& args) {
  const auto found = sf::cpk_sampling_distribution(args.number("cpk"), args.number("off_center_sigma"),
                                                   args.count("sample_size"), args.number("alpha"));
  return numbers({{"critical_value", found.critical_value}, {"probability_below_cpk", found.probability_below_cpk}});
});

const Register cpm_index("cpm_index", [](const Args& args) {
  const auto& word = args.word("definition");
  const auto definition = word == "divisor_n"           ? sf::CpmDefinition::divisor_n
                          : word == "divisor_n_minus_1" ? sf::CpmDefinition::divisor_n_minus_1
                                                        : sf::CpmDefinition::variance_plus_offset;
  return numbers({{"cpm", sf::cpm_index(args.list("values"), window(args), definition)}});
});

const Register cpm_interval("cpm_interval", [](const Args& args) {
  const auto method = args.word("method") == "boyles" ? sf::CpmMethod::boyles : sf::CpmMethod::noncentral_chi_square;
  return interval(sf::cpm_interval(args.number("estimate"), args.count("sample_size"), args.number("off_target_sigma"),
                                   level(args), method));
});

const Register outside("fraction_outside", [](const Args& args) {
  const auto found = sf::fraction_outside(args.number("mean"), args.number("sigma_total"), window(args));
  return numbers({{"fraction_outside", found.total}, {"percent_outside", 100.0 * found.total}});
});

const Register ppm("normal_ppm", [](const Args& args) {
  const auto found = sf::capability(args.list("values"), window(args));
  return numbers({{"ppm_below", 1e6 * found.expected_total.below}, {"ppm_above", 1e6 * found.expected_total.above}});
});

const Register critical("one_sided_index_critical_value", [](const Args& args) {
  return numbers({{"critical_value", sf::one_sided_index_critical_value(args.number("index"), args.count("sample_size"),
                                                                        args.number("alpha"))}});
});

const Register one_sided("one_sided_index_interval", [](const Args& args) {
  const auto n = args.count("sample_size");
  return interval(sf::one_sided_index_interval(args.number("estimate"), n, static_cast<double>(n) - 1.0, level(args)));
});

const Register moments("one_sided_index_moments", [](const Args& args) {
  const auto found = sf::one_sided_index_moments(args.number("index"), args.count("sample_size"));
  return numbers({{"bias_factor", found.bias_factor}, {"variance", found.variance}});
});

const Register shifted("shifted_capability", [](const Args& args) {
  const auto found = sf::shifted_capability(args.number("cp"), args.number("shift_sigma"));
  return numbers({{"cpk", found.cpk}, {"ppm_nearest", found.ppm_nearest}, {"ppm_both", found.ppm_both}});
});

const sf::IndexEstimate& index(const sf::Capability& found, std::string_view name) {
  for (const auto& estimate : found.indices) {
    if (estimate.index == name) return estimate;
  }
  throw std::runtime_error("no such index");
}

const std::vector<double> kFilms = {2.11, 2.07, 2.14, 2.09, 2.12, 2.05, 2.16, 2.10};
const sf::SpecLimits kWindow{.lower = 2.0, .upper = 2.2, .target = 2.1};

}  // namespace

TEST_CASE("capability: indices do not change with unit and zero point") {
  const sf::SigmaEstimate within{.sigma = 0.03, .degrees_of_freedom = 4.3};
  const auto base = sf::capability(kFilms, kWindow, {.within = within});
  for (const double scale : {25.4, 0.001}) {
    for (const double shift : {0.0, -3.0}) {
      CAPTURE(scale);
      CAPTURE(shift);
      auto moved = kFilms;
      for (double& x : moved) x = shift + scale * x;
      const sf::SpecLimits limits{
          .lower = shift + scale * 2.0, .upper = shift + scale * 2.2, .target = shift + scale * 2.1};
      const auto found = sf::capability(
          moved, limits, {.within = sf::SigmaEstimate{.sigma = scale * 0.03, .degrees_of_freedom = 4.3}});
      REQUIRE(found.indices.size() == 9);
      for (std::size_t i = 0; i < 9; ++i) {
        CAPTURE(base.indices[i].index);
        CHECK(*found.indices[i].value == doctest::Approx(*base.indices[i].value).epsilon(1e-9));
        CHECK(*found.indices[i].lower == doctest::Approx(*base.indices[i].lower).epsilon(1e-9));
        CHECK(*found.indices[i].lower_bound == doctest::Approx(*base.indices[i].lower_bound).epsilon(1e-9));
        CHECK(*found.indices[i].upper == doctest::Approx(*base.indices[i].upper).epsilon(1e-9));
      }
      CHECK(found.expected_total.total == doctest::Approx(base.expected_total.total).epsilon(1e-9));
    }
  }
}

TEST_CASE("capability: mirrored readings exchange the sides") {
  auto mirrored = kFilms;
  for (double& x : mirrored) x = -x;
  const sf::SpecLimits limits{.lower = -2.2, .upper = -2.0, .target = -2.1};
  const auto a = sf::capability(kFilms, kWindow);
  const auto b = sf::capability(mirrored, limits);
  CHECK(*index(a, "ppu").value == doctest::Approx(*index(b, "ppl").value).epsilon(1e-12));
  CHECK(*index(a, "ppk").value == doctest::Approx(*index(b, "ppk").value).epsilon(1e-12));
  CHECK(a.expected_total.below == doctest::Approx(b.expected_total.above).epsilon(1e-12));
}

TEST_CASE("capability: identities among the indices") {
  const auto found = sf::capability_indices(2.07, 0.04, kWindow);
  CHECK(*found.cp == doctest::Approx((*found.cpu + *found.cpl) / 2.0).epsilon(1e-14));
  CHECK(*found.cpk == doctest::Approx(*found.cp * (1.0 - *found.off_center_ratio)).epsilon(1e-13));
  CHECK(*found.cpm == doctest::Approx(*found.cp / std::sqrt(1.0 + std::pow((2.07 - 2.1) / 0.04, 2))).epsilon(1e-13));
  const auto share = sf::fraction_outside(2.07, 0.04, kWindow);
  CHECK(share.above == doctest::Approx(sf::normal_survival(3.0 * *found.cpu)).epsilon(1e-13));
  CHECK(share.total == share.below + share.above);
}

TEST_CASE("capability: the one-sided interval and the critical value invert each other") {
  // An estimate at the 95 % point under index C has C as its lower 95 % bound.
  for (const std::size_t n : std::initializer_list<std::size_t>{5, 30, 400}) {
    for (const double c : {-0.4, 0.0, 0.7, 1.33, 3.0}) {
      CAPTURE(n);
      CAPTURE(c);
      const double estimate = sf::one_sided_index_critical_value(c, n, 0.05);
      const auto bound = sf::one_sided_index_interval(estimate, n, static_cast<double>(n) - 1.0, {.sides = 1});
      CHECK(bound.lower == doctest::Approx(c).epsilon(1e-10));
      CHECK_FALSE(bound.upper.has_value());
    }
  }
}

TEST_CASE("capability: far from the middle Cpk with two limits is one-sided") {
  const auto two = sf::cpk_sampling_distribution(1.0, 3.0, 40, 0.05);
  CHECK(two.critical_value == doctest::Approx(sf::one_sided_index_critical_value(1.0, 40, 0.05)).epsilon(1e-9));
}

TEST_CASE("capability: intervals narrow with readings and widen with confidence") {
  double narrowest = 0.0;
  double lowest = 2.0;
  for (const double df : {5.0, 17.3, 60.0, 2000.0}) {
    const double lower = sf::cp_interval(1.33, df).lower;
    CHECK(lower > narrowest);
    CHECK(lower < 1.33);
    narrowest = lower;
  }
  for (const double confidence : {0.8, 0.9, 0.95, 0.999}) {
    const double lower = sf::one_sided_index_interval(1.33, 30, 29.0, {.confidence_level = confidence}).lower;
    CHECK(lower < lowest);
    lowest = lower;
  }
}

TEST_CASE("capability: a one-sided window has one-sided indices and an exact interval for Ppk") {
  const auto found = sf::capability(kFilms, {.lower = 2.0, .upper = std::nullopt, .target = std::nullopt});
  CHECK(index(found, "ppk").value == index(found, "ppl").value);
  CHECK(index(found, "ppk").method == "noncentral t");
  CHECK(index(found, "ppk").lower == index(found, "ppl").lower);
  CHECK_FALSE(index(found, "pp").value.has_value());
  CHECK(index(found, "pp").reason == "needs both limits");
  CHECK(index(found, "ppu").reason == "needs an upper limit");
  CHECK(index(found, "cpm").reason == "needs both limits and a target");
  CHECK(found.expected_total.above == 0.0);
}

TEST_CASE("capability: an unstable process gets no forecast, its period is described all the same") {
  const sf::SigmaEstimate within{.sigma = 0.03, .degrees_of_freedom = 4.3};
  const auto found = sf::capability(kFilms, kWindow, {.within = within, .stable = false});
  for (const auto name : {"cp", "cpk", "cpu", "cpl"}) {
    CHECK_FALSE(index(found, name).value.has_value());
    CHECK(index(found, name).reason.starts_with("refused: the process is not stable"));
  }
  CHECK_FALSE(found.expected_within.has_value());
  CHECK(index(found, "ppk").value.has_value());
  CHECK(index(found, "ppk").lower_bound.has_value());
}

TEST_CASE("capability: degrees of freedom are those of the sigma used") {
  const sf::SigmaEstimate within{.sigma = 0.03, .degrees_of_freedom = 4.3};
  const auto found = sf::capability(kFilms, kWindow, {.within = within});
  CHECK(*index(found, "cp").degrees_of_freedom == 4.3);
  CHECK(*index(found, "cpk").degrees_of_freedom == 4.3);
  CHECK(*index(found, "pp").degrees_of_freedom == 7.0);
  const auto unknown =
      sf::capability(kFilms, kWindow, {.within = sf::SigmaEstimate{.sigma = 0.03, .degrees_of_freedom = std::nullopt}});
  CHECK(index(unknown, "cp").value.has_value());
  CHECK_FALSE(index(unknown, "cp").lower.has_value());
  CHECK(index(unknown, "cp").reason == "no interval: the degrees of freedom of the given sigma are not known");
}

TEST_CASE("capability: constant readings are an answer without a number") {
  const auto found = sf::capability(std::vector<double>(6, 2.1), kWindow);
  for (const auto name : {"pp", "ppk", "ppu", "ppl"}) {
    CHECK_FALSE(index(found, name).value.has_value());
    CHECK(index(found, name).reason == "no finite value: sigma is 0");
  }
  CHECK(index(found, "cpm").reason == "no finite value: every reading is on target");
  CHECK(found.expected_total.total == 0.0);
  CHECK(*found.below == 0);
  const auto off = sf::capability(std::vector<double>(6, 2.25), kWindow);
  CHECK(*index(off, "cpm").value == doctest::Approx(0.2 / (6.0 * 0.15)));
  CHECK(index(off, "cpm").reason == "no interval: sigma is 0");
  CHECK(off.expected_total.above == 1.0);
  CHECK(*off.above == 6);
}

TEST_CASE("capability: a reading on a limit meets it, however doubles round") {
  const double limit = 0.8 * 1.1;  // a little above 0.88 as a double
  CHECK(limit > 0.88);
  CHECK(sf::meets_lower(0.88, limit));
  CHECK_FALSE(sf::meets_lower(0.8799, limit));
  CHECK(sf::meets_upper(0.1 + 0.2, 0.3));
  CHECK_FALSE(sf::meets_upper(0.3001, 0.3));
  CHECK(sf::meets_upper(-5.4, -5.4));
  CHECK(sf::meets_lower(0.0, 0.0));
  const auto found = sf::capability(std::vector<double>{0.88, 0.88, 0.88, 0.95},
                                    {.lower = limit, .upper = std::nullopt, .target = std::nullopt});
  CHECK(*found.below == 0);
}

TEST_CASE("capability: moments give what readings give") {
  const auto whole = sf::capability(kFilms, kWindow);
  const auto brief = sf::capability_from_moments(whole.mean, whole.sigma_total, whole.count, kWindow);
  for (std::size_t i = 0; i < 9; ++i) {
    CHECK(whole.indices[i].value == brief.indices[i].value);
    CHECK(whole.indices[i].lower == brief.indices[i].lower);
  }
  CHECK_FALSE(brief.below.has_value());
  const auto unknown = sf::capability_from_moments(2.1, 0.04, 0, kWindow);
  CHECK(index(unknown, "ppk").reason == "no interval: the number of readings is not known");
  CHECK(index(unknown, "cpm").reason == "this definition needs the number of readings");
  const auto other =
      sf::capability_from_moments(2.1, 0.04, 0, kWindow, {.cpm = sf::CpmDefinition::variance_plus_offset});
  CHECK(*index(other, "cpm").value == doctest::Approx(0.2 / 0.24));
}

TEST_CASE("capability: what it cannot use is refused by name") {
  CHECK_THROWS_WITH_AS((void)sf::capability(kFilms, {}), "capability: specification needs a lower or an upper limit",
                       sf::InvalidInput);
  CHECK_THROWS_WITH_AS((void)sf::capability(kFilms, {.lower = 2.2, .upper = 2.0, .target = std::nullopt}),
                       "capability: lower (2.2) must lie below upper (2)", sf::InvalidInput);
  CHECK_THROWS_AS((void)sf::capability(std::vector<double>{2.1}, kWindow), sf::InvalidInput);
  CHECK_THROWS_AS((void)sf::capability_indices(2.1, 0.0, kWindow), sf::InvalidInput);
  CHECK_THROWS_AS((void)sf::capability_from_moments(2.1, 0.1, 1, kWindow), sf::InvalidInput);
  CHECK_THROWS_AS((void)sf::fraction_outside(2.1, -1.0, kWindow), sf::InvalidInput);
  CHECK_THROWS_AS((void)sf::cp_interval(1.0, 9.0, {.confidence_level = 1.0}), sf::InvalidInput);
  CHECK_THROWS_AS((void)sf::cp_interval(1.0, 9.0, {.sides = 3}), sf::InvalidInput);
  CHECK_THROWS_AS((void)sf::cp_interval(0.0, 9.0), sf::InvalidInput);
  CHECK_THROWS_AS((void)sf::one_sided_index_moments(1.0, 3), sf::InvalidInput);
  CHECK_THROWS_AS((void)sf::cpk_sampling_distribution(-1.0, 0.5, 10, 0.05), sf::InvalidInput);
  CHECK_THROWS_AS((void)sf::shifted_capability(0.0, 1.5), sf::InvalidInput);
  CHECK_THROWS_AS((void)sf::cpm_index(kFilms, {.lower = 2.0, .upper = 2.2, .target = std::nullopt}), sf::InvalidInput);
}

TEST_CASE("roots: found to the last bits, or refused") {
  using sf::support::find_root;
  CHECK(find_root([](double x) { return x * x - 2.0; }, 0.0, 2.0) == doctest::Approx(std::sqrt(2.0)).epsilon(1e-15));
  CHECK(find_root([](double x) { return std::cos(x) - x; }, 0.0, 1.0) ==
        doctest::Approx(0.7390851332151606416).epsilon(1e-15));  // the Dottie number
  CHECK(find_root([](double x) { return std::pow(x, 9); }, -1.0, 1.7) == doctest::Approx(0.0));
  CHECK(find_root([](double x) { return x - 3.0; }, 3.0, 4.0) == 3.0);
  CHECK_THROWS_AS((void)find_root([](double x) { return x * x + 1.0; }, -1.0, 1.0), sf::InvalidInput);
  CHECK(sf::support::find_root_near([](double x) { return x - 1000.0; }, 1.0, 0.5) ==
        doctest::Approx(1000.0).epsilon(1e-15));
}
