#pragma once
#include <Eigen/Core>
#include <cmath>

/// Frames of the project (ISO 8855 axes for the vehicle): see docs/conventions.md.
///   vehicle V  origin on the floor under the mount; X ahead along the rails, Y left, Z up
///   mount M    centre of the mount face; X out of the face (its normal), Y left, Z up
///   camera C   lens centre; x right, y down, z into the scene
///   target T   centre of the pattern; seen from the front x right, y down, z into the board
/// Rotations are active and right-handed, angles in radians; `a_from_b` takes coordinates in b
/// to coordinates in a. The scalar type may be a Ceres jet.
namespace squaresight {

template <class T>
using Vector3 = Eigen::Matrix<T, 3, 1>;
template <class T>
using Matrix3 = Eigen::Matrix<T, 3, 3>;

template <class T>
Matrix3<T> rotation_x(const T& rad) {
    using std::cos;
    using std::sin;
    const T c = cos(rad);
    const T s = sin(rad);
    Matrix3<T> r;
    r << T(1), T(0), T(0), T(0), c, -s, T(0), s, c;
    return r;
}

template <class T>
Matrix3<T> rotation_y(const T& rad) {
    using std::cos;
    using std::sin;
    const T c = cos(rad);
    const T s = sin(rad);
    Matrix3<T> r;
    r << c, T(0), s, T(0), T(1), T(0), -s, T(0), c;
    return r;
}

template <class T>
Matrix3<T> rotation_z(const T& rad) {
    using std::cos;
    using std::sin;
    const T c = cos(rad);
    const T s = sin(rad);
    Matrix3<T> r;
    r << c, -s, T(0), s, c, T(0), T(0), T(0), T(1);
    return r;
}

/// Turned left by `left`, then tipped up by `up`: Rz(left) * Ry(-up). The X axis of the result is
/// (cos left cos up, sin left cos up, sin up).
template <class T>
Matrix3<T> turned_left_then_up(const T& left, const T& up) {
    return rotation_z<T>(left) * rotation_y<T>(-up);
}

/// From axes "right, down, into the scene" (camera, target) to axes "ahead, left, up" of something
/// that looks along its own X: (x, y, z) -> (z, -x, -y).
inline Matrix3<double> ahead_left_up_from_right_down_in() {
    Matrix3<double> r;
    r << 0, 0, 1, -1, 0, 0, 0, -1, 0;
    return r;
}

/// Cross product as a matrix: cross_matrix(a) b = a x b.
inline Eigen::Matrix3d cross_matrix(const Eigen::Vector3d& a) {
    Eigen::Matrix3d m;
    m << 0, -a.z(), a.y(), a.z(), 0, -a.x(), -a.y(), a.x(), 0;
    return m;
}

/// Angle brought into (-180, 180] degrees.
inline double wrapped_deg(double deg) {
    const double wrapped = std::remainder(deg, 360.0);
    return wrapped <= -180.0 ? wrapped + 360.0 : wrapped;
}

}  // namespace squaresight
