// The upper curve of a cure window: how long a place may be how hot.
#pragma once

#include <span>
#include <string_view>

#include <steadyfilm/cure_profile.hpp>

namespace steadyfilm::support {

/// @throws InvalidInput  a number that is not finite, minutes not above 0, two points at one temperature, more minutes
/// at a higher temperature
void require_overbake(std::span<const SchedulePoint> curve, std::string_view function);

/// Time of a trace against the curve; all NaN and `pass` for an empty one.
/// @throws InvalidInput  as trace_logging, naming `function`
[[nodiscard]] OverbakeFound overbake_of(std::span<const double> time_min, std::span<const double> temperature_c,
                                        std::span<const SchedulePoint> curve, std::span<const ReadingState> state,
                                        const TraceRule& rule, std::string_view function);

}  // namespace steadyfilm::support
