#include "calibrate/board_photos.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "adjust/corner_noise.h"
#include "job/photo_identity.h"
#include "sight/checkerboard.h"
#include "units/error.h"

namespace squaresight {
namespace {

constexpr double film_diagonal_mm = 43.2666;  // of 36 mm x 24 mm
constexpr double usual_focal_share = 0.8;     // of the picture's longer side
/// Two photos whose corners agree so closely are one picture: no hand or cradle is so steady.
constexpr double same_picture_px = 0.01;

/// A lens good enough to find the board by.
Lens guessed_lens(const Photo& photo) {
    Lens lens;
    const double width = photo.grey.cols;
    const double height = photo.grey.rows;
    const auto film_mm = photo.facts.identity.focal_length_35mm_mm;
    lens.fx = lens.fy = film_mm ? *film_mm / film_diagonal_mm * std::hypot(width, height)
                                : usual_focal_share * std::max(width, height);
    lens.cx = (width - 1) / 2;
    lens.cy = (height - 1) / 2;
    return lens;
}

/// Down in the sensor-native image, by how the phone felt that the picture must be turned.
std::optional<Eigen::Vector2d> down_of(const PhotoFacts& facts) {
    if (!facts.orientation) {
        return std::nullopt;
    }
    // EXIF: which side of the stored picture is the top when it stands upright.
    switch (*facts.orientation) {
        case 1:
        case 2:
            return Eigen::Vector2d(0, 1);
        case 3:
        case 4:
            return Eigen::Vector2d(0, -1);
        case 5:
        case 6:
            return Eigen::Vector2d(1, 0);
        default:
            return Eigen::Vector2d(-1, 0);
    }
}

Sight find_board(const Photo& photo, const Target& board, const Lens& lens) {
    return board.has_markers() ? find_target(photo.grey, board, lens)
                               : find_checkerboard(photo.grey, board.pattern).sight;
}

bool is_clearly_seen(const Sight& sight, const Target& board) {
    return sight.problem == SightProblem::none &&
           2 * sight.corners.size() > static_cast<std::size_t>(board.pattern.corner_count());
}

/// Looks for the boards in turn, until one is clearly seen, and keeps the one with the most
/// corners.
void find_boards(const Photo& photo, const std::vector<Target>& boards, BoardPhoto& seen) {
    const Lens lens = guessed_lens(photo);
    Sight best;
    for (std::size_t b = 0; b < boards.size(); ++b) {
        Sight sight = find_board(photo, boards[b], lens);
        const bool clearly = is_clearly_seen(sight, boards[b]);
        if (b == 0 || sight.corners.size() > best.corners.size()) {
            best = std::move(sight);
            seen.view.board = static_cast<int>(b);
        }
        if (clearly) {
            break;
        }
    }
    if (best.corners.size() < fewest_corners || best.problem == SightProblem::blurred) {
        seen.problem = best.advice.empty()
                           ? "no board was found; take it again with the board in view"
                           : best.advice;
        return;
    }
    seen.view.corners = std::move(best.corners);
}

bool same_picture(const BoardPhoto& a, const BoardPhoto& b) {
    if (a.view.board != b.view.board) {
        return false;
    }
    std::size_t shared = 0;
    for (const auto& corner : a.view.corners) {
        const auto other =
            std::lower_bound(b.view.corners.begin(), b.view.corners.end(), corner.index,
                             [](const Corner& one, int index) { return one.index < index; });
        if (other == b.view.corners.end() || other->index != corner.index) {
            continue;
        }
        if ((other->pixel - corner.pixel).norm() > same_picture_px) {
            return false;
        }
        ++shared;
    }
    return shared >= fewest_corners;
}

void name_repeats(std::vector<BoardPhoto>& photos) {
    for (std::size_t i = 0; i < photos.size(); ++i) {
        for (std::size_t k = 0; k < i; ++k) {
            const bool used = photos[i].problem.empty() && photos[k].problem.empty();
            if (used &&
                (photos[i].digest == photos[k].digest || same_picture(photos[i], photos[k]))) {
                photos[i].problem =
                    fmt::format("is the same picture as {}; take another from a different place",
                                photos[k].file);
            }
        }
    }
}

/// The camera as the first photo shows it: the others are held against it.
Camera camera_of_first(const std::vector<BoardPhoto>& photos) {
    Camera camera;
    for (const auto& photo : photos) {
        if (photo.width_px > 0) {
            camera.name = photo.file;
            camera.width_px = photo.width_px;
            camera.height_px = photo.height_px;
            camera.identity = photo.facts.identity;
            break;
        }
    }
    return camera;
}

/// A photo that was zoomed or edited cannot be used; photos of two phones cannot be told apart.
void hold_against(const Camera& camera, BoardPhoto& photo) {
    if (photo.width_px != camera.width_px || photo.height_px != camera.height_px) {
        throw InputError(
            photo.file,
            fmt::format("has {} x {} px, {} has {} x {}", photo.width_px, photo.height_px,
                        camera.name, camera.width_px, camera.height_px),
            "give photos of one phone, lens and size, as the phone made them");
    }
    PhotoResult facts;
    facts.file = photo.file;
    facts.facts = photo.facts;
    facts.width_px = photo.width_px;
    facts.height_px = photo.height_px;
    for (const auto& finding : check_identity(facts, camera)) {
        if (finding.code == "camera-mismatch") {
            throw InputError(finding.text);
        }
        if (finding.level == Level::stop && photo.problem.empty()) {
            photo.problem = finding.text;
        }
    }
}

BoardPhoto read_one(const BoardPhotoFile& wanted, const std::vector<Target>& boards) {
    BoardPhoto seen;
    seen.file = wanted.file.string();
    try {
        const Photo photo = load_photo(wanted.file);
        seen.facts = photo.facts;
        seen.digest = photo.digest;
        seen.width_px = photo.grey.cols;
        seen.height_px = photo.grey.rows;
        find_boards(photo, boards, seen);
    } catch (const InputError& error) {
        seen.problem = error.what();
    }
    seen.view.file = seen.file;
    seen.view.tape = wanted.tape;
    seen.view.down = down_of(seen.facts);
    return seen;
}

}  // namespace

std::vector<BoardPhoto> read_board_photos(const std::vector<BoardPhotoFile>& files,
                                          const std::vector<Target>& boards,
                                          const PhotoProgress& begin) {
    std::vector<BoardPhoto> photos;
    for (const auto& file : files) {
        begin(photos.size() + 1, files.size());
        photos.push_back(read_one(file, boards));
    }
    const Camera camera = camera_of_first(photos);
    for (auto& photo : photos) {
        if (photo.width_px > 0) {
            hold_against(camera, photo);
        }
    }
    name_repeats(photos);
    return photos;
}

CameraIdentity identity_of(const std::vector<BoardPhoto>& photos) {
    CameraIdentity identity;
    for (const auto& photo : photos) {
        const CameraIdentity& told = photo.facts.identity;
        const auto take = [](auto& mine, const auto& theirs, bool empty) {
            if (empty) {
                mine = theirs;
            }
        };
        take(identity.make, told.make, identity.make.empty());
        take(identity.model, told.model, identity.model.empty());
        take(identity.lens, told.lens, identity.lens.empty());
        take(identity.focal_length_mm, told.focal_length_mm, !identity.focal_length_mm);
        take(identity.focal_length_35mm_mm, told.focal_length_35mm_mm,
             !identity.focal_length_35mm_mm);
    }
    return identity;
}

}  // namespace squaresight
