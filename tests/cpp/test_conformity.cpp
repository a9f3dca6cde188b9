#include <doctest/doctest.h>

#include <steadyfilm/conformity.hpp>

#include <cmath>
#include <limits>
#include <optional>
#include <vector>

#include <steadyfilm/core.hpp>
#include <steadyfilm/distributions.hpp>

#include "reference.hpp"

namespace {

using reference::Args;
using reference::Found;
using steadyfilm::ProcessPrior;
using steadyfilm::SpecLimits;

Found one(const std::string& name, double value) { return {.numbers = {{name, value}}, .lists = {}, .words = {}}; }

std::optional<double> maybe(const Args& args, const std::string& name) {
  return args.has(name) ? std::optional(args.number(name)) : std::nullopt;
}

SpecLimits limits(const Args& args, const std::string& before = "") {
  return {.lower = maybe(args, before + "lower"), .upper = maybe(args, before + "upper"), .target = std::nullopt};
}

ProcessPrior process(const Args& args) {
  if (args.has("prior")) {
    REQUIRE(args.word("prior") == "gamma");
    return {.kind = ProcessPrior::Kind::gamma, .shape = args.number("shape"), .rate = args.number("rate")};
  }
  return {.kind = ProcessPrior::Kind::normal, .mean = args.number("mean"), .sigma = args.number("sigma_process")};
}

Found risks(const Args& args) {
  const auto found = steadyfilm::acceptance_risks(process(args), limits(args), limits(args, "accept_"),
                                                  args.number("standard_uncertainty"));
  return {.numbers = {{"consumer_risk", found.consumer_risk},
                      {"producer_risk", found.producer_risk},
                      {"conforming", found.conforming},
                      {"nonconforming", found.nonconforming}},
          .lists = {},
          .words = {}};
}

const reference::Register joint("joint_risks", risks);
const reference::Register joint_prior("joint_risks_prior", risks);

const reference::Register limit("acceptance_limit_for_risk", [](const Args& args) {
  const auto found = steadyfilm::acceptance_limit_for_risk(
      process(args), limits(args), args.number("standard_uncertainty"), args.number("consumer_risk"));
  return one("accept_upper", found.accept.upper.value_or(std::numeric_limits<double>::quiet_NaN()));
});

const reference::Register relative("acceptance_limit_relative", [](const Args& args) {
  return one("acceptance_limit",
             steadyfilm::acceptance_limit_relative(args.number("limit"), args.number("relative_uncertainty"),
                                                   args.number("confidence_level")));
});

const reference::Register probability("conformance_probability", [](const Args& args) {
  return one("probability",
             steadyfilm::conformance_probability(args.number("value"), args.number("standard_uncertainty"),
                                                 limits(args), maybe(args, "degrees_of_freedom")));
});

const reference::Register at_limit("false_accept_at_limit", [](const Args& args) {
  return one("probability", steadyfilm::false_accept_at_limit(args.number("guard_over_expanded"),
                                                              args.number("coverage_factor")));
});

const reference::Register factor("guard_band_factor", [](const Args& args) {
  return one("factor", steadyfilm::guard_band_factor(args.number("alpha"), args.count("sides")));
});

SpecLimits window(double lower, double upper) { return {.lower = lower, .upper = upper, .target = std::nullopt}; }
SpecLimits at_most(double upper) { return {.lower = std::nullopt, .upper = upper, .target = std::nullopt}; }
SpecLimits at_least(double lower) { return {.lower = lower, .upper = std::nullopt, .target = std::nullopt}; }

ProcessPrior normal(double mean, double sigma) { return {.mean = mean, .sigma = sigma}; }
ProcessPrior gamma(double shape, double rate) {
  return {.kind = ProcessPrior::Kind::gamma, .shape = shape, .rate = rate};
}

}  // namespace

