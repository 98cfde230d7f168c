#include <fmt/format.h>

#include <algorithm>
#include <cctype>

#include "bay/page_data.h"
#include "bay/page_templates.h"

namespace squaresight::bay {
namespace {

std::string label_key(const SheetPhoto& photo) {
    return photo.label ? cradle_label_text(*photo.label) : "";
}

/// How the phone is to stand in the next photo, and the ways to choose from. Quarter turns are
/// offered once the bay asks for them.
void set_ways_up(PageData& page, const std::string& next, Language language) {
    PageData ways(PageData::type::list);
    const bool quarters = next.starts_with("quarter");
    for (const CradleLabel label : all_cradle_labels) {
        const std::string value = cradle_label_text(label);
        if (quarters || !value.starts_with("quarter")) {
            PageData way = record({{"value", value}, {"words", message(language, value)}});
            way.set("checked", value == next);
            ways.push_back(way);
        }
    }
    page.set("ways", ways);
    page.set("next_words", next.empty() ? "" : message(language, "next_" + next));
}

/// "photos/1.jpg: the photo is not sharp" under a heading that names the photo.
std::string without_name(const std::string& text, const std::string& file) {
    if (text.compare(0, file.size() + 2, file + ": ") != 0) {
        return text;
    }
    std::string rest = text.substr(file.size() + 2);
    if (!rest.empty()) {
        rest[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(rest[0])));
    }
    return rest;
}

/// What is wrong with a photo and what to do, worst first.
PageData photo_problems(const Json& look, const std::string& file, Language language) {
    PageData list(PageData::type::list);
    const auto add = [&](const std::string& level, const std::string& text) {
        PageData one = phrase_data(text, language);
        one.set("level", level);
        one.set("level_word", message(language, "level_" + level));
        list.push_back(one);
    };
    if (const std::string problem = text_at(look, "problem"); !problem.empty()) {
        add("STOP", problem);
    }
    for (const auto& finding : list_at(look, "findings")) {
        add(text_at(finding, "level"), without_name(text_at(finding, "text"), file));
    }
    return list;
}

/// The heading over a photo that was looked at: what keeps it from serving, before that nothing was
/// found in it.
const char* call_key(const Json& look, bool good) {
    const Json findings = list_at(look, "findings");
    const auto has = [&](const char* code) {
        return std::any_of(findings.begin(), findings.end(), [&](const Json& one) {
            return text_at(one, "code") == code && text_at(one, "level") == "STOP";
        });
    };
    if (has("photo-not-original") || has("camera-unverified")) {
        return "photo_copy";
    }
    if (truth_at(look, "found")) {
        return good ? "photo_found" : "photo_doubtful";
    }
    const bool blurred = std::any_of(findings.begin(), findings.end(), [](const Json& one) {
        return text_at(one, "code") == "photo-blurred";
    });
    return has("camera-mismatch") ? "photo_other" : blurred ? "photo_blurred" : "photo_missing";
}

/// Whether a photo that was looked at can be measured with.
bool serves(const Json& look) {
    const Json findings = list_at(look, "findings");
    return truth_at(look, "found") &&
           std::none_of(findings.begin(), findings.end(),
                        [](const Json& one) { return text_at(one, "level") == "STOP"; });
}

PageData photo_data(const SheetPhoto& photo, const Json& look, const std::string& job_id,
                    Language language) {
    const std::string said = label_key(photo), stands = text_at(look, "stands");
    const bool wrong_way = !said.empty() && !stands.empty() && said != stands;
    const bool good = truth_at(look, "found") && list_at(look, "findings").empty() && !wrong_way;
    PageData data = record(
        {{"file", photo.file},
         {"name", photo.path.filename().string()},
         {"class", look.is_null() ? ""
                   : good         ? "good"
                                  : "bad"},
         {"call", message(language, look.is_null() ? "photo_waits" : call_key(look, good))}});
    data.set("looked_at", !look.is_null());
    data.set("bad", !look.is_null() && !good);
    if (!said.empty()) {
        data.set("stands", message(language, said));
    }
    if (wrong_way) {
        data.set("wrong_way", true);
        data.set("really", stands);
        data.set("really_words", message(language, stands));
    }
    data.set("problems", photo_problems(look, photo.file, language));
    const std::string picture = text_at(look, "picture");
    set_unless_empty(data, "picture",
                     picture.empty() ? "" : fmt::format("/job/{}/look/{}.jpg", job_id, picture));
    return data;
}

}  // namespace

SheetSighting with_good_photos(SheetSighting sighting, const PhotoLooks& looks) {
    const auto look_of = [&](const SheetPhoto& photo) {
        const auto look = looks.by_file.find(photo.file);
        return look == looks.by_file.end() ? Json() : look->second;
    };
    std::erase_if(sighting.photos, [&](const SheetPhoto& photo) {
        const Json look = look_of(photo);
        return !look.is_null() && !serves(look);
    });
    for (auto& photo : sighting.photos) {
        if (const auto stands = cradle_label_of(text_at(look_of(photo), "stands"))) {
            photo.label = stands;
        }
    }
    return sighting;
}

std::string photos_page(const Viewer& viewer, const StoredJob& job, const PhotoLooks& looks,
                        const PhotosWanted& wanted, const std::optional<JournalEntry>& last_made,
                        const Phrase& problem) {
    PageData page = begin_page(viewer, &job);
    if (awaits_photos(job.sheet) && viewer.session.may_work()) {
        set_last_entry(page, last_made, viewer.language);
    }
    const SheetSighting& last = job.sheet.sightings.back();
    page.set("stage", message(viewer.language, last.stage));
    page.set("taken", fmt::format("{}", wanted.taken));
    page.set("count", fmt::format("{}", std::max(wanted.count, wanted.taken)));
    page.set("same", last.same_setup && last.photos.empty());
    page.set("can_move", last.same_setup && last.photos.empty() && viewer.session.may_work());
    set_ways_up(page, wanted.next, viewer.language);
    const bool tape = is_tape_due(job.sheet);
    page.set("after", tape ? "tape" : "answer");
    page.set("after_words", message(viewer.language, tape ? "step_tape" : "to_answer"));
    page.set("enough", wanted.next.empty());
    page.set("not_enough", !wanted.next.empty());
    page.set("working", looks.working);
    page.set("crowded", looks.crowded);
    PageData newest(PageData::type::list), before(PageData::type::list);
    for (auto photo = last.photos.rbegin(); photo != last.photos.rend(); ++photo) {
        const auto look = looks.by_file.find(photo->file);
        (photo == last.photos.rbegin() ? newest : before)
            .push_back(photo_data(*photo, look == looks.by_file.end() ? Json() : look->second,
                                  job.id, viewer.language));
    }
    page.set("newest", newest);
    page.set("before", before);
    page.set("has_before", last.photos.size() > 1);
    return framed(page, templates::photos, message(viewer.language, "step_photos"), problem);
}

}  // namespace squaresight::bay
