#include <doctest/doctest.h>

#include <cmath>
#include <initializer_list>
#include <limits>
#include <numbers>

#include <steadyfilm/core.hpp>
#include <steadyfilm/distributions.hpp>

#include "reference.hpp"
#include "support/quadrature.hpp"

namespace {

using reference::Args;
using reference::Found;
using reference::Register;
namespace sf = steadyfilm;

Found quantile(double value) { return {.numbers = {{"quantile", value}}, .lists = {}, .words = {}}; }

const Register normal("normal_quantile",
                      [](const Args& args) { return quantile(sf::normal_quantile(args.number("probability"))); });
const Register chi_square("chi_square_quantile", [](const Args& args) {
  return quantile(sf::chi_square_quantile(args.number("probability"), args.number("degrees_of_freedom")));
});
const Register student_t("student_t_quantile", [](const Args& args) {
  return quantile(sf::student_t_quantile(args.number("probability"), args.number("degrees_of_freedom")));
});
const Register noncentral_t("noncentral_t_quantile", [](const Args& args) {
  return quantile(sf::noncentral_t_quantile(args.number("probability"), args.number("degrees_of_freedom"),
                                            args.number("noncentrality")));
});

bool close(double a, double b, double relative) { return std::abs(a - b) <= relative * std::abs(b); }

constexpr double kInfinity = std::numeric_limits<double>::infinity();
constexpr double kNan = std::numeric_limits<double>::quiet_NaN();

}  // namespace

TEST_CASE("distributions: closed forms") {
  CHECK(close(sf::chi_square_survival(3.0, 2.0), std::exp(-1.5), 1e-15));        // exponential with mean 2
  CHECK(close(sf::student_t_cdf(1.0, 1.0), 0.75, 1e-15));                        // Cauchy
  CHECK(close(sf::student_t_cdf(1.0, 2.0), 0.5 + 0.5 / std::sqrt(3.0), 1e-15));  // 1/2 + x / (2 sqrt(2 + x^2))
  CHECK(close(sf::beta_cdf(0.3, 1.0, 1.0), 0.3, 1e-15));
  CHECK(close(sf::gamma_survival(2.0, 1.0, 3.0), std::exp(-6.0), 1e-14));
  CHECK(close(sf::gamma_density(2.0, 1.0, 3.0), 3.0 * std::exp(-6.0), 1e-14));
  CHECK(close(sf::binomial_cdf(1.0, 3.0, 0.5), 0.5, 1e-15));
  CHECK(close(sf::poisson_cdf(1.0, 2.0), 3.0 * std::exp(-2.0), 1e-15));
  CHECK(close(sf::normal_density(0.0), 0.5 * std::numbers::inv_sqrtpi * std::numbers::sqrt2, 1e-15));
}

TEST_CASE("distributions: one law seen two ways") {
  for (const double x : {0.2, 1.0, 2.5, 7.0}) {
    CAPTURE(x);
    CHECK(close(sf::chi_square_cdf(x, 5.4), sf::gamma_cdf(x, 2.7, 0.5), 1e-13));
    CHECK(close(sf::f_survival(x * x, 1.0, 7.3), 2.0 * sf::student_t_survival(x, 7.3), 1e-13));
    CHECK(close(sf::noncentral_t_cdf(x, 9.0, 0.0), sf::student_t_cdf(x, 9.0), 1e-13));
    CHECK(close(sf::noncentral_chi_square_cdf(x, 4.0, 0.0), sf::chi_square_cdf(x, 4.0), 1e-13));
    CHECK(close(sf::poisson_cdf(3.0, x), sf::gamma_survival(x, 4.0, 1.0), 1e-13));
    // (Z + d)^2 with one degree of freedom
    CHECK(close(sf::noncentral_chi_square_cdf(x * x, 1.0, 0.49), sf::normal_cdf(x - 0.7) - sf::normal_cdf(-x - 0.7),
                1e-12));
    CHECK(sf::noncentral_t_survival(x, 6.0, 2.0) + sf::noncentral_t_cdf(x, 6.0, 2.0) ==
          doctest::Approx(1.0).epsilon(1e-14));
    CHECK(sf::noncentral_chi_square_survival(x, 6.0, 2.0) + sf::noncentral_chi_square_cdf(x, 6.0, 2.0) ==
          doctest::Approx(1.0).epsilon(1e-14));
    CHECK(sf::beta_survival(x / 10.0, 2.0, 3.0) + sf::beta_cdf(x / 10.0, 2.0, 3.0) ==
          doctest::Approx(1.0).epsilon(1e-14));
  }
}

TEST_CASE("distributions: a quantile leads back to its probability") {
  for (const double p : {1e-6, 0.00135, 0.05, 0.5, 0.95, 0.99865}) {
    CAPTURE(p);
    CHECK(close(sf::normal_cdf(sf::normal_quantile(p)), p, 1e-13));
    CHECK(close(sf::chi_square_cdf(sf::chi_square_quantile(p, 8.3), 8.3), p, 1e-12));
    CHECK(close(sf::student_t_cdf(sf::student_t_quantile(p, 3.7), 3.7), p, 1e-12));
    CHECK(close(sf::noncentral_t_cdf(sf::noncentral_t_quantile(p, 12.0, 45.0), 12.0, 45.0), p, 1e-11));
    CHECK(close(sf::noncentral_chi_square_cdf(sf::noncentral_chi_square_quantile(p, 12.0, 5.0), 12.0, 5.0), p, 1e-11));
    CHECK(close(sf::f_cdf(sf::f_quantile(p, 3.0, 11.5), 3.0, 11.5), p, 1e-12));
    CHECK(close(sf::beta_cdf(sf::beta_quantile(p, 2.5, 11.5), 2.5, 11.5), p, 1e-12));
    CHECK(close(sf::gamma_cdf(sf::gamma_quantile(p, 2.5, 11.5), 2.5, 11.5), p, 1e-12));
  }
}

