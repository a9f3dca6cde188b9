"""Probabilities and quantiles of the distributions behind charts, intervals and tests, as plain functions of floats.

``*_cdf`` is the chance of a value or less, ``*_survival`` the chance of more (accurate in its own tail), ``*_quantile``
the value whose cdf is ``probability``. Degrees of freedom are real. An argument outside its domain raises
``InvalidInputError``; a quantile needs a probability strictly between 0 and 1.
"""

from __future__ import annotations

from steadyfilm import _core

__all__ = [
    "beta_cdf",
    "beta_quantile",
    "beta_survival",
    "binomial_cdf",
    "chi_square_cdf",
    "chi_square_quantile",
    "chi_square_survival",
    "f_cdf",
    "f_quantile",
    "f_survival",
    "gamma_cdf",
    "gamma_quantile",
    "gamma_survival",
    "noncentral_chi_square_cdf",
    "noncentral_chi_square_quantile",
    "noncentral_chi_square_survival",
    "noncentral_t_cdf",
    "noncentral_t_quantile",
    "noncentral_t_survival",
    "normal_cdf",
    "normal_quantile",
    "normal_survival",
    "poisson_cdf",
    "student_t_cdf",
    "student_t_quantile",
    "student_t_survival",
]


def normal_cdf(value: float) -> float:
    """Chance that a standard normal variable is at most ``value``.

    Raises
    ------
    InvalidInputError
        A value that is not finite.

    Examples
    --------
    >>> round(normal_cdf(1.0), 4)
    0.8413
    """
    return _core.normal_cdf(value)


def normal_survival(value: float) -> float:
    """Chance that a standard normal variable exceeds ``value``, with full relative accuracy far out.

    Raises
    ------
    InvalidInputError
        A value that is not finite.

    Examples
    --------
    >>> f"{normal_survival(3.0):.3e}"
    '1.350e-03'
    """
    return _core.normal_survival(value)


def normal_quantile(probability: float) -> float:
    """Standard normal quantile.

    Raises
    ------
    InvalidInputError
        A probability that does not lie between 0 and 1; the ends themselves have no quantile.

    Examples
    --------
    >>> round(normal_quantile(0.975), 4)
    1.96
    """
    return _core.normal_quantile(probability)


def chi_square_cdf(value: float, degrees_of_freedom: float) -> float:
    """Chance that a chi-square variable is at most ``value``; 0 below 0.

    Raises
    ------
    InvalidInputError
        Degrees of freedom that are not positive and finite.

    Examples
    --------
    >>> round(chi_square_cdf(9.488, 4.0), 4)
    0.95
    """
    return _core.chi_square_cdf(value, degrees_of_freedom)


def chi_square_survival(value: float, degrees_of_freedom: float) -> float:
    """Chance that a chi-square variable exceeds ``value``; 1 below 0.

    Raises
    ------
    InvalidInputError
        Degrees of freedom that are not positive and finite.

    Examples
    --------
    >>> round(chi_square_survival(9.488, 4.0), 4)
    0.05
    """
    return _core.chi_square_survival(value, degrees_of_freedom)


def chi_square_quantile(probability: float, degrees_of_freedom: float) -> float:
    """Chi-square quantile.

    Raises
    ------
    InvalidInputError
        A probability outside 0 to 1; degrees of freedom that are not positive and finite.

    Examples
    --------
    >>> round(chi_square_quantile(0.025, 19), 3)
    8.907
    """
    return _core.chi_square_quantile(probability, degrees_of_freedom)


def noncentral_chi_square_cdf(value: float, degrees_of_freedom: float, noncentrality: float) -> float:
    """Chance that a noncentral chi-square variable is at most ``value``.

    ``noncentrality`` is the sum of the squared means of the normal variables (each with variance 1), at least 0.

    >>> round(noncentral_chi_square_cdf(10.0, 3.0, 4.0), 4)
    0.7759
    """
    return _core.noncentral_chi_square_cdf(value, degrees_of_freedom, noncentrality)


def noncentral_chi_square_survival(value: float, degrees_of_freedom: float, noncentrality: float) -> float:
    """Chance that a noncentral chi-square variable exceeds ``value``; see ``noncentral_chi_square_cdf``.

    >>> round(noncentral_chi_square_survival(10.0, 3.0, 4.0), 4)
    0.2241
    """
    return _core.noncentral_chi_square_survival(value, degrees_of_freedom, noncentrality)


def noncentral_chi_square_quantile(probability: float, degrees_of_freedom: float, noncentrality: float) -> float:
    """Noncentral chi-square quantile; see ``noncentral_chi_square_cdf``.

    >>> round(noncentral_chi_square_quantile(0.95, 3.0, 4.0), 4)
    15.9812
    """
    return _core.noncentral_chi_square_quantile(probability, degrees_of_freedom, noncentrality)


def student_t_cdf(value: float, degrees_of_freedom: float) -> float:
    """Chance that a Student t variable is at most ``value``.

    Raises
    ------
    InvalidInputError
        Degrees of freedom that are not positive and finite.

    Examples
    --------
    >>> round(student_t_cdf(2.776, 4.0), 4)
    0.975
    """
    return _core.student_t_cdf(value, degrees_of_freedom)


def student_t_survival(value: float, degrees_of_freedom: float) -> float:
    """Chance that a Student t variable exceeds ``value``.

    Raises
    ------
    InvalidInputError
        Degrees of freedom that are not positive and finite.

    Examples
    --------
    >>> round(student_t_survival(2.776, 4.0), 4)
    0.025
    """
    return _core.student_t_survival(value, degrees_of_freedom)


