/// @file
/// Results that are too long for the caches, written past them.
///
/// Included by kernels alone, like kernels/vectors.hpp.
#pragma once

#include "kernels/vectors.hpp"

namespace steadyfilm::kernels::STEADYFILM_KERNEL_NAMESPACE {

/// A line of 64 bytes, to an address that is a multiple of 64.
STEADYFILM_INLINE void stream_line(const double* from, double* to) {
#if defined(__AVX512F__)
  _mm512_stream_pd(to, _mm512_loadu_pd(from));
#elif defined(__AVX__)
  for (unsigned i = 0; i < 8; i += 4) _mm256_stream_pd(to + i, _mm256_loadu_pd(from + i));
#elif defined(__SSE2__)
  for (unsigned i = 0; i < 8; i += 2) _mm_stream_pd(to + i, _mm_loadu_pd(from + i));
#else
  __builtin_memcpy(to, from, 64);
#endif
}

/// Orders what was streamed before what this thread does next, so that other threads see it.
STEADYFILM_INLINE void stream_fence() {
#if defined(__SSE2__)
  _mm_sfence();
#endif
}

/// Copies results past the caches while they are being made. Bursts of such writes would wait for memory; one line at a
/// time between other work does not.
class Copy {
 public:
  /// @param to  null: nothing is copied
  STEADYFILM_INLINE Copy(const double* from, double* to) : from_(from), to_(to) {
    if (to == nullptr) return;
    while (reinterpret_cast<std::uintptr_t>(to_ + done_) % 64 != 0) ++done_;
    head_ = done_;
  }

  /// One more line, if `ready` results are there. Some way behind, so that what is read has arrived in the cache.
  STEADYFILM_INLINE void follow(std::size_t ready) {
    if (to_ == nullptr || done_ + behind > ready) return;
    stream_line(from_ + done_, to_ + done_);
    done_ += lanes;
  }

  /// What is left when all `count` results are there.
  STEADYFILM_INLINE void finish(std::size_t count) {
    if (to_ == nullptr) return;
    for (std::size_t i = 0; i < head_ && i < count; ++i) to_[i] = from_[i];
    for (; done_ + lanes <= count; done_ += lanes) stream_line(from_ + done_, to_ + done_);
    for (; done_ < count; ++done_) to_[done_] = from_[done_];
  }

 private:
  static constexpr std::size_t behind = 8 * lanes;
  const double* from_;
  double* to_;
  std::size_t head_ = 0;
  std::size_t done_ = 0;
};

}  // namespace steadyfilm::kernels::STEADYFILM_KERNEL_NAMESPACE
