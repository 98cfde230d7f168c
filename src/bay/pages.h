#pragma once
#include <map>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "bay/guard.h"
#include "bay/job_store.h"
#include "bay/measuring.h"
#include "bay/messages.h"
#include "bay/phrases.h"
#include "bay/sheet_forms.h"
#include "bay/shop.h"
#include "report/floor_steps.h"

/// The pages as HTML. They hold no script and no style of their own; every text is escaped.
namespace squaresight::bay {

/// Who looks, and in which language.
struct Viewer {
    Language language = Language::english;
    Session session;
};

/// A screen that asks one thing.
struct QuestionScreen {
    Question question;
    std::string step;  ///< key of what it is a part of
    std::size_t number = 1, count = 1;
    std::string action;       ///< where the answer goes
    bool by_address = false;  ///< the answer goes on in the next page's address; nothing is saved
    std::string then = {};    ///< sent along: "all" where the list of entries comes next
    std::string back = {}, all = {};  ///< addresses of the screen before and of all entries
    Form carried = {};                ///< answers of other questions, where they are not saved yet
    std::vector<std::string> notes = {};  ///< as they are shown
    /// What stood in an earlier job, to be confirmed: names and values; of which job.
    std::vector<std::pair<std::string, std::string>> remembered = {};
    std::string remembered_from = {};
    std::vector<std::pair<std::string, std::string>> lengths = {};  ///< of the floor layout
    std::vector<FloorStep> floor_steps = {};
    std::vector<std::pair<std::string, std::string>> floor_tapes = {};
    std::string drawing = {};     ///< SVG in place of the question's picture, its words English
    std::string drawing_of = {};  ///< what it shows, by name
    bool doubted = false;         ///< an unusual entry: it may be sent once more as it is
    std::string button = "save";
    std::string leave_out = {};  ///< tape and level may be left out: key of the stage
};

/// The entries of a step, each to be changed.
struct EntriesScreen {
    std::string step;
    std::string address;  ///< of the step
    std::vector<Question> questions;
    std::string next;  ///< where it goes on
    std::vector<std::string> notes = {};
    std::string stage = {};  ///< of an earlier stage that is corrected, from 1
    std::string button = "go_on";
};

std::string pair_page(Language language, const std::string& code, const std::string& problem_key);
/// Which jobs are shown: those that a text is in, of one state or of all.
struct JobFilter {
    std::string text;
    std::optional<JobState> state;  ///< all without
};
/// Whether a job is among them; a sheet that cannot be read always is.
bool fits(const JobFilter& filter, const ListedJob& job);
/// What the address of the list says: `find`, and `show` as "open", "finished", "abandoned" or
/// "all"; the open ones where it says nothing.
JobFilter filter_of(const Form& form);
/// `any`: there is a job at all.
std::string jobs_page(const Viewer& viewer, const std::vector<ListedJob>& jobs,
                      const JobFilter& filter, bool any);
/// `job` is null for a job that is yet to begin; `problem` is in the viewer's language.
std::string question_page(const Viewer& viewer, const QuestionScreen& screen, const Form& form,
                          const StoredJob* job, LengthUnit unit, const std::string& problem);
std::string entries_page(const Viewer& viewer, const EntriesScreen& screen, const Form& form,
                         const StoredJob& job);
/// A field's entry as one line of words.
std::string entry_words(const Field& field, const Form& form, Language language);
std::string label_words(Language language, const Field& field);

/// What was found in the photos of a stage (bay/look.h) as far as they were looked at.
struct PhotoLooks {
    bool working = false, crowded = false;
    std::map<std::string, nlohmann::json> by_file;  ///< null where it was not yet
};
/// The stage with those of its photos alone that serve or were not looked at yet, labelled as they
/// stood.
SheetSighting with_good_photos(SheetSighting sighting, const PhotoLooks& looks);

std::string job_page(const Viewer& viewer, const StoredJob& job, const MeasuringState& measuring,
                     const PhotosWanted& wanted, const std::optional<JournalEntry>& last);
/// One stage of a job, to correct what was read or written wrong.
std::string stage_page(const Viewer& viewer, const StoredJob& job, std::size_t place,
                       const Mount& mount);
/// Notes, pictures of bracket or damage, and that the job is not carried on.
std::string notes_page(const Viewer& viewer, const StoredJob& job);
std::string photos_page(const Viewer& viewer, const StoredJob& job, const PhotoLooks& looks,
                        const PhotosWanted& wanted, const std::optional<JournalEntry>& last,
                        const Phrase& problem);
std::string answer_page(const Viewer& viewer, const StoredJob& job, const Mount& mount,
                        const MeasuringState& measuring, const std::optional<JournalEntry>& last);

/// The sheet of paper that goes with the truck, of a job that was measured.
std::string handover_page(const Viewer& viewer, const StoredJob& job,
                          const MeasuringState& measuring, const std::string& shop_name);

/// A job as a reviewer sees it in the list: its newest signature, "waiting" or "" where it was
/// never stored.
struct ReviewedJob {
    ListedJob job;
    std::string decision, reviewer, reason;
};
std::string review_list_page(const Viewer& viewer, const std::vector<ReviewedJob>& jobs);
/// One job under review: `kept` is what storing it said (bay/measuring.h).
std::string review_page(const Viewer& viewer, const StoredJob& job, const MeasuringState& measuring,
                        const MeasuringState& kept, const std::optional<ReviewedJob>& state,
                        const Form& form, const Phrase& problem);

/// A code that pairs a device, shown once. The address is empty where no other device can reach the
/// page.
struct ShownCode {
    std::string code, address;
    Role role = Role::technician;
};
/// `today` as 2026-03-05.
std::string shop_page(const Viewer& viewer, const Shop& shop, const std::optional<ShownCode>& code,
                      const std::string& today);

/// A message of the inside with the folders taken off every file's name.
std::string without_folders(const std::string& text);

/// Both versions of a form whose job was changed meanwhile.
std::string stale_page(const Viewer& viewer, const StoredJob& job, const std::vector<Field>& fields,
                       const Form& theirs, const Form& yours, const std::string& address);
/// That something did not work: what, in the page's language, and what was said of it in English.
/// A job's address leads back to the job, "/" to all jobs; an empty one nowhere.
struct Notice {
    std::string title = "refused_title";  ///< key
    std::string words, detail = {};
    std::string address = "/";
};
std::string notice_page(Language language, const Notice& notice);

/// What is wrong with an entry, in words.
std::string problem_words(Language language, const FormError& error);
/// That a field holds what it usually does not, and what it usually holds, in the unit that it is
/// shown in: the shop's, but what was typed in mm stays so.
std::string doubt_words(Language language, const Field& field, const Form& form, LengthUnit unit);

/// Where the technician goes next: "ready", "board", "photos", "tape", "answer" or "finish".
std::string next_step(const StoredJob& job, const MeasuringState& measuring,
                      const PhotosWanted& wanted);

}  // namespace squaresight::bay
