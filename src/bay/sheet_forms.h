#pragma once
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

enum class FieldKind { text, length, angle, choice, answer };

struct Option {
    std::string value;
    std::string label;  ///< as it is shown: a name, not a key
};

struct Field {
    std::string name;
    FieldKind kind = FieldKind::text;
    std::string label;                 ///< key
    std::string detail;                ///< shown behind the label: a name, a number
    std::string plus, minus;           ///< keys of the sides; empty where it has none
    std::vector<Option> options = {};  ///< of a choice
    bool needed = false;
    std::string detail_key = {};  ///< key of a label shown last
};

std::vector<Field> new_job_fields(const Shop& shop);
std::vector<Field> ready_fields();
/// `bay` may be null: a sheet written by hand.
std::vector<Field> board_fields(const JobSheet& sheet, const Bay* bay);
std::vector<Field> tape_fields(const JobSheet& sheet);
std::vector<Field> finish_fields();

Form new_job_form(const Shop& shop);
Form ready_form(const JobSheet& sheet);
Form board_form(const JobSheet& sheet, const Bay* bay, LengthUnit unit);
Form tape_form(const JobSheet& sheet, const Bay* bay, LengthUnit unit);
Form finish_form(const JobSheet& sheet);

/// The sheet of a new job: as found, nothing measured but the distance.
JobSheet begun_sheet(const Shop& shop, const Form& form);
void take_ready(JobSheet& sheet, const Form& form);
/// The setup of the last stage that has one of its own. What the form leaves empty was not
/// measured; limits of error are those of the sheet, else of the bay, else the usual ones.
void take_board(JobSheet& sheet, const Bay* bay, const Form& form);
void take_tape(JobSheet& sheet, const Bay* bay, const Form& form);
void take_finish(JobSheet& sheet, const Form& form);

/// What was turned after the last stage (`turns.N` in eighths and `way.N` of the mount's screws),
/// and a stage after it on the same setup.
void take_turned(JobSheet& sheet, const Mount& mount, const Form& form);
/// The screws are locked: a stage `as-left` on the same setup.
void take_lock(JobSheet& sheet);

/// Truck or board was moved before the last stage: it has a setup of its own, yet to be measured.
void take_moved(JobSheet& sheet);

/// The setup that the last stage was measured on; null where there is none.
const SheetSetup* current_setup(const JobSheet& sheet);

/// Largest difference of right minus left between passes, mm; nothing with fewer than two.
std::optional<double> pass_spread_mm(const JobSheet& sheet);

}  // namespace squaresight::bay
