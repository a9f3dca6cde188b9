/// @file
/// Probabilities and quantiles of the distributions that the topics need, as plain functions of doubles.
///
/// Throughout: `*_cdf` is P(X <= value), `*_survival` is P(X > value), accurate in its own tail, and `*_quantile` is
/// the value whose cdf is `probability`. Degrees of freedom are real. Every function throws InvalidInput for an
/// argument that is not finite or lies outside its domain; a quantile needs a probability strictly between 0 and 1.
///
/// @see cpp/methods/distributions.md
#pragma once

namespace steadyfilm {

// Standard normal.
[[nodiscard]] double normal_density(double value);
[[nodiscard]] double normal_cdf(double value);
[[nodiscard]] double normal_survival(double value);
[[nodiscard]] double normal_quantile(double probability);

// Chi-square; 0 for values below 0.
[[nodiscard]] double chi_square_cdf(double value, double degrees_of_freedom);
[[nodiscard]] double chi_square_survival(double value, double degrees_of_freedom);
[[nodiscard]] double chi_square_quantile(double probability, double degrees_of_freedom);

// Noncentral chi-square: sum of squared normals with unit variance, noncentrality = sum of their squared means >= 0.
[[nodiscard]] double noncentral_chi_square_cdf(double value, double degrees_of_freedom, double noncentrality);
[[nodiscard]] double noncentral_chi_square_survival(double value, double degrees_of_freedom, double noncentrality);
[[nodiscard]] double noncentral_chi_square_quantile(double probability, double degrees_of_freedom,
                                                    double noncentrality);

// Student t.
[[nodiscard]] double student_t_cdf(double value, double degrees_of_freedom);
[[nodiscard]] double student_t_survival(double value, double degrees_of_freedom);
[[nodiscard]] double student_t_quantile(double probability, double degrees_of_freedom);

// Noncentral t: (Z + noncentrality) / sqrt(chi-square / degrees_of_freedom).
[[nodiscard]] double noncentral_t_cdf(double value, double degrees_of_freedom, double noncentrality);
[[nodiscard]] double noncentral_t_survival(double value, double degrees_of_freedom, double noncentrality);
[[nodiscard]] double noncentral_t_quantile(double probability, double degrees_of_freedom, double noncentrality);

// F.
[[nodiscard]] double f_cdf(double value, double numerator_df, double denominator_df);
[[nodiscard]] double f_survival(double value, double numerator_df, double denominator_df);
[[nodiscard]] double f_quantile(double probability, double numerator_df, double denominator_df);

// Beta on [0, 1].
[[nodiscard]] double beta_cdf(double value, double shape_1, double shape_2);
[[nodiscard]] double beta_survival(double value, double shape_1, double shape_2);
[[nodiscard]] double beta_quantile(double probability, double shape_1, double shape_2);

// Gamma with mean shape / rate.
[[nodiscard]] double gamma_density(double value, double shape, double rate);
[[nodiscard]] double gamma_cdf(double value, double shape, double rate);
[[nodiscard]] double gamma_survival(double value, double shape, double rate);
[[nodiscard]] double gamma_quantile(double probability, double shape, double rate);

// Counts: P(X <= count).
[[nodiscard]] double binomial_cdf(double count, double trials, double probability);
[[nodiscard]] double poisson_cdf(double count, double mean);

}  // namespace steadyfilm
