#include <steadyfilm/wash_tank.hpp>

#include <cmath>
#include <limits>
#include <string>
#include <string_view>
#include <utility>

#include <steadyfilm/core.hpp>

namespace steadyfilm {

namespace {

constexpr double m2_per_ft2 = 0.3048 * 0.3048;

void require_not_negative(double value, std::string_view function, std::string_view argument) {
  require_finite(value, function, argument);
  if (value < 0.0) throw InvalidInput(function, argument, "must be 0 or more, got " + to_text(value));
}

void require_percent(double value, std::string_view function, std::string_view argument) {
  require_not_negative(value, function, argument);
  if (value > 100.0) throw InvalidInput(function, argument, "must be at most 100 (percent), got " + to_text(value));
}

}  // namespace

Titration titration_concentration(double titrant_ml, double percent_per_ml, double reading_uncertainty) {
  constexpr auto function = "titration_concentration";
  require_not_negative(titrant_ml, function, "titrant_ml");
  require_positive(percent_per_ml, function, "percent_per_ml");
  require_not_negative(reading_uncertainty, function, "reading_uncertainty");
  return {.percent = titrant_ml * percent_per_ml, .standard_uncertainty = reading_uncertainty * percent_per_ml};
}

AdditionVolume addition_volume(double tank_volume, double from_percent, double to_percent) {
  constexpr auto function = "addition_volume";
  require_positive(tank_volume, function, "tank_volume");
  require_percent(from_percent, function, "from_percent");
  require_percent(to_percent, function, "to_percent");
  if (to_percent < from_percent) {
    throw InvalidInput(function, "to_percent",
                       "lies below from_percent (" + to_text(to_percent) + " below " + to_text(from_percent) +
                           "): concentrate cannot lower a concentration");
  }
  if (to_percent == 100.0) {
    throw InvalidInput(function, "to_percent", "must be below 100: no volume of concentrate drives out all water");
  }
  const double lift = to_percent - from_percent;
  return {.simple = tank_volume * lift / 100.0,
          .exact = tank_volume * lift / (100.0 - from_percent),
          .growing = tank_volume * lift / (100.0 - to_percent)};
}

double drag_out_concentration(double tank_volume, double loss_per_hour, double start_percent, double hours) {
  constexpr auto function = "drag_out_concentration";
  require_positive(tank_volume, function, "tank_volume");
  require_not_negative(loss_per_hour, function, "loss_per_hour");
  require_percent(start_percent, function, "start_percent");
  require_not_negative(hours, function, "hours");
  return start_percent * std::exp(-loss_per_hour / tank_volume * hours);
}

double hours_to_concentration(double tank_volume, double loss_per_hour, double start_percent, double level_percent) {
  constexpr auto function = "hours_to_concentration";
  require_positive(tank_volume, function, "tank_volume");
  require_not_negative(loss_per_hour, function, "loss_per_hour");
  require_percent(start_percent, function, "start_percent");
  require_positive(level_percent, function, "level_percent");
  if (start_percent <= level_percent) return 0.0;
  if (loss_per_hour == 0.0) return std::numeric_limits<double>::infinity();
  return tank_volume / loss_per_hour * std::log(start_percent / level_percent);
}

double rinse_ratio(double drag_per_hour, double flow_per_hour) {
  require_positive(drag_per_hour, "rinse_ratio", "drag_per_hour");
  require_not_negative(flow_per_hour, "rinse_ratio", "flow_per_hour");
  return 100.0 * drag_per_hour / (drag_per_hour + flow_per_hour);
}

double rinse_flow_for_ratio(double drag_per_hour, double ratio_percent) {
  constexpr auto function = "rinse_flow_for_ratio";
  require_positive(drag_per_hour, function, "drag_per_hour");
  require_positive(ratio_percent, function, "ratio_percent");
  require_percent(ratio_percent, function, "ratio_percent");
  return drag_per_hour * (100.0 - ratio_percent) / ratio_percent;
}

CoatingWeight coating_weight(double loss_mg, double area_m2) {
  require_not_negative(loss_mg, "coating_weight", "loss_mg");
  require_positive(area_m2, "coating_weight", "area_m2");
  return {.mg_per_ft2 = loss_mg / (area_m2 / m2_per_ft2), .g_per_m2 = loss_mg / 1000.0 / area_m2};
}

CoatingWeight coating_weight_error(double balance_mg, std::size_t weighings, double area_m2) {
  constexpr auto function = "coating_weight_error";
  require_not_negative(balance_mg, function, "balance_mg");
  if (weighings == 0) throw InvalidInput(function, "weighings", "must be 1 or more (0)");
  return coating_weight(balance_mg * std::sqrt(static_cast<double>(weighings)), area_m2);
}

std::vector<double> metered_use(std::span<const double> totals) {
  constexpr auto function = "metered_use";
  require_count(totals.size(), 2, function, "totals");
  require_finite(totals, function, "totals");
  std::vector<double> used;
  for (std::size_t i = 1; i < totals.size(); ++i) {
    if (totals[i] < totals[i - 1]) {
      throw InvalidInput(function, "totals",
                         "lies below the reading before it (" + to_text(totals[i]) + " after " +
                             to_text(totals[i - 1]) + "): split the log where the meter was changed or set back",
                         i);
    }
    used.push_back(totals[i] - totals[i - 1]);
  }
  return used;
}

std::vector<double> use_rates(std::span<const double> used, std::span<const double> exposure) {
  constexpr auto function = "use_rates";
  if (exposure.size() != used.size()) {
    throw InvalidInput(
        function, "exposure",
        "has " + std::to_string(exposure.size()) + " elements for " + std::to_string(used.size()) + " of used");
  }
  std::vector<double> rates;
  for (std::size_t i = 0; i < used.size(); ++i) {
    for (const auto& [values, name] : {std::pair{used, "used"}, std::pair{exposure, "exposure"}}) {
      if (!std::isfinite(values[i]) || values[i] < 0.0) {
        throw InvalidInput(function, name, "must be 0 or more and finite, got " + to_text(values[i]), i);
      }
    }
    rates.push_back(exposure[i] > 0.0 ? used[i] / exposure[i] : std::numeric_limits<double>::quiet_NaN());
  }
  return rates;
}

}  // namespace steadyfilm
