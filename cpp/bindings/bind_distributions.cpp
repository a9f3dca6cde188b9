#include <steadyfilm/distributions.hpp>

#include "common.hpp"

void bind_distributions(py::module_& m) {
  namespace sf = steadyfilm;
  m.def("normal_cdf", &sf::normal_cdf, "value"_a);
  m.def("normal_survival", &sf::normal_survival, "value"_a);
  m.def("normal_quantile", &sf::normal_quantile, "probability"_a);

  m.def("chi_square_cdf", &sf::chi_square_cdf, "value"_a, "degrees_of_freedom"_a);
  m.def("chi_square_survival", &sf::chi_square_survival, "value"_a, "degrees_of_freedom"_a);
  m.def("chi_square_quantile", &sf::chi_square_quantile, "probability"_a, "degrees_of_freedom"_a);

  m.def("noncentral_chi_square_cdf", &sf::noncentral_chi_square_cdf, "value"_a, "degrees_of_freedom"_a,
        "noncentrality"_a);
  m.def("noncentral_chi_square_survival", &sf::noncentral_chi_square_survival, "value"_a, "degrees_of_freedom"_a,
        "noncentrality"_a);
  m.def("noncentral_chi_square_quantile", &sf::noncentral_chi_square_quantile, "probability"_a, "degrees_of_freedom"_a,
        "noncentrality"_a);

  m.def("student_t_cdf", &sf::student_t_cdf, "value"_a, "degrees_of_freedom"_a);
  m.def("student_t_survival", &sf::student_t_survival, "value"_a, "degrees_of_freedom"_a);
  m.def("student_t_quantile", &sf::student_t_quantile, "probability"_a, "degrees_of_freedom"_a);

  m.def("noncentral_t_cdf", &sf::noncentral_t_cdf, "value"_a, "degrees_of_freedom"_a, "noncentrality"_a);
  m.def("noncentral_t_survival", &sf::noncentral_t_survival, "value"_a, "degrees_of_freedom"_a, "noncentrality"_a);
  m.def("noncentral_t_quantile", &sf::noncentral_t_quantile, "probability"_a, "degrees_of_freedom"_a,
        "noncentrality"_a);

  m.def("f_cdf", &sf::f_cdf, "value"_a, "numerator_df"_a, "denominator_df"_a);
  m.def("f_survival", &sf::f_survival, "value"_a, "numerator_df"_a, "denominator_df"_a);
  m.def("f_quantile", &sf::f_quantile, "probability"_a, "numerator_df"_a, "denominator_df"_a);

  m.def("beta_cdf", &sf::beta_cdf, "value"_a, "shape_1"_a, "shape_2"_a);
  m.def("beta_survival", &sf::beta_survival, "value"_a, "shape_1"_a, "shape_2"_a);
  m.def("beta_quantile", &sf::beta_quantile, "probability"_a, "shape_1"_a, "shape_2"_a);

  m.def("gamma_cdf", &sf::gamma_cdf, "value"_a, "shape"_a, "rate"_a);
  m.def("gamma_survival", &sf::gamma_survival, "value"_a, "shape"_a, "rate"_a);
  m.def("gamma_quantile", &sf::gamma_quantile, "probability"_a, "shape"_a, "rate"_a);

  m.def("binomial_cdf", &sf::binomial_cdf, "count"_a, "trials"_a, "probability"_a);
  m.def("poisson_cdf", &sf::poisson_cdf, "count"_a, "mean"_a);
}
