#pragma once
#include <gtest/gtest.h>

#include <filesystem>
#include <string>

#include "bay/job_store.h"
#include "support/bay_phone.h"
#include "support/command.h"
#include "support/running_bay.h"
#include "units/files.h"

namespace squaresight::bay {

/// The board of samples/jobs/1042-full, as its tapes show it.
inline Phone::Fields board_of_1042() {
    return {{"distance.mm", "4995"},
            {"line_base.mm", "6000"},
            {"target_left.mm", "2"},
            {"target_left.side", "minus"},
            {"mount_left.mm", "4"},
            {"mount_left.side", "plus"},
            {"target_height.mm", "905"},
            {"mount_height.mm", "848"},
            {"floor_rise.deg", "0.4"},
            {"floor_rise.side", "plus"},
            {"target_lean_back.deg", "0,6"},
            {"target_lean_back.side", "plus"},
            {"target_roll_clockwise.deg", "0.1"},
            {"target_roll_clockwise.side", "plus"},
            {"rail_zero", "yes"},
            {"point_ahead.0.mm", "60"},
            {"point_ahead.0.side", "minus"},
            {"point_left.0.mm", "900"},
            {"point_left.0.side", "plus"},
            {"point_up.0.mm", "600"},
            {"point_ahead.1.mm", "60"},
            {"point_ahead.1.side", "minus"},
            {"point_left.1.mm", "900"},
            {"point_left.1.side", "minus"},
            {"point_up.1.mm", "600"},
            {"tape_from.0.mm", "5249"},
            {"tape_from.1.mm", "5222"}};
}

/// A job that a technician carries through by the page's forms, with the photos of
/// samples/jobs/1042-full.
class WalkedJob {
  public:
    WalkedJob() : browser(bay.paired(Role::technician)), id(browser.begin_job("2001")) {}

    std::string path(const std::string& rest = "") const { return "/job/" + id + rest; }
    std::filesystem::path file(const std::string& name) const { return bay.jobs() / id / name; }
    void send(const std::string& stage, int pairs, bool inverted) const {
        const std::filesystem::path photos = samples / "jobs/1042-full/photos";
        for (int i = 1; i <= pairs; ++i) {
            const std::string number = "-" + std::to_string(i) + ".jpg";
            ASSERT_EQ(
                browser.send_photo(id, photos / (stage + "-upright" + number), "upright")->status,
                303);
            if (inverted) {
                ASSERT_EQ(
                    browser.send_photo(id, photos / (stage + "-inverted" + number), "inverted")
                        ->status,
                    303);
            }
        }
    }
    void leave_tape_out() const {
        ASSERT_EQ(browser.fill_in(path("/tape"), {}, path("/tape/left_out"))->status, 303);
    }
    std::string answer() const {
        browser.page(path("/answer"));
        browser.wait_until_measured(id);
        return browser.page(path("/answer"));
    }

    /// The page's result file, and what the command line makes of the same sheet.
    void expect_same_as_measure() const {
        const std::string by_page = read_file(file("job.result.json"), 1 << 24);
        const auto measured =
            run_squaresight("measure --json '" + file("job.yaml").string() + "' 2>/dev/null");
        EXPECT_EQ(measured.exit_code, 0);
        EXPECT_EQ(by_page, measured.output);
    }

    RunningBay bay;
    Phone browser;
    std::string id;
};

}  // namespace squaresight::bay