TEST_CASE("distributions: outside the range of a variable") {
  CHECK(sf::chi_square_cdf(-1.0, 3.0) == 0.0);
  CHECK(sf::chi_square_survival(0.0, 3.0) == 1.0);
  CHECK(sf::f_cdf(-1.0, 3.0, 3.0) == 0.0);
  CHECK(sf::beta_cdf(1.5, 2.0, 2.0) == 1.0);
  CHECK(sf::beta_survival(1.0, 2.0, 2.0) == 0.0);
  CHECK(sf::gamma_density(-1.0, 2.0, 2.0) == 0.0);
  CHECK(sf::gamma_density(0.0, 0.5, 2.0) == kInfinity);
  CHECK(sf::binomial_cdf(-0.5, 3.0, 0.5) == 0.0);
  CHECK(sf::binomial_cdf(3.0, 3.0, 0.5) == 1.0);
  CHECK(sf::poisson_cdf(-1.0, 3.0) == 0.0);
  CHECK(sf::poisson_cdf(0.0, 0.0) == 1.0);
  CHECK(sf::normal_survival(40.0) == 0.0);
}

TEST_CASE("distributions: arguments outside the domain are refused by name") {
  CHECK_THROWS_WITH_AS((void)sf::normal_quantile(1.0), "normal_quantile: probability must lie between 0 and 1, got 1",
                       sf::InvalidInput);
  CHECK_THROWS_WITH_AS((void)sf::chi_square_quantile(0.5, 0.0),
                       "chi_square_quantile: degrees_of_freedom must be positive and finite, got 0", sf::InvalidInput);
  CHECK_THROWS_AS((void)sf::normal_cdf(kNan), sf::InvalidInput);
  CHECK_THROWS_AS((void)sf::chi_square_cdf(kNan, 3.0), sf::InvalidInput);
  CHECK_THROWS_AS((void)sf::beta_cdf(kNan, 3.0, 1.0), sf::InvalidInput);
  CHECK_THROWS_AS((void)sf::noncentral_t_cdf(1.0, 3.0, kInfinity), sf::InvalidInput);
  CHECK_THROWS_AS((void)sf::noncentral_chi_square_cdf(1.0, 3.0, -1.0), sf::InvalidInput);
  CHECK_THROWS_AS((void)sf::gamma_cdf(1.0, 0.0, 1.0), sf::InvalidInput);
  CHECK_THROWS_AS((void)sf::f_quantile(0.5, 2.0, -1.0), sf::InvalidInput);
  CHECK_THROWS_AS((void)sf::binomial_cdf(1.0, 3.0, 1.5), sf::InvalidInput);
  CHECK_THROWS_AS((void)sf::poisson_cdf(1.0, -1.0), sf::InvalidInput);
}

TEST_CASE("quadrature: integrals known in closed form") {
  using steadyfilm::support::integrate;
  CHECK(integrate([](double x) { return x * x; }, 0.0, 3.0) == doctest::Approx(9.0).epsilon(1e-15));
  CHECK(integrate([](double x) { return x * x; }, 3.0, 0.0) == doctest::Approx(-9.0).epsilon(1e-15));
  CHECK(integrate([](double x) { return x; }, 2.0, 2.0) == 0.0);
  CHECK(integrate([](double x) { return std::exp(-x * x); }, -kInfinity, kInfinity) ==
        doctest::Approx(1.0 / std::numbers::inv_sqrtpi).epsilon(1e-14));
  CHECK(integrate([](double x) { return std::exp(-x); }, 1.0, kInfinity) ==
        doctest::Approx(std::exp(-1.0)).epsilon(1e-14));
  CHECK(integrate([](double x) { return std::exp(x); }, -kInfinity, 0.5) ==
        doctest::Approx(std::exp(0.5)).epsilon(1e-14));
  // A kink and a narrow peak are found by halving.
  CHECK(integrate([](double x) { return std::abs(x - 0.3); }, 0.0, 1.0) == doctest::Approx(0.29).epsilon(1e-13));
  CHECK(integrate([](double x) { return 1.0 / (1e-6 + (x - 0.4) * (x - 0.4)); }, 0.0, 1.0) ==
        doctest::Approx(1e3 * (std::atan(600.0) + std::atan(400.0))).epsilon(1e-12));
}

TEST_CASE("quadrature: nodes integrate polynomials of their degree exactly") {
  for (const std::size_t count : std::initializer_list<std::size_t>{1, 2, 7, 15, 32}) {
    CAPTURE(count);
    const auto nodes = steadyfilm::support::gauss_legendre(count);
    for (std::size_t degree = 0; degree < 2 * count; ++degree) {
      CAPTURE(degree);
      double sum = 0.0;
      for (std::size_t i = 0; i < count; ++i) {
        sum += nodes.weight[i] * std::pow(nodes.position[i], static_cast<double>(degree));
      }
      CHECK(sum == doctest::Approx(degree % 2 == 0 ? 2.0 / (static_cast<double>(degree) + 1.0) : 0.0).epsilon(1e-14));
    }
  }
}

TEST_CASE("quadrature: what it cannot integrate is refused") {
  using steadyfilm::support::integrate;
  CHECK_THROWS_AS((void)integrate([](double) { return kNan; }, 0.0, 1.0), sf::InvalidInput);
  CHECK_THROWS_AS((void)integrate([](double x) { return x; }, kNan, 1.0), sf::InvalidInput);
}
