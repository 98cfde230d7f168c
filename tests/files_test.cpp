#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <Eigen/Eigenvalues>
#include <functional>
#include <string>

#include "adjust/cradle_file.h"
#include "camera/camera.h"
#include "support/scratch.h"
#include "target/target.h"
#include "units/error.h"

namespace squaresight {
namespace {

using testing::AllOf;
using testing::HasSubstr;
using testing::Not;

const std::string good_target = R"(schema: squaresight/target/1
name: bay-a1
sheet: {width: 841 mm, height: 594 mm}
pattern:
  across: 12
  down: 8
  square: 65 mm
  marker: 48 mm
  dictionary: DICT_4X4_100
  first_id: 0
  first_square: black
centre: {right: 420.5 mm, down: 297 mm}
printed: {across: 0.9984, down: 0.999}
flatness: 1.5 mm
printed_on: 2026-02-20
checked_on: 2026-02-21
)";

const std::string good_camera = R"(schema: squaresight/camera/1
name: bay phone
image: {width: 4000, height: 3000}
model: brown-conrady
fx: 3000
fy: 3010
cx: 2001
cy: 1498
distortion: {k1: 0.08, k2: -0.1, p1: 0.0002, p2: -0.0003, k3: 0.01}
identity: {make: Heron, model: Bay 7, lens: main 4.2 mm, focal_length: 4.2 mm}
photos_used: 24
residual_px: 0.21
date: 2026-02-20
pointing_jitter: 0.03 deg
)";

const std::string good_cradle = R"(schema: squaresight/cradle/1
name: magnet cradle
camera: bay phone
phone_up: clockwise
offset: {left: 0.8 deg, up: -0.4 deg}
lens: {ahead: 15 mm, left: -22 mm, up: 31 mm}
covariance:
  - [0.01, 0, 0, 0.1, 0]
  - [0, 0.02, 0, 0, 0.1]
  - [0, 0, 4, 0, 0]
  - [0.1, 0, 0, 9, 0]
  - [0, 0.1, 0, 0, 9]
seating: 0.02 deg
date: 2026-02-22
)";

/// A change to a good file, and what the refusal must say.
struct Wrong {
    std::string from, to, says;
};

std::string with(std::string text, const std::string& from, const std::string& to) {
    const auto at = text.find(from);
    if (at == std::string::npos) {
        throw std::logic_error("the good file does not hold: " + from);
    }
    return text.replace(at, from.size(), to);
}

class FilesTest : public testing::Test {
  protected:
    using Load = std::function<void(const std::filesystem::path&)>;

    static std::string refusal(const Load& load, const std::filesystem::path& file) {
        try {
            load(file);
        } catch (const InputError& error) {
            return error.what();
        }
        return "accepted";
    }

    void expect_refusals(const Load& load, const std::string& good,
                         const std::vector<Wrong>& wrongs) {
        EXPECT_EQ(refusal(load, scratch.write("good.yaml", good)), "accepted");
        for (const auto& wrong : wrongs) {
            const auto file = scratch.write("bad.yaml", with(good, wrong.from, wrong.to));
            EXPECT_THAT(refusal(load, file),
                        AllOf(HasSubstr("bad.yaml"), HasSubstr(wrong.says), Not(HasSubstr("\n"))))
                << wrong.from << " -> " << wrong.to;
        }
    }

    /// Whatever kind of file it is: missing, a folder, empty, binary, cut anywhere.
    void expect_bad_files_refused(const Load& load, const std::string& good) {
        EXPECT_THAT(refusal(load, scratch.folder() / "none.yaml"), HasSubstr("no such file"));
        EXPECT_THAT(refusal(load, scratch.folder()), HasSubstr("folder"));
        EXPECT_THAT(refusal(load, scratch.write("e.yaml", "")), HasSubstr("empty"));
        EXPECT_THAT(refusal(load, scratch.write("b.yaml", std::string(300, '\xff') + '\0')),
                    HasSubstr("not a text file"));
        EXPECT_THAT(refusal(load, scratch.write("s.yaml", "schema: squaresight/job/1\n")),
                    HasSubstr("is 'squaresight/job/1'"));
        for (std::size_t length = 1; length < good.size(); ++length) {
            refusal(load, scratch.write("cut.yaml", good.substr(0, length)));
        }
        const auto first_line = good.substr(0, good.find('\n') + 1);
        EXPECT_THAT(refusal(load, scratch.write("f.yaml", first_line)), HasSubstr("has no 'name'"));
    }
    Scratch scratch;
};