def student_t_quantile(probability: float, degrees_of_freedom: float) -> float:
    """Student t quantile.

    Raises
    ------
    InvalidInputError
        A probability outside 0 to 1; degrees of freedom that are not positive and finite.

    Examples
    --------
    >>> round(student_t_quantile(0.975, 58), 4)
    2.0017
    """
    return _core.student_t_quantile(probability, degrees_of_freedom)


def noncentral_t_cdf(value: float, degrees_of_freedom: float, noncentrality: float) -> float:
    """Chance that (Z + noncentrality) / sqrt(chi-square / degrees_of_freedom) is at most ``value``.

    >>> round(noncentral_t_cdf(3.0, 9.0, 2.0), 4)
    0.7733
    """
    return _core.noncentral_t_cdf(value, degrees_of_freedom, noncentrality)


def noncentral_t_survival(value: float, degrees_of_freedom: float, noncentrality: float) -> float:
    """Chance that a noncentral t variable exceeds ``value``; see ``noncentral_t_cdf``.

    >>> round(noncentral_t_survival(3.0, 9.0, 2.0), 4)
    0.2267
    """
    return _core.noncentral_t_survival(value, degrees_of_freedom, noncentrality)


def noncentral_t_quantile(probability: float, degrees_of_freedom: float, noncentrality: float) -> float:
    """Noncentral t quantile; see ``noncentral_t_cdf``.

    >>> round(noncentral_t_quantile(0.99, 42, 8.4036956), 3)
    12.288
    """
    return _core.noncentral_t_quantile(probability, degrees_of_freedom, noncentrality)


def f_cdf(value: float, numerator_df: float, denominator_df: float) -> float:
    """Chance that an F variable is at most ``value``; 0 below 0.

    Raises
    ------
    InvalidInputError
        Degrees of freedom that are not positive and finite.

    Examples
    --------
    >>> round(f_cdf(3.48, 4.0, 10.0), 3)
    0.95
    """
    return _core.f_cdf(value, numerator_df, denominator_df)


def f_survival(value: float, numerator_df: float, denominator_df: float) -> float:
    """Chance that an F variable exceeds ``value``; 1 below 0.

    Raises
    ------
    InvalidInputError
        Degrees of freedom that are not positive and finite.

    Examples
    --------
    >>> round(f_survival(3.48, 4.0, 10.0), 3)
    0.05
    """
    return _core.f_survival(value, numerator_df, denominator_df)


def f_quantile(probability: float, numerator_df: float, denominator_df: float) -> float:
    """F quantile.

    Raises
    ------
    InvalidInputError
        A probability outside 0 to 1; degrees of freedom that are not positive and finite.

    Examples
    --------
    >>> round(f_quantile(0.95, 4, 20), 3)
    2.866
    """
    return _core.f_quantile(probability, numerator_df, denominator_df)


def beta_cdf(value: float, shape_1: float, shape_2: float) -> float:
    """Chance that a beta variable is at most ``value``; mean shape_1 / (shape_1 + shape_2).

    Raises
    ------
    InvalidInputError
        A shape that is not positive and finite.

    Examples
    --------
    >>> round(beta_cdf(0.5, 2.0, 3.0), 4)
    0.6875
    """
    return _core.beta_cdf(value, shape_1, shape_2)


def beta_survival(value: float, shape_1: float, shape_2: float) -> float:
    """Chance that a beta variable exceeds ``value``.

    Raises
    ------
    InvalidInputError
        A shape that is not positive and finite.

    Examples
    --------
    >>> round(beta_survival(0.5, 2.0, 3.0), 4)
    0.3125
    """
    return _core.beta_survival(value, shape_1, shape_2)


def beta_quantile(probability: float, shape_1: float, shape_2: float) -> float:
    """Beta quantile.

    Raises
    ------
    InvalidInputError
        A probability outside 0 to 1; a shape that is not positive and finite.

    Examples
    --------
    >>> round(beta_quantile(0.95, 1.0, 1.0), 12)
    0.95
    """
    return _core.beta_quantile(probability, shape_1, shape_2)


def gamma_cdf(value: float, shape: float, rate: float) -> float:
    """Chance that a gamma variable with mean shape / rate is at most ``value``; 0 below 0.

    Raises
    ------
    InvalidInputError
        A shape or rate that is not positive and finite.

    Examples
    --------
    >>> round(gamma_cdf(2.0, 3.0, 1.0), 4)
    0.3233
    """
    return _core.gamma_cdf(value, shape, rate)


def gamma_survival(value: float, shape: float, rate: float) -> float:
    """Chance that a gamma variable with mean shape / rate exceeds ``value``; 1 below 0.

    Raises
    ------
    InvalidInputError
        A shape or rate that is not positive and finite.

    Examples
    --------
    >>> round(gamma_survival(2.0, 3.0, 1.0), 4)
    0.6767
    """
    return _core.gamma_survival(value, shape, rate)


def gamma_quantile(probability: float, shape: float, rate: float) -> float:
    """Gamma quantile, in the unit of 1 / rate.

    Raises
    ------
    InvalidInputError
        A probability outside 0 to 1; a shape or rate that is not positive and finite.

    Examples
    --------
    >>> round(gamma_quantile(0.95, 3.0, 1.0), 4)
    6.2958
    """
    return _core.gamma_quantile(probability, shape, rate)


def binomial_cdf(count: float, trials: float, probability: float) -> float:
    """Chance of at most ``count`` successes in ``trials``, each with the given probability.

    >>> binomial_cdf(1, 2, 0.5)
    0.75
    """
    return _core.binomial_cdf(count, trials, probability)


def poisson_cdf(count: float, mean: float) -> float:
    """Chance of at most ``count`` events when ``mean`` are expected.

    >>> round(poisson_cdf(0, 1.0), 4)
    0.3679
    """
    return _core.poisson_cdf(count, mean)
