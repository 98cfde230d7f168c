#include "calibrate/phone_check.h"

#include <fmt/format.h>

#include <Eigen/Geometry>
#include <algorithm>
#include <cmath>
#include <limits>
#include <set>

#include "calibrate/board_bend.h"
#include "calibrate/held_out.h"
#include "calibrate/next_photo.h"
#include "calibrate/pointing.h"
#include "calibrate/start.h"
#include "calibrate/verdict.h"
#include "job/closing_days.h"
#include "units/error.h"

namespace squaresight {
namespace {

constexpr std::size_t fewest_photos = 5;
constexpr double least_spread_deg = 12;  ///< of the boards' normals, near photos
constexpr double outlying_ratio = 5;     ///< of a photo's misfit over the usual one
constexpr double outlying_px = 0.3;
constexpr double bent_explains = 0.4;  ///< of the squared misfits
constexpr double bent_px = 0.15;
constexpr double bent_chi_square_ratio = 2;

const char* how_to_photograph =
    "take about ten photos of the board from 0.5 m to 0.8 m, tilted up to 40 deg to each side, "
    "reaching every corner of the picture";

std::vector<BoardPhoto> usable(const std::vector<BoardPhoto>& photos) {
    std::vector<BoardPhoto> found;
    std::copy_if(photos.begin(), photos.end(), std::back_inserter(found),
                 [](const BoardPhoto& photo) { return photo.problem.empty(); });
    return found;
}

void need_photos(const std::vector<BoardPhoto>& photos) {
    const auto found = usable(photos);
    if (found.size() >= fewest_photos) {
        return;
    }
    std::string first;
    for (const auto& photo : photos) {
        if (!photo.problem.empty()) {
            first = fmt::format(" (the first that cannot: {}: {})", photo.file, photo.problem);
            break;
        }
    }
    throw InputError("calibrate",
                     fmt::format("{} of {} photos can be used, at least {} are needed{}",
                                 found.size(), photos.size(), fewest_photos, first),
                     how_to_photograph);
}

CalibrationData data_of(const PhoneCheckWish& wish, const std::vector<BoardPhoto>& photos) {
    CalibrationData data;
    for (const auto& board : wish.boards) {
        data.boards.push_back(calibration_board(board));
    }
    data.tapes = wish.tapes;
    for (const auto& photo : usable(photos)) {
        data.width_px = photo.width_px;
        data.height_px = photo.height_px;
        data.views.push_back(photo.view);
        if (photo.facts.identity.focal_length_mm) {
            data.lens_mm = photo.facts.identity.focal_length_mm;
        }
    }
    return data;
}

double angle_deg(const Eigen::Vector3d& a, const Eigen::Vector3d& b) {
    return std::atan2(a.cross(b).norm(), a.dot(b)) * deg_per_rad;
}

/// Photos from one direction cannot tell the focal length from the distance.
void refuse_one_place(const CalibrationData& data) {
    const Lens lens = starting_lens(data);
    std::vector<Pose<double>> poses;
    for (std::size_t v = 0; v < data.views.size(); ++v) {
        if (const auto pose = starting_pose(data, v, lens)) {
            poses.push_back(*pose);
        }
    }
    double spread_deg = 0;
    bool moved = false;
    for (const auto& a : poses) {
        for (const auto& b : poses) {
            spread_deg = std::max(spread_deg, angle_deg(a.rotation.col(2), b.rotation.col(2)));
            moved |= (a.translation_mm - b.translation_mm).norm() > 0.05 * a.translation_mm.norm();
        }
    }
    if (spread_deg < least_spread_deg) {
        throw InputError("calibrate",
                         fmt::format("{}: the board's faces lie within {:.0f} deg of each other",
                                     moved ? "all photos show the board from one direction"
                                           : "all photos show the same pose of the board",
                                     std::ceil(spread_deg)),
                         how_to_photograph);
    }
}

/// The median over a view's corners.
double typical_misfit_px(const CalibratedView& view) {
    std::vector<double> sizes;
    for (const auto& misfit : view.misfits_px) {
        sizes.push_back(misfit.norm());
    }
    if (sizes.empty()) {
        return std::numeric_limits<double>::infinity();
    }
    const auto middle = sizes.begin() + static_cast<std::ptrdiff_t>(sizes.size() / 2);
    std::nth_element(sizes.begin(), middle, sizes.end());
    return *middle;
}

/// The view that fits far worse than the others, if one does.
std::optional<std::size_t> outlying_view(const CalibrationSolution& solution) {
    std::vector<double> typical;
    for (const auto& view : solution.views) {
        typical.push_back(typical_misfit_px(view));
    }
    std::vector<double> sorted = typical;
    std::sort(sorted.begin(), sorted.end());
    const auto worst = std::max_element(typical.begin(), typical.end());
    const double usual = sorted[sorted.size() / 2];
    if (*worst < outlying_px || *worst < outlying_ratio * usual) {
        return std::nullopt;
    }
    return static_cast<std::size_t>(worst - typical.begin());
}

struct Solving {
    CalibrationData data;
    CalibrationModel model;
    CalibrationSolution solution;
    HeldOut held_out;
};

[[noreturn]] void refuse_undetermined() {
    throw InputError("calibrate", "the photos do not determine the lens", how_to_photograph);
}

/// Solves, leaving out photos that fit far worse than the others: `left_out` holds file and reason.
Solving solve(CalibrationData data, std::vector<PhotoUse>& uses) {
    Solving solving;
    solving.data = std::move(data);
    const std::size_t most_left_out = solving.data.views.size() / 4;
    for (std::size_t left_out = 0;; ++left_out) {
        solving.solution = solve_calibration(solving.data, solving.model);
        if (!solving.solution.solved) {
            refuse_undetermined();
        }
        const auto outlying = outlying_view(solving.solution);
        if (!outlying || left_out >= most_left_out || solving.data.views.size() <= fewest_photos) {
            break;
        }
        const BoardView& view = solving.data.views[*outlying];
        for (auto& use : uses) {
            if (use.file == view.file) {
                use.left_out = fmt::format(
                    "does not fit the others: its corners lie {:.1f} px off where they should, "
                    "five times as far as usual; was the phone moved, or another board "
                    "photographed? Take it again",
                    typical_misfit_px(solving.solution.views[*outlying]));
            }
        }
        solving.data.views.erase(solving.data.views.begin() +
                                 static_cast<std::ptrdiff_t>(*outlying));
    }
    return solving;
}

/// Further terms of the lens only where photos that were left out are described better by them.
void choose_terms(Solving& solving) {
    solving.held_out = hold_out(solving.data, solving.model, solving.solution);
    CalibrationModel wider = solving.model;
    wider.further_terms = true;
    const HeldOut with_more = hold_out(solving.data, wider, solving.solution);
    if (!predicts_better(with_more, solving.held_out)) {
        return;
    }
    CalibrationSolution solution = solve_again(solving.data, wider, solving.solution);
    if (solution.solved) {
        solving.model = wider;
        solving.held_out = with_more;
        solving.solution = std::move(solution);
    }
}

double seen_share(const CalibrationData& data) {
    constexpr int columns = 12;
    constexpr int rows = 9;
    std::set<std::pair<int, int>> seen;
    for (const auto& view : data.views) {
        for (const auto& corner : view.corners) {
            seen.emplace(static_cast<int>(corner.pixel.x() * columns / data.width_px),
                         static_cast<int>(corner.pixel.y() * rows / data.height_px));
        }
    }
    return static_cast<double>(seen.size()) / (columns * rows);
}

std::vector<PhotoUse> uses_of(const std::vector<BoardPhoto>& photos) {
    std::vector<PhotoUse> uses;
    for (const auto& photo : photos) {
        PhotoUse use;
        use.file = photo.file;
        use.left_out = photo.problem;
        use.board = photo.view.corners.empty() ? -1 : photo.view.board;
        use.taped = photo.view.tape >= 0;
        uses.push_back(use);
    }
    return uses;
}

void describe_views(const Solving& solving, std::vector<PhotoUse>& uses) {
    for (std::size_t v = 0; v < solving.data.views.size(); ++v) {
        const CalibratedView& view = solving.solution.views[v];
        const Eigen::Vector3d& at = view.camera_from_board.translation_mm;
        for (auto& use : uses) {
            if (use.file == solving.data.views[v].file && use.left_out.empty()) {
                use.solution_view = static_cast<int>(v);
                use.corners = static_cast<int>(view.corners.size());
                use.distance_mm = at.norm();
                use.tilt_deg = angle_deg(view.camera_from_board.rotation.col(2), at);
                use.rms_px = view.rms_px();
                use.held_out_rms_px = solving.held_out.rms_px[v];
            }
        }
    }
}

/// Of the photos that serve; empty where none tells.
std::string newest_day(const std::vector<BoardPhoto>& photos) {
    std::string newest;
    for (const auto& photo : photos) {
        if (photo.problem.empty()) {
            newest = std::max(newest, taken_day(photo.facts));
        }
    }
    return newest;
}

Camera camera_of(const PhoneCheckWish& wish, const Solving& solving,
                 const std::vector<BoardPhoto>& photos) {
    const CalibrationSolution& solution = solving.solution;
    Camera camera;
    camera.name = wish.name;
    camera.width_px = solving.data.width_px;
    camera.height_px = solving.data.height_px;
    camera.lens = solution.lens;
    camera.covariance =
        parameter_covariance(solution, solving.data.width_px, solving.data.height_px);
    // The focus of the next photo is not that of these; and near photos alone tell the focal length
    // at working distance only as far as the phone focuses like a thin lens.
    const double share =
        tells_working_focus(solving.data) ? focus_repeats_share : focal_share_untaped;
    const Eigen::Vector2d refocused = share * Eigen::Vector2d(solution.lens.fx, solution.lens.fy);
    camera.covariance.topLeftCorner<2, 2>() += refocused * refocused.transpose();
    camera.covariance_given = true;
    camera.identity = identity_of(photos);
    camera.photos_used = static_cast<int>(solving.data.views.size());
    camera.residual_px = solution.rms_px();
    camera.date = wish.date.empty() ? newest_day(photos) : wish.date;
    camera.lens_sag_deg = wish.lens_sag_deg;
    if (solution.sag_deg) {
        camera.lens_sag_deg =
            std::max(camera.lens_sag_deg, std::hypot(*solution.sag_deg, solution.sag_u_deg));
    }
    camera.focus = solution.focus;
    return camera;
}

Findings board_findings(const Solving& solving, LengthUnit unit) {
    Findings findings;
    const auto bends = board_bends(solving.data, solving.solution);
    for (std::size_t b = 0; b < bends.size(); ++b) {
        const CalibrationBoard& board = solving.data.boards[b];
        const BoardBend& bend = bends[b];
        const bool bent = bend.explained > bent_explains &&
                          bend.chi_square > bent_chi_square_ratio * bend.corners &&
                          solving.solution.rms_px() > bent_px;
        if (bent) {
            findings.push_back(
                {Level::warning, "board-bent",
                 fmt::format("The board '{}' is not flat: its corners lie up to {} off a "
                             "plane, bow and twist taken off, and that is what most of the "
                             "misfit of {:.2f} px comes from. Mount the print on glass or a "
                             "rigid board and take the photos again.",
                             board.name, shown_difference(bend.largest_mm, unit),
                             solving.solution.rms_px())});
        }
        const SheetInputs& sheet = solving.solution.sheets[b];
        const double bow_mm = std::abs(sheet[2]) + std::abs(sheet[3]) + std::abs(sheet[4]);
        if (!bent && bow_mm > 2 * board.flatness_mm && board.flatness_mm > 0) {
            findings.push_back(
                {Level::warning, "board-bent",
                 fmt::format("The board '{}' bows by about {}, more than the {} its "
                             "file allows. It was allowed for; a flatter board tells more.",
                             board.name, shown_difference(bow_mm, unit),
                             shown_difference(board.flatness_mm, unit))});
        }
    }
    return findings;
}

Findings tape_findings(const Solving& solving, LengthUnit unit) {
    Findings findings;
    for (std::size_t t = 0; t < solving.data.tapes.size(); ++t) {
        const auto& tape = solving.data.tapes[t];
        const double off_mm = solving.solution.tape_misfits_mm[t];
        if (std::abs(off_mm) > 3 * tape.standard_uncertainty_mm) {
            findings.push_back(
                {Level::warning, "blunder",
                 fmt::format("The taped distance {} does not fit the photos by {}. "
                             "Tape it again, from the phone's lens to the middle of the board.",
                             shown_length(tape.length_mm, unit), shown_difference(off_mm, unit))});
        }
    }
    return findings;
}

Findings photo_findings(const PhoneCheck& check) {
    Findings findings;
    for (const auto& use : check.photos) {
        if (!use.left_out.empty()) {
            findings.push_back({Level::note, "photo-left-out",
                                fmt::format("{} was left out: {}.", use.file, use.left_out)});
        }
    }
    const CameraIdentity& identity = check.camera.identity;
    if (identity.make.empty() && identity.model.empty()) {
        findings.push_back(
            {Level::warning, "camera-unverified",
             "The photos do not say which phone took them: the camera file cannot tell later "
             "photos of another phone. Use original files from the phone."});
    }
    return findings;
}

/// Not fit where a finding speaks against it, whatever the figures say.
void hold_verdict_against(PhoneCheck& check) {
    for (const auto& finding : check.findings) {
        if (finding.code == "board-bent" && finding.text.find("not flat") != std::string::npos) {
            check.verdict.fit = false;
            check.verdict.words = "Not yet: the board is not flat. " + check.verdict.words;
        }
    }
}

void add(Findings& all, const Findings& more) { all.insert(all.end(), more.begin(), more.end()); }

}  // namespace

PhoneCheck check_phone(const PhoneCheckWish& wish, const PhotoProgress& begin) {
    const auto photos = read_board_photos(wish.photos, wish.boards, begin);
    need_photos(photos);
    CalibrationData data = data_of(wish, photos);
    refuse_one_place(data);
    PhoneCheck check;
    check.unit = wish.bay.unit;
    check.boards = wish.boards;
    check.photos = uses_of(photos);
    Solving solving = solve(std::move(data), check.photos);
    choose_terms(solving);
    describe_views(solving, check.photos);
    check.camera = camera_of(wish, solving, photos);
    if (!wish.still.empty()) {
        const auto still = read_board_photos(wish.still, wish.boards, begin);
        check.still = scatter_of_still(still, solving.data.boards, solving.solution, solving.model);
        check.camera.pointing_jitter_deg = check.still->standard_uncertainty_deg;
    }
    check.held_out_rms_px = solving.held_out.total_rms_px;
    check.seen_share = seen_share(solving.data);
    check.next = next_photo(solving.data, solving.solution);
    check.verdict = verdict_of(check.camera, wish.bay, tells_working_focus(solving.data));
    add(check.findings, board_findings(solving, check.unit));
    add(check.findings, tape_findings(solving, check.unit));
    add(check.findings, photo_findings(check));
    check.data = std::move(solving.data);
    check.model = solving.model;
    check.solution = std::move(solving.solution);
    hold_verdict_against(check);
    return check;
}

Eigen::MatrixXd pointing_map_deg(const PhoneCheck& check, int columns, int rows) {
    Eigen::MatrixXd map(rows, columns);
    LensCovariance covariance = LensCovariance::Zero();
    covariance.topLeftCorner<9, 9>() = check.camera.covariance;
    for (int row = 0; row < rows; ++row) {
        for (int column = 0; column < columns; ++column) {
            const Eigen::Vector2d pixel((column + 0.5) / columns * check.camera.width_px,
                                        (row + 0.5) / rows * check.camera.height_px);
            map(row, column) = pointing_u_deg(check.camera.lens, covariance, pixel)
                                   .value_or(std::numeric_limits<double>::quiet_NaN());
        }
    }
    return map;
}

}  // namespace squaresight
