#include "job/photos.h"

#include <fmt/format.h>

#include "job/corners_file.h"
#include "job/photo_identity.h"
#include "units/error.h"

namespace squaresight {
namespace {

void check_sight(const PhotoResult& photo, Findings& findings) {
    const auto add = [&](Level level, const char* code, const char* fallback) {
        findings.push_back(
            {level, code,
             photo.file + ": " + (photo.sight.advice.empty() ? fallback : photo.sight.advice)});
    };
    switch (photo.sight.problem) {
        case SightProblem::none:
            return;
        case SightProblem::not_found:
            return add(
                Level::warning, "target-not-found",
                "the target was not found. Take the photo again with the whole board in view.");
        case SightProblem::few_corners:
            return add(
                Level::warning, "few-corners",
                "only a few corners of the board can be seen. Clear the view and take it again.");
        case SightProblem::blurred:
            return add(
                Level::warning, "photo-blurred",
                "the photo is not sharp. Hold the phone still and let it focus on the board.");
        case SightProblem::dark:
            return add(Level::warning, "photo-dark",
                       "the photo is too dark. Light the board and take it again.");
    }
}

/// A photo that is held against its camera file; `find` looks for the board where the sizes fit.
PhotoResult checked(PhotoResult photo, const Camera& camera, const std::function<Sight()>& find,
                    Findings& findings) {
    const Findings identity = check_identity(photo, camera);
    findings.insert(findings.end(), identity.begin(), identity.end());
    if (photo.width_px == camera.width_px && photo.height_px == camera.height_px) {
        photo.sight = find();
        check_sight(photo, findings);
    }
    return photo;
}

PhotoResult look_at(const SheetPhoto& sheet, const Camera& camera, const Target& target,
                    Findings& findings) {
    if (is_corners_file(sheet.path)) {
        const ReducedPhoto photo = load_corners(sheet.path, target.pattern);
        return checked(
            {sheet.file,
             sheet.path,
             photo.facts,
             photo.digest,
             photo.width_px,
             photo.height_px,
             {}},
            camera, [&] { return sight_of_corners(photo.corners, target.pattern); }, findings);
    }
    const Photo photo = load_photo(sheet.path);
    return checked(
        {sheet.file, sheet.path, photo.facts, photo.digest, photo.grey.cols, photo.grey.rows, {}},
        camera, [&] { return find_target(photo.grey, target, camera.lens); }, findings);
}

}  // namespace

std::vector<PhotoResult> look_at_photos(const SheetSighting& sheet, const Camera& camera,
                                        const Target& target, Findings& findings,
                                        const std::function<void(const std::string&)>& begin) {
    std::vector<PhotoResult> results;
    for (const auto& photo : sheet.photos) {
        begin(photo.file);
        try {
            results.push_back(look_at(photo, camera, target, findings));
        } catch (const InputError& error) {
            PhotoResult unread;
            unread.file = photo.file;
            unread.path = photo.path;
            results.push_back(unread);
            findings.push_back({Level::warning, "photo-unreadable", error.what()});
        }
    }
    return results;
}

}  // namespace squaresight
