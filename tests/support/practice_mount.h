#pragma once
#include <string>

namespace squaresight {

/// An invented mount: pivot low left, one screw above it, one to its right, arms of 105 and 120 mm.
inline const std::string practice_mount = R"(schema: squaresight/mount/1
name: practice mount
source: practice data, no service document
cradle_sits_on: sensor face
pivot: {left: 55 mm, up: -45 mm}
screws:
  upper: {turns: pitch, at: {left: 55 mm, up: 60 mm}, thread: M6 x 1.0, clockwise: in, travel: 6}
  side:  {turns: yaw, at: {left: -65 mm, up: -45 mm}, thread: M6 x 1.0, clockwise: out, travel: 6}
aim: {yaw_left: 0 deg, pitch_up: 0 deg}
tolerance: {yaw: 0.3 deg, pitch: 1.5 deg}
sensor_reading: {positive: left}
turn_table:
  - {screw: side, yaw_reading: 0.96 deg, turns: 2 counter-clockwise}
)";

}  // namespace squaresight