TEST_CASE("conformity: with a perfect gauge the risks are what lies between the limits") {
  const auto prior = normal(0.3, 1.0);
  const auto spec = window(-1.0, 1.5);
  const auto same = steadyfilm::acceptance_risks(prior, spec, spec, 0.0);
  CHECK(same.consumer_risk == 0.0);
  CHECK(same.producer_risk == 0.0);
  CHECK(same.accepted == same.conforming);
  for (const double u : {1e-3, 1e-5, 1e-8}) {
    CAPTURE(u);
    // Near a limit the chance is wrong on a strip of about u: u phi(limit) / sqrt(2 pi) on each side.
    const auto small = steadyfilm::acceptance_risks(prior, spec, spec, u);
    const double strip =
        u * (steadyfilm::normal_density(1.3) + steadyfilm::normal_density(1.2)) / std::sqrt(2.0 * std::acos(-1.0));
    CHECK(small.consumer_risk == doctest::Approx(strip).epsilon(2.0 * u + 1e-6));
    CHECK(small.producer_risk == doctest::Approx(strip).epsilon(2.0 * u + 1e-6));
  }
  const auto inner = steadyfilm::acceptance_risks(prior, spec, window(-0.5, 1.0), 0.0);
  CHECK(inner.consumer_risk == 0.0);
  CHECK(inner.producer_risk == doctest::Approx(steadyfilm::normal_cdf(-0.8) - steadyfilm::normal_cdf(-1.3) +
                                               steadyfilm::normal_cdf(1.2) - steadyfilm::normal_cdf(0.7)));
  const auto close = steadyfilm::acceptance_risks(prior, spec, window(-0.5, 1.0), 1e-7);
  CHECK(close.producer_risk == doctest::Approx(inner.producer_risk).epsilon(1e-6));
  CHECK(close.consumer_risk < 1e-30);
}

TEST_CASE("conformity: mirrored limits and a mirrored process have the same risks") {
  const auto right = steadyfilm::acceptance_risks(normal(0.4, 0.7), window(-1.0, 2.0), window(-0.8, 1.7), 0.3);
  const auto left = steadyfilm::acceptance_risks(normal(-0.4, 0.7), window(-2.0, 1.0), window(-1.7, 0.8), 0.3);
  CHECK(right.consumer_risk == doctest::Approx(left.consumer_risk).epsilon(1e-12));
  CHECK(right.producer_risk == doctest::Approx(left.producer_risk).epsilon(1e-12));
  const auto low = steadyfilm::acceptance_risks(normal(0.4, 0.7), at_least(-1.0), at_least(-0.8), 0.3);
  const auto high = steadyfilm::acceptance_risks(normal(-0.4, 0.7), at_most(1.0), at_most(0.8), 0.3);
  CHECK(low.consumer_risk == doctest::Approx(high.consumer_risk).epsilon(1e-12));
}

TEST_CASE("conformity: what is accepted and what conforms add up as margins of one table") {
  for (const double u : {0.02, 0.4, 3.0}) {
    CAPTURE(u);
    const auto found = steadyfilm::acceptance_risks(normal(1.0, 0.8), window(0.0, 2.0), window(0.3, 1.9), u);
    CHECK(found.conforming + found.nonconforming == doctest::Approx(1.0).epsilon(1e-14));
    // A measured value is normal with both variances: its own chance to be accepted.
    const double sd = std::hypot(0.8, u);
    const double accepted = steadyfilm::normal_cdf(0.9 / sd) - steadyfilm::normal_cdf(-0.7 / sd);
    CHECK(found.accepted == doctest::Approx(accepted).epsilon(1e-12));
    CHECK(found.conforming - found.producer_risk + found.consumer_risk == doctest::Approx(accepted).epsilon(1e-12));
    CHECK(found.outside_among_accepted == doctest::Approx(found.consumer_risk / accepted).epsilon(1e-12));
    CHECK(found.inside_among_rejected == doctest::Approx(found.producer_risk / (1.0 - accepted)).epsilon(1e-10));
  }
}

TEST_CASE("conformity: a process without spread is judged by its one value") {
  const auto inside = steadyfilm::acceptance_risks(normal(1.0, 0.0), window(0.0, 2.0), window(0.0, 2.0), 0.5);
  CHECK(inside.consumer_risk == 0.0);
  CHECK(inside.producer_risk == doctest::Approx(2.0 * steadyfilm::normal_survival(2.0)));
  const auto outside = steadyfilm::acceptance_risks(normal(2.5, 0.0), at_most(2.0), at_most(2.0), 0.5);
  CHECK(outside.consumer_risk == doctest::Approx(steadyfilm::normal_cdf(-1.0)));
  CHECK(outside.producer_risk == 0.0);
  CHECK(std::isnan(steadyfilm::acceptance_risks(normal(5.0, 0.0), at_most(2.0), at_most(2.0), 0.0).outside_among_accepted));
}

