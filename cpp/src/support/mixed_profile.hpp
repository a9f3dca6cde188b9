// Profile-likelihood interval of one component: the values at which the best deviance under that value has risen by the
// chi-square quantile (Bates, Mächler, Bolker and Walker 2015, section 5.1, from memory).
#pragma once

#include <cstddef>

#include "mean_squares.hpp"
#include "mixed_likelihood.hpp"

namespace steadyfilm::support {

/// @param component  a term; or, one beyond, the residual
/// @param information  at the top: where to look first
/// @return  ends of the variance, scaled; the lower one 0 when the likelihood at 0 is high enough; NaN where no end is
/// found
[[nodiscard]] Interval profile_interval(MixedLikelihood& likelihood, const Top& top, const Information& information,
                                        std::size_t component, double confidence_level);

}  // namespace steadyfilm::support