TEST_F(FilesTest, TargetIsRead) {
    const Target target = load_target(scratch.write("t.yaml", good_target));
    EXPECT_EQ(target.name, "bay-a1");
    EXPECT_DOUBLE_EQ(target.sheet_width_mm, 841);
    EXPECT_EQ(target.pattern.across, 12);
    EXPECT_DOUBLE_EQ(target.pattern.marker_mm, 48);
    EXPECT_EQ(target.pattern.first_square, SquareColour::black);
    EXPECT_TRUE(target.has_markers());
    EXPECT_TRUE(target.print_checked);
    EXPECT_DOUBLE_EQ(target.printed_across, 0.9984);
    EXPECT_DOUBLE_EQ(target.flatness_mm, 1.5);
    EXPECT_EQ(target.checked_on, "2026-02-21");
}

TEST_F(FilesTest, TargetCentreIsTheSheetsMiddleUnlessGiven) {
    auto text = with(good_target, "centre: {right: 420.5 mm, down: 297 mm}\n", "");
    EXPECT_EQ(load_target(scratch.write("t.yaml", text)).centre_mm, Eigen::Vector2d(420.5, 297));
    text = with(good_target, "right: 420.5 mm", "right: 16.2 in");
    EXPECT_NEAR(load_target(scratch.write("t.yaml", text)).centre_mm.x(), 411.48, 1e-9);
}

TEST_F(FilesTest, TargetWithoutMeasuredPrintIsUnchecked) {
    const auto text = with(good_target, "printed: {across: 0.9984, down: 0.999}\n", "");
    const Target target = load_target(scratch.write("t.yaml", text));
    EXPECT_FALSE(target.print_checked);
    EXPECT_EQ(target.printed_across, 1);
}

TEST_F(FilesTest, PatternWithoutMarkersIsAPlainCheckerboard) {
    const auto text =
        with(good_target, "  marker: 48 mm\n  dictionary: DICT_4X4_100\n  first_id: 0\n", "");
    const Target target = load_target(scratch.write("t.yaml", text));
    EXPECT_FALSE(target.has_markers());
    EXPECT_TRUE(marker_places(target.pattern).empty());
    EXPECT_EQ(target_yaml(load_target(scratch.write("u.yaml", target_yaml(target)))),
              target_yaml(target));
}

