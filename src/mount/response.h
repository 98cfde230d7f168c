#pragma once

namespace squaresight {

/// How far a mount may be from its profile before anything was learned of it. Our own figures,
/// no published source: an arm read off a drawing and a bracket that was bent and straightened.
struct ResponsePrior {
    double lever = 0.25;  ///< standard, relative: of what a turn of a screw does
    double cross = 0.1;   ///< standard, relative: what of that goes the way of the other screw
    double largest_backlash_turns = 0.5;  ///< anywhere from 0 to this
    double turning_limit_turns = 0.125;   ///< how closely a person makes a number of turns
};

}  // namespace squaresight
