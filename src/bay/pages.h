#pragma once
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "bay/guard.h"
#include "bay/job_store.h"
#include "bay/measuring.h"
#include "bay/messages.h"
#include "bay/sheet_forms.h"
#include "bay/shop.h"

/// The pages as HTML. They hold no script and no style of their own; every text is escaped.
namespace squaresight::bay {

/// Who looks, and in which language.
struct Viewer {
    Language language = Language::english;
    Session session;
};

/// A screen that asks for something.
struct FormScreen {
    std::string title;  ///< keys of the catalogue, as are words, cautions and button
    std::string action;
    std::vector<std::string> words = {};
    std::vector<std::string> cautions = {};
    std::vector<Field> fields;
    std::string button = "save";
    std::vector<std::string> notes = {};  ///< as they are shown
};

std::string pair_page(Language language, const std::string& code, const std::string& problem_key);
std::string jobs_page(const Viewer& viewer, const std::vector<ListedJob>& jobs);
/// `job` is null for a job that is yet to begin; `problem` is shown as it is.
std::string form_page(const Viewer& viewer, const FormScreen& screen, const Form& form,
                      const StoredJob* job, LengthUnit unit, const std::string& problem);
std::string job_page(const Viewer& viewer, const StoredJob& job, const MeasuringState& measuring);
std::string photos_page(const Viewer& viewer, const StoredJob& job, const MeasuringState& measuring,
                        const std::string& problem);
std::string answer_page(const Viewer& viewer, const StoredJob& job, const Mount& mount,
                        const MeasuringState& measuring, const std::string& problem);

/// A code that pairs a device, shown once.
struct ShownCode {
    std::string code, address;
    Role role = Role::technician;
};
std::string shop_page(const Viewer& viewer, const Shop& shop, const std::optional<ShownCode>& code);

/// Both versions of a form whose job was changed meanwhile.
std::string stale_page(const Viewer& viewer, const StoredJob& job, const FormScreen& screen,
                       const Form& theirs, const Form& yours, const std::string& address);
std::string notice_page(Language language, const std::string& title_key, const std::string& words,
                        const std::string& address);

/// What is wrong with an entry, in words.
std::string problem_words(Language language, const FormError& error);

/// Where the technician goes next: "ready", "board", "photos", "answer" or "finish".
std::string next_step(const StoredJob& job, const MeasuringState& measuring);

}  // namespace squaresight::bay
