// Variance components by (restricted) maximum likelihood: from the top of the likelihood to the result.
#include <steadyfilm/variance_components.hpp>

#include <Eigen/Dense>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <utility>

#include <steadyfilm/core.hpp>
#include <steadyfilm/distributions.hpp>

#include "mixed_data.hpp"
#include "mixed_likelihood.hpp"
#include "mixed_profile.hpp"

namespace steadyfilm {

using support::Held;
using support::Information;
using support::MixedData;
using support::MixedLikelihood;
using support::Top;

namespace {

constexpr double none = std::numeric_limits<double>::quiet_NaN();
constexpr double infinite = std::numeric_limits<double>::infinity();

Eigen::Index at(std::size_t i) { return static_cast<Eigen::Index>(i); }

void fill_standard_errors(MixedComponents& out, const Information& information, double confidence_level) {
  const double z = normal_quantile(0.5 + 0.5 * confidence_level);
  for (MixedComponent& one : out.components) {
    one.variance_standard_error = one.log_sd_standard_error = one.wald_sd_lower = one.wald_sd_upper = none;
  }
  out.total_variance_standard_error = none;
  if (information.covariance.size() == 0) return;
  std::vector<std::size_t> whose = information.terms;
  whose.push_back(out.components.size() - 1);
  Eigen::VectorXd weight(at(whose.size()));
  for (Eigen::Index a = 0; a < weight.size(); ++a) {
    MixedComponent& one = out.components[whose[static_cast<std::size_t>(a)]];
    one.log_sd_standard_error = std::sqrt(information.covariance(a, a));
    weight[a] = 2.0 * one.variance;  // slope of the variance in ln sd
    one.variance_standard_error = weight[a] * one.log_sd_standard_error;
    one.wald_sd_lower = std::exp(std::log(one.sd) - z * one.log_sd_standard_error);
    one.wald_sd_upper = std::exp(std::log(one.sd) + z * one.log_sd_standard_error);
  }
  out.total_variance_standard_error = std::sqrt(weight.dot(information.covariance * weight));
}

/// Coefficients in the caller's units; covariates were centered and scaled.
void fill_fixed(MixedComponents& out, const MixedData& data, const Eigen::VectorXd& beta,
                const Eigen::MatrixXd& covariance) {
  const Eigen::Index p = at(data.fixed);
  Eigen::MatrixXd turn = Eigen::MatrixXd::Zero(p, p);
  turn.diagonal() = data.x_scale.cwiseInverse();
  for (Eigen::Index j = 1; j < p; ++j) turn(0, j) = -data.x_center[j] / data.x_scale[j];
  const Eigen::VectorXd estimate = data.scale * (turn * beta);
  const Eigen::MatrixXd spread = data.scale * data.scale * (turn * covariance * turn.transpose());
  out.fixed = data.fixed_names;
  for (Eigen::Index j = 0; j < p; ++j) {
    FixedEffect& one = out.fixed[static_cast<std::size_t>(j)];
    one.estimate = estimate[j] + (j == 0 ? data.center : 0.0);
    one.standard_error = std::sqrt(std::max(0.0, spread(j, j)));
    for (Eigen::Index i = 0; i < p; ++i) out.fixed_covariance.push_back(spread(j, i));
  }
}

void fill_effects(MixedComponents& out, MixedLikelihood& likelihood, const Top& top, double variance) {
  const MixedData& data = likelihood.data();
  for (std::size_t k = 0; k < data.terms(); ++k) {
    out.effects.emplace_back(data.term_start[k + 1] - data.term_start[k]);
  }
  for (std::size_t j = 0; j < data.columns(); ++j) {
    const auto k = static_cast<std::size_t>(data.term[j]);
    if (!top.free[k]) continue;
    const double theta = top.point.theta[at(k)];
    RandomEffect& one = out.effects[k][static_cast<std::size_t>(data.original[j]) - data.term_start[k]];
    one.value = data.scale * theta * top.point.solution[at(j)];
    one.standard_error = data.scale * theta * std::sqrt(variance * likelihood.factor().inverse_diagonal(j));
  }
}

/// Readings that the fixed effects settle to the last digit: all components are 0, and there is nothing to search.
void fill_constant(MixedComponents& out, const MixedData& data, const MixedOptions& options) {
  for (MixedComponent& one : out.components) {
    one.variance_standard_error = one.log_sd_standard_error = one.wald_sd_lower = one.wald_sd_upper = none;
    if (!options.profile_intervals) {
      one.variance_lower = one.variance_upper = one.sd_lower = one.sd_upper = none;
    }
    one.on_boundary = true;
  }
  out.total_variance_standard_error = none;
  const Eigen::Index p = at(data.fixed);
  fill_fixed(out, data, data.xx.llt().solve(data.xy), Eigen::MatrixXd::Zero(p, p));
  if (options.predictions) {
    for (std::size_t k = 0; k < data.terms(); ++k) {
      out.effects.emplace_back(data.term_start[k + 1] - data.term_start[k]);
    }
  }
  out.log_likelihood = infinite;
  out.criterion = -infinite;
  out.log_determinant = none;
  out.convergence.converged = true;
}

void fill_profile(MixedComponents& out, MixedLikelihood& likelihood, const Top& top, const Information& information,
                  const MixedOptions& options) {
  const double square = likelihood.data().scale * likelihood.data().scale;
  for (std::size_t k = 0; k < out.components.size(); ++k) {
    MixedComponent& one = out.components[k];
    one.variance_lower = one.variance_upper = none;
    if (options.profile_intervals) {
      const auto ends = support::profile_interval(likelihood, top, information, k, options.confidence_level);
      one.variance_lower = square * ends.lower;
      one.variance_upper = square * ends.upper;
    }
    one.sd_lower = std::sqrt(one.variance_lower);
    one.sd_upper = std::sqrt(one.variance_upper);
  }
}

}  // namespace

MixedComponents mixed_components(std::span<const double> values, const MixedModel& model, const MixedOptions& options) {
  require_open_unit(options.confidence_level, "mixed_components", "confidence_level");
  const MixedData data = support::count_mixed(values, model);
  const bool restricted = options.likelihood == Likelihood::restricted;
  const double square = data.scale * data.scale;
  MixedComponents out;
  out.count = data.readings;
  out.fixed_count = data.fixed;
  out.balanced = data.balanced;
  out.degrees_of_freedom = static_cast<double>(data.readings) - (restricted ? static_cast<double>(data.fixed) : 0.0);
  for (std::size_t k = 0; k <= model.random.size(); ++k) {
    MixedComponent& one = out.components.emplace_back();
    const bool last = k == model.random.size();
    one.source = last ? "residual" : model.random[k].name;
    one.levels = last ? data.readings : model.random[k].levels;
    one.unbiased_variance = square * data.unbiased[at(k)];
  }
  if (data.constant) {
    fill_constant(out, data, options);
    return out;
  }
  MixedLikelihood likelihood(data, restricted, options.keep_going);
  const Top top = climb(likelihood, Held{}, starting_point(likelihood), options.most_steps);
  const double variance = top.point.penalized / out.degrees_of_freedom;
  out.convergence = {top.converged, top.steps, likelihood.evaluations(), 0.25 * top.decrement};
  for (std::size_t k = 0; k < out.components.size(); ++k) {
    MixedComponent& one = out.components[k];
    const bool last = k + 1 == out.components.size();
    one.on_boundary = !last && !top.free[k];
    one.relative_sd = last ? 1.0 : one.on_boundary ? 0.0 : top.point.theta[at(k)];
    one.variance = square * variance * one.relative_sd * one.relative_sd;
    one.sd = std::sqrt(one.variance);
    out.total_variance += one.variance;
  }
  out.total_sd = std::sqrt(out.total_variance);
  for (MixedComponent& one : out.components) one.share = one.variance / out.total_variance;
  out.penalized_sum_squares = square * top.point.penalized;
  out.log_determinant = top.point.log_determinant;
  if (restricted) out.log_determinant += 2.0 * data.x_scale.array().log().sum();
  const double dispersion = out.penalized_sum_squares / out.degrees_of_freedom;
  out.criterion = out.log_determinant + out.degrees_of_freedom * (1.0 + std::log(2.0 * std::numbers::pi * dispersion));
  out.log_likelihood = -0.5 * out.criterion;

  const Information information = observed_information(likelihood, top);
  fill_standard_errors(out, information, options.confidence_level);
  // The factor once more at the top, with X in it also for the full likelihood.
  static_cast<void>(likelihood.evaluate(top.point.theta));
  likelihood.factor().invert(true);
  fill_fixed(out, data, top.point.solution.tail(at(data.fixed)), variance * likelihood.factor().inverse_fixed());
  if (options.predictions) fill_effects(out, likelihood, top, variance);
  fill_profile(out, likelihood, top, information, options);
  return out;
}

}  // namespace steadyfilm