TEST_F(FilesTest, WrongTargetsAreRefused) {
    expect_bad_files_refused(load_target, good_target);
    expect_refusals(
        load_target, good_target,
        {{"name: bay-a1", "nmae: bay-a1", "did you mean 'name'?"},
         {"name: bay-a1", "name: bay-a1\nname: bay-a1", "twice"},
         {"name: bay-a1", "name:", "bad.yaml:2: name: has no value"},
         {"width: 841 mm", "width: 841", "no unit"},
         {"width: 841 mm", "width: 841 deg", "no length"},
         {"width: 841 mm", "width: -841 mm", "out of range"},
         {"width: 841 mm", "width: nan mm", "not a number"},
         {"width: 841 mm", "width: 1e300 mm", "not a usable number"},
         {"width: 841 mm", "width: 841 mm +/- 1 mm", "no limits"},
         {"width: 841 mm", "width: 700 mm", "beyond the sheet"},
         {"sheet: {width: 841 mm, height: 594 mm}", "sheet: {width: 594 mm, height: 841 mm}",
          "on its side"},
         {"across: 12", "across: 2", "from 3"},
         {"across: 12", "across: 12.5", "whole number"},
         {"across: 12", "across: 14", "beyond the sheet"},
         {"across: 12", "acros: 12", "did you mean 'across'?"},
         {"square: 65 mm", "square: 6.5 cm +/- 1 mm", "no limits"},
         {"square: 65 mm", "square: 0 mm", "out of range"},
         {"marker: 48 mm", "marker: 65 mm", "not smaller than the square"},
         {"  marker: 48 mm\n", "", "has no 'marker'"},
         {"  dictionary: DICT_4X4_100\n", "", "has no 'dictionary'"},
         {"  marker: 48 mm\n  dictionary: DICT_4X4_100\n", "", "without markers"},
         {"DICT_4X4_100", "DICT_4x4_100", "did you mean 'DICT_4X4_100'?"},
         {"first_id: 0", "first_id: 53", "holds 100 markers, the pattern needs 101"},
         {"first_id: 0", "first_id: -1", "out of range"},
         {"first_square: black", "first_square: blak", "did you mean 'black'?"},
         {"right: 420.5 mm", "right: 380 mm", "beyond the sheet"},
         {"right: 420.5 mm", "right: -380 mm", "out of range"},
         {"across: 0.9984", "across: 99.84", "from 0.9 to 1.1"},
         {"across: 0.9984", "across: 499 mm", "not a number"},
         {"printed: {across: 0.9984, down: 0.999}", "printed: {across: 1}", "has no 'down'"},
         {"flatness: 1.5 mm", "flatness: -1 mm", "out of range"},
         {"2026-02-21", "yesterday", "not a date"}});
}

TEST_F(FilesTest, EveryTargetThatIsWrittenReadsBack) {
    const auto first = load_target(scratch.write("t.yaml", good_target));
    EXPECT_EQ(target_yaml(first), good_target);
    Target odd = first;
    odd.name = "the shop's #2: big";
    odd.sheet_width_mm = 36 * 25.4;
    odd.centre_mm.x() = 457.2 + 1.0 / 3;
    odd.print_checked = false;
    odd.printed_on = odd.checked_on = "";
    const auto again = load_target(scratch.write("o.yaml", target_yaml(odd)));
    EXPECT_EQ(again.name, odd.name);
    EXPECT_EQ(again.sheet_width_mm, odd.sheet_width_mm);
    EXPECT_EQ(again.centre_mm, odd.centre_mm);
    EXPECT_FALSE(again.print_checked);
}

TEST_F(FilesTest, CameraIsRead) {
    const Camera camera = load_camera(scratch.write("c.yaml", good_camera));
    EXPECT_EQ(camera.width_px, 4000);
    EXPECT_EQ(camera.height_px, 3000);
    const std::array<double, 9> expected{3000, 3010, 2001, 1498, 0.08, -0.1, 0.0002, -0.0003, 0.01};
    EXPECT_EQ(camera.lens.parameters(), expected);
    EXPECT_EQ(camera.identity.model, "Bay 7");
    EXPECT_EQ(camera.identity.focal_length_mm, 4.2);
    EXPECT_EQ(camera.photos_used, 24);
    EXPECT_EQ(camera.residual_px, 0.21);
    EXPECT_EQ(camera.pointing_jitter_deg, 0.03);
    EXPECT_FALSE(camera.covariance_given);
}

TEST_F(FilesTest, TypedInCameraGetsTheStatedPriors) {
    const auto text = good_camera.substr(0, good_camera.find("identity"));
    const Camera camera = load_camera(
        scratch.write("c.yaml", with(text, ", k2: -0.1, p1: 0.0002, p2: -0.0003, k3: 0.01", "")));
    EXPECT_EQ(camera.lens.k2, 0);
    EXPECT_EQ(camera.lens.k3, 0);
    const auto& c = camera.covariance;
    EXPECT_DOUBLE_EQ(std::sqrt(c(0, 0)), 15);
    EXPECT_DOUBLE_EQ(std::sqrt(c(1, 1)), 15.05);
    EXPECT_DOUBLE_EQ(c(0, 1) / std::sqrt(c(0, 0) * c(1, 1)), 1);
    EXPECT_DOUBLE_EQ(std::sqrt(c(2, 2)), 5);
    EXPECT_DOUBLE_EQ(std::sqrt(c(3, 3)), 5);
    EXPECT_DOUBLE_EQ(std::sqrt(c(4, 4)), 0.005);
    EXPECT_EQ((c.bottomRightCorner<4, 4>().norm()), 0);
    EXPECT_EQ(camera.pointing_jitter_deg, 0.02);
}

