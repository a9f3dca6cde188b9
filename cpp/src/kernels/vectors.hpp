/// @file
/// What the leaf loops are written with: compiler vectors of eight doubles or eight words, whatever the processor has.
///
/// Lanes, and the order of operations in each lane, are fixed by the source and not by the instruction set: a narrower
/// processor does one vector operation in several steps. With contraction off, all sets and compilers give the same
/// bits.
///
/// Included by kernels alone. Everything sits in the namespace of the instruction set, so that the linker can never
/// hand code made for one set to another. For the same reason kernels include no header that defines functions which
/// may not be inlined (<algorithm>, <vector> ...).
#pragma once

#include <cstddef>
#include <cstdint>

#if defined(__SSE2__)
#include <immintrin.h>
#endif

#ifndef STEADYFILM_KERNEL_NAMESPACE
#error "kernels/vectors.hpp belongs to kernels, which are compiled once per instruction set"
#endif

/// Vectors travel through these functions by value; outside of an instruction set's own calls nothing may.
#define STEADYFILM_INLINE [[gnu::always_inline]] inline

namespace steadyfilm::kernels::STEADYFILM_KERNEL_NAMESPACE {

inline constexpr std::size_t lanes = 8;

using Doubles [[gnu::vector_size(64)]] = double;
using Words [[gnu::vector_size(64)]] = std::uint64_t;

/// A scan asks for its memory this far ahead, into the second-level cache: while what it has read is worked on, what
/// comes next is on its way. Measured; half of it or twice as much is a little slower, no asking much.
inline constexpr std::size_t prefetch_bytes = 20480;

/// Ask for the line `bytes` behind an address. It need not be the program's own: asking reads nothing. As a number,
/// since a pointer may not leave its array.
STEADYFILM_INLINE void prefetch(const double* reading, std::size_t bytes = prefetch_bytes) {
  __builtin_prefetch(reinterpret_cast<const void*>(reinterpret_cast<std::uintptr_t>(reading) + bytes), 0, 2);
}

STEADYFILM_INLINE void load(const double* from, Doubles& to) { __builtin_memcpy(&to, from, sizeof to); }
STEADYFILM_INLINE void load(const std::uint64_t* from, Words& to) { __builtin_memcpy(&to, from, sizeof to); }
STEADYFILM_INLINE void store(const Doubles& from, double* to) { __builtin_memcpy(to, &from, sizeof from); }
STEADYFILM_INLINE void store(const Words& from, std::uint64_t* to) { __builtin_memcpy(to, &from, sizeof from); }

/// Lane by lane the lesser of both, x < y ? x : y, or the greater, x > y ? x : y; of zeros of both signs, and beside a
/// NaN, that is y, as the processors' own instructions have it. By those, since compilers take a choice between vectors
/// that are wider than the processor's apart into single numbers.
template <bool lesser>
STEADYFILM_INLINE void choose(const Doubles& x, const Doubles& y, Doubles& chosen) {
#if defined(__AVX512F__)
  // The forms with a mask: g++ 12 warns inside its own header for the plain ones.
  constexpr __mmask8 all = 0xff;
  chosen = Doubles(lesser ? _mm512_maskz_min_pd(all, x, y) : _mm512_maskz_max_pd(all, x, y));
#elif defined(__SSE2__)
  double a[lanes], b[lanes];
  store(x, a);
  store(y, b);
#if defined(__AVX__)
  for (unsigned i = 0; i < lanes; i += 4) {
    const __m256d p = _mm256_loadu_pd(a + i), q = _mm256_loadu_pd(b + i);
    _mm256_storeu_pd(a + i, lesser ? _mm256_min_pd(p, q) : _mm256_max_pd(p, q));
  }
#else
  for (unsigned i = 0; i < lanes; i += 2) {
    const __m128d p = _mm_loadu_pd(a + i), q = _mm_loadu_pd(b + i);
    _mm_storeu_pd(a + i, lesser ? _mm_min_pd(p, q) : _mm_max_pd(p, q));
  }
#endif
  load(a, chosen);
#else
  chosen = (lesser ? x < y : x > y) ? x : y;
#endif
}

/// One bit for each of 64 numbers: whether it lies above the line, or below it. NaN lies nowhere.
template <bool above>
STEADYFILM_INLINE std::uint64_t bits_beyond(const double* x, double line) {
  std::uint64_t bits = 0;
#if defined(__AVX512F__)
  const __m512d lines = _mm512_set1_pd(line);
  const auto eight = [&](unsigned i) {
    const __m512d numbers = _mm512_loadu_pd(x + 8 * i);
    return static_cast<__mmask16>(_mm512_cmp_pd_mask(above ? lines : numbers, above ? numbers : lines, _CMP_LT_OQ));
  };
  // Joined in mask registers, pair by pair.
  const __mmask32 low = _mm512_kunpackw(_mm512_kunpackb(eight(3), eight(2)), _mm512_kunpackb(eight(1), eight(0)));
  const __mmask32 high = _mm512_kunpackw(_mm512_kunpackb(eight(7), eight(6)), _mm512_kunpackb(eight(5), eight(4)));
  bits = _cvtmask64_u64(_mm512_kunpackd(high, low));
#elif defined(__AVX__)
  const __m256d lines = _mm256_set1_pd(line);
  for (unsigned i = 0; i < 16; ++i) {
    const __m256d four = _mm256_loadu_pd(x + 4 * i);
    const int found = _mm256_movemask_pd(_mm256_cmp_pd(above ? lines : four, above ? four : lines, _CMP_LT_OQ));
    bits |= static_cast<std::uint64_t>(static_cast<unsigned>(found)) << (4 * i);
  }
#elif defined(__SSE2__)
  const __m128d lines = _mm_set1_pd(line);
  for (unsigned i = 0; i < 32; ++i) {
    const __m128d two = _mm_loadu_pd(x + 2 * i);
    const int found = _mm_movemask_pd(_mm_cmplt_pd(above ? lines : two, above ? two : lines));
    bits |= static_cast<std::uint64_t>(static_cast<unsigned>(found)) << (2 * i);
  }
#else
  for (unsigned i = 0; i < 64; ++i) bits |= static_cast<std::uint64_t>(above ? line < x[i] : x[i] < line) << i;
#endif
  return bits;
}

}  // namespace steadyfilm::kernels::STEADYFILM_KERNEL_NAMESPACE
