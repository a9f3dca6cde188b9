// The integral of an Arrhenius factor over a trace.
#pragma once

#include <cstddef>
#include <span>
#include <string_view>

#include <steadyfilm/cure_profile.hpp>

#include "support/exponential_integral.hpp"

namespace steadyfilm::support {

/// equivalent_time by its parts.
/// @throws InvalidInput  as trace_logging, naming `function`
[[nodiscard]] EquivalentTime dose_of(std::span<const double> time_min, std::span<const double> temperature_c,
                                     const Arrhenius& rate, std::span<const ReadingState> state, const TraceRule& rule,
                                     std::string_view function, std::size_t threads);

}  // namespace steadyfilm::support
