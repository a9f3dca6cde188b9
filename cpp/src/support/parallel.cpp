#include "support/parallel.hpp"

#include <algorithm>
#include <atomic>
#include <exception>
#include <mutex>
#include <system_error>
#include <thread>
#include <vector>

namespace steadyfilm::support {

std::size_t thread_count(std::size_t wished) noexcept {
  if (wished != 0) return wished;
  return std::max<std::size_t>(1, std::thread::hardware_concurrency());
}

void for_blocks(std::size_t blocks, std::size_t threads, const std::function<void(std::size_t)>& work) {
  const std::size_t team = std::min(blocks, thread_count(threads));
  if (team <= 1) {
    for (std::size_t block = 0; block < blocks; ++block) work(block);
    return;
  }

  std::atomic<std::size_t> next = 0;
  std::atomic<bool> failed = false;
  std::mutex guard;
  std::size_t failed_block = blocks;
  std::exception_ptr failure;

  const auto run = [&] {
    // Blocks start in their order, so that every block before a failed one has started and its own failure is seen.
    while (!failed.load()) {
      const std::size_t block = next.fetch_add(1);
      if (block >= blocks) return;
      try {
        work(block);
      } catch (...) {
        const std::scoped_lock lock(guard);
        if (block < failed_block) {
          failed_block = block;
          failure = std::current_exception();
        }
        failed.store(true);
      }
    }
  };

  {
    std::vector<std::jthread> others;
    others.reserve(team - 1);
    try {
      for (std::size_t i = 1; i < team; ++i) others.emplace_back(run);
    } catch (const std::system_error&) {
      // The system gives no more threads: those that run, with this one, do all the work.
    }
    run();
  }
  if (failure) std::rethrow_exception(failure);
}

}  // namespace steadyfilm::support
