#pragma once
#include <chrono>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "bay/form.h"
#include "bay/shop.h"
#include "job/sheet.h"
#include "mount/mount.h"

/// What each screen asks for, how a job's sheet fills its form, and how the form changes the sheet.
/// Labels are keys of the catalogue (bay/messages.h). Entries as in bay/form.h.
namespace squaresight::bay {

/// answer: yes, or no with a reason. pick: one of the options, or a text of one's own.
enum class FieldKind { text, length, angle, choice, answer, pick };

struct Option {
    std::string value;
    std::string label;    ///< as it is shown: a name; of a pick a key
    bool is_key = false;  ///< of a choice: the label is a key, too
};

/// A job's cradle by name, or this: nothing is stored of it.
inline constexpr const char* no_cradle = "none";

/// Within what a reading usually lies, in mm or degrees, without its side (common practice, no
/// source); what lies outside is asked about once more.
struct Usual {
    double low = 0, high = 0;
};

struct Field {
    std::string name;
    FieldKind kind = FieldKind::text;
    std::string label;                 ///< key
    std::string detail;                ///< shown behind the label: a name, a number
    std::string plus, minus;           ///< keys of the sides; empty where it has none
    std::vector<Option> options = {};  ///< of a choice or a pick
    bool needed = false;
    std::string detail_key = {};  ///< key of a label shown last
    std::optional<Usual> usual = {};
    bool may_be_typed = true;  ///< of a pick: also a text of one's own
    bool instead = false;      ///< another way to give the field before it: no entry of its own
};

/// What is asked on one screen.
struct Question {
    std::string name;           ///< in addresses
    std::vector<Field> fields;  ///< answered together; none where there is only something to read
    std::string picture = {};   ///< bay/pictures.h; empty where there is none
    std::string title = {};     ///< key; empty where the label of its one field says it
    std::vector<std::string> words = {}, cautions = {};  ///< keys
    bool may_be_skipped = false;  ///< what is not measured stays out of the sheet
    bool folded = false;          ///< its fields are shown as they stand, to be changed on demand
    bool known = false;           ///< among the entries of its step, not on its way
    bool once = false;            ///< a way to answer others: on the way, not among the entries
    std::string more = {};        ///< key: what may be added, beyond what is asked for
};

/// The shop's date, as 2026-03-05.
std::string today_text(
    std::chrono::system_clock::time_point now = std::chrono::system_clock::now());

/// A bay is asked for by itself where there are several: what the job takes follows from it.
std::vector<Question> new_job_questions(const Shop& shop);
/// As left, the ride height is among them once more: what was answered at locking is put right
/// there.
std::vector<Question> ready_questions(const JobSheet& sheet);
/// Earlier jobs that tell what need not be measured anew, once it was looked at.
struct EarlierJobs {
    std::optional<JobSheet> board;   ///< of this bay and board: how it stood on its floor
    std::optional<JobSheet> points;  ///< of this vehicle, else of its model: where tapes start
};
/// `bay` may be null: a sheet written by hand.
std::vector<Question> board_questions(const JobSheet& sheet, const Bay* bay,
                                      const EarlierJobs& earlier);
/// What an earlier job tells of how its board stood.
std::vector<Field> remembered_fields(const JobSheet& earlier);
/// What an earlier job tells of where tapes start.
std::vector<Field> remembered_points(const JobSheet& earlier, const Bay* bay);
/// As many passes and readings as the bay asks for; beyond them one more of each, if one likes.
std::vector<Question> tape_questions(const JobSheet& sheet, const Bay* bay);
std::vector<Question> finish_questions();

/// The place of a question; the first one where none has the name.
std::size_t place_of(const std::vector<Question>& questions, const std::string& name);

/// The fields of all questions.
std::vector<Field> fields_of(const std::vector<Question>& questions);

/// `before` with what was sent of these fields in its place; nothing of one is kept where any part
/// of it was sent.
Form merged(Form before, const Form& sent, const std::vector<Field>& fields);
/// `form` without these fields.
Form without(Form form, const std::vector<Field>& fields);
/// The first of these fields that holds what it usually does not; null where there is none.
const Field* unusual(const std::vector<Field>& fields, const Form& form);

/// What a new job in a bay takes from it, by name.
Form new_job_form(const Shop& shop, const std::string& bay);
Form ready_form(const JobSheet& sheet);
Form board_form(const JobSheet& sheet, const Bay* bay, LengthUnit unit);
Form tape_form(const JobSheet& sheet, const Bay* bay, LengthUnit unit);
Form finish_form(const JobSheet& sheet);

/// FormError where this question of a new job is not answered.
void check_new_job(const std::string& question, const Form& form);

/// The sheet of a job that begins today: as found, nothing measured but the distance.
JobSheet begun_sheet(const Shop& shop, const Form& form, const std::string& today);
void take_ready(JobSheet& sheet, const Form& form);
/// The setup of the last stage that has one of its own. What the form leaves empty was not
/// measured; limits of error are those of the sheet, else of the bay, else the usual ones.
void take_board(JobSheet& sheet, const Bay* bay, const Form& form);
/// How the board stands on its floor, as it does in an earlier job and was confirmed, with this
/// truck's own mount height, which belongs to that of the board. All else is measured at the truck.
void take_board_as_before(JobSheet& sheet, const Bay* bay, const JobSheet& earlier,
                          const Form& form);
/// Where tapes start, as on an earlier vehicle: another one of its model is built alike within
/// wider limits.
void take_points_as_before(JobSheet& sheet, const JobSheet& earlier);
/// Whether a job tells how its board stood on its floor.
bool is_board_remembered(const JobSheet& sheet);
void take_tape(JobSheet& sheet, const Bay* bay, const Form& form);
/// `today` as today_text has it. FormError for a day before the job or still to come.
void take_finish(JobSheet& sheet, const Form& form, const std::string& today);

/// Whether the last stage holds as many passes and readings as the bay asks for.
bool is_tape_enough(const JobSheet& sheet, const Bay* bay);
/// Whether tape and level are still to be measured, or left out knowingly, before the answer: as
/// found and as left, as long as the job is not finished. After turning they are not asked for.
bool is_tape_due(const JobSheet& sheet);
/// The technician goes on without tape and level at the last stage.
void take_tape_left_out(JobSheet& sheet);

/// Whether the last stage was begun by turning, locking or moving, and holds nothing yet.
bool awaits_photos(const JobSheet& sheet);

/// The sheet as it stood when the stage at this place (from 0) was its last one.
JobSheet up_to_stage(JobSheet sheet, std::size_t place);
/// Changes a sheet as if that stage were its last one; what came after it stays.
void change_stage(JobSheet& sheet, std::size_t place, const std::function<void(JobSheet&)>& change);

/// What was turned after the stage at this place was something else.
void correct_turned(JobSheet& sheet, std::size_t place, const Mount& mount, const Form& form);

void take_note(JobSheet& sheet, const Form& form);
/// The job is not carried on, with the reason.
void take_abandoned(JobSheet& sheet, const Form& form);
void take_up_again(JobSheet& sheet);

/// Of the conditions before measuring, and of what is recorded at the end: how many are answered.
struct Answered {
    std::size_t given = 0, asked = 0;
    bool all() const { return given == asked; }
};
Answered ready_answered(const JobSheet& sheet);
Answered closing_answered(const JobSheet& sheet);

/// What was turned after the last stage (`turns.N` in eighths and `way.N` of the mount's screws),
/// and a stage after it on the same setup.
void take_turned(JobSheet& sheet, const Mount& mount, const Form& form);
/// Whether just that was turned already, and nothing measured since: the form was sent twice.
bool is_turned_so(const JobSheet& sheet, const Mount& mount, const Form& form);
/// The screws are locked: a stage `as-left` on the same setup. The form may tell whether the ride
/// height was looked at again.
void take_lock(JobSheet& sheet, const Form& form);

/// Photos that a stage should have, and which comes next.
struct PhotosWanted {
    int taken = 0, count = 0;
    std::string next;  ///< as cradle_label_text; empty if all are there
};
/// In the order of ways_up_of, as many as the bay asks for; after turning upright ones alone: the
/// first stage knows the cradle.
PhotosWanted photos_wanted(const SheetSighting& sighting, const Bay* bay);

/// How the phone stood in a photo of any stage: "upright", "inverted" or empty.
void take_label(JobSheet& sheet, const std::string& file, const std::string& cradle);
/// A photo of any stage is no longer measured with; its file stays.
void take_out(JobSheet& sheet, const std::string& file);

/// Truck or board was moved before the last stage: it has a setup of its own, yet to be measured.
void take_moved(JobSheet& sheet);

/// Whether the last setup holds anything but the distance.
bool is_board_answered(const JobSheet& sheet);

/// The setup that the last stage was measured on; null where there is none.
const SheetSetup* current_setup(const JobSheet& sheet);

/// Largest difference of right minus left between passes, mm; nothing with fewer than two.
std::optional<double> pass_spread_mm(const JobSheet& sheet);

}  // namespace squaresight::bay
