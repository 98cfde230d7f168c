#include <gtest/gtest.h>

#include <iostream>

#include "support/record_kills.h"
#include "support/scratch.h"

namespace squaresight {
namespace {

/// The program's own death, 1,000 times (SQUARESIGHT_KILLS: another number). That of the machine is
/// not shown here: it rests on SQLite's synchronous=EXTRA.
TEST(RecordsKillTest, NothingAcknowledgedIsLostWhenWritersAreKilled) {
    constexpr unsigned seed = 20260306;
    const Scratch scratch;
    const auto address = parse_store_address((scratch.folder() / "shop.sqlite").string());
    const auto count = test::check_kills(address, test::kills_asked(1000), seed);
    std::cout << "seed " << seed << ": " << count.kills << " kills, " << count.acknowledged
              << " jobs acknowledged, " << count.stored << " stored\n";
    EXPECT_GT(count.acknowledged, count.kills / 10) << "the writers hardly wrote: shows little";
}

}  // namespace
}  // namespace squaresight
