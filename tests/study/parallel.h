#pragma once
#include <algorithm>
#include <atomic>
#include <exception>
#include <functional>
#include <mutex>
#include <thread>
#include <vector>

namespace squaresight::study {

/// Runs `work(number)` for 0..count-1, on all cores unless told otherwise. An exception of one ends
/// the run.
inline void in_parallel(int count, const std::function<void(int)>& work, unsigned cores = 0) {
    std::atomic<int> next = 0;
    std::mutex mutex;
    std::exception_ptr failure;
    std::vector<std::thread> threads;
    const unsigned wanted = cores > 0 ? cores : std::max(1U, std::thread::hardware_concurrency());
    for (unsigned i = 0; i < wanted; ++i) {
        threads.emplace_back([&] {
            for (int number = next++; number < count; number = next++) {
                try {
                    work(number);
                } catch (...) {
                    const std::scoped_lock lock(mutex);
                    failure = std::current_exception();
                    next = count;
                }
            }
        });
    }
    for (auto& thread : threads) {
        thread.join();
    }
    if (failure) {
        std::rethrow_exception(failure);
    }
}

}  // namespace squaresight::study
