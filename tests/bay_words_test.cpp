// What people read on the bay page: drawings, dates and codes in their language.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <regex>
#include <set>
#include <string>

#include "bay/floor_picture.h"
#include "bay/phrases.h"
#include "job/bay_file.h"
#include "plan/plan.h"
#include "report/floor_layout.h"
#include "support/command.h"
#include "support/scratch.h"

namespace squaresight::bay {
namespace {

using testing::HasSubstr;
namespace fs = std::filesystem;

const fs::path samples = fs::path(SQUARESIGHT_SOURCE_DIR) / "samples";

std::string in_spanish(const std::string& english) {
    return translated(english, Language::spanish).text;
}

/// Floors that together show every sentence a layout may have.
std::vector<Floor> many_floors() {
    Floor floor = floor_of(load_planned_bay(samples / "bays/main-bay.yaml"));
    floor.smallest_base_mm = 640;
    floor.ample_base_mm = 4300;
    floor.tape_left_point_mm = floor.tape_right_point_mm = 300;
    floor.points = {{"A", {-60, 900, 600}}, {"B", {40, -900, 600}}};
    Floor bare = floor;
    bare.line_base_mm = 0;
    bare.setup.target_height_mm.measured = false;
    bare.setup.mount_left_mm.value = 120;
    bare.setup.target_left_mm.value = -80;
    bare.tape_right_point_mm = 400;
    bare.points = {{"A", {40, 900, 600}}, {"B", {-60, -900, 600}}};
    bare.unit = floor.unit == LengthUnit::in ? LengthUnit::mm : LengthUnit::in;
    return {floor, bare};
}

std::string pdf_text(const fs::path& pdf) {
    return run_command("pdftotext -raw '" + pdf.string() + "' -").output;
}

// Words that English sentences of a layout cannot do without and that are no Spanish ones.
TEST(BayWords, NothingOnTheFloorLayoutStaysEnglishInSpanish) {
    const Scratch scratch;
    const std::regex english(
        "\\b(the|of|and|on|to|is|in the|string|board|face|left|right|LEFT|"
        "RIGHT|edge|centre|truck|seen|scale|behind|ahead|up|marks?)\\b",
        std::regex::icase);
    for (const Floor& floor : many_floors()) {
        for (const auto write : {write_floor_layout, write_floor_column}) {
            const auto file = scratch.folder() / "floor.pdf";
            write(floor, file, PageKind::pdf, in_english);
            std::string text = pdf_text(file);
            EXPECT_TRUE(std::regex_search(text, english)) << text;  // the check sees English
            write(floor, file, PageKind::pdf, [&](const std::string& words) {
                EXPECT_EQ(translated(words, Language::spanish).language, Language::spanish)
                    << words;
                return in_spanish(words);
            });
            text = pdf_text(file);
            EXPECT_THAT(text, HasSubstr("del camión"));
            const auto name = text.find(floor.target.name);
            ASSERT_NE(name, std::string::npos) << text;
            text.erase(name, floor.target.name.size());
            const auto bay = text.find(floor.bay);
            ASSERT_NE(bay, std::string::npos) << text;
            text.erase(bay, floor.bay.size());
            std::smatch found;
            EXPECT_FALSE(std::regex_search(text, found, english)) << found.str() << "\n" << text;
        }
    }
}

}  // namespace
}  // namespace squaresight::bay
