#include <algorithm>

#include "bay/site.h"
#include "bay/uploads.h"
#include "photo/kind.h"
#include "units/files.h"

namespace squaresight::bay {
namespace {

/// A picture as it was sent; its kind by its content.
void send_picture(Site& site, Call& call) {
    const StoredJob job = site.store.open(call.job);
    const auto& pictures = job.sheet.pictures;
    const auto found = std::find_if(pictures.begin(), pictures.end(), [&](const auto& file) {
        return std::filesystem::path(file).filename() == call.form.get("of");
    });
    if (found == pictures.end()) {
        throw NoSuchJob();
    }
    const std::string bytes =
        read_file(existing(job.sheet.file.parent_path() / "photos" / call.form.get("of")),
                  largest_photo_bytes);
    const PhotoKind kind = kind_of(bytes, "this picture");
    call.response.set_content(bytes, kind == PhotoKind::jpeg  ? "image/jpeg"
                                     : kind == PhotoKind::png ? "image/png"
                                                              : "image/heic");
}

}  // namespace

void add_notes_pages(Site& site) {
    const auto add = [&site](const char* rest, Deed deed,
                             const std::function<void(JobSheet&, const Form&)>& take,
                             const char* next) {
        site.post(job_pattern(rest), [&site, deed, take, next](Call& call) {
            site.change(
                call, [&](JobSheet& sheet) { take(sheet, call.form); }, deed);
            go_to(call.response, "/job/" + call.job + next);
        });
    };
    site.get(job_pattern("/notes"), [&site](Call& call) {
        send_page(call.response, 200, notes_page(call.viewer, site.store.open(call.job)));
    });
    site.get(job_pattern("/picture"), [&site](Call& call) { send_picture(site, call); });
    add("/notes", Deed::note, take_note, "/notes");
    add("/abandoned", Deed::abandoned, take_abandoned, "");
    add(
        "/taken_up", Deed::taken_up, [](JobSheet& sheet, const Form&) { take_up_again(sheet); },
        "");
}

}  // namespace squaresight::bay