std::string nine_rows(const std::string& cell, const std::string& diagonal) {
    std::string text = "covariance:\n";
    for (int i = 0; i < 9; ++i) {
        text += "  - [";
        for (int j = 0; j < 9; ++j) {
            text += (j ? ", " : "") + (i == j ? diagonal : cell);
        }
        text += "]\n";
    }
    return text;
}

TEST_F(FilesTest, CameraCovarianceMayBeSingularButMustBeOne) {
    const auto load = [&](const std::string& rows) {
        return load_camera(scratch.write("c.yaml", good_camera + rows));
    };
    EXPECT_TRUE(load(nine_rows("0", "2")).covariance_given);
    EXPECT_EQ(load(nine_rows("0", "2")).covariance(3, 3), 2);
    EXPECT_TRUE(load(nine_rows("2", "2")).covariance_given);
    EXPECT_TRUE(load(nine_rows("0", "0")).covariance_given);
    EXPECT_THROW(load(nine_rows("3", "2")), InputError);
    EXPECT_THROW(load(nine_rows("0", "-2")), InputError);
    EXPECT_THROW(load(nine_rows("nan", "2")), InputError);
    EXPECT_THROW(load(nine_rows("0", "1e300")), InputError);
    EXPECT_THROW(load("covariance: [[1, 2], [2, 1]]\n"), InputError);
    const auto skew = with(nine_rows("0", "2"), "  - [2, 0,", "  - [2, 1,");
    EXPECT_THAT(refusal(load_camera, scratch.write("s.yaml", good_camera + skew)),
                HasSubstr("not symmetric"));
}

TEST_F(FilesTest, WrongCamerasAreRefused) {
    expect_bad_files_refused(load_camera, good_camera);
    expect_refusals(load_camera, good_camera,
                    {{"fx: 3000", "fx: nan", "not a number"},
                     {"fx: 3000", "fx: -3000", "out of range"},
                     {"fx: 3000", "fx: 0", "out of range"},
                     {"fx: 3000", "fx: 1e99", "out of range"},
                     {"fx: 3000", "fx: 3000 px", "without a unit"},
                     {"fx: 3000", "fx: [3000]", "has no value"},
                     {"fx: 3000\n", "", "has no 'fx'"},
                     {"fx: 3000", "f_x: 3000", "did you mean 'fx'?"},
                     {"cx: 2001", "cx: 5001", "out of range"},
                     {"width: 4000", "width: 0", "out of range"},
                     {"width: 4000", "width: 4000.5", "whole number"},
                     {", height: 3000", "", "has no 'height'"},
                     {"model: brown-conrady", "model: fisheye", "brown-conrady"},
                     {"k1: 0.08", "k7: 0.08", "not a key"},
                     {"k1: 0.08", "k1: inf", "out of range"},
                     {"k1: 0.08, k2: -0.1", "k1: -80, k2: 0", "bends the picture"},
                     {"distortion: {k1: 0.08, k2: -0.1, p1: 0.0002, p2: -0.0003, k3: 0.01}\n", "",
                      "has no 'distortion'"},
                     {"distortion: {k1: 0.08, k2: -0.1, p1: 0.0002, p2: -0.0003, k3: 0.01}",
                      "distortion: [0.08, -0.1, 0, 0, 0]", "needs keys under it"},
                     {"focal_length: 4.2 mm", "focal_length: 4.2", "no unit"},
                     {"make: Heron", "brand: Heron", "not a key"},
                     {"photos_used: 24", "photos_used: many", "not a number"},
                     {"date: 2026-02-20", "date: 2026-13-20", "not a date"},
                     {"pointing_jitter: 0.03 deg", "pointing_jitter: 0.03 mm", "no angle"},
                     {"pointing_jitter: 0.03 deg", "pointing_jitter: -0.03 deg", "out of range"}});
}

