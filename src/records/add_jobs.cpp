#include "records/add_jobs.h"

#include <chrono>

namespace squaresight {
namespace {

using Clock = std::chrono::steady_clock;

constexpr std::size_t most_together = 100;
constexpr std::chrono::seconds longest_wait{1};

}  // namespace

void add_jobs(Store& store, const std::vector<std::filesystem::path>& sheets,
              const AddListener& listener, const JobEdit& edit) {
    std::vector<JobRecord> waiting;
    auto since = Clock::now();
    const auto store_waiting = [&] {
        const auto outcomes = store.add(waiting, edit);
        waiting.clear();
        since = Clock::now();
        for (const auto& outcome : outcomes) {
            listener.stored(outcome);
        }
    };
    for (std::size_t i = 0; i < sheets.size(); ++i) {
        listener.progress("adding " + sheets[i].string(),
                          static_cast<double>(i) / static_cast<double>(sheets.size()));
        std::optional<StoredOutcome> known;
        try {
            const JobInputs inputs = read_job_inputs(sheets[i]);
            known = store.known(inputs.sheet.job, inputs.identity);
            if (!known) {
                waiting.push_back(gather_job(inputs));
            }
        } catch (const StoreError&) {
            throw;
        } catch (const InputError& error) {
            listener.refused(error.what());
        }
        if (known) {
            listener.stored(*known);
        }
        if (waiting.size() >= most_together || Clock::now() - since >= longest_wait) {
            store_waiting();
        }
    }
    store_waiting();
}

}  // namespace squaresight
