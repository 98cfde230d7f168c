#include "job/sheet_changes.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace squaresight {
namespace {

std::vector<std::string> lines(const std::string& before, const std::string& after) {
    std::vector<std::string> told;
    for (const auto& change : sheet_changes(before, after)) {
        told.push_back(change.key + ": '" + change.before + "' -> '" + change.after + "'");
    }
    return told;
}

const std::string sheet = R"(job: "1042"
technician: T3
sightings:
  - stage: as-found
    setup: {distance: 5000 mm, target_left: 2 mm}
    tape_and_level:
      passes: [{left: 7 in, right: 8 in}]
)";

std::string with(const std::string& from, const std::string& to) {
    std::string text = sheet;
    return text.replace(text.find(from), from.size(), to);
}

TEST(SheetChanges, NamesTheReadingThatWasEdited) {
    EXPECT_THAT(lines(sheet, with("5000 mm", "5010 mm")),
                testing::ElementsAre("sightings 1.setup.distance: '5000 mm' -> '5010 mm'"));
    EXPECT_THAT(
        lines(sheet, with("right: 8 in", "right: 7 1/2 in")),
        testing::ElementsAre("sightings 1.tape_and_level.passes 1.right: '8 in' -> '7 1/2 in'"));
}

TEST(SheetChanges, NamesWhatCameAndWhatWent) {
    EXPECT_THAT(lines(sheet, with(", target_left: 2 mm", ", target_height: 900 mm")),
                testing::ElementsAre("sightings 1.setup.target_height: '' -> '900 mm'",
                                     "sightings 1.setup.target_left: '2 mm' -> ''"));
}

TEST(SheetChanges, LayoutAndCommentsAreNone) {
    EXPECT_THAT(lines(sheet, with("technician: T3", "# read twice\ntechnician:   'T3'")),
                testing::IsEmpty());
}

TEST(SheetChanges, ABrokenTextIsOneChange) {
    EXPECT_EQ(sheet_changes(sheet, "a: [").front().key, "the whole sheet");
}

}  // namespace
}  // namespace squaresight
