#pragma once
#include <string>
#include <vector>

#include "plan/plan.h"

/// What a plan says, in shop words: chosen once, for page and terminal.
namespace squaresight {

/// "This bay serves" or what it cannot do, in one or two sentences.
std::string plan_verdict(const BayPlan& plan);

/// "A1 board 5000 mm (16 ft 4 7/8 in) ahead, line from marks ..., 2 photos upright and 2 ...".
std::string plan_setting(const BayPlan& plan);

/// What to do first for a smaller give-or-take.
std::string plan_advice(const BayPlan& plan);

/// One angle: give or take and limit, then from where to where a call is sure.
struct AxisForecast {
    std::string title;   ///< "Side-to-side aim"
    std::string term;    ///< "yaw"
    std::string spread;  ///< "give or take 0.07 deg (at least 95 %)"
    std::string limit;   ///< "limit 0.30 deg either way"
    std::string sure;    ///< "called in tolerance up to 0.18 deg off, ..."
    bool decides = false;
};
AxisForecast plan_forecast(const BayPlan& plan, Axis axis);

/// "Turning is seen to ...": the change between two measurements on one setup.
std::string plan_change(const BayPlan& plan);

std::string effort_words(int effort);

/// Smallest line base that serves; empty where the line is not plumbed.
std::string plan_base(const BayPlan& plan);

/// What was assumed, and what to know about the readings.
std::vector<std::string> plan_notes(const BayPlan& plan);

/// The same for a terminal.
std::string plan_text(const BayPlan& plan);

}  // namespace squaresight