TEST_F(FilesTest, EveryCameraThatIsWrittenReadsBack) {
    Camera camera = load_camera(scratch.write("c.yaml", good_camera));
    camera.covariance = Eigen::Matrix<double, 9, 9>::Identity() / 3;
    camera.covariance(0, 1) = camera.covariance(1, 0) = 0.123456789012345678;
    camera.covariance_given = true;
    camera.lens.k1 = 1.0 / 7;
    const Camera again = load_camera(scratch.write("d.yaml", camera_yaml(camera)));
    EXPECT_EQ(camera_yaml(again), camera_yaml(camera));
    EXPECT_EQ(again.lens.parameters(), camera.lens.parameters());
    EXPECT_LE((again.covariance - camera.covariance).norm(), 1e-15);
}

TEST_F(FilesTest, CradleIsRead) {
    const Cradle cradle = load_cradle(scratch.write("c.yaml", good_cradle));
    EXPECT_EQ(cradle.phone_up, PhoneUp::clockwise);
    EXPECT_EQ(cradle.offset_deg, Eigen::Vector2d(0.8, -0.4));
    EXPECT_EQ(cradle.lens_mm, Eigen::Vector3d(15, -22, 31));
    EXPECT_DOUBLE_EQ((*cradle.covariance)(0, 3), 0.1);
    EXPECT_EQ(cradle.seating_deg, 0.02);
}

TEST_F(FilesTest, CradleNeedsOnlyItsName) {
    const Cradle cradle =
        load_cradle(scratch.write("c.yaml", "schema: squaresight/cradle/1\nname: bare\n"));
    EXPECT_FALSE(cradle.offset_deg || cradle.lens_mm || cradle.covariance || cradle.phone_up);
    EXPECT_EQ(cradle.seating_deg, 0.03);
}

TEST_F(FilesTest, WrongCradlesAreRefused) {
    expect_bad_files_refused(load_cradle, good_cradle);
    expect_refusals(load_cradle, good_cradle,
                    {{"phone_up: clockwise", "phone_up: clockwize", "did you mean 'clockwise'?"},
                     {"left: 0.8 deg", "left: 0.8", "no unit"},
                     {"left: 0.8 deg", "left: 80 deg", "out of range"},
                     {"left: 0.8 deg", "right: 0.8 deg", "not a key"},
                     {"ahead: 15 mm", "ahead: 15 deg", "no length"},
                     {"lens: {ahead: 15 mm, left: -22 mm, up: 31 mm}\n", "", "without offset"},
                     {"  - [0, 0, 4, 0, 0]\n", "", "has 4 rows"},
                     {"[0.01, 0,", "[-0.01, 0,", "negative variance"},
                     {"[0.01, 0, 0, 0.1, 0]", "[0.01, 0, 0, 0.2, 0]", "not symmetric"},
                     {"seating: 0.02 deg", "seating: 40 deg", "out of range"},
                     {"seating: 0.02 deg", "seating: 0.02 deg\nseating: 0.02 deg", "twice"},
                     {"date: 2026-02-22", "date: 22 Feb", "not a date"}});
}

TEST_F(FilesTest, EveryCradleThatIsWrittenReadsBack) {
    const Cradle cradle = load_cradle(scratch.write("c.yaml", good_cradle));
    const auto text = cradle_yaml(cradle);
    EXPECT_EQ(cradle_yaml(load_cradle(scratch.write("d.yaml", text))), text);
    EXPECT_THAT(text, HasSubstr("phone_up: clockwise"));
    Cradle bare;
    bare.name = "bare";
    EXPECT_EQ(load_cradle(scratch.write("e.yaml", cradle_yaml(bare))).name, "bare");
}

}  // namespace
}  // namespace squaresight
