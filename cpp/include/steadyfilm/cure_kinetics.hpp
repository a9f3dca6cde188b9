/// @file
/// Degree of cure by the models that the literature of coatings uses, along any temperature trace.
///
/// A degree of cure (conversion) runs from 0 to 1. The parameters are a chemist's; a data sheet's schedule is none of
/// these models, and "dry to touch" is no cure. Times in min, temperatures in C, rates in 1/min.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include <steadyfilm/cure_profile.hpp>

namespace steadyfilm {

/// 1 - (1 + (n - 1) k t)^(1 / (1 - n)), for n = 1 1 - exp(-k t); 1 once the reaction has finished (n below 1).
/// @throws InvalidInput  a negative or not finite rate or time, an order that is negative or not finite.
[[nodiscard]] double nth_order_conversion(double rate_per_min, double time_min, double order);

/// Time to one conversion over the time to another by second order with equal parts: t = a / (k (1 - a)).
/// @throws InvalidInput  a conversion not strictly between 0 and 1.
[[nodiscard]] double second_order_time_ratio(double from_conversion, double to_conversion);

/// Conversion at given times of da/dt = (k1 + k2 a^m)(1 - a)^n at one temperature: closed form for m = n = 1, else by
/// an adaptive Runge-Kutta solution to about 1e-12.
///
/// @param time_min  0 or more, ascending.
/// @throws InvalidInput  negative rates or orders, times that do not ascend, an initial conversion outside of 0 to 1,
/// or a reaction that cannot start (k1 = 0 and an initial conversion of 0).
[[nodiscard]] std::vector<double> kamal_conversion(double k1_per_min, double k2_per_min, double m, double n,
                                                   double initial_conversion, std::span<const double> time_min);

/// When the rate of that model with m = n = 1 is largest.
struct KamalPeak {
  double time_min = 0.0;    ///< ln(k2/k1)/(k1+k2); 0 where the rate falls from the start
  double conversion = 0.0;  ///< (1 - k1/k2)/2
};
/// @throws InvalidInput  rates that are not positive and finite.
[[nodiscard]] KamalPeak kamal_peak(double k1_per_min, double k2_per_min);

/// A rate constant A exp(-E/(R T)).
struct RateConstant {
  double pre_exponential_per_min = 0.0;
  double activation_energy_kj = 0.0;
};

enum class CureModel : std::uint8_t {
  nth_order,      ///< da/dt = k (1 - a)^n
  autocatalytic,  ///< da/dt = k a^m (1 - a)^n
  kamal,          ///< da/dt = (k1 + k2 a^m)(1 - a)^n
};

/// Rates are divided by 1 + exp(sharpness (a - (offset + slope T))), T in K: the film turns to glass before it is done.
struct Diffusion {
  double sharpness = 0.0;
  double offset = 0.0;
  double slope_per_k = 0.0;
};

/// A model with its parameters.
struct CureKinetics {
  CureModel model = CureModel::nth_order;
  RateConstant rate{};    ///< k, or k1 of Kamal
  RateConstant second{};  ///< k2 of Kamal
  double m = 0.0;
  double n = 1.0;
  double initial_conversion = 0.0;
  std::optional<Diffusion> diffusion{};
  double gas_constant_j = gas_constant;  ///< J/(mol K), where published parameters were fitted with another
};

/// What equivalent time (cure_profile.hpp) is worth for a model.
enum class Equivalence : std::uint8_t {
  exact,        ///< one Arrhenius factor: equal equivalent times are equal cures, whatever the temperatures
  approximate,  ///< two activation energies
  none,         ///< diffusion control: a low bake may stop however long it lasts
};
/// Which of them a model has, by its kind, its diffusion term and its activation energies alone; parameters are not
/// checked.
/// @see    cpp/methods/cure_kinetics.md
[[nodiscard]] Equivalence equivalence(const CureKinetics& kinetics);

/// Whether the conversion has a closed form along any temperature trace.
[[nodiscard]] bool has_closed_form(const CureKinetics& kinetics);

/// Conversion at each reading of a trace, straight lines between readings.
///
/// Closed forms in the integral of k: every order of nth_order; autocatalytic with m + n = 2; Kamal with m = n = 1 and
/// one activation energy. Else an adaptive Runge-Kutta solution (Dormand and Prince, order 5), each reading a node.
///
/// @param conversion  output, as long as time_min.
/// @throws InvalidInput  as equivalent_time; parameters that are negative or not finite; a reaction that cannot start.
/// @see    cpp/methods/cure_kinetics.md
void degree_of_cure(std::span<const double> time_min, std::span<const double> temperature_c,
                    const CureKinetics& kinetics, std::span<double> conversion);

/// The same at given times within the trace.
/// @throws InvalidInput  also for times that do not ascend or lie outside of the trace.
[[nodiscard]] std::vector<double> degree_of_cure_at(std::span<const double> time_min,
                                                    std::span<const double> temperature_c, const CureKinetics& kinetics,
                                                    std::span<const double> evaluate_min);

}  // namespace steadyfilm
