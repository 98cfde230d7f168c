#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <stdexcept>

#include <Eigen/LU>

#include "support/scratch.h"
#include "units/covariance.h"
#include "units/entry.h"
#include "units/error.h"
#include "units/files.h"
#include "units/quantity.h"

namespace squaresight {
namespace {

using testing::AllOf;
using testing::EndsWith;
using testing::HasSubstr;
using testing::Not;
using testing::StartsWith;

double length(std::string_view text) { return parse_quantity(text, Dimension::length).value; }
double angle(std::string_view text) { return parse_quantity(text, Dimension::angle).value; }

std::string refusal(std::string_view text, Dimension dimension = Dimension::length) {
    try {
        const auto quantity = parse_quantity(text, dimension);
        return "accepted as " + std::to_string(quantity.value);
    } catch (const std::invalid_argument& error) {
        return error.what();
    }
}

// The inch is exactly 25.4 mm and the foot 0.3048 m: NIST Special Publication 811 (2008), appendix
// B.8, after the international yard and pound agreement of 1959.
TEST(Quantity, InchAndFootAreExact) {
    EXPECT_DOUBLE_EQ(length("1 in"), 25.4);
    EXPECT_DOUBLE_EQ(length("1 ft"), 304.8);
    EXPECT_DOUBLE_EQ(length("6 1/16 in"), 153.9875);
    EXPECT_DOUBLE_EQ(length("16 ft 4 1/2 in"), 4991.1);
    EXPECT_DOUBLE_EQ(length("1/32 in"), 0.79375);
}

TEST(Quantity, FeetAndInchesAreReadInEveryUsualWay) {
    for (const auto* text :
         {"1 ft 8 in", "1' 8\"", "1'8\"", "1'-8\"", "1 foot 8 inches", "20\"", "20 in.",
          "1 ft. 8 in.", "1' 8''", "1\u2019 8\u201d", "1\u2032 8\u2033", "1 2/3 ft", "20 inches"}) {
        EXPECT_NEAR(length(text), 508, 1e-9) << text;
        EXPECT_TRUE(parse_quantity(text, Dimension::length).in_inches) << text;
    }
    EXPECT_DOUBLE_EQ(length("5'"), 1524);
    EXPECT_DOUBLE_EQ(length("16' 4 1/2\""), 4991.1);
    EXPECT_FALSE(parse_quantity("508 mm +/- 1\"", Dimension::length).in_inches);
    EXPECT_THAT(refusal("16 ft 14 in"), HasSubstr("12 inches or more"));
    EXPECT_THAT(refusal("16 1/2 ft 3 in"), HasSubstr("part of a foot"));
    EXPECT_THAT(refusal("8 in 1 ft"), HasSubstr("mixes units"));
    EXPECT_THAT(refusal("1 ft 2 ft"), HasSubstr("mixes units"));
    EXPECT_THAT(refusal("1' 8"), HasSubstr("no unit"));
    EXPECT_THAT(refusal("30'", Dimension::angle), HasSubstr("no angle"));
}

TEST(Lengths, AreShownInTheUnitOfTheShop) {
    EXPECT_EQ(shown_length(4998, LengthUnit::mm), "4998 mm");
    EXPECT_EQ(shown_length(4998, LengthUnit::in), "16 ft 4 3/4 in");
    EXPECT_EQ(shown_difference(-3.175, LengthUnit::mm), "3.2 mm");
    EXPECT_EQ(shown_difference(-3.175, LengthUnit::in), "1/8 in");
    EXPECT_EQ(shown_difference(0.1, LengthUnit::in), "under 1/64 in");
    EXPECT_EQ(shown_difference(25.4 * 15.3, LengthUnit::in), "1 ft 3 5/16 in");
}

// SI Brochure (BIPM, 9th edition, 2019), table 8: 1 deg = pi/180 rad, 1 arcmin = 1/60 deg.
TEST(Quantity, AnglesComeInDegrees) {
    EXPECT_DOUBLE_EQ(angle("0.2 deg"), 0.2);
    EXPECT_DOUBLE_EQ(angle("30 arcmin"), 0.5);
    EXPECT_NEAR(angle("1 mrad"), 0.18 / std::acos(-1.0), 1e-15);
    EXPECT_DOUBLE_EQ(angle("-1.5 deg"), -1.5);
}

TEST(Quantity, MetricLengthsComeInMillimetres) {
    EXPECT_DOUBLE_EQ(length("5000 mm"), 5000);
    EXPECT_DOUBLE_EQ(length("5m"), 5000);
    EXPECT_DOUBLE_EQ(length(" 49.92cm "), 499.2);
    EXPECT_DOUBLE_EQ(length("+.5 mm"), 0.5);
    EXPECT_DOUBLE_EQ(length("- 3 mm"), -3);
    EXPECT_DOUBLE_EQ(length("-6 1/2 in"), -165.1);
    EXPECT_DOUBLE_EQ(length("1e3 mm"), 1000);
}

TEST(Quantity, LimitsHaveTheirOwnUnit) {
    const auto tape = parse_quantity("5 m +/- 1/8 in", Dimension::length);
    EXPECT_DOUBLE_EQ(tape.value, 5000);
    EXPECT_DOUBLE_EQ(tape.limit.value(), 3.175);
    EXPECT_DOUBLE_EQ(parse_quantity("5 m ± 3 mm", Dimension::length).limit.value(), 3);
    EXPECT_FALSE(parse_quantity("5 m", Dimension::length).limit);
}

TEST(Quantity, WhatIsNoQuantityIsRefusedWithAdvice) {
    EXPECT_THAT(refusal("5000"), AllOf(HasSubstr("no unit"), HasSubstr("mm")));
    EXPECT_THAT(refusal("5000 +/- 3 mm"), HasSubstr("no unit"));
    EXPECT_THAT(refusal("5000 mm +/- 3"), HasSubstr("no unit"));
    EXPECT_THAT(refusal("5000 deg"), HasSubstr("no length"));
    EXPECT_THAT(refusal("3 mm", Dimension::angle), HasSubstr("no angle"));
    EXPECT_THAT(refusal("5 furlong"), HasSubstr("unknown unit 'furlong'"));
    EXPECT_THAT(refusal("5 mm +/- -3 mm"), HasSubstr("negative limit"));
    EXPECT_THAT(refusal("5,2 mm"), HasSubstr("decimal point"));
    EXPECT_THAT(refusal("5 7 mm"), HasSubstr("side by side"));
    EXPECT_THAT(refusal("1 ft 3 mm"), HasSubstr("mixes units"));
    EXPECT_THAT(refusal("6 17/16 in"), HasSubstr("one or more"));
    EXPECT_THAT(refusal("6.5 1/16 in"), HasSubstr("decimals"));
    EXPECT_THAT(refusal("6 1.5/16 in"), HasSubstr("decimals"));
    EXPECT_THAT(refusal("1/0 in"), HasSubstr("fraction"));
    EXPECT_THAT(refusal("1/2.5 in"), HasSubstr("fraction"));
}

TEST(Quantity, NothingElseIsTakenForANumber) {
    for (const auto* text : {"",
                             " ",
                             "mm",
                             "nan mm",
                             "inf mm",
                             "-inf mm",
                             "1e400 mm",
                             "1e13 mm",
                             "0x10 mm",
                             "--5 mm",
                             "+-5 mm",
                             "5 mm mm",
                             "5 mm +/- 3 mm +/- 1 mm",
                             "5 mm +/-",
                             "+/- 3 mm",
                             ". mm",
                             "5. . mm",
                             "5 mm x",
                             "5 mm;",
                             "1/2/3 in",
                             "5 MM",
                             "five mm",
                             "5 mm 5"}) {
        EXPECT_THAT(refusal(text), Not(HasSubstr("accepted"))) << text;
    }
}

TEST(Number, FractionsAreRead) {
    EXPECT_DOUBLE_EQ(parse_number("1 1/2"), 1.5);
    EXPECT_DOUBLE_EQ(parse_number("-5/8"), -0.625);
    EXPECT_DOUBLE_EQ(parse_number(" 7 "), 7);
    for (const auto* text : {"", "x", "1 mm", "1 2", "nan", "1/0", "--1"}) {
        EXPECT_THROW(parse_number(text), std::invalid_argument) << text;
    }
}

TEST(Turns, ClockwiseIsPositiveAndTheDirectionIsNeeded) {
    EXPECT_DOUBLE_EQ(parse_turns_clockwise("5/8 counter-clockwise"), -0.625);
    EXPECT_DOUBLE_EQ(parse_turns_clockwise("1 1/2 clockwise"), 1.5);
    EXPECT_DOUBLE_EQ(parse_turns_clockwise("0"), 0);
    for (const auto* text : {"1", "", "clockwise", "-1 clockwise", "1 anticlockwise", "1 turn"}) {
        EXPECT_THROW(parse_turns_clockwise(text), std::invalid_argument) << text;
    }
}

// JCGM 100:2008 (GUM), 4.3.7: a rectangular distribution of half-width a has u = a / sqrt(3).
TEST(Limits, AreRectangular) { EXPECT_DOUBLE_EQ(standard_from_limit(3), std::sqrt(3.0)); }

TEST(Inches, AreShownToTheSixteenth) {
    EXPECT_EQ(inches_text(7.3125 * 25.4), "7 5/16 in");
    EXPECT_EQ(inches_text(-12.7), "-1/2 in");
    EXPECT_EQ(inches_text(-2.5 * 25.4), "-2 1/2 in");
    EXPECT_EQ(inches_text(0), "0 in");
    EXPECT_EQ(inches_text(-0.1), "0 in");
    EXPECT_EQ(inches_text(24 * 25.4), "24 in");
    EXPECT_EQ(inches_text(25.4 * 31.99), "32 in");
}

TEST(Inches, AreShownInFeetFromAFootOn) {
    EXPECT_EQ(feet_inches_text(5000), "16 ft 4 7/8 in");  // 196.85 in = 16 ft 4.85 in
    EXPECT_EQ(feet_inches_text(7.3125 * 25.4), "7 5/16 in");
    EXPECT_EQ(feet_inches_text(12 * 25.4), "1 ft");
    EXPECT_EQ(feet_inches_text(25.4 * 11.99), "1 ft");
    EXPECT_EQ(feet_inches_text(-20 * 25.4), "-1 ft 8 in");
    for (double mm = 1; mm < 20000; mm += 7.3) {
        EXPECT_NEAR(parse_quantity(feet_inches_text(mm), Dimension::length).value, mm,
                    25.4 / 32 + 1e-9);
    }
}

TEST(Inches, ReadBackWithinHalfASixteenth) {
    for (double mm = -3000; mm < 3000; mm += 1.37) {
        EXPECT_NEAR(length(inches_text(mm)), mm, 25.4 / 32 + 1e-9);
    }
}

TEST(Eighths, AreMixedFractions) {
    EXPECT_EQ(eighths_text(13), "1 5/8");
    EXPECT_EQ(eighths_text(4), "1/2");
    EXPECT_EQ(eighths_text(0), "0");
    EXPECT_EQ(eighths_text(16), "2");
    EXPECT_EQ(eighths_text(-13), "-1 5/8");
}

// The textbook pair: Wagner and Fischer, "The string-to-string correction problem", J. ACM 21
// (1974); its value 3 for these words is from memory.
TEST(EditDistance, CountsSingleChanges) {
    EXPECT_EQ(edit_distance("kitten", "sitting"), 3);
    EXPECT_EQ(edit_distance("", "abc"), 3);
    EXPECT_EQ(edit_distance("abc", "abc"), 0);
}

TEST(NearestName, HelpsOnlyWhereSomethingIsNear) {
    const std::vector<std::string> known{"distance", "target_left", "mount_left"};
    EXPECT_EQ(nearest_name("distence", known), "distance");
    EXPECT_EQ(nearest_name("targt_left", known), "target_left");
    EXPECT_EQ(nearest_name("xyz", known), "");
}

class EntryTest : public testing::Test {
  protected:
    Entry entry(const std::string& body) {
        return Entry::load(scratch.write("f.yaml", "schema: s/1\n" + body), "s/1");
    }
    std::string message(const std::string& bytes) {
        try {
            Entry::load(scratch.write("f.yaml", bytes), "s/1").expect_keys({"schema", "name"});
        } catch (const InputError& error) {
            return error.what();
        }
        return "accepted";
    }
    template <class Action>
    std::string error_of(Action action) {
        try {
            action();
        } catch (const InputError& error) {
            return error.what();
        }
        return "accepted";
    }
    Scratch scratch;
};

TEST_F(EntryTest, UnusableFilesAreNamedInOneLine) {
    EXPECT_THAT(message(""), HasSubstr("empty"));
    EXPECT_THAT(message("\n"), HasSubstr("holds no keys"));
    EXPECT_THAT(message("- a\n"), HasSubstr("holds no keys"));
    EXPECT_THAT(message(std::string("\x89PNG\0", 5)), HasSubstr("not a text file"));
    EXPECT_THAT(message("schema: s/1\nname: [a\n"),
                AllOf(HasSubstr("f.yaml:3"), HasSubstr("YAML")));
    EXPECT_THAT(message("name: a\n"), HasSubstr("has no 'schema'"));
    EXPECT_THAT(message("schema: s/2\n"), HasSubstr("is 's/2'; a file with 'schema: s/1'"));
    EXPECT_THAT(message("schema: s/1\n---\nname: b\n"), HasSubstr("more than one"));
    EXPECT_THAT(message(std::string(2 << 20, 'a')), HasSubstr("too large"));
    EXPECT_THAT(message("schema: s/1\nname: " + std::string(100000, '[')), HasSubstr("YAML"));
    EXPECT_THAT(error_of([&] { Entry::load(scratch.folder(), "s/1"); }), HasSubstr("folder"));
    EXPECT_THAT(error_of([&] { Entry::load(scratch.folder() / "no", "s/1"); }),
                HasSubstr("no such file"));
}

TEST_F(EntryTest, UnknownKeyNamesFileLineAndTheNearestKey) {
    EXPECT_THAT(message("schema: s/1\nnmae: a\n"),
                AllOf(HasSubstr("f.yaml:2: nmae"), EndsWith("did you mean 'name'?")));
    EXPECT_THAT(message("schema: s/1\nwhatever: a\n"), HasSubstr("known are: schema, name"));
}

TEST_F(EntryTest, DuplicatedKeyIsRefused) {
    EXPECT_THAT(message("schema: s/1\nname: a\nname: b\n"),
                AllOf(HasSubstr("f.yaml:3"), HasSubstr("twice")));
}

TEST_F(EntryTest, StrayKeysNeverBreakTheLine) {
    const auto text = message("schema: s/1\n\"a\\nb" + std::string(500, 'x') + "\": 1\n");
    EXPECT_THAT(text, AllOf(HasSubstr("not a key"), Not(HasSubstr("\n"))));
    EXPECT_LT(text.size(), 500u);
    EXPECT_THAT(message("schema: s/1\n[a, b]: 1\n"), HasSubstr("not a word"));
}

TEST_F(EntryTest, NumbersAreStrict) {
    const Entry root = entry("a: 1.5\nb: nan\nc: .inf\nd: 0x10\ne: 1.5 mm\nf: 1e999\ng: +2\nh:\n");
    EXPECT_DOUBLE_EQ(root.at("a").number(0, 2), 1.5);
    EXPECT_DOUBLE_EQ(root.at("g").number(0, 2), 2);
    for (const auto* key : {"b", "c", "d", "e", "f", "h"}) {
        EXPECT_THROW(root.at(key).number(-1e9, 1e9), InputError) << key;
    }
    EXPECT_THAT(error_of([&] { root.at("a").number(2, 3); }),
                AllOf(HasSubstr("f.yaml:2: a"), HasSubstr("from 2 to 3")));
    EXPECT_THAT(error_of([&] { root.at("a").whole(0, 3); }), HasSubstr("whole number"));
    EXPECT_THAT(error_of([&] { root.at("h").text(); }), HasSubstr("f.yaml:9: h: has no value"));
}

TEST_F(EntryTest, QuantitiesKeepTheirRange) {
    const Entry root = entry("a: 5 m +/- 3 mm\nb: 5 m\nc: 5 deg\nd: 5 m +/- 500 m\n");
    EXPECT_DOUBLE_EQ(root.at("a").quantity(Dimension::length, 0, 9000).limit.value(), 3);
    EXPECT_DOUBLE_EQ(root.at("b").length_mm(0, 9000), 5000);
    EXPECT_THAT(error_of([&] { root.at("a").length_mm(0, 9000); }), HasSubstr("no limits"));
    EXPECT_THAT(error_of([&] { root.at("b").length_mm(0, 900); }), HasSubstr("out of range"));
    EXPECT_THAT(error_of([&] { root.at("c").length_mm(0, 900); }),
                AllOf(StartsWith(root.file().string() + ":4: c: "), HasSubstr("no length")));
    EXPECT_THROW(root.at("d").quantity(Dimension::length, 0, 9000), InputError);
}

TEST_F(EntryTest, WordsListsAndYesNo) {
    const Entry root = entry("w: upp\nl: []\ny: yes\nn: true\nm: {a: 1}\nk: [1, x]\n");
    EXPECT_THAT(error_of([&] { root.at("w").word({"up", "down"}); }), HasSubstr("'up'"));
    EXPECT_THAT(error_of([&] { root.at("l").list(); }), HasSubstr("empty list"));
    EXPECT_TRUE(root.at("y").yes_no());
    EXPECT_THROW(root.at("n").yes_no(), InputError);
    EXPECT_THAT(error_of([&] { root.at("m").list(); }), HasSubstr("not a list"));
    EXPECT_THAT(error_of([&] { root.at("k").list()[1].number(0, 1); }), HasSubstr("k[2]"));
    EXPECT_THAT(error_of([&] { root.at("m").at("b"); }), HasSubstr("has no 'b'"));
}

TEST_F(EntryTest, DatesAreDaysThatExist) {
    const Entry root =
        entry("a: 2026-03-05\nb: 2026-02-30\nc: 5.3.2026\nd: 2026-3-5\ne: 2024-02-29\n");
    EXPECT_EQ(root.at("a").date(), "2026-03-05");
    EXPECT_EQ(root.at("e").date(), "2024-02-29");
    for (const auto* key : {"b", "c", "d"}) {
        EXPECT_THAT(error_of([&] { root.at(key).date(); }), HasSubstr("2026-03-05")) << key;
    }
}

TEST_F(EntryTest, PathsAreRelativeToTheFile) {
    const Entry root = entry("a: ../calib/x.yaml\nb: /abs/y.yaml\n");
    EXPECT_EQ(root.at("a").path(), scratch.folder().parent_path() / "calib/x.yaml");
    EXPECT_EQ(root.at("b").path(), "/abs/y.yaml");
}

TEST_F(EntryTest, TextThatIsWrittenReadsBack) {
    for (const std::string text :
         {"bay-a1", "A board: the big one", "it's", "null", "42", "yes", "#1", "~", "a b ", " a",
          "{x}", "- a", "\"q\"", "Werkstatt Süd"}) {
        EXPECT_EQ(entry("t: " + yaml_text(text) + "\n").at("t").text(), text);
    }
}

TEST_F(EntryTest, CovarianceIsChecked) {
    const auto error = [&](const std::string& rows) {
        return error_of([&] { covariance_of(entry("c: " + rows + "\n").at("c"), 2); });
    };
    EXPECT_EQ(error("[[4, 1], [1, 1]]"), "accepted");
    EXPECT_EQ(error("[[4, 2], [2, 1]]"), "accepted");                // singular: fully correlated
    EXPECT_EQ(error("[[4, 0], [0, 0]]"), "accepted");                // the second is known exactly
    EXPECT_EQ(error("[[4, 2.000001], [2.000001, 1]]"), "accepted");  // rounding of the digits
    EXPECT_THAT(error("[[4, 3], [3, 1]]"), HasSubstr("negative eigenvalue"));
    EXPECT_THAT(error("[[4, 1], [0, 1]]"), HasSubstr("not symmetric"));
    EXPECT_THAT(error("[[-4, 0], [0, 1]]"), HasSubstr("negative variance"));
    EXPECT_THAT(error("[[4, 1], [1, 0]]"), HasSubstr("negative eigenvalue"));
    EXPECT_THAT(error("[[4, nan], [nan, 1]]"), HasSubstr("not a number"));
    EXPECT_THAT(error("[[4, 1]]"), HasSubstr("2 rows of 2"));
    EXPECT_THAT(error("[[4], [1]]"), HasSubstr("2 rows of 2"));
    EXPECT_THAT(error("4"), HasSubstr("not a list"));
}

TEST_F(EntryTest, CovarianceBelowZeroByRoundingComesBackWithoutNegativeEigenvalue) {
    const auto matrix = covariance_of(entry("c: [[4, 2.000001], [2.000001, 1]]\n").at("c"), 2);
    EXPECT_GE(matrix.determinant(), -1e-15);
    EXPECT_NEAR(matrix(0, 1), 2, 1e-5);
}

TEST_F(EntryTest, WritingReplacesAFileWholeOrNotAtAll) {
    const auto file = scratch.folder() / "new/sub/out.txt";
    write_file(file, "one");
    write_file(file, "two");
    EXPECT_EQ(read_file(file, 100), "two");
    std::filesystem::create_directories(scratch.folder() / "dir");
    EXPECT_THAT(error_of([&] { write_file(scratch.folder() / "dir", "x"); }),
                HasSubstr("cannot be written"));
    EXPECT_THAT(error_of([&] { write_file(file / "below", "x"); }), HasSubstr("cannot be written"));
    EXPECT_THAT(error_of([&] { read_file(file, 2); }), HasSubstr("too large"));
    int left = 0;
    for (const auto& item : std::filesystem::recursive_directory_iterator(scratch.folder())) {
        left += item.path().extension() == ".tmp";
    }
    EXPECT_EQ(left, 0);
}

}  // namespace
}  // namespace squaresight
