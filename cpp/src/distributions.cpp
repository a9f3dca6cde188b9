// The one file that pays for Boost.Math.
#include <steadyfilm/distributions.hpp>

#include <cmath>
#include <limits>
#include <numbers>

#include <boost/math/distributions/beta.hpp>
#include <boost/math/distributions/binomial.hpp>
#include <boost/math/distributions/chi_squared.hpp>
#include <boost/math/distributions/fisher_f.hpp>
#include <boost/math/distributions/gamma.hpp>
#include <boost/math/distributions/non_central_chi_squared.hpp>
#include <boost/math/distributions/non_central_t.hpp>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/poisson.hpp>
#include <boost/math/distributions/students_t.hpp>

#include <steadyfilm/core.hpp>

namespace steadyfilm {
namespace {

namespace bm = boost::math;

// Plain doubles on every platform, so that all give the same figures; a tail that underflows is 0, not an error.
using Policy =
    bm::policies::policy<bm::policies::promote_double<false>, bm::policies::overflow_error<bm::policies::ignore_error>,
                         bm::policies::underflow_error<bm::policies::ignore_error>>;

void require_not_negative(double value, std::string_view function, std::string_view argument) {
  if (!(value >= 0.0) || !std::isfinite(value)) {
    throw InvalidInput(function, argument, "must be finite and not negative, got " + to_text(value));
  }
}

/// Run one evaluation; Boost's own errors (a series that does not settle) leave as the project's.
template <typename Evaluation>
double evaluated(std::string_view function, Evaluation&& evaluation) {
  try {
    return evaluation();
  } catch (const std::exception& error) {
    throw InvalidInput(function, "arguments", std::string("cannot be evaluated: ") + error.what());
  }
}

bm::chi_squared_distribution<double, Policy> chi_square(double df, std::string_view function) {
  require_positive(df, function, "degrees_of_freedom");
  return bm::chi_squared_distribution<double, Policy>(df);
}

bm::non_central_chi_squared_distribution<double, Policy> noncentral_chi_square(double df, double noncentrality,
                                                                               std::string_view function) {
  require_positive(df, function, "degrees_of_freedom");
  require_not_negative(noncentrality, function, "noncentrality");
  return {df, noncentrality};
}

bm::students_t_distribution<double, Policy> student_t(double df, std::string_view function) {
  require_positive(df, function, "degrees_of_freedom");
  return bm::students_t_distribution<double, Policy>(df);
}

bm::non_central_t_distribution<double, Policy> noncentral_t(double df, double noncentrality,
                                                            std::string_view function) {
  require_positive(df, function, "degrees_of_freedom");
  require_finite(noncentrality, function, "noncentrality");
  return {df, noncentrality};
}

bm::fisher_f_distribution<double, Policy> fisher_f(double df1, double df2, std::string_view function) {
  require_positive(df1, function, "numerator_df");
  require_positive(df2, function, "denominator_df");
  return {df1, df2};
}

bm::beta_distribution<double, Policy> beta(double shape_1, double shape_2, std::string_view function) {
  require_positive(shape_1, function, "shape_1");
  require_positive(shape_2, function, "shape_2");
  return {shape_1, shape_2};
}

bm::gamma_distribution<double, Policy> gamma(double shape, double rate, std::string_view function) {
  require_positive(shape, function, "shape");
  require_positive(rate, function, "rate");
  return bm::gamma_distribution<double, Policy>(shape, 1.0 / rate);
}

template <typename Distribution>
double lower_tail(const Distribution& distribution, double value, std::string_view function) {
  require_finite(value, function, "value");
  return evaluated(function, [&] { return bm::cdf(distribution, value); });
}

template <typename Distribution>
double upper_tail(const Distribution& distribution, double value, std::string_view function) {
  require_finite(value, function, "value");
  return evaluated(function, [&] { return bm::cdf(bm::complement(distribution, value)); });
}

/// Tail of a variable that cannot be negative.
template <typename Distribution>
double positive_lower_tail(const Distribution& distribution, double value, std::string_view function) {
  require_finite(value, function, "value");
  return value <= 0.0 ? 0.0 : lower_tail(distribution, value, function);
}

template <typename Distribution>
double positive_upper_tail(const Distribution& distribution, double value, std::string_view function) {
  require_finite(value, function, "value");
  return value <= 0.0 ? 1.0 : upper_tail(distribution, value, function);
}

template <typename Distribution>
double inverse(const Distribution& distribution, double probability, std::string_view function) {
  require_open_unit(probability, function, "probability");
  return evaluated(function, [&] { return bm::quantile(distribution, probability); });
}

}  // namespace

double normal_density(double value) {
  require_finite(value, "normal_density", "value");
  return std::exp(-0.5 * value * value) / std::sqrt(2.0 * std::numbers::pi);
}

double normal_cdf(double value) {
  require_finite(value, "normal_cdf", "value");
  return 0.5 * std::erfc(-value / std::numbers::sqrt2);
}

double normal_survival(double value) {
  require_finite(value, "normal_survival", "value");
  return 0.5 * std::erfc(value / std::numbers::sqrt2);
}

double normal_quantile(double probability) {
  return inverse(bm::normal_distribution<double, Policy>(), probability, "normal_quantile");
}

double chi_square_cdf(double value, double degrees_of_freedom) {
  return positive_lower_tail(chi_square(degrees_of_freedom, "chi_square_cdf"), value, "chi_square_cdf");
}

double chi_square_survival(double value, double degrees_of_freedom) {
  return positive_upper_tail(chi_square(degrees_of_freedom, "chi_square_survival"), value, "chi_square_survival");
}

double chi_square_quantile(double probability, double degrees_of_freedom) {
  return inverse(chi_square(degrees_of_freedom, "chi_square_quantile"), probability, "chi_square_quantile");
}

double noncentral_chi_square_cdf(double value, double degrees_of_freedom, double noncentrality) {
  const auto function = "noncentral_chi_square_cdf";
  return positive_lower_tail(noncentral_chi_square(degrees_of_freedom, noncentrality, function), value, function);
}

double noncentral_chi_square_survival(double value, double degrees_of_freedom, double noncentrality) {
  const auto function = "noncentral_chi_square_survival";
  return positive_upper_tail(noncentral_chi_square(degrees_of_freedom, noncentrality, function), value, function);
}

double noncentral_chi_square_quantile(double probability, double degrees_of_freedom, double noncentrality) {
  const auto function = "noncentral_chi_square_quantile";
  return inverse(noncentral_chi_square(degrees_of_freedom, noncentrality, function), probability, function);
}

double student_t_cdf(double value, double degrees_of_freedom) {
  return lower_tail(student_t(degrees_of_freedom, "student_t_cdf"), value, "student_t_cdf");
}

double student_t_survival(double value, double degrees_of_freedom) {
  return upper_tail(student_t(degrees_of_freedom, "student_t_survival"), value, "student_t_survival");
}

double student_t_quantile(double probability, double degrees_of_freedom) {
  return inverse(student_t(degrees_of_freedom, "student_t_quantile"), probability, "student_t_quantile");
}

double noncentral_t_cdf(double value, double degrees_of_freedom, double noncentrality) {
  const auto function = "noncentral_t_cdf";
  return lower_tail(noncentral_t(degrees_of_freedom, noncentrality, function), value, function);
}

double noncentral_t_survival(double value, double degrees_of_freedom, double noncentrality) {
  const auto function = "noncentral_t_survival";
  return upper_tail(noncentral_t(degrees_of_freedom, noncentrality, function), value, function);
}

double noncentral_t_quantile(double probability, double degrees_of_freedom, double noncentrality) {
  const auto function = "noncentral_t_quantile";
  return inverse(noncentral_t(degrees_of_freedom, noncentrality, function), probability, function);
}

double f_cdf(double value, double numerator_df, double denominator_df) {
  return positive_lower_tail(fisher_f(numerator_df, denominator_df, "f_cdf"), value, "f_cdf");
}

double f_survival(double value, double numerator_df, double denominator_df) {
  return positive_upper_tail(fisher_f(numerator_df, denominator_df, "f_survival"), value, "f_survival");
}

double f_quantile(double probability, double numerator_df, double denominator_df) {
  return inverse(fisher_f(numerator_df, denominator_df, "f_quantile"), probability, "f_quantile");
}

double beta_cdf(double value, double shape_1, double shape_2) {
  const auto distribution = beta(shape_1, shape_2, "beta_cdf");
  if (value >= 1.0 && std::isfinite(value)) return 1.0;
  return positive_lower_tail(distribution, value, "beta_cdf");
}

double beta_survival(double value, double shape_1, double shape_2) {
  const auto distribution = beta(shape_1, shape_2, "beta_survival");
  if (value >= 1.0 && std::isfinite(value)) return 0.0;
  return positive_upper_tail(distribution, value, "beta_survival");
}

double beta_quantile(double probability, double shape_1, double shape_2) {
  return inverse(beta(shape_1, shape_2, "beta_quantile"), probability, "beta_quantile");
}

double gamma_density(double value, double shape, double rate) {
  const auto distribution = gamma(shape, rate, "gamma_density");
  require_finite(value, "gamma_density", "value");
  if (value < 0.0) return 0.0;
  if (value == 0.0 && shape < 1.0) return std::numeric_limits<double>::infinity();
  return evaluated("gamma_density", [&] { return bm::pdf(distribution, value); });
}

double gamma_cdf(double value, double shape, double rate) {
  return positive_lower_tail(gamma(shape, rate, "gamma_cdf"), value, "gamma_cdf");
}

double gamma_survival(double value, double shape, double rate) {
  return positive_upper_tail(gamma(shape, rate, "gamma_survival"), value, "gamma_survival");
}

double gamma_quantile(double probability, double shape, double rate) {
  return inverse(gamma(shape, rate, "gamma_quantile"), probability, "gamma_quantile");
}

double binomial_cdf(double count, double trials, double probability) {
  require_finite(count, "binomial_cdf", "count");
  require_not_negative(trials, "binomial_cdf", "trials");
  if (!(probability >= 0.0 && probability <= 1.0)) {
    throw InvalidInput("binomial_cdf", "probability", "must lie between 0 and 1, got " + to_text(probability));
  }
  count = std::floor(count);
  if (count < 0.0) return 0.0;
  if (count >= trials) return 1.0;
  const bm::binomial_distribution<double, Policy> distribution(trials, probability);
  return evaluated("binomial_cdf", [&] { return bm::cdf(distribution, count); });
}

double poisson_cdf(double count, double mean) {
  require_finite(count, "poisson_cdf", "count");
  require_not_negative(mean, "poisson_cdf", "mean");
  count = std::floor(count);
  if (count < 0.0) return 0.0;
  if (mean == 0.0) return 1.0;
  const bm::poisson_distribution<double, Policy> distribution(mean);
  return evaluated("poisson_cdf", [&] { return bm::cdf(distribution, count); });
}

}  // namespace steadyfilm
