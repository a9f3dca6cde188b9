#include "support/dispatch.hpp"

#include <algorithm>
#include <array>
#include <atomic>
#include <cstddef>
#include <cstdlib>
#include <string>

#include <steadyfilm/core.hpp>

namespace steadyfilm::support {

namespace {

constexpr std::array<InstructionSet, 3> all_sets = {InstructionSet::baseline, InstructionSet::v3, InstructionSet::v4};

constexpr int nothing_forced = -1;
std::atomic<int> forced_set = nothing_forced;

/// How many of all_sets, counted from the first, this processor runs.
std::size_t count_usable() noexcept {
#if defined(__x86_64__)
  __builtin_cpu_init();
  // The processors that have these have the rest of their level too; the compilers' own level names are too new.
  const bool v3 = __builtin_cpu_supports("avx2") != 0 && __builtin_cpu_supports("bmi") != 0 &&
                  __builtin_cpu_supports("bmi2") != 0 && __builtin_cpu_supports("fma") != 0;
  const bool v4 = v3 && __builtin_cpu_supports("avx512f") != 0 && __builtin_cpu_supports("avx512bw") != 0 &&
                  __builtin_cpu_supports("avx512cd") != 0 && __builtin_cpu_supports("avx512dq") != 0 &&
                  __builtin_cpu_supports("avx512vl") != 0;
  return v4 ? 3U : v3 ? 2U : 1U;
#else
  return 1U;
#endif
}

InstructionSet read_environment() {
  const char* asked = std::getenv("STEADYFILM_ISA");
  return choose_instruction_set(asked == nullptr ? std::string_view() : std::string_view(asked));
}

}  // namespace

std::string_view to_text(InstructionSet set) noexcept {
  switch (set) {
    case InstructionSet::v3:
      return "v3";
    case InstructionSet::v4:
      return "v4";
    case InstructionSet::baseline:
      break;
  }
  return "baseline";
}

std::span<const InstructionSet> usable_instruction_sets() noexcept {
  static const std::size_t count = count_usable();
  return std::span(all_sets).first(count);
}

InstructionSet choose_instruction_set(std::string_view asked) {
  const auto usable = usable_instruction_sets();
  if (asked.empty()) return usable.back();
  for (const InstructionSet set : usable) {
    if (asked == to_text(set)) return set;
  }
  const bool known = std::ranges::any_of(all_sets, [&](InstructionSet set) { return asked == to_text(set); });
  std::string reason = "is '";
  reason.append(asked).append(known ? "', which this processor cannot run" : "', which is no instruction set");
  reason.append("; unset it, or give one of:");
  for (const InstructionSet set : usable) reason.append(" ").append(to_text(set));
  throw InvalidInput("instruction_set", "STEADYFILM_ISA", reason);
}

InstructionSet instruction_set() {
  const int forced = forced_set.load(std::memory_order_relaxed);
  if (forced != nothing_forced) return static_cast<InstructionSet>(forced);
  static const InstructionSet chosen = read_environment();
  return chosen;
}

ForcedInstructionSet::ForcedInstructionSet(InstructionSet set)
    : before_(forced_set.exchange(static_cast<int>(choose_instruction_set(to_text(set))))) {}

ForcedInstructionSet::~ForcedInstructionSet() { forced_set.store(before_); }

}  // namespace steadyfilm::support

std::string_view steadyfilm::instruction_set() { return support::to_text(support::instruction_set()); }
