/// @file
/// Work in numbered blocks over a few threads. Who runs a block is chance; what a block does is not.
///
/// Callers cut their data into blocks of a fixed size, give each block its own place for what it finds, and join those
/// places in the order of the blocks: the result is then the same for every number of threads.
#pragma once

#include <cstddef>
#include <functional>

namespace steadyfilm::support {

/// Threads that a caller's wish means: 0 stands for as many as the processor runs at once.
[[nodiscard]] std::size_t thread_count(std::size_t wished) noexcept;

/// Call work(0), ..., work(blocks - 1), each once, on at most `threads` threads (0: as many as run at once), the
/// calling one among them. Blocks start in their order. One block runs without any thread being made.
///
/// A block that throws keeps later blocks from starting; the exception of the lowest block is thrown again when all
/// threads have ended, so that errors do not depend on chance either.
void for_blocks(std::size_t blocks, std::size_t threads, const std::function<void(std::size_t)>& work);

}  // namespace steadyfilm::support
