#include "bay/sheet_entries.h"

#include <fmt/chrono.h>
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "job/closing_days.h"
#include "job/getting_ready.h"

namespace squaresight::bay {
namespace {

constexpr std::size_t longest_name = 60;
constexpr std::size_t longest_answer = 200;
constexpr std::size_t longest_note = 300;
constexpr std::size_t most_notes = 100;

/// What the sensor reads after the drive: the entry of the form, the key of the sheet.
constexpr std::array<std::pair<const char*, const char*>, 2> readings_after{
    {{"reading_after", "reading_after.yaw"}, {"reading_after_pitch", "reading_after.pitch"}}};

using Answers = std::vector<std::pair<std::string, std::string>>;

void put_answer(Answers& answers, const std::string& key, const std::string& answer) {
    const auto found = std::find_if(answers.begin(), answers.end(),
                                    [&](const auto& one) { return one.first == key; });
    if (answer.empty() && found != answers.end()) {
        answers.erase(found);
    } else if (!answer.empty() && found != answers.end()) {
        found->second = answer;
    } else if (!answer.empty()) {
        // "reading_after.yaw" stands beside "reading_after.pitch": they are one entry of the sheet.
        const std::string group = key.substr(0, key.find('.') + 1);
        const auto beside = std::find_if(answers.begin(), answers.end(), [&](const auto& one) {
            return !group.empty() && one.first.compare(0, group.size(), group) == 0;
        });
        answers.insert(beside, {key, answer});
    }
}

/// The file that a form chose by its name; that of the bay where it chose none.
std::filesystem::path chosen(const std::vector<ShopItem>& items, const Form& form,
                             const std::string& name, const std::filesystem::path& usual) {
    if (!form.has(name)) {
        return usual;
    }
    const ShopItem* item = find_item(items, form.get(name));
    if (item == nullptr) {
        throw FormError(name, "not_offered");
    }
    return item->file;
}

std::optional<double> sensor_reading_deg(const Form& form, const char* name) {
    constexpr double widest_reading_deg = 45;
    const auto reading_deg = form.sided_angle_deg(name);
    if (reading_deg && std::abs(*reading_deg) > widest_reading_deg) {
        throw FormError(name, "out_of_range");
    }
    return reading_deg;
}

void refuse_impossible_day(const std::string& label, ClosingDay day) {
    switch (day) {
        case ClosingDay::possible:
            return;
        case ClosingDay::before_job:
            throw FormError(label, "day_before_job");
        case ClosingDay::to_come:
            throw FormError(label, "day_to_come");
    }
}

Answered answered(const Answers& answers, const std::vector<Field>& fields) {
    Answered count{0, fields.size()};
    for (const auto& field : fields) {
        count.given += answer_to(answers, field.name).empty() ? 0 : 1;
    }
    return count;
}

/// The screws' turns as a form has them; FormError where it has none.
std::vector<std::pair<std::string, double>> turned_in(const Mount& mount, const Form& form) {
    std::vector<std::pair<std::string, double>> turned;
    for (std::size_t i = 0; i < mount.screws.size(); ++i) {
        const std::string eighths = form.text(numbered("turns", i), 3, false);
        const std::string way = form.get(numbered("way", i));
        if (eighths.empty() || eighths == "0") {
            continue;
        }
        if (eighths.find_first_not_of("0123456789") != std::string::npos) {
            throw FormError("turned_title", "no_number");
        }
        if (way != "clockwise" && way != "counter-clockwise") {
            throw FormError("turned_title", "side_missing");
        }
        turned.emplace_back(mount.screws[i].name,
                            std::stoi(eighths) / 8.0 * (way == "clockwise" ? 1 : -1));
    }
    if (turned.empty()) {
        throw FormError("turned_title", "needed");
    }
    return turned;
}

/// A stage on the same setup.
SheetSighting& next_stage(JobSheet& sheet, const std::string& stage) {
    SheetSighting& next = sheet.sightings.emplace_back();
    next.stage = stage;
    next.same_setup = true;
    return next;
}

}  // namespace

std::string today_text(std::chrono::system_clock::time_point now) {
    return fmt::format("{:%Y-%m-%d}", fmt::localtime(std::chrono::system_clock::to_time_t(now)));
}

Form new_job_form(const Shop& shop, const std::string& bay) {
    Form form;
    const Bay* known = find_bay(shop, bay);
    if (known == nullptr && shop.bays.empty()) {
        return form;
    }
    const Bay& usual = known != nullptr ? *known : shop.bays.front();
    form.set("bay", usual.name);
    const auto put = [&](const char* name, const std::vector<ShopItem>& items,
                         const std::filesystem::path& file) {
        if (const ShopItem* item = item_of_file(items, file)) {
            form.set(name, item->name);
        }
    };
    put("mount", shop.mounts, usual.mount_file);
    put("camera", shop.cameras, usual.camera_file);
    put("target", shop.targets, usual.target_file);
    form.set("cradle", no_cradle);
    put("cradle", shop.cradles, usual.cradle_file.value_or(std::filesystem::path()));
    return form;
}

Form ready_form(const JobSheet& sheet) {
    Form form;
    for (const auto* key : all_ready_keys) {
        const std::string answer = answer_to(sheet.ready, key);
        const bool plain = answer == "yes" || answer == "no" || answer.empty();
        form.set(key, plain ? answer : "no");
        form.set(std::string(key) + ".reason", plain ? "" : answer);
    }
    if (const auto& yaw_deg = sheet.sightings.front().sensor_yaw_deg) {
        form.put_sided_angle("reading_before", *yaw_deg);
    }
    if (const auto& pitch_deg = sheet.sightings.front().sensor_pitch_deg) {
        form.put_sided_angle("reading_before_pitch", *pitch_deg);
    }
    return form;
}

Form finish_form(const JobSheet& sheet) {
    Form form;
    for (const auto* key : closing_keys) {
        form.set(key, answer_to(sheet.closing, key));
    }
    for (const auto& [entry, key] : readings_after) {
        const std::string after = answer_to(sheet.closing, key);
        if (!after.empty()) {
            form.put_sided_angle(entry, parse_quantity(after, Dimension::angle).value);
        }
    }
    return form;
}

JobSheet begun_sheet(const Shop& shop, const Form& form, const std::string& today) {
    const Bay* bay = find_bay(shop, form.get("bay"));
    if (bay == nullptr) {
        throw FormError("bay", "not_offered");
    }
    JobSheet sheet;
    sheet.job = form.text("job", longest_name, true);
    sheet.vehicle = form.text("vehicle", longest_name, true);
    sheet.vehicle_model = form.text("vehicle_model", longest_name, false);
    sheet.technician = form.text("technician", longest_name, false);
    sheet.bay = bay->name;
    sheet.date = today;
    sheet.mount_file = chosen(shop.mounts, form, "mount", bay->mount_file);
    sheet.camera_file = chosen(shop.cameras, form, "camera", bay->camera_file);
    sheet.target_file = chosen(shop.targets, form, "target", bay->target_file);
    sheet.cradle_file = bay->cradle_file;
    if (form.has("cradle") && form.get("cradle") != no_cradle) {
        sheet.cradle_file = chosen(shop.cradles, form, "cradle", {});
    } else if (form.has("cradle")) {
        sheet.cradle_file.reset();
    }
    sheet.originals_only = true;
    sheet.tape_counts = bay->tape_counts;
    SheetSighting first;
    first.stage = "as-found";
    first.setup = unmeasured_setup();
    take_distance(*first.setup, nullptr, bay, form);
    sheet.sightings.push_back(std::move(first));
    return sheet;
}

void check_new_job(const std::string& question, const Form& form) {
    if (question == "vehicle") {
        form.text("vehicle", longest_name, true);
    } else if (question == "distance") {
        SheetSetup setup = unmeasured_setup();
        take_distance(setup, nullptr, nullptr, form);
    }
}

void take_ready(JobSheet& sheet, const Form& form) {
    for (const auto* key : all_ready_keys) {
        const std::string answer = form.get(key);
        const std::string reason = form.text(std::string(key) + ".reason", longest_answer, false);
        if (answer != "yes" && answer != "no" && !answer.empty()) {
            throw FormError(key, "not_offered");
        }
        put_answer(sheet.ready, key, answer == "yes" || reason.empty() ? answer : reason);
    }
    sheet.sightings.front().sensor_yaw_deg = sensor_reading_deg(form, "reading_before");
    sheet.sightings.front().sensor_pitch_deg = sensor_reading_deg(form, "reading_before_pitch");
}

void take_finish(JobSheet& sheet, const Form& form, const std::string& today) {
    for (const auto* key : closing_keys) {
        const std::string picked = form.text(key, longest_answer, false);
        const std::string typed = form.text(std::string(key) + ".text", longest_answer, false);
        const std::string& answer = picked == "today" ? today : picked.empty() ? typed : picked;
        if (answer != answer_to(sheet.closing, key)) {
            refuse_impossible_day(key, closing_day(answer, sheet.date, today));
        }
        put_answer(sheet.closing, key, answer);
    }
    for (const auto& [entry, key] : readings_after) {
        const auto after_deg = sensor_reading_deg(form, entry);
        put_answer(sheet.closing, key, after_deg ? fmt::format("{:.9g} deg", *after_deg) : "");
    }
}

void take_turned(JobSheet& sheet, const Mount& mount, const Form& form) {
    auto turned = turned_in(mount, form);
    if (awaits_photos(sheet)) {
        throw FormError("turned_title", "turned_already");
    }
    SheetSighting& last = sheet.sightings.back();
    last.turned_clockwise = std::move(turned);
    if (last.stage == "as-left") {
        last.stage = "adjusted";  // it is not how the job is left after all
    }
    next_stage(sheet, "adjusted");
}

bool is_turned_so(const JobSheet& sheet, const Mount& mount, const Form& form) {
    return awaits_photos(sheet) &&
           sheet.sightings[sheet.sightings.size() - 2].turned_clockwise == turned_in(mount, form);
}

void correct_turned(JobSheet& sheet, std::size_t place, const Mount& mount, const Form& form) {
    sheet.sightings.at(place).turned_clockwise = turned_in(mount, form);
}

bool awaits_photos(const JobSheet& sheet) {
    const SheetSighting& last = sheet.sightings.back();
    return sheet.sightings.size() > 1 && last.photos.empty() && !last.tape_and_level;
}

JobSheet up_to_stage(JobSheet sheet, std::size_t place) {
    sheet.sightings.resize(std::min(place + 1, sheet.sightings.size()));
    return sheet;
}

void change_stage(JobSheet& sheet, std::size_t place,
                  const std::function<void(JobSheet&)>& change) {
    JobSheet changed = up_to_stage(sheet, place);
    change(changed);
    const auto after = sheet.sightings.begin() +
                       static_cast<std::ptrdiff_t>(std::min(place + 1, sheet.sightings.size()));
    changed.sightings.insert(changed.sightings.end(), after, sheet.sightings.end());
    sheet = std::move(changed);
}

void take_note(JobSheet& sheet, const Form& form) {
    if (sheet.notes.size() >= most_notes) {
        throw FormError("note", "too_long");
    }
    sheet.notes.push_back(today_text() + ": " + form.text("note", longest_note, true));
}

void take_abandoned(JobSheet& sheet, const Form& form) {
    sheet.abandoned = form.text("abandon_reason", longest_answer, true);
}

void take_up_again(JobSheet& sheet) { sheet.abandoned.clear(); }

Answered ready_answered(const JobSheet& sheet) {
    std::vector<Field> asked = fields_of(ready_questions({}));
    std::erase_if(asked, [](const Field& field) { return field.kind != FieldKind::answer; });
    return answered(sheet.ready, asked);
}

Answered closing_answered(const JobSheet& sheet) {
    std::vector<Field> asked = fields_of(finish_questions());
    std::erase_if(asked, [](const Field& field) { return field.kind != FieldKind::pick; });
    return answered(sheet.closing, asked);
}

void take_lock(JobSheet& sheet, const Form& form) {
    const std::string height = form.get(ride_height_left_key);
    if (height == "yes" || height == "no") {
        put_answer(sheet.ready, ride_height_left_key, height);
    }
    if (sheet.sightings.back().stage != "as-left") {
        if (awaits_photos(sheet)) {
            throw FormError("lock_title", "turned_already");
        }
        next_stage(sheet, "as-left").locked = true;
    }
}

void take_label(JobSheet& sheet, const std::string& file, const std::string& cradle) {
    for (auto& sighting : sheet.sightings) {
        for (auto& photo : sighting.photos) {
            if (photo.file == file) {
                photo.label = cradle_label_of(cradle);
            }
        }
    }
}

void take_out(JobSheet& sheet, const std::string& file) {
    for (auto& sighting : sheet.sightings) {
        std::erase_if(sighting.photos, [&](const SheetPhoto& photo) { return photo.file == file; });
    }
}

void take_moved(JobSheet& sheet) {
    SheetSighting& last = sheet.sightings.back();
    if (last.same_setup && last.photos.empty()) {
        const SheetSetup* before = current_setup(sheet);
        SheetSetup now = unmeasured_setup();
        if (before != nullptr) {
            now.tape_points = before->tape_points;  // the truck's own, wherever it stands
        }
        last.same_setup = false;
        last.setup = std::move(now);
    }
}

}  // namespace squaresight::bay
