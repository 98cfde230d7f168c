#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <nlohmann/json.hpp>
#include <opencv2/aruco.hpp>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>

#include "support/command.h"
#include "support/scratch.h"
#include "target/drawing.h"
#include "target/layout.h"
#include "target/sheets.h"
#include "units/bytes.h"
#include "units/error.h"
#include "units/files.h"

namespace squaresight {
namespace {

using testing::AllOf;
using testing::ElementsAre;
using testing::HasSubstr;
using testing::Not;

// A and B series: ISO 216:2007. ANSI A to E are the sheets of ASME Y14.1; they, the ARCH sheets and
// the ISO ones are all listed in IEEE-ISTO PWG 5101.1, "Media Standardized Names"
// (na_letter_8.5x11in, na_c_17x22in, na_arch-d_24x36in, na_wide-format_30x42in, ...). That 30 x 42
// in is called ARCH E1 is from memory.
TEST(Sheets, HaveTheirPublishedSizes) {
    const std::tuple<const char*, double, double> published[] = {
        {"A0", 841, 1189},        {"A1", 594, 841},          {"A2", 420, 594},
        {"A3", 297, 420},         {"A4", 210, 297},          {"B0", 1000, 1414},
        {"B1", 707, 1000},        {"B2", 500, 707},          {"B3", 353, 500},
        {"B4", 250, 353},         {"ANSI A", 215.9, 279.4},  {"ANSI B", 279.4, 431.8},
        {"ANSI C", 431.8, 558.8}, {"ANSI D", 558.8, 863.6},  {"ANSI E", 863.6, 1117.6},
        {"ARCH A", 228.6, 304.8}, {"ARCH B", 304.8, 457.2},  {"ARCH C", 457.2, 609.6},
        {"ARCH D", 609.6, 914.4}, {"ARCH E", 914.4, 1219.2}, {"ARCH E1", 762, 1066.8}};
    EXPECT_EQ(std::size(published), sheet_sizes().size());
    for (const auto& [name, short_mm, long_mm] : published) {
        const auto sheet = sheet_size(name, "--paper");
        EXPECT_NEAR(sheet.short_mm, short_mm, 1e-9) << name;
        EXPECT_NEAR(sheet.long_mm, long_mm, 1e-9) << name;
        EXPECT_EQ(sheet_name(long_mm, short_mm), name);
    }
}

// ISO 216:2007: each sheet is half of the one before, its side rounded down; its sides are as
// 1 to the square root of 2, within the rounding.
TEST(Sheets, OfIsoAAreHalvesOfEachOther) {
    for (int i = 1; i <= 4; ++i) {
        const auto larger = sheet_size("A" + std::to_string(i - 1), "");
        const auto sheet = sheet_size("A" + std::to_string(i), "");
        EXPECT_EQ(sheet.long_mm, larger.short_mm);
        EXPECT_EQ(sheet.short_mm, std::floor(larger.long_mm / 2));
        EXPECT_NEAR(sheet.long_mm / sheet.short_mm, std::sqrt(2.0), 0.006);
    }
}

TEST(Sheets, AreFoundAsPeopleWriteThem) {
    for (const auto* name : {"ARCH D", "arch-d", "archd", "Arch_D", "24x36", "24 x 36 in"}) {
        EXPECT_EQ(sheet_size(name, "").name, "ARCH D") << name;
    }
    EXPECT_EQ(sheet_size("letter", "").name, "ANSI A");
    EXPECT_EQ(sheet_name(100, 100), "");
    for (const auto* name : {"", "A9", "A", "ARCH"}) {
        EXPECT_THROW(sheet_size(name, "--paper"), InputError) << name;
    }
}

TargetWish wish_for(const std::string& paper, bool portrait = false, bool checkerboard = false) {
    const auto sheet = sheet_size(paper, "--paper");
    return {"t", portrait ? sheet.short_mm : sheet.long_mm,
            portrait ? sheet.long_mm : sheet.short_mm, checkerboard, std::nullopt};
}

TEST(Layout, OfA1IsTheBayTarget) {
    const Target target = design_target(wish_for("A1"));
    const auto& pattern = target.pattern;
    EXPECT_EQ(pattern.across, 12);
    EXPECT_EQ(pattern.down, 8);
    EXPECT_EQ(pattern.square_mm, 65);
    EXPECT_EQ(pattern.marker_mm, 48);
    EXPECT_EQ(pattern.dictionary, "DICT_4X4_100");
    EXPECT_EQ(pattern.first_square, SquareColour::black);
    EXPECT_EQ(target.centre_mm, Eigen::Vector2d(420.5, 297));
}

TEST(Layout, OfEverySheetKeepsItsPromises) {
    for (const auto& sheet : sheet_sizes()) {
        for (const bool portrait : {false, true}) {
            for (const bool checkerboard : {false, true}) {
                const Target target = design_target(wish_for(sheet.name, portrait, checkerboard));
                const auto& p = target.pattern;
                const auto margins = margins_of(target.sheet_width_mm, target.sheet_height_mm);
                EXPECT_GE(std::max(p.across, p.down), 6);
                EXPECT_GE(std::min(p.across, p.down), 4);
                EXPECT_EQ(p.across > p.down, !portrait) << sheet.name;
                EXPECT_EQ(p.square_mm, std::floor(p.square_mm));
                const double room_across = (target.sheet_width_mm - p.across * p.square_mm) / 2;
                const double room_down = (target.sheet_height_mm - p.down * p.square_mm) / 2;
                EXPECT_GE(room_across, margins.side_mm + p.square_mm / 4) << sheet.name;
                EXPECT_GE(room_down, margins.end_mm + p.square_mm / 4) << sheet.name;
                EXPECT_GT(p.across * p.down * p.square_mm * p.square_mm,
                          0.55 * target.sheet_width_mm * target.sheet_height_mm)
                    << sheet.name;
                EXPECT_EQ(p.has_markers(), !checkerboard);
                EXPECT_TRUE(!checkerboard || (p.across + p.down) % 2 == 1) << sheet.name;
                const auto bars = check_bar_mm(target);
                EXPECT_GT(bars.x(), 0.8 * target.sheet_width_mm) << sheet.name;
                EXPECT_GT(bars.y(), 0.8 * target.sheet_height_mm) << sheet.name;
            }
        }
    }
}

TEST(Layout, SquareThatIsAskedForIsKeptOrRefused) {
    auto wish = wish_for("A1");
    wish.square_mm = 60;
    EXPECT_EQ(design_target(wish).pattern.square_mm, 60);
    wish.square_mm = 25;
    EXPECT_EQ(design_target(wish).pattern.dictionary, "DICT_4X4_1000");
    wish.square_mm = 130;
    EXPECT_THROW(design_target(wish), InputError);
    wish.square_mm = 10;
    EXPECT_THROW(design_target(wish), InputError);
}

TEST(PrintScale, IsTakenFromEitherMarkAndNeverConfusesThem) {
    EXPECT_DOUBLE_EQ(print_scale(799.2, 800).value(), 0.999);
    EXPECT_DOUBLE_EQ(print_scale(499.2, 800).value(), 0.9984);
    EXPECT_DOUBLE_EQ(print_scale(190, 200).value(), 0.95);
    EXPECT_FALSE(print_scale(600, 800));
    EXPECT_FALSE(print_scale(100, 200));
    for (const double bar : {200.0, 400.0, 500.0, 600.0, 700.0, 800.0, 1100.0}) {
        for (double scale = 0.9; scale <= 1.1; scale += 0.01) {
            EXPECT_NEAR(print_scale(scale * bar, bar).value_or(0), scale, 1e-12);
            if (const auto mark = short_check_mm(bar)) {
                EXPECT_NEAR(print_scale(scale * *mark, bar).value_or(0), scale, 1e-12);
            }
        }
    }
}

/// A PDF turned into pixels by poppler and measured there.
class PrintedPage {
  public:
    static constexpr double dpi = 1200, mm_per_px = 25.4 / dpi;
    PrintedPage(std::filesystem::path pdf, const Scratch& scratch)
        : pdf_(std::move(pdf)), crop_(scratch.folder() / "crop") {}

