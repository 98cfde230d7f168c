#include "bay/look.h"

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "adjust/standing.h"
#include "bay/seen_photos.h"
#include "bay/sheet_forms.h"
#include "job/photo_times.h"
#include "job/words.h"
#include "report/annotate.h"
#include "report/summary.h"
#include "units/error.h"
#include "units/files.h"

namespace squaresight::bay {
namespace {

using Json = nlohmann::json;

constexpr std::uintmax_t largest_sheet_bytes = 1 << 20;
constexpr int picture_px = 900;
constexpr int picture_quality = 75;

/// A photo's place in its sheet.
struct Place {
    std::size_t stage = 0, photo = 0;
};

Place place_of(const JobSheet& sheet, const std::string& file) {
    for (std::size_t i = sheet.sightings.size(); i-- > 0;) {
        const auto& photos = sheet.sightings[i].photos;
        for (std::size_t k = 0; k < photos.size(); ++k) {
            if (photos[k].file == file) {
                return {i, k};
            }
        }
    }
    throw InputError(file, "is no photo of this job", "open the page again");
}

/// The job as if this photo were all of it. In the bay the original is at hand.
JobSheet alone(const JobSheet& sheet, const Place& place) {
    JobSheet one = sheet;
    one.originals_only = true;
    SheetSighting sighting;
    sighting.stage = "as-found";
    sighting.photos = {sheet.sightings[place.stage].photos[place.photo]};
    for (std::size_t i = place.stage + 1; i-- > 0;) {
        if (!sheet.sightings[i].same_setup) {
            sighting.setup = sheet.sightings[i].setup;
            break;
        }
    }
    if (sighting.setup) {
        sighting.setup->tapes.clear();
    }
    one.sightings = {sighting};
    return one;
}

/// All photos of the job that were looked at, each at its place; the others are empty.
std::vector<SightingResult> seen_so_far(const JobSheet& sheet, const SeenPhotos& seen) {
    std::vector<SightingResult> sightings;
    for (const auto& stage : sheet.sightings) {
        SightingResult sighting;
        sighting.stage = stage.stage;
        for (const auto& photo : stage.photos) {
            PhotoResult empty;
            empty.file = photo.file;
            sighting.photos.push_back(seen.kept(photo).value_or(empty));
        }
        sightings.push_back(std::move(sighting));
    }
    return sightings;
}

/// Other findings belong to readings, or a single photo cannot help but bring them.
bool is_about_photo(const Finding& finding) {
    static const std::vector<std::string> codes{
        "distance-mismatch", "target-turned",      "photo-zoomed",     "photo-reused",
        "photo-time",        "photo-of-other-job", "photo-unreadable", "photo-not-original",
        "camera-mismatch",   "camera-unverified",  "photo-blurred",    "photo-dark",
        "few-corners",       "target-not-found",   "cradle-labels"};
    return std::find(codes.begin(), codes.end(), finding.code) != codes.end();
}

void add(Findings& all, const Findings& more) {
    for (const auto& finding : more) {
        const bool known = std::any_of(
            all.begin(), all.end(), [&](const Finding& one) { return one.text == finding.text; });
        if (finding.level != Level::note && is_about_photo(finding) && !known) {
            all.push_back(finding);
        }
    }
}

bool is_about_labels(const Finding& finding) { return finding.code == "cradle-labels"; }

/// That this photo does not fit its label, where the others fit theirs.
Findings label_findings(Findings with_label, const Findings& without_label) {
    const bool others = std::any_of(without_label.begin(), without_label.end(), is_about_labels);
    std::erase_if(with_label, [&](const Finding& one) { return others || !is_about_labels(one); });
    return with_label;
}

/// How the phone stood in this photo as the others and the cradle tell, its own label left out;
/// empty where they do not. Where no photo of the job has a label, the first counts as upright: it
/// changes nothing if all of them stood the other way.
std::string stands_of(MeasuredJob job, const Place& place, Findings& findings) {
    const Findings with_label = read_standing(job).findings;
    auto& photo = job.sightings[place.stage].photos[place.photo];
    const bool said = photo.label.has_value();
    photo.label.reset();
    bool known = job.cradle.phone_up.has_value();
    for (const auto& sighting : job.sightings) {
        for (const auto& other : sighting.photos) {
            known = known || (other.label && !other.corners.empty());
        }
    }
    Standing standing = read_standing(job);
    const Findings of_label = label_findings(with_label, standing.findings);
    std::erase_if(standing.findings, is_about_labels);
    add(findings, standing.findings);
    if (photo.corners.empty() || (said && !known)) {
        return "";
    }
    const double roll_deg = std::abs(standing.stands[place.stage][place.photo].cradle_roll_deg);
    if (roll_deg < 45 || roll_deg > 135) {
        return roll_deg < 45 ? "upright" : "inverted";
    }
    add(findings, of_label);
    return "";
}

/// Against the other photos: taken twice, of an earlier stage, the phone the other way up.
std::string check_among_others(const JobSheet& sheet, const Place& place, const SeenPhotos& seen,
                               const JobResult& own, Findings& findings) {
    JobResult together = own;
    together.sheet = sheet;
    together.sightings = seen_so_far(sheet, seen);
    check_photos_together(sheet, together.sightings);
    const std::string file = sheet.sightings[place.stage].photos[place.photo].file;
    Findings about;
    for (const auto& finding : together.sightings[place.stage].findings) {
        if (finding.text.starts_with(file)) {
            about.push_back(finding);
        }
    }
    add(findings, about);
    return stands_of(measured_job(together), place, findings);
}

Json findings_json(const Findings& findings) {
    Json list = Json::array();
    for (const auto& finding : findings) {
        list.push_back({{"level", level_words(finding.level)},
                        {"code", finding.code},
                        {"text", in_shop_words(finding.text)}});
    }
    return list;
}

Json looked_at(const JobSheet& sheet, const std::string& file,
               const std::filesystem::path& seen_folder) {
    const Place place = place_of(sheet, file);
    const SeenPhotos seen(seen_folder, sheet);
    const JobResult own =
        measure_sheet(alone(sheet, place), {},
                      [&](const SheetPhoto& photo, const Camera& camera, const Target& target) {
                          return seen.read(photo, camera, target);
                      });
    const SightingResult& sighting = own.sightings.front();
    const PhotoResult& photo = sighting.photos.front();
    Findings findings;
    add(findings, sighting.all_findings());
    if (!photo.sight.corners.empty()) {  // else the job's own say the same once more
        add(findings, own.findings);
    }
    const std::string stands = check_among_others(sheet, place, seen, own, findings);
    std::stable_sort(findings.begin(), findings.end(),
                     [](const Finding& a, const Finding& b) { return a.level > b.level; });
    Json look{{"found", !photo.sight.corners.empty()},
              {"corners", photo.sight.corners.size()},
              {"stands", stands},
              {"findings", findings_json(findings)}};
    if (const auto picture = annotated_photo(own, 0, photo, picture_px, false)) {
        const std::string key = seen.key(sheet.sightings[place.stage].photos[place.photo]);
        write_file(seen_folder / (key + ".jpg"), jpeg_bytes(*picture, picture_quality));
        look["picture"] = key;
    }
    return look;
}

}  // namespace

std::string photo_look(const std::filesystem::path& sheet_file, const std::string& file,
                       const std::filesystem::path& seen_folder) {
    try {
        const JobSheet sheet =
            parse_begun_job_sheet(read_file(sheet_file, largest_sheet_bytes), sheet_file);
        return looked_at(sheet, file, seen_folder).dump() + "\n";
    } catch (const InputError& error) {
        return Json{{"found", false}, {"problem", error.what()}}.dump() + "\n";
    }
}

}  // namespace squaresight::bay