TEST_CASE("conformity: a gamma process with its pole at zero keeps its margins") {
  for (const double shape : {0.3, 1.0, 40.0, 2500.0}) {
    CAPTURE(shape);
    const double middle = shape;
    const auto spec = window(0.5 * middle, 1.2 * middle);
    const auto found = steadyfilm::acceptance_risks(gamma(shape, 1.0), spec, spec, 0.2 * std::sqrt(shape));
    const auto wide = steadyfilm::acceptance_risks(gamma(shape, 1.0), spec, {}, 0.2 * std::sqrt(shape));
    CHECK(found.conforming + found.nonconforming == doctest::Approx(1.0).epsilon(1e-12));
    CHECK(wide.accepted == doctest::Approx(1.0).epsilon(1e-11));
    CHECK(wide.consumer_risk == doctest::Approx(wide.nonconforming).epsilon(1e-11));
  }
}

TEST_CASE("conformity: the acceptance limit gives back the risk it was made for") {
  for (const double wanted : {0.02, 1e-3, 1e-6}) {
    CAPTURE(wanted);
    const auto found = steadyfilm::acceptance_limit_for_risk(normal(2.1, 0.08), window(2.0, 2.2), 0.03, wanted);
    REQUIRE(found.needed);
    CHECK(found.risks.consumer_risk == doctest::Approx(wanted).epsilon(1e-9));
    CHECK(*found.accept.upper == doctest::Approx(2.2 - found.guard));
    CHECK(*found.accept.lower == doctest::Approx(2.0 + found.guard));
  }
  // A risk above that of no guard band moves the limits outside the window.
  const auto loose = steadyfilm::acceptance_limit_for_risk(normal(2.1, 0.08), window(2.0, 2.2), 0.03, 0.1);
  CHECK(loose.guard < 0.0);
  CHECK(loose.risks.consumer_risk == doctest::Approx(0.1).epsilon(1e-9));
  const auto all = steadyfilm::acceptance_limit_for_risk(normal(2.1, 0.08), window(2.0, 2.2), 0.03, 0.3);
  CHECK_FALSE(all.needed);
  CHECK(all.risks.accepted == doctest::Approx(1.0));
  CHECK_FALSE(all.accept.lower.has_value());
}

TEST_CASE("conformity: guard bands part the line into three") {
  const auto band = steadyfilm::guard_band(window(2.0, 2.2), 0.02, 0.05, 0.01);
  CHECK(band.guard == doctest::Approx(0.01 + 1.6448536269514722 * 0.02));
  CHECK(band.left == doctest::Approx(0.2 - 2.0 * band.guard));
  using steadyfilm::GuardBandClass;
  using steadyfilm::guard_band_class;
  CHECK(guard_band_class(band, 2.1) == GuardBandClass::clearly_in);
  CHECK(guard_band_class(band, 2.0 + band.guard) == GuardBandClass::clearly_in);
  CHECK(guard_band_class(band, 2.03) == GuardBandClass::doubtful);
  CHECK(guard_band_class(band, 2.2 + band.guard) == GuardBandClass::doubtful);
  CHECK(guard_band_class(band, 2.25) == GuardBandClass::clearly_out);
  CHECK(guard_band_class(band, 1.9) == GuardBandClass::clearly_out);
  const auto narrow = steadyfilm::guard_band(window(2.0, 2.2), 0.1);
  CHECK(narrow.left < 0.0);
  CHECK(guard_band_class(narrow, 2.1) == GuardBandClass::doubtful);
  const auto single = steadyfilm::guard_band(at_least(0.8 * 1.1), 0.0);
  CHECK(std::isnan(single.left));
  CHECK(guard_band_class(single, 0.88) == GuardBandClass::clearly_in);  // 0.8 * 1.1 lies a trifle above 0.88
  CHECK(guard_band_class(single, 0.879) == GuardBandClass::clearly_out);
}

TEST_CASE("conformity: probability of conformance keeps the digits of its tails") {
  CHECK(steadyfilm::conformance_probability(12.0, 1.0, at_most(0.0)) ==
        doctest::Approx(steadyfilm::normal_survival(12.0)).epsilon(1e-12));
  CHECK(steadyfilm::conformance_probability(-12.0, 1.0, window(0.0, 1.0)) ==
        doctest::Approx(steadyfilm::normal_survival(12.0)).epsilon(1e-4));
  CHECK(steadyfilm::conformance_probability(0.0, 1.0, window(8.0, 9.0), 4.0) ==
        doctest::Approx(steadyfilm::student_t_survival(8.0, 4.0) - steadyfilm::student_t_survival(9.0, 4.0)));
  CHECK(steadyfilm::conformance_probability(0.88, 0.0, at_least(0.8 * 1.1)) == 1.0);
  CHECK(steadyfilm::conformance_probability(0.87, 0.0, at_least(0.88)) == 0.0);
  CHECK(steadyfilm::conformance_probability(1.0, 0.1, window(0.9, 1.2), 1e9) ==
        doctest::Approx(steadyfilm::conformance_probability(1.0, 0.1, window(0.9, 1.2))).epsilon(1e-8));
}

