#include <doctest/doctest.h>

#include <cmath>
#include <limits>
#include <numbers>
#include <thread>
#include <vector>

#include <steadyfilm/constants.hpp>
#include <steadyfilm/core.hpp>

#include "reference.hpp"

namespace {

namespace sf = steadyfilm;

const reference::Register factors("chart_factors", [](const reference::Args& args) {
  const auto f = sf::chart_factors(args.count("subgroup_size"));
  return reference::Found{.numbers = {{"d2", f.d2},
                                      {"d3", f.d3},
                                      {"c4", f.c4},
                                      {"c5", f.c5},
                                      {"A", f.A},
                                      {"A2", f.A2},
                                      {"A3", f.A3},
                                      {"B3", f.B3},
                                      {"B4", f.B4},
                                      {"B5", f.B5},
                                      {"B6", f.B6},
                                      {"D1", f.D1},
                                      {"D2", f.D2},
                                      {"D3", f.D3},
                                      {"D4", f.D4},
                                      {"E2", f.E2},
                                      {"E3", f.E3},
                                      {"one_over_c4", 1.0 / f.c4},
                                      {"one_over_d2", 1.0 / f.d2}},
                          .lists = {},
                          .words = {}};
});

const reference::Register star("d2_star", [](const reference::Args& args) {
  const auto found = sf::d2_star(args.count("groups"), args.count("subgroup_size"));
  return reference::Found{.numbers = {{"d2_star", found.d2_star}, {"degrees_of_freedom", found.degrees_of_freedom}},
                          .lists = {},
                          .words = {}};
});

constexpr double kPi = std::numbers::pi;

bool close(double a, double b, double relative = 1e-14) { return std::abs(a - b) <= relative * std::abs(b); }

}  // namespace

TEST_CASE("constants: closed forms of small subgroups") {
  const double root = std::sqrt(kPi);
  CHECK(close(sf::d2(2), 2.0 / root));
  CHECK(close(sf::d2(3), 3.0 / root));
  CHECK(close(sf::d2(4), 12.0 / (kPi * root) * std::asin(std::sqrt(2.0 / 3.0))));
  CHECK(close(sf::d2(5), 2.5 / root * (1.0 + 6.0 / kPi * std::asin(1.0 / 3.0))));
  CHECK(close(sf::d3(2), std::sqrt(2.0 - 4.0 / kPi), 1e-13));
  CHECK(close(sf::d3(3), std::sqrt(2.0 + 3.0 * std::sqrt(3.0) / kPi - 9.0 / kPi), 1e-13));
  CHECK(close(sf::c4(2), std::sqrt(2.0 / kPi)));
  CHECK(close(sf::c4(3), 0.5 * root));
  CHECK(close(sf::c4(4), 2.0 * std::sqrt(2.0 / (3.0 * kPi))));
}

TEST_CASE("constants: c4 of neighbours") {
  // c4(n) c4(n + 1) = sqrt((n - 1) / n), from Gamma(x + 1) = x Gamma(x); c4^2 + c5^2 = 1.
  for (const double n : {1.2, 2.0, 3.7, 10.0, 30.9, 33.0, 34.5, 500.0, 1e6, 1e12}) {
    CAPTURE(n);
    CHECK(close(sf::c4(n) * sf::c4(n + 1.0), std::sqrt((n - 1.0) / n), 1e-15));
    CHECK(std::hypot(sf::c4(n), sf::c5(n)) == doctest::Approx(1.0).epsilon(1e-15));
  }
  CHECK(close(sf::c5(1e12 + 1.0), std::sqrt(0.5e-12), 1e-11));  // 1 - c4^2 tends to 1 / (2 nu)
}

TEST_CASE("constants: factors grow or shrink with the subgroup, also where tables end") {
  for (std::size_t n = 2; n < 200; ++n) {
    CAPTURE(n);
    CHECK(sf::d2(n + 1) > sf::d2(n));
    CHECK(sf::c4(static_cast<double>(n + 1)) > sf::c4(static_cast<double>(n)));
    if (n > 3) CHECK(sf::d3(n + 1) < sf::d3(n));
  }
  // Between n = 5000 and 20000 the range grows nearly as 2 z(1 - 1/n) does, and its spread keeps falling.
  CHECK(sf::d2(20000) - sf::d2(5000) == doctest::Approx(0.7).epsilon(0.1));
  CHECK(sf::d3(20000) < sf::d3(5000));
}

TEST_CASE("constants: a single range of two readings has one degree of freedom") {
  const auto found = sf::d2_star(1, 2);
  CHECK(found.d2_star == doctest::Approx(std::numbers::sqrt2).epsilon(1e-14));
  CHECK(found.degrees_of_freedom == doctest::Approx(1.0).epsilon(1e-12));
}

TEST_CASE("constants: the chi match leads back to its degrees of freedom") {
  for (const double nu : {0.3, 1.0, 1.9, 7.25, 40.0, 999.5, 1e6, 1e9}) {
    CAPTURE(nu);
    const double relative = std::pow(sf::c5(nu + 1.0) / sf::c4(nu + 1.0), 2);
    CHECK(close(sf::chi_match_degrees_of_freedom(relative), nu, 1e-12));
  }
}

TEST_CASE("constants: moving ranges") {
  // One range of two is one degree of freedom; separate ranges are groups of two; shared readings cost some.
  CHECK(sf::moving_range_degrees_of_freedom(1, 0) == doctest::Approx(1.0).epsilon(1e-12));
  CHECK(sf::moving_range_degrees_of_freedom(12, 0) ==
        doctest::Approx(sf::d2_star(12, 2).degrees_of_freedom).epsilon(1e-12));
  CHECK(sf::moving_range_degrees_of_freedom(100, 99) / 100.0 == doctest::Approx(0.61).epsilon(0.01));
}

TEST_CASE("constants: threads that ask together get the same figures") {
  std::vector<double> found(8, 0.0);
  {
    std::vector<std::jthread> threads;
    for (std::size_t i = 0; i < found.size(); ++i) {
      threads.emplace_back([&found, i] {
        for (std::size_t n = 301; n < 306; ++n) found[i] += sf::d3(n);
      });
    }
  }
  for (const double value : found) CHECK(value == found.front());
  CHECK(found.front() > 0.0);
}

TEST_CASE("constants: what has no factor is refused") {
  CHECK_THROWS_WITH_AS((void)sf::chart_factors(1), "chart_factors: subgroup_size must be at least 2, got 1",
                       sf::InvalidInput);
  CHECK_THROWS_AS((void)sf::d2(0), sf::InvalidInput);
  CHECK_THROWS_AS((void)sf::d3(1), sf::InvalidInput);
  CHECK_THROWS_AS((void)sf::c4(1.0), sf::InvalidInput);
  CHECK_THROWS_AS((void)sf::c5(std::numeric_limits<double>::infinity()), sf::InvalidInput);
  CHECK_THROWS_AS((void)sf::d2_star(0, 5), sf::InvalidInput);
  CHECK_THROWS_AS((void)sf::chi_match_degrees_of_freedom(0.0), sf::InvalidInput);
  CHECK_THROWS_AS((void)sf::moving_range_degrees_of_freedom(3, 3), sf::InvalidInput);
}
