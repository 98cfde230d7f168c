#include "job/photo_identity.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>

namespace squaresight {
namespace {

constexpr double same_focal_length_share = 0.02;

// EXIF rounds the 35 mm equivalent to whole millimetres, a camera file may hold the exact figure.
constexpr double same_equivalent_mm = 0.5;
constexpr double same_equivalent_share = 0.01;

bool is_size(const PhotoResult& photo, int width_px, int height_px) {
    return photo.width_px == width_px && photo.height_px == height_px;
}

/// Whether a photo that does not tell how large its phone took it has the shape of the camera's,
/// upright or lying, and fewer pixels.
bool is_smaller_copy(const PhotoResult& photo, const Camera& camera) {
    const auto [shorter_px, longer_px] = std::minmax(photo.width_px, photo.height_px);
    const auto [short_px, long_px] = std::minmax(camera.width_px, camera.height_px);
    const double share = static_cast<double>(longer_px) / long_px;
    const bool is_told = photo.facts.stated_width_px || photo.facts.stated_height_px;
    return !is_told && share < 1 && std::abs(shorter_px - share * short_px) <= 1;
}

void check_size(const PhotoResult& photo, const Camera& camera, Findings& findings) {
    if (is_size(photo, camera.width_px, camera.height_px)) {
        return;
    }
    if (is_smaller_copy(photo, camera)) {
        findings.push_back(
            {Level::stop, "photo-not-original",
             fmt::format("{}: the file has {} x {} pixels, the camera file '{}' is for {} x {}: a "
                         "copy that was made smaller. Bring the original photo.",
                         photo.file, photo.width_px, photo.height_px, camera.name, camera.width_px,
                         camera.height_px)});
        return;
    }
    const bool turned = is_size(photo, camera.height_px, camera.width_px);
    findings.push_back(
        {Level::stop, "camera-mismatch",
         fmt::format("{}: the photo has {} x {} pixels, the camera file '{}' is for {} x {}. {}",
                     photo.file, photo.width_px, photo.height_px, camera.name, camera.width_px,
                     camera.height_px,
                     turned ? "Its picture was turned after it was taken. Bring the original file."
                            : "Use the phone and the photo size that were calibrated, and the "
                              "original file.")});
}

/// Some phones state the size of the small picture inside the file.
bool is_thumbnail(int stated_width_px, int stated_height_px, const PhotoResult& photo) {
    constexpr int largest_px = 640;
    return std::max(stated_width_px, stated_height_px) <= largest_px &&
           std::max(photo.width_px, photo.height_px) > 2 * largest_px;
}

void check_original(const PhotoResult& photo, Findings& findings) {
    const auto& facts = photo.facts;
    if (!facts.stated_width_px && !facts.stated_height_px) {
        return;
    }
    const bool standing = facts.stated_width_px.value_or(photo.width_px) == photo.width_px &&
                          facts.stated_height_px.value_or(photo.height_px) == photo.height_px;
    const bool lying = facts.stated_width_px.value_or(photo.height_px) == photo.height_px &&
                       facts.stated_height_px.value_or(photo.width_px) == photo.width_px;
    const int width_px = facts.stated_width_px.value_or(0);
    const int height_px = facts.stated_height_px.value_or(0);
    if (standing || lying || is_thumbnail(width_px, height_px, photo)) {
        return;
    }
    findings.push_back(
        {Level::stop, "photo-not-original",
         fmt::format("{}: the phone took {} x {} pixels, the file has {} x {}: it was scaled or "
                     "cropped. Bring the original photo.",
                     photo.file, width_px, height_px, photo.width_px, photo.height_px)});
}

bool equivalents_differ(const CameraIdentity& photo, const CameraIdentity& camera) {
    if (!photo.focal_length_35mm_mm || !camera.focal_length_35mm_mm) {
        return false;
    }
    const double known_mm = *camera.focal_length_35mm_mm;
    return std::abs(*photo.focal_length_35mm_mm - known_mm) >
           same_equivalent_mm + same_equivalent_share * known_mm;
}

/// Which field of the photo's identity speaks against the camera file; empty if none does.
std::string differing_field(const CameraIdentity& photo, const CameraIdentity& camera) {
    const auto differs = [](const std::string& a, const std::string& b) {
        return !a.empty() && !b.empty() && a != b;
    };
    if (differs(photo.make, camera.make)) {
        return fmt::format("make '{}' instead of '{}'", photo.make, camera.make);
    }
    if (differs(photo.model, camera.model)) {
        return fmt::format("model '{}' instead of '{}'", photo.model, camera.model);
    }
    if (differs(photo.lens, camera.lens)) {
        return fmt::format("lens '{}' instead of '{}'", photo.lens, camera.lens);
    }
    const bool both_told = photo.focal_length_mm && camera.focal_length_mm;
    if (both_told &&
        std::abs(*photo.focal_length_mm / *camera.focal_length_mm - 1) > same_focal_length_share) {
        return fmt::format("focal length {:g} mm instead of {:g} mm", *photo.focal_length_mm,
                           *camera.focal_length_mm);
    }
    if (!both_told && equivalents_differ(photo, camera)) {
        return fmt::format("35 mm equivalent {:g} mm instead of {:g} mm",
                           *photo.focal_length_35mm_mm, *camera.focal_length_35mm_mm);
    }
    return "";
}

/// A picture that the phone cut from the middle of the sensor and enlarged keeps its lens's focal
/// length, its 35 mm equivalent changes.
std::string zoom_of(const PhotoResult& photo, const Camera& camera) {
    if (is_zoomed(photo.facts)) {
        return fmt::format("taken with a digital zoom of {:.4g}", *photo.facts.digital_zoom);
    }
    const CameraIdentity& identity = photo.facts.identity;
    if (equivalents_differ(identity, camera.identity)) {
        return fmt::format(
            "taken with a zoom (35 mm equivalent {:g} mm instead of {:g} mm, through the same "
            "lens)",
            *identity.focal_length_35mm_mm, *camera.identity.focal_length_35mm_mm);
    }
    return "";
}

/// What the camera file tells of its camera and the photo does not.
std::vector<std::string> untold_fields(const CameraIdentity& photo, const CameraIdentity& camera) {
    std::vector<std::string> untold;
    if (photo.make.empty() && !camera.make.empty()) {
        untold.push_back("make");
    }
    if (photo.model.empty() && !camera.model.empty()) {
        untold.push_back("model");
    }
    const auto names_lens = [](const CameraIdentity& one) {
        return !one.lens.empty() || one.focal_length_mm || one.focal_length_35mm_mm;
    };
    if (!names_lens(photo) && names_lens(camera)) {
        untold.push_back("lens");
    }
    return untold;
}

void check_told(const PhotoResult& photo, const Camera& camera, Findings& findings) {
    const auto warn = [&](const std::string& text) {
        findings.push_back({Level::warning, "camera-unverified", photo.file + ": " + text});
    };
    if (camera.identity.make.empty() && camera.identity.model.empty()) {
        return warn(
            "the camera file names no make and model, so nothing shows that this camera took it. "
            "Add 'identity' to the camera file, as the photos' own data have it.");
    }
    const auto untold = untold_fields(photo.facts.identity, camera.identity);
    if (!untold.empty()) {
        warn(fmt::format(
            "the photo does not tell its {}, so nothing shows that this camera took it: a "
            "messenger or an editor took that out. Bring the original, by cable or sent as a file.",
            fmt::join(untold, ", ")));
    }
}

/// Whether nothing is left in a photo of what its phone wrote of itself.
bool is_bare(const CameraIdentity& told) {
    return told.make.empty() && told.model.empty() && told.lens.empty() && !told.focal_length_mm &&
           !told.focal_length_35mm_mm;
}

}  // namespace

void refuse_copy(const PhotoResult& photo, const Camera& camera, Findings& findings) {
    if (!is_bare(photo.facts.identity) || is_bare(camera.identity)) {
        return;
    }
    for (auto& finding : findings) {
        if (finding.code == "camera-unverified") {
            finding.level = Level::stop;
        }
    }
}

Findings check_identity(const PhotoResult& photo, const Camera& camera) {
    Findings findings;
    check_original(photo, findings);
    const std::string field = differing_field(photo.facts.identity, camera.identity);
    const std::string zoom = zoom_of(photo, camera);
    if (!field.empty()) {
        findings.push_back(
            {Level::stop, "camera-mismatch",
             fmt::format("{}: not taken by the camera of '{}' ({}). Use the calibrated phone and "
                         "lens, or name that phone's camera file on the job sheet.",
                         photo.file, camera.name, field)});
    }
    if (is_zoomed(photo.facts) || (field.empty() && !zoom.empty())) {
        findings.push_back({Level::stop, "photo-zoomed",
                            fmt::format("{}: {}. Take it again without zoom.", photo.file, zoom)});
    }
    if (field.empty() && zoom.empty() && !is_smaller_copy(photo, camera)) {
        check_told(photo, camera, findings);
    }
    check_size(photo, camera, findings);
    return findings;
}

}  // namespace squaresight