TEST_CASE("conformity: the operating curve falls from its middle and its points lie on it") {
  const std::vector<double> means = {1.8, 2.0, 2.1, 2.2, 2.4};
  std::vector<double> chance(means.size());
  steadyfilm::operating_curve(means, window(2.0, 2.2), 0.03, chance);
  CHECK(chance[2] == doctest::Approx(1.0 - 2.0 * steadyfilm::normal_survival(0.1 / 0.03)));
  CHECK(chance[1] == doctest::Approx(0.5 - steadyfilm::normal_survival(0.2 / 0.03)));
  CHECK(chance[1] == doctest::Approx(chance[3]));
  using steadyfilm::LimitSide;
  for (const double p : {0.95, 0.5, 0.1}) {
    const double at = steadyfilm::operating_point(window(2.0, 2.2), 0.03, p, LimitSide::upper);
    std::vector<double> back(1);
    steadyfilm::operating_curve(std::vector{at}, window(2.0, 2.2), 0.03, back);
    CHECK(back[0] == doctest::Approx(p).epsilon(1e-12));
    CHECK(steadyfilm::operating_point(window(2.0, 2.2), 0.03, p, LimitSide::lower) == doctest::Approx(4.2 - at));
  }
  CHECK(std::isnan(steadyfilm::operating_point(window(2.0, 2.2), 0.2, 0.95, LimitSide::upper)));
  CHECK(std::isnan(steadyfilm::operating_point(at_least(2.0), 0.03, 0.95, LimitSide::upper)));
  CHECK(steadyfilm::operating_point(at_least(2.0), 0.03, 0.95, LimitSide::lower) ==
        doctest::Approx(2.0 + 1.6448536269514722 * 0.03));
  CHECK(steadyfilm::operating_point(at_least(2.0), 0.0, 0.95, LimitSide::lower) == 2.0);
}

TEST_CASE("conformity: a share of the value is taken off from below and from above") {
  CHECK(steadyfilm::acceptance_limit_relative(60.0, 0.0, 0.95) == 60.0);
  const double upper = steadyfilm::acceptance_limit_relative(100.0, 0.03, 0.95, steadyfilm::LimitSide::upper);
  CHECK(upper * (1.0 + 0.03 * 1.6448536269514722) == doctest::Approx(100.0));
  CHECK_THROWS_AS((void)steadyfilm::acceptance_limit_relative(60.0, 0.7, 0.95), steadyfilm::InvalidInput);
}

TEST_CASE("conformity: input it cannot use is refused with its name") {
  using steadyfilm::InvalidInput;
  CHECK_THROWS_WITH_AS((void)steadyfilm::guard_band({}, 0.1),
                       "guard_band: lower or upper is needed: a window has a limit", InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::guard_band(window(2.0, 2.0), 0.1), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::guard_band(window(2.0, 2.2), -0.1), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::guard_band(window(2.0, 2.2), 0.1, 0.6), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::guard_band_factor(0.05, 3), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::false_accept_at_limit(1.0, 0.0), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::conformance_probability(1.0, 0.1, at_most(2.0), 0.0), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::acceptance_risks(normal(1.0, -0.1), at_most(2.0), at_most(2.0), 0.1), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::acceptance_risks(gamma(0.0, 1.0), at_most(2.0), at_most(2.0), 0.1), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::acceptance_risks(normal(1.0, 0.1), at_most(2.0), window(2.0, 1.0), 0.1), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::acceptance_limit_for_risk(normal(1.0, 0.1), at_most(2.0), 0.1, 0.0), InvalidInput);
  std::vector<double> out(2);
  CHECK_THROWS_AS(steadyfilm::operating_curve(std::vector{1.0}, at_most(2.0), 0.1, out), InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::operating_point(at_most(2.0), 0.1, 1.0, steadyfilm::LimitSide::upper), InvalidInput);
}
