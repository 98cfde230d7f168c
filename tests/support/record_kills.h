#pragma once
#include <signal.h>

#include <array>
#include <random>

#include "support/record_checks.h"

namespace squaresight::test {

/// What a run of kills saw.
struct KillCount {
    int kills = 0;         ///< of writers that were still at work
    int acknowledged = 0;  ///< jobs that a writer said were stored
    int stored = 0;        ///< jobs that were in the store at the end
};

/// Adds jobs "PREFIX-0", "PREFIX-1", ... without end, and says so behind each on `acknowledge`.
[[noreturn]] inline void write_until_killed(const StoreAddress& address, const std::string& prefix,
                                            int acknowledge) {
    try {
        Store store(address, usual_shop, Access::write);
        for (int job = 0;; ++job) {
            const auto outcome = add_one(store, small_record(prefix + "-" + std::to_string(job)));
            if (::write(acknowledge, &outcome.seq, sizeof outcome.seq) != sizeof outcome.seq) {
                ::_exit(1);
            }
        }
    } catch (const std::exception& error) {
        std::fprintf(stderr, "%s\n", error.what());
        ::_exit(1);
    }
}

/// Places that a writer acknowledged before it died.
inline std::vector<int> acknowledged_places(int pipe) {
    std::vector<int> places;
    int place = 0;
    while (::read(pipe, &place, sizeof place) == sizeof place) {
        places.push_back(place);
    }
    return places;
}

/// `kills` times: two writers at once, each killed (SIGKILL) at a random moment; then everything
/// acknowledged so far must be there. The whole chain is verified at the end and now and then.
inline KillCount check_kills(const StoreAddress& address, int kills, unsigned seed) {
    std::mt19937 random(seed);
    std::uniform_int_distribution<int> moment_us(500, 60000);
    KillCount count;
    { Store make(address, usual_shop, Access::write); }
    int highest = 0;
    while (count.kills < kills && !testing::Test::HasFailure()) {
        std::array<std::array<int, 2>, 2> pipes{};
        std::array<pid_t, 2> writers{};
        for (std::size_t i = 0; i < 2; ++i) {
            EXPECT_EQ(::pipe(pipes[i].data()), 0);
            writers[i] = ::fork();
            if (writers[i] == 0) {
                write_until_killed(address, std::to_string(count.kills + static_cast<int>(i)),
                                   pipes[i][1]);
            }
            ::close(pipes[i][1]);
        }
        for (const pid_t writer : writers) {
            ::usleep(static_cast<useconds_t>(moment_us(random)));
            ::kill(writer, SIGKILL);
            int status = 0;
            ::waitpid(writer, &status, 0);
            EXPECT_TRUE(WIFSIGNALED(status)) << "a writer ended by itself";
            ++count.kills;
        }
        for (const auto& pipe : pipes) {
            const auto places = acknowledged_places(pipe[0]);
            ::close(pipe[0]);
            count.acknowledged += static_cast<int>(places.size());
            highest = places.empty() ? highest : std::max(highest, places.back());
        }
        Store store(address, usual_shop, Access::write);
        EXPECT_GE(store.head().value_or(ChainHead{}).seq, highest) << "acknowledged, and lost";
        if (count.kills % 100 == 0) {
            EXPECT_THAT(verify_store(store).problems, testing::IsEmpty());
        }
    }
    Store store(address, usual_shop, Access::read);
    const auto found = verify_store(store);
    EXPECT_THAT(found.problems, testing::IsEmpty());
    count.stored = found.entries;
    EXPECT_GE(count.stored, count.acknowledged);
    return count;
}

/// How many kills a run is asked for: SQUARESIGHT_KILLS, or `usual`.
inline int kills_asked(int usual) {
    const char* asked = std::getenv("SQUARESIGHT_KILLS");
    return asked == nullptr ? usual : std::stoi(asked);
}

}  // namespace squaresight::test