    /// Places in mm along x where a strip turns from white to black or back (half grey).
    std::vector<double> edges_across(double x, double y, double width, double height) {
        cv::Mat row;
        cv::reduce(crop(x, y, width, height), row, 0, cv::REDUCE_AVG, CV_64F);
        return edges_of(row, std::floor(x / mm_per_px));
    }
    std::vector<double> edges_down(double x, double y, double width, double height) {
        cv::Mat column;
        cv::reduce(crop(x, y, width, height), column, 1, cv::REDUCE_AVG, CV_64F);
        return edges_of(column.t(), std::floor(y / mm_per_px));
    }
    double darkest(double x, double y, double width, double height) {
        double least = 0;
        cv::minMaxLoc(crop(x, y, width, height), &least);
        return least;
    }

  private:
    cv::Mat crop(double x, double y, double width, double height) {
        const auto px = [](double mm) { return static_cast<int>(std::floor(mm / mm_per_px)); };
        const auto done = run_command(
            "pdftoppm -gray -r 1200 -singlefile -x " + std::to_string(px(x)) + " -y " +
            std::to_string(px(y)) + " -W " + std::to_string(px(width)) + " -H " +
            std::to_string(px(height)) + " '" + pdf_.string() + "' '" + crop_.string() + "'");
        EXPECT_EQ(done.exit_code, 0) << done.output;
        return cv::imread(crop_.string() + ".pgm", cv::IMREAD_GRAYSCALE);
    }
    static std::vector<double> edges_of(const cv::Mat& profile, double first_px) {
        std::vector<double> edges;
        for (int i = 1; i < profile.cols; ++i) {
            const double before = profile.at<double>(i - 1), after = profile.at<double>(i);
            if ((before < 127.5) != (after < 127.5)) {
                const double share = (127.5 - before) / (after - before);
                edges.push_back((first_px + i - 0.5 + share) * mm_per_px);
            }
        }
        return edges;
    }
    std::filesystem::path pdf_, crop_;
};

class DrawingTest : public testing::Test {
  protected:
    std::filesystem::path drawn(const Target& target, PageKind kind, const std::string& name) {
        const auto file = scratch.folder() / name;
        draw_target(target, file, kind);
        return file;
    }
    Scratch scratch;
};

constexpr double print_tolerance_mm = 0.02;  // what the printed lengths must hold

TEST_F(DrawingTest, PrintedSquaresAreTrueToScale) {
    for (const auto& [paper, portrait] : {std::pair{"A1", false}, {"A3", true}, {"24x36", false}}) {
        const Target target = design_target(wish_for(paper, portrait));
        PrintedPage page(drawn(target, PageKind::pdf, "t.pdf"), scratch);
        const auto& p = target.pattern;
        const Eigen::Vector2d corner =
            target.centre_mm - p.square_mm / 2 * Eigen::Vector2d(p.across, p.down);
        const double near_edge = 0.05 * p.square_mm;  // outside the markers
        const auto across = page.edges_across(corner.x() - 2, corner.y() + near_edge,
                                              p.across * p.square_mm + 4, 0.3);
        ASSERT_EQ(across.size(), static_cast<std::size_t>(p.across + p.across % 2)) << paper;
        for (std::size_t i = 0; i < across.size(); ++i) {
            EXPECT_NEAR(across[i], corner.x() + static_cast<double>(i) * p.square_mm,
                        print_tolerance_mm);
        }
        const auto down =
            page.edges_down(corner.x() + near_edge, corner.y() - 2, 0.3, p.down * p.square_mm + 4);
        ASSERT_EQ(down.size(), static_cast<std::size_t>(p.down + p.down % 2)) << paper;
        for (std::size_t i = 0; i < down.size(); ++i) {
            EXPECT_NEAR(down[i], corner.y() + static_cast<double>(i) * p.square_mm,
                        print_tolerance_mm);
        }
    }
}

double middle(const std::vector<double>& edges, std::size_t line) {
    return (edges.at(2 * line) + edges.at(2 * line + 1)) / 2;
}

TEST_F(DrawingTest, PrintedCheckBarsAreTrueToScale) {
    const Target target = design_target(wish_for("A1"));
    PrintedPage page(drawn(target, PageKind::pdf, "t.pdf"), scratch);
    const auto margins = margins_of(target.sheet_width_mm, target.sheet_height_mm);
    // Beside the bar's own line only its end lines and its short line cross the strip.
    const double bar_y = target.sheet_height_mm - margins.end_mm + 3 * margins.words;
    const auto across = page.edges_across(6, bar_y + 0.5, target.sheet_width_mm - 12, 0.4);
    ASSERT_EQ(across.size(), 6u);
    EXPECT_NEAR(middle(across, 2) - middle(across, 0), 800, print_tolerance_mm);
    EXPECT_NEAR(middle(across, 1) - middle(across, 0), 500, print_tolerance_mm);
    const double bar_x = margins.side_mm - 3 * margins.words;
    const auto down = page.edges_down(bar_x + 0.5, 6, 0.4, target.sheet_height_mm - 12);
    ASSERT_EQ(down.size(), 4u);
    EXPECT_NEAR(middle(down, 1) - middle(down, 0), 500, print_tolerance_mm);
}

TEST_F(DrawingTest, EdgeMarksPointAtTheMiddleOfTheNominalEdges) {
    const Target target = design_target(wish_for("ARCH D"));
    PrintedPage page(drawn(target, PageKind::pdf, "t.pdf"), scratch);
    const double w = target.sheet_width_mm, h = target.sheet_height_mm;
    // A triangle 8 mm deep and 6 mm wide at its base is 3 mm wide 4 mm inside the edge.
    const auto expect_mark = [&](const std::vector<double>& edges, double middle_mm) {
        ASSERT_EQ(edges.size(), 2u);
        EXPECT_NEAR(edges[0], middle_mm - 1.5, print_tolerance_mm);
        EXPECT_NEAR(edges[1], middle_mm + 1.5, print_tolerance_mm);
    };
    const double half_px = PrintedPage::mm_per_px / 2, thin = 2 * PrintedPage::mm_per_px + 1e-6;
    expect_mark(page.edges_across(w / 2 - 4, 4 - 2 * half_px, 8, thin), w / 2);
    expect_mark(page.edges_across(w / 2 - 4, h - 4 - 2 * half_px, 8, thin), w / 2);
    expect_mark(page.edges_down(4 - 2 * half_px, h / 2 - 4, thin, 8), h / 2);
    expect_mark(page.edges_down(w - 4 - 2 * half_px, h / 2 - 4, thin, 8), h / 2);
    const auto base = page.edges_down(w / 2 + 2.5, 2, thin, 8);
    ASSERT_EQ(base.size(), 2u);
    EXPECT_NEAR(base[1], 8, print_tolerance_mm);
}

TEST_F(DrawingTest, QuietZoneIsWhite) {
    for (const auto* paper : {"A1", "letter"}) {
        const Target target = design_target(wish_for(paper));
        PrintedPage page(drawn(target, PageKind::pdf, "t.pdf"), scratch);
        const auto& p = target.pattern;
        const double quiet = quiet_zone_mm(p), width = p.across * p.square_mm;
        const double height = p.down * p.square_mm, thin = 0.02;
        EXPECT_GE(quiet, p.square_mm / 4);
        const Eigen::Vector2d corner = target.centre_mm - Eigen::Vector2d(width, height) / 2;
        const double left = corner.x() - quiet, top = corner.y() - quiet;
        EXPECT_EQ(page.darkest(left, top, width + 2 * quiet, quiet - thin), 255) << paper;
        EXPECT_EQ(page.darkest(left, corner.y() + height + thin, width, quiet - thin), 255);
        EXPECT_EQ(page.darkest(left, top, quiet - thin, height + 2 * quiet), 255) << paper;
        EXPECT_EQ(page.darkest(corner.x() + width + thin, top, quiet - thin, height), 255);
    }
}

/// OpenCV's own detector is the third party that must read what we print.
std::map<int, cv::Point2f> markers_read(const cv::Mat& image, const std::string& dictionary_name) {
    const auto name =
        dictionary_name == "DICT_4X4_100" ? cv::aruco::DICT_4X4_100 : cv::aruco::DICT_4X4_1000;
    std::vector<int> ids;
    std::vector<std::vector<cv::Point2f>> corners;
    const auto parameters = cv::aruco::DetectorParameters::create();
    parameters->perspectiveRemovePixelPerCell = 8;
    parameters->perspectiveRemoveIgnoredMarginPerCell = 0.3;
    parameters->minMarkerPerimeterRate = 0.01;
    cv::aruco::detectMarkers(image, cv::aruco::getPredefinedDictionary(name), corners, ids,
                             parameters);
    std::map<int, cv::Point2f> found;
    for (std::size_t i = 0; i < ids.size(); ++i) {
        found[ids[i]] = (corners[i][0] + corners[i][1] + corners[i][2] + corners[i][3]) / 4;
    }
    return found;
}

void expect_all_markers(const Target& target, const cv::Mat& image, double px_per_mm) {
    const auto found = markers_read(image, target.pattern.dictionary);
    const auto places = marker_places(target.pattern);
    EXPECT_EQ(found.size(), places.size()) << target.name;
    const auto& p = target.pattern;
    const Eigen::Vector2d corner =
        target.centre_mm - p.square_mm / 2 * Eigen::Vector2d(p.across, p.down);
    for (const auto& place : places) {
        ASSERT_TRUE(found.count(place.id)) << place.id;
        const Eigen::Vector2d expected =
            px_per_mm *
            (corner + p.square_mm * Eigen::Vector2d(place.column + 0.5, place.row + 0.5));
        EXPECT_NEAR(found.at(place.id).x, expected.x() - 0.5, 1.5) << place.id;
        EXPECT_NEAR(found.at(place.id).y, expected.y() - 0.5, 1.5) << place.id;
    }
}

TEST_F(DrawingTest, MarkersAreReadByOpenCvWithTheirNumbers) {
    for (const auto& [paper, portrait] :
         {std::pair{"A1", false}, {"A3", true}, {"letter", false}}) {
        const Target target = design_target(wish_for(paper, portrait));
        const auto png = drawn(target, PageKind::png, "t.png");
        expect_all_markers(target, cv::imread(png.string(), cv::IMREAD_GRAYSCALE), 3.937);
    }
}

TEST_F(DrawingTest, MarkersOfTheMirroredSheetAreNotRead) {
    const auto png = drawn(design_target(wish_for("A3")), PageKind::png, "t.png");
    cv::Mat mirrored;
    cv::flip(cv::imread(png.string(), cv::IMREAD_GRAYSCALE), mirrored, 1);
    EXPECT_LT(markers_read(mirrored, "DICT_4X4_100").size(), 5u);
}

TEST_F(DrawingTest, SvgAndPngStateTheirScale) {
    const Target target = design_target(wish_for("A1"));
    EXPECT_THAT(read_file(drawn(target, PageKind::svg, "t.svg"), 1 << 24),
                HasSubstr(R"(width="841mm" height="594mm" viewBox="0 0 841 594")"));
    const std::string png = read_file(drawn(target, PageKind::png, "t.png"), 1 << 24);
    const auto at = png.find("pHYs");
    ASSERT_NE(at, std::string::npos);
    EXPECT_EQ(big_endian(png, at + 4, 4), 3937u);  // pixels per metre: 100 dpi
    EXPECT_EQ(big_endian(png, at + 8, 4), 3937u);
    EXPECT_EQ(png[at + 12], 1);  // the unit is the metre
    EXPECT_EQ(big_endian(png, 16, 4), 3311u);
}

TEST_F(DrawingTest, PagesSayWhatTheyAre) {
    const auto words = [&](const Target& target) {
        const auto pdf = drawn(target, PageKind::pdf, "t.pdf");
        return run_command("pdftotext '" + pdf.string() + "' -").output;
    };
    EXPECT_THAT(words(design_target(wish_for("A1"))),
                AllOf(HasSubstr("TOP"), HasSubstr("800 mm = 31.496 in"),
                      HasSubstr("500 mm = 19.685 in"), HasSubstr("Print at 100 %"),
                      HasSubstr("do not fold"), HasSubstr("12 x 8 squares of 65 mm"),
                      HasSubstr("DICT_4X4_100"), HasSubstr("left edge"), HasSubstr("right edge"),
                      HasSubstr("top edge"), HasSubstr("bottom edge")));
    EXPECT_THAT(words(design_target(wish_for("A3", false, true))),
                AllOf(HasSubstr("phone check"), Not(HasSubstr("DICT"))));
}

TEST_F(DrawingTest, FolderThatCannotBeWrittenIsAnInputError) {
    const auto file = scratch.write("file", "x");
    EXPECT_THROW(draw_target(design_target(wish_for("A4")), file / "t.pdf", PageKind::pdf),
                 InputError);
}

TEST(CommittedTargets, AreWhatTheProgramDrawsToday) {
    const std::filesystem::path folder = std::filesystem::path(SQUARESIGHT_SOURCE_DIR) / "targets";
    const auto expect = [&](const std::string& name, const char* paper, bool checkerboard) {
        Target target = design_target(wish_for(paper, false, checkerboard));
        target.name = name;
        EXPECT_EQ(read_file(folder / (name + ".yaml"), 1 << 20), target_yaml(target));
        EXPECT_TRUE(std::filesystem::exists(folder / (name + ".pdf")));
    };
    expect("bay-a1", "A1", false);
    expect("bay-arch-d", "ARCH D", false);
    expect("checkerboard-a3", "A3", true);
}

class TargetCommandTest : public testing::Test {
  protected:
    std::string in(const std::string& name) const { return (scratch.folder() / name).string(); }
    Scratch scratch;
};

TEST_F(TargetCommandTest, DrawsFourFiles) {
    const auto done = run_squaresight("target --paper A4 --name b --out '" + in("o") + "'");
    EXPECT_EQ(done.exit_code, 0) << done.output;
    for (const auto* extension : {"pdf", "svg", "png", "yaml"}) {
        EXPECT_TRUE(std::filesystem::exists(in(std::string("o/b.") + extension)));
    }
    const Target target = load_target(in("o/b.yaml"));
    EXPECT_EQ(target.name, "b");
    EXPECT_FALSE(target.print_checked);
    EXPECT_EQ(target.sheet_width_mm, 297);
}

TEST_F(TargetCommandTest, CheckerboardHasNoMarkers) {
    const auto done = run_squaresight("target --paper A4 --portrait --checkerboard --json --out '" +
                                      in("o") + "'");
    EXPECT_EQ(done.exit_code, 0);
    const auto json = nlohmann::json::parse(done.output);
    EXPECT_EQ(json["name"], "checkerboard-a4");
    EXPECT_FALSE(json["pattern"].contains("dictionary"));
    EXPECT_FALSE(load_target(in("o/checkerboard-a4.yaml")).has_markers());
}

TEST_F(TargetCommandTest, RecordsTheMeasuredBars) {
    run_squaresight("target --paper A1 --name b --out '" + in("o") + "'");
    const auto done = run_squaresight("target '" + in("o/b.yaml") +
                                      "' --measured-across 799.2mm --measured-down '19 11/16 in' "
                                      "--on 2026-03-05");
    EXPECT_EQ(done.exit_code, 0) << done.output;
    const Target target = load_target(in("o/b.yaml"));
    EXPECT_TRUE(target.print_checked);
    EXPECT_NEAR(target.printed_across, 799.2 / 800, 1e-12);
    EXPECT_NEAR(target.printed_down, 19.6875 * 25.4 / 500, 1e-12);
    EXPECT_EQ(target.checked_on, "2026-03-05");
    const auto again = run_squaresight("target --paper A1 --name b --out '" + in("o") + "'");
    EXPECT_EQ(again.exit_code, 3);
    EXPECT_THAT(again.output, AllOf(HasSubstr("measured"), HasSubstr("--replace")));
    EXPECT_TRUE(load_target(in("o/b.yaml")).print_checked);
    EXPECT_EQ(
        run_squaresight("target --paper A1 --name b --replace --out '" + in("o") + "'").exit_code,
        0);
    EXPECT_FALSE(load_target(in("o/b.yaml")).print_checked);
}

TEST_F(TargetCommandTest, RecordsBothDiagonalsAsSkew) {
    run_squaresight("target --paper A1 --name b --out '" + in("o") + "'");
    const Pattern pattern = load_target(in("o/b.yaml")).pattern;
    const double width = pattern.across * pattern.square_mm;
    const double height = pattern.down * pattern.square_mm;
    const double right_over_height = 0.6;  // mm that the bottom edge lies to the right
    const std::string falling = std::to_string(std::hypot(width + right_over_height, height));
    const std::string rising = std::to_string(std::hypot(width - right_over_height, height));
    const std::string bars =
        "target '" + in("o/b.yaml") + "' --measured-across 800mm --measured-down 500mm ";
    const auto done = run_squaresight(bars + "--measured-falling " + falling +
                                      "mm --measured-rising " + rising + "mm");
    EXPECT_EQ(done.exit_code, 0) << done.output;
    const Target target = load_target(in("o/b.yaml"));
    EXPECT_TRUE(target.skew_checked);
    EXPECT_NEAR(target.printed_skew, right_over_height / height, 1e-7);
    EXPECT_EQ(run_squaresight(bars + "--measured-falling " + falling + "mm").exit_code, 2);
    EXPECT_EQ(run_squaresight(bars + "--measured-falling 500mm --measured-rising 500mm").exit_code,
              3);
}

TEST_F(TargetCommandTest, TheReadyCommandPastedAsItStandsRecordsNothing) {
    const auto drawn = run_squaresight("target --paper A1 --name b --out '" + in("o") + "'");
    const std::string ready = "squaresight target ";
    const auto at = drawn.output.find(ready);
    ASSERT_NE(at, std::string::npos) << drawn.output;
    const auto from = at + std::string("squaresight ").size();
    const auto pasted =
        run_squaresight(drawn.output.substr(from, drawn.output.find('\n', from) - from));
    EXPECT_EQ(pasted.exit_code, 3) << pasted.output;
    EXPECT_THAT(pasted.output, HasSubstr("READ_ACROSS"));
    EXPECT_FALSE(load_target(in("o/b.yaml")).print_checked);
}

TEST_F(TargetCommandTest, ChecksWithoutADateAreDatedToday) {
    run_squaresight("target --paper A1 --name b --out '" + in("o") + "'");
    EXPECT_EQ(run_squaresight("target '" + in("o/b.yaml") +
                              "' --measured-across 499.2mm --measured-down 499.5mm")
                  .exit_code,
              0);
    const Target target = load_target(in("o/b.yaml"));
    EXPECT_NEAR(target.printed_across, 0.9984, 1e-12);
    EXPECT_NEAR(target.printed_down, 0.999, 1e-12);
    EXPECT_EQ(target.checked_on.size(), 10u);
}

TEST_F(TargetCommandTest, PrintThatTheMachineScaledIsRecordedWithAWarning) {
    run_squaresight("target --paper A1 --name b --out '" + in("o") + "'");
    const auto done = run_squaresight("target '" + in("o/b.yaml") +
                                      "' --measured-across 776mm --measured-down 485mm");
    EXPECT_EQ(done.exit_code, 0);
    EXPECT_THAT(done.output, HasSubstr("print it again at 100 %"));
    EXPECT_NEAR(load_target(in("o/b.yaml")).printed_down, 0.97, 1e-12);
}

TEST_F(TargetCommandTest, AbsurdReadingsAreRefusedAndNothingIsWritten) {
    run_squaresight("target --paper A1 --name b --out '" + in("o") + "'");
    const auto before = read_file(in("o/b.yaml"), 1 << 20);
    const auto refused = [&](const std::string& flags, const std::string& says) {
        const auto done = run_squaresight("target '" + in("o/b.yaml") + "' " + flags);
        EXPECT_EQ(done.exit_code, 3) << flags << done.output;
        EXPECT_THAT(done.output, HasSubstr(says));
        EXPECT_EQ(std::count(done.output.begin(), done.output.end(), '\n'), 1) << done.output;
        EXPECT_EQ(read_file(in("o/b.yaml"), 1 << 20), before);
    };
    refused("--measured-across 620mm --measured-down 500mm", "no reading of a bar of 800 mm");
    refused("--measured-across 800mm --measured-down 50mm", "--measured-down");
    refused("--measured-across 800 --measured-down 500mm", "no unit");
    refused("--measured-across 'nan mm' --measured-down 500mm", "not a number");
    refused("--measured-across '800 deg' --measured-down 500mm", "no length");
    refused("--measured-across=-800mm --measured-down 500mm", "out of range");
    refused("--measured-across '800 mm +/- 1 mm' --measured-down 500mm", "no limits");
    refused("--measured-across 760mm --measured-down 500mm", "no printer");
    refused("--measured-across 800mm --measured-down 500mm --on yesterday", "not a date");
}

TEST_F(TargetCommandTest, WrongUsageEndsWithTwo) {
    const std::string out = " --out '" + in("o") + "'";
    for (const auto& arguments :
         {std::string("target"), std::string("target --paper A1"), "target" + out,
          "target --paper A1 --portrait --landscape" + out, "target --papr A1" + out,
          "target --paper A1 --dpi x" + out, "target --paper A1 --measured-across 1mm" + out,
          std::string("target x.yaml --measured-across 500mm"), "target x.yaml --paper A1" + out}) {
        const auto done = run_squaresight(arguments);
        EXPECT_EQ(done.exit_code, 2) << arguments << done.output;
    }
    EXPECT_FALSE(std::filesystem::exists(in("o")));
}

TEST_F(TargetCommandTest, UnusableInputEndsWithThreeInOneLine) {
    const std::string out = " --out '" + in("o") + "'";
    scratch.write("file", "x");
    for (const auto& arguments :
         {"target --paper A9" + out, "target --paper ''x" + out,
          "target --paper A4 --name a/b" + out, "target --paper A4 --name ..x" + out,
          "target --paper A4 --square 60" + out, "target --paper A4 --square 60mm" + out,
          "target --paper A4 --square 0mm" + out, "target --paper A0 --dpi 1200" + out,
          "target --paper A4 --dpi nan" + out, "target --paper A4 --out '" + in("file") + "'",
          "target '" + in("none.yaml") + "'", "target '" + in("file") + "'",
          "target '" + scratch.folder().string() + "'"}) {
        const auto done = run_squaresight(arguments);
        EXPECT_EQ(done.exit_code, 3) << arguments << done.output;
        EXPECT_EQ(std::count(done.output.begin(), done.output.end(), '\n'), 1) << done.output;
    }
}

TEST_F(TargetCommandTest, HelpShowsAnExample) {
    const auto done = run_squaresight("target --help");
    EXPECT_EQ(done.exit_code, 0);
    EXPECT_THAT(done.output, AllOf(HasSubstr("--paper"), HasSubstr("squaresight target --paper")));
}

}  // namespace
}  // namespace squaresight
