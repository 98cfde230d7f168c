#include "report/phone_page.h"

#include <fmt/format.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cctype>
#include <filesystem>
#include <limits>

#include "report/phone_figures.h"
#include "report/phone_words.h"
#include "support/phone_check.h"
#include "units/files.h"

namespace squaresight {
namespace {

using testing::AllOf;
using testing::Contains;
using testing::HasSubstr;
using testing::Not;

constexpr unsigned seed = 20260305;

const CalibrationData& photos() {
    static const CalibrationData data = test::simulated_photos(11, seed);
    return data;
}

class PhonePage : public testing::Test {
  protected:
    PhoneCheck fit = solved_once();
    PhoneCheck unfit = not_fit();

    static const PhoneCheck& solved_once() {
        static const PhoneCheck check = test::phone_check_of(photos());
        return check;
    }
    static const PhoneCheck& not_fit() {
        static const PhoneCheck check = test::unfit_phone_check(photos());
        return check;
    }
};

std::size_t count_of(const std::string& text, const std::string& part) {
    std::size_t count = 0;
    for (auto at = text.find(part); at != std::string::npos; at = text.find(part, at + 1)) {
        ++count;
    }
    return count;
}

/// "nan" or "inf" where a number should stand (not inside a word).
bool shows_no_number(const std::string& page) {
    for (const char* word : {"nan", "inf"}) {
        for (auto at = page.find(word); at != std::string::npos; at = page.find(word, at + 1)) {
            if (std::isalpha(static_cast<unsigned char>(page[at - 1])) == 0 &&
                std::isalpha(static_cast<unsigned char>(page[at + 3])) == 0) {
                return true;
            }
        }
    }
    return false;
}

TEST_F(PhonePage, IsOneFileThatNeedsNoNetworkAndRunsNoScript) {
    for (const auto* check : {&fit, &unfit}) {
        std::string page = phone_page(*check);
        EXPECT_THAT(page, AllOf(Not(HasSubstr("<script")), Not(HasSubstr("<link")),
                                Not(HasSubstr("@import")), Not(HasSubstr("url(")),
                                Not(HasSubstr("src=")), Not(HasSubstr("href="))));
        const std::string name = "http://www.w3.org/2000/svg";  // a name, no address
        EXPECT_EQ(count_of(page, "http"), count_of(page, name));
    }
}

TEST_F(PhonePage, SaysFirstWhetherThePhoneIsFitAndWhatToDo) {
    const std::string good = phone_page(fit);
    EXPECT_LT(good.find("<h1>Fit for use</h1>"), good.find("<h2>"));
    EXPECT_LT(good.find("Checked 2026-03-05. Check again by 2027-03-05."), good.find("<h2>"));
    EXPECT_THAT(good, Not(HasSubstr("Not yet")));
    const std::string bad = phone_page(unfit);
    EXPECT_LT(bad.find("<h1>Not yet</h1>"), bad.find("<h2>"));
    EXPECT_LT(bad.find("Mount the print on glass"), bad.find("<h2>"));  // the warning goes first
    EXPECT_THAT(bad, Not(HasSubstr("Fit for use")));
    unfit.findings = {{Level::warning, "camera-unverified", "The photos do not say."}};
    EXPECT_EQ(phone_first(unfit), unfit.next->words);
    EXPECT_EQ(count_of(phone_page(unfit), unfit.next->words), 1U) << "the same advice twice";
    unfit.verdict.aim = unfit.verdict.from_lens = {};
    unfit.verdict.words = "Not yet: in 'planned bay' nothing could be measured.";
    EXPECT_EQ(phone_first(unfit), "In 'planned bay' nothing could be measured.");
    const std::string nothing = phone_page(unfit);
    EXPECT_THAT(nothing, HasSubstr("nothing could be predicted"));
    EXPECT_EQ(count_of(nothing, "nothing could be measured"), 1U);
}

TEST_F(PhonePage, IsNotFitUnderAStopWhateverTheVerdict) {
    fit.findings.push_back({Level::stop, "camera-mismatch", "Two phones took these photos."});
    const std::string page = phone_page(fit);
    EXPECT_THAT(page, AllOf(HasSubstr("<h1>Not yet</h1>"), Not(HasSubstr("<h1>Fit for use"))));
    EXPECT_LT(page.find("Two phones took these photos."), page.find("<h2>"));
}

TEST_F(PhonePage, AsksForTheNextCheckAYearLaterInAnyYear) {
    const auto dates = [&](const std::string& date) {
        fit.camera.date = date;
        return phone_dates(fit);
    };
    EXPECT_EQ(dates("2027-03-05"), "Checked 2027-03-05. Check again by 2028-03-04.");  // leap year
    EXPECT_EQ(dates("2026-12-31"), "Checked 2026-12-31. Check again by 2027-12-31.");
    EXPECT_EQ(dates("last spring"), "Checked last spring.");
    EXPECT_EQ(dates("2026-02-30"), "Checked 2026-02-30.");
    EXPECT_EQ(dates(""), "Date not recorded.");
}

TEST_F(PhonePage, GivesTheLensAsGiveOrTakeAgainstItsLimit) {
    const std::string page = phone_page(fit);
    EXPECT_THAT(
        page,
        AllOf(HasSubstr("give or take 0.023 deg"), HasSubstr("give or take 0.042 deg"),
              HasSubstr("within its limit of 0.077 deg"), HasSubstr("within its limit of 0.38 deg"),
              HasSubstr("give or take 0.082 deg (at least 95 %)"),
              HasSubstr("give or take 0.12 deg (at least 95 %)")));
    const std::string bad = phone_page(unfit);
    EXPECT_THAT(bad, AllOf(HasSubstr("over its limit of 0.077 deg"),
                           HasSubstr("within its limit of 0.38 deg"),
                           HasSubstr("with two taped photos it would be 0.08 deg")));
}

TEST_F(PhonePage, NamesEveryFindingWithItsLevelTheWorstFirst) {
    const std::string page = phone_page(unfit);
    const auto warning = page.find(R"(<span class="word WARNING">WARNING</span> The board)");
    const auto note = page.find(R"(<span class="word NOTE">NOTE</span> photos/blurred.jpg)");
    EXPECT_NE(warning, std::string::npos);
    EXPECT_NE(note, std::string::npos);
    EXPECT_LT(warning, note);
    EXPECT_THAT(phone_page(fit), HasSubstr("Nothing against the boards"));
}

TEST_F(PhonePage, GivesEveryNumberAsTheCheckHasIt) {
    const std::string page = phone_page(fit);
    for (const auto& photo : fit.photos) {
        EXPECT_THAT(page, AllOf(HasSubstr(photo.file),
                                HasSubstr(fmt::format("{:.0f}\u00A0mm", photo.distance_mm)),
                                HasSubstr(fmt::format(">{}</td>", photo.corners)),
                                HasSubstr(fmt::format("{:.3f}", photo.rms_px)),
                                HasSubstr(fmt::format("{:.3f}", photo.held_out_rms_px))));
    }
    const auto values = fit.solution.lens.terms();
    for (int term = 0; term < Lens::parameter_count; ++term) {
        const double u = std::sqrt(fit.solution.covariance(term, term));
        EXPECT_THAT(page, HasSubstr(number_words(values[static_cast<std::size_t>(term)], u)));
        EXPECT_THAT(page, HasSubstr(number_words(u, u)));
    }
    const double correlation =
        fit.solution.covariance(2, 0) /
        std::sqrt(fit.solution.covariance(2, 2) * fit.solution.covariance(0, 0));
    EXPECT_THAT(page, HasSubstr(fmt::format("<b>cx</b></td><td>{:.2f}</td>", correlation)));
    const Eigen::MatrixXd map = pointing_map_deg(fit, map_columns, map_rows);
    for (const double u : map.reshaped()) {
        EXPECT_THAT(page, HasSubstr(fmt::format("<td>{:.4f}<br></td>", 2 * u)));
    }
    EXPECT_THAT(page, AllOf(HasSubstr("0.0123 deg per axis (95 %: 0.0094 to 0.0179 deg)"),
                            HasSubstr("Corners reach 83 % of the picture"),
                            HasSubstr(fmt::format("{:.2f} % longer",
                                                  100 * (fit.solution.focus.scale_at(600) - 1))),
                            HasSubstr(fmt::format("{:.5f} (1.0000)", fit.solution.sheets[0][0])),
                            HasSubstr("Make Lumora, model P7, lens wide 5 mm.")));
}

TEST_F(PhonePage, TellsABoardsShapeInTheUnitOfTheShop) {
    const double bow_mm = std::abs(fit.solution.sheets[0][2]);
    EXPECT_THAT(phone_page(fit), AllOf(HasSubstr(fmt::format(">{:.2f}\u00A0mm</td>", bow_mm)),
                                       HasSubstr(">1.0\u00A0mm</td>")));
    fit.unit = LengthUnit::in;
    EXPECT_THAT(phone_page(fit),
                AllOf(HasSubstr(fmt::format(">{:.3f}\u00A0in</td>", bow_mm / 25.4)),
                      HasSubstr(">0.04\u00A0in</td>"), Not(HasSubstr("\u00A0mm</td>"))));
}

TEST_F(PhonePage, CountsEveryCornerInAFieldOnce) {
    int in_use = 0;
    for (const auto& view : fit.solution.views) {
        in_use += static_cast<int>(view.corners.size());
    }
    EXPECT_GT(in_use, 500);
    for (const auto& [columns, rows] : {std::pair(12, 9), std::pair(8, 6), std::pair(1, 1)}) {
        EXPECT_EQ(fields_of(fit, columns, rows).corners.sum(), in_use);
    }
    const double rms = fields_of(fit, 1, 1).rms_px(0, 0);
    EXPECT_NEAR(rms, fit.solution.rms_px(), 1e-12);
}

TEST_F(PhonePage, NamesThePartsOfThePictureWithoutCorners) {
    // One corner in every field but those of the lower left ninth.
    auto& view = fit.solution.views[0];
    view.corners.clear();
    for (int row = 0; row < coverage_rows; ++row) {
        for (int column = 0; column < coverage_columns; ++column) {
            if (row < 6 || column > 3) {
                view.corners.push_back(
                    {0,
                     {(column + 0.5) * 4000 / coverage_columns, (row + 0.5) * 3000 / coverage_rows},
                     Eigen::Matrix2d::Identity()});
            }
        }
    }
    view.misfits_px.assign(view.corners.size(), {0.01, 0});
    fit.solution.views.resize(1);
    fit.photos.resize(1);
    EXPECT_THAT(bare_parts(fit), testing::ElementsAre("lower left: 12 of 12 fields"));
    EXPECT_THAT(phone_page(fit), HasSubstr("No corner yet in: lower left: 12 of 12 fields."));
    view.corners.push_back({0, {-0.4, 2999.4}, Eigen::Matrix2d::Identity()});  // at the very edge
    view.misfits_px.push_back({0.01, 0});
    EXPECT_THAT(bare_parts(fit), testing::ElementsAre("lower left: 11 of 12 fields"));
}

TEST_F(PhonePage, DrawsMisfitsToTheScaleThatItStates) {
    auto& view = fit.solution.views[0];
    fit.solution.views.resize(1);
    fit.photos.resize(1);
    for (auto& misfit : view.misfits_px) {
        misfit = {0.08, 0};
    }
    const MisfitScale scale = misfit_scale(fit);
    EXPECT_EQ(scale.longer, 0U);
    EXPECT_DOUBLE_EQ(scale.bar_px, 0.2);
    // The bar is 15 long, the picture 324 for 4000 px.
    EXPECT_NEAR(scale.enlarged, 15 / 0.2 / (324.0 / 4000), 1e-9);
    const std::string drawn = misfits_svg(fit);
    EXPECT_THAT(drawn, AllOf(HasSubstr("0.2 px"), HasSubstr("926 times enlarged")));
    EXPECT_EQ(count_of(drawn, "l60 0"), view.misfits_px.size());  // tenths; the bar is 150
}

TEST_F(PhonePage, CutsNoMisfitSilently) {
    auto& worst = fit.solution.views[2];
    worst.misfits_px[5] = {3, -4};
    const MisfitScale scale = misfit_scale(fit);
    ASSERT_GE(scale.longer, 1U);
    EXPECT_EQ(count_of(misfits_svg(fit), "<circle"), scale.longer);
    EXPECT_THAT(phone_page(fit), HasSubstr(fmt::format("Largest: 5.00 px (photo 3, corner {})",
                                                       worst.corners[5].index)));
    EXPECT_THAT(misfit_words(fit), Contains(HasSubstr("cut there and ringed")));
}

TEST_F(PhonePage, NamesPhotosThatWereLeftOutWithTheReason) {
    const std::string page = phone_page(unfit);
    EXPECT_THAT(page, HasSubstr("left out: the photo is blurred; hold the phone still and take it "
                                "again"));
    EXPECT_EQ(count_of(page, R"(<tr class="out">)"), 1U);
    // Numbers of the figures are those of the table: photo 2 was left out, so none is drawn.
    EXPECT_THAT(coverage_svg(unfit), AllOf(Not(HasSubstr(">2</text>")), HasSubstr(">12</text>")));
}

TEST_F(PhonePage, EscapesEveryTextThatComesFromAFile) {
    const std::string hostile = "<script>alert('x')</script>";
    fit.camera.name = fit.boards[0].name = fit.data.boards[0].name = hostile;
    fit.camera.date = hostile;
    fit.camera.identity.make = fit.camera.identity.model = fit.camera.identity.lens = hostile;
    fit.photos[0].file = fit.data.views.back().file = hostile;
    fit.photos[1].left_out = hostile;
    fit.findings.push_back({Level::warning, "board-bent", hostile});
    fit.next->words = fit.verdict.words = fit.verdict.cost_of_no_tape = hostile;
    fit.still->left_out = {hostile};
    const std::string page = phone_page(fit);
    EXPECT_THAT(page, AllOf(Not(HasSubstr("<script")), HasSubstr("&lt;script")));
}

TEST_F(PhonePage, StandsWithoutStillPhotosNextPhotoOrTapes) {
    fit.still.reset();
    fit.next.reset();
    fit.data.tapes.clear();
    fit.solution.tape_misfits_mm.clear();
    fit.solution.sag_deg.reset();
    const std::string page = phone_page(fit);
    EXPECT_THAT(page, AllOf(HasSubstr("no photos of a still board were given"),
                            HasSubstr("no further photo would tell much more"),
                            HasSubstr("No taped distance was given."),
                            HasSubstr("these photos do not tell it")));
}

TEST_F(PhonePage, StandsWithOnePhotoOrNone) {
    for (const std::size_t count : {1, 0}) {
        fit.photos.resize(count);
        fit.solution.views.resize(count);
        fit.data.views.resize(count);
        const std::string page = phone_page(fit);
        EXPECT_FALSE(shows_no_number(page));
        EXPECT_THAT(page, HasSubstr("</html>"));
    }
    EXPECT_THAT(phone_page(fit), HasSubstr("No corner is in use."));
    const std::string empty = phone_page(PhoneCheck());
    EXPECT_FALSE(shows_no_number(empty));
    EXPECT_THAT(empty, AllOf(HasSubstr("Not yet"), HasSubstr("nothing could be predicted"),
                             HasSubstr("</html>")));
}

TEST_F(PhonePage, ShowsFieldsWithoutARayAsHatched) {
    // Folds back on itself well inside the picture.
    fit.camera.lens.k1 = -0.9;
    fit.camera.lens.k2 = fit.camera.lens.k3 = 0;
    ASSERT_FALSE(pointing_map_deg(fit, map_columns, map_rows).allFinite());
    const std::string page = phone_page(fit);
    EXPECT_THAT(page, AllOf(HasSubstr("no ray"), HasSubstr("Hatched: the lens found has no ray")));
    EXPECT_FALSE(shows_no_number(page));
}

TEST_F(PhonePage, ShadesTheMapInRoundStepsThatHoldEveryField) {
    const auto shades = [&](const Eigen::Matrix<double, 9, 9>& covariance) {
        fit.camera.covariance = covariance;
        const std::string drawn = pointing_svg(fit);
        std::vector<std::string> ends;
        const std::string legend = R"(font-size="12" text-anchor="middle" fill="#111")";
        for (auto at = drawn.find(legend); at != std::string::npos;
             at = drawn.find(legend, at + 1)) {
            const auto begin = drawn.find('>', at) + 1;
            ends.push_back(drawn.substr(begin, drawn.find('<', begin) - begin));
        }
        return ends;
    };
    const Eigen::Matrix<double, 9, 9> found = fit.camera.covariance;
    EXPECT_THAT(shades(found), testing::ElementsAre("0.01", "0.015", "0.02", "0.025"));
    EXPECT_THAT(shades(100 * found), testing::ElementsAre("0.1", "0.15", "0.2", "0.25"));
    Eigen::Matrix<double, 9, 9> corners_only = Eigen::Matrix<double, 9, 9>::Zero();
    EXPECT_THAT(shades(corners_only), testing::IsEmpty());
    corners_only(4, 4) = 1e-6;  // k1: nothing in the middle, much in the corners
    EXPECT_THAT(shades(corners_only),
                testing::ElementsAre("0.0005", "0.001", "0.002", "0.005", "0.01", "0.02"));
}

TEST_F(PhonePage, SaysOfAFocalLengthThatShrinksThatItIsShorter) {
    fit.solution.focus.lens_mm = -1;
    const std::string page = phone_page(fit);
    EXPECT_THAT(page, AllOf(HasSubstr("% shorter"), Not(HasSubstr("-0.15 %"))));
}

TEST_F(PhonePage, StatesWhatCannotBeKnownAsUnknown) {
    fit.photos[0].held_out_rms_px = std::numeric_limits<double>::quiet_NaN();
    fit.held_out_rms_px = std::numeric_limits<double>::quiet_NaN();
    const std::string page = phone_page(fit);
    EXPECT_THAT(page, HasSubstr("unknown"));
    EXPECT_FALSE(shows_no_number(page));
}

TEST_F(PhonePage, StaysSmallForManyPhotosOfManyCorners) {
    Target fine = test::near_checkerboard();
    fine.pattern = {22, 13, 18, 0, "", 0, SquareColour::black};  // 252 corners
    fit.data.boards[0] = calibration_board(fine);
    fit.data.views.clear();
    fit.solution.views.clear();
    fit.photos.clear();
    std::mt19937 random(seed);
    std::normal_distribution<double> noise(0, 0.05);
    for (int i = 0; i < 25; ++i) {
        const auto held = test::held_boards(12)[static_cast<std::size_t>(i % 10)];
        const BoardView view =
            test::view_of(held, fit.data.boards[0], fit.solution.lens, {4000, 3000}, 0.05, random);
        CalibratedView solved;
        PhotoUse use;
        use.file = fmt::format("photos/a-rather-long-name-of-a-photo-{}.jpg", i);
        use.board = 0;
        use.solution_view = i;
        for (int corner = 0; corner < 250; ++corner) {
            solved.corners.push_back(
                view.corners[static_cast<std::size_t>(corner) % view.corners.size()]);
            solved.misfits_px.emplace_back(noise(random), noise(random));
        }
        fit.data.views.push_back(view);
        fit.solution.views.push_back(solved);
        fit.photos.push_back(use);
    }
    EXPECT_LT(phone_page(fit).size(), 400U * 1024U);
}

TEST_F(PhonePage, IsWrittenForPeopleToLookAt) {
    const auto folder = std::filesystem::path(testing::TempDir()) / "squaresight-phone-checks";
    std::filesystem::create_directories(folder);
    CalibrationData middle_only = photos();
    std::erase_if(middle_only.views, [](const BoardView& view) {
        return (view.corners.front().pixel - Eigen::Vector2d(2000, 1500)).norm() > 1500;
    });
    PhoneCheck sparse = test::phone_check_of(middle_only);
    sparse.solution.views[0].misfits_px[7] = {0.9, -0.7};
    for (const auto& [name, check] :
         {std::pair("fit.html", &fit), {"not-yet.html", &unfit}, {"sparse.html", &sparse}}) {
        write_file(folder / name, phone_page(*check));
        EXPECT_GT(std::filesystem::file_size(folder / name), 10000U);
    }
}

}  // namespace
}  // namespace squaresight
