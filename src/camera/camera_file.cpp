#include <fmt/format.h>

#include "camera/camera.h"
#include "units/covariance.h"
#include "units/entry.h"

namespace squaresight {
namespace {

constexpr std::string_view schema = "squaresight/camera/1";

// What is supposed of a calibration that was typed in without its covariance; standard.
constexpr double prior_focal_length_share = 0.005;  // common to both axes
constexpr double prior_principal_point_px = 5;
constexpr double prior_k1 = 0.005;

Eigen::Matrix<double, 9, 9> prior_covariance(const Lens& lens) {
    Eigen::Matrix<double, 9, 9> covariance = Eigen::Matrix<double, 9, 9>::Zero();
    const Eigen::Vector2d focal = prior_focal_length_share * Eigen::Vector2d(lens.fx, lens.fy);
    covariance.topLeftCorner<2, 2>() = focal * focal.transpose();
    covariance(2, 2) = covariance(3, 3) = prior_principal_point_px * prior_principal_point_px;
    covariance(4, 4) = prior_k1 * prior_k1;
    return covariance;
}

void read_image(const Entry& entry, Camera& camera) {
    entry.expect_keys({"width", "height"});
    camera.width_px = entry.at("width").whole(16, 65535);
    camera.height_px = entry.at("height").whole(16, 65535);
}

void read_distortion(const Entry& entry, Lens& lens) {
    entry.expect_keys({"k1", "k2", "p1", "p2", "k3", "k4", "k5", "k6"});
    const auto coefficient = [&](std::string_view key, double& value) {
        if (const auto written = entry.find(key)) {
            value = written->number(-1000, 1000);
        }
    };
    coefficient("k1", lens.k1);
    coefficient("k2", lens.k2);
    coefficient("p1", lens.p1);
    coefficient("p2", lens.p2);
    coefficient("k3", lens.k3);
    coefficient("k4", lens.k4);
    coefficient("k5", lens.k5);
    coefficient("k6", lens.k6);
}

/// A lens whose distortion folds back well inside the picture comes from swapped numbers.
void refuse_folded(const Entry& distortion, const Camera& camera) {
    for (const double right : {0.25, 0.75}) {
        for (const double down : {0.25, 0.75}) {
            if (!ray_of_pixel(camera.lens, {right * camera.width_px, down * camera.height_px})) {
                distortion.fail("bends the picture back onto itself",
                                "check the signs and that each number stands under its own name");
            }
        }
    }
}

void read_lens(const Entry& root, Camera& camera) {
    root.at("model").word({"brown-conrady"});
    Lens& lens = camera.lens;
    lens.fx = root.at("fx").number(1, 1e6);
    lens.fy = root.at("fy").number(1, 1e6);
    lens.cx = root.at("cx").number(-0.5, camera.width_px - 0.5);
    lens.cy = root.at("cy").number(-0.5, camera.height_px - 0.5);
    const Entry distortion = root.at("distortion");
    read_distortion(distortion, lens);
    refuse_folded(distortion, camera);
}

CameraIdentity read_identity(const Entry& entry) {
    entry.expect_keys({"make", "model", "lens", "focal_length", "focal_length_35mm"});
    CameraIdentity identity;
    const auto text = [&](std::string_view key, std::string& value) {
        if (const auto written = entry.find(key)) {
            value = written->text();
        }
    };
    text("make", identity.make);
    text("model", identity.model);
    text("lens", identity.lens);
    if (const auto written = entry.find("focal_length")) {
        identity.focal_length_mm = written->length_mm(0.1, 5000);
    }
    if (const auto written = entry.find("focal_length_35mm")) {
        identity.focal_length_35mm_mm = written->length_mm(1, 10000);
    }
    return identity;
}

FocusBreathing read_focus(const Entry& entry) {
    entry.expect_keys({"distance", "lens", "standard_uncertainty"});
    FocusBreathing focus;
    focus.distance_mm = entry.at("distance").length_mm(100, 100000);
    focus.lens_mm = entry.at("lens").length_mm(-50, 50);
    focus.standard_uncertainty_mm = entry.at("standard_uncertainty").length_mm(0, 50);
    return focus;
}

void read_what_calibration_knows(const Entry& root, Camera& camera) {
    const auto covariance = root.find("covariance");
    camera.covariance_given = covariance.has_value();
    camera.covariance =
        covariance ? Eigen::Matrix<double, 9, 9>(covariance_of(*covariance, Lens::parameter_count))
                   : prior_covariance(camera.lens);
    if (const auto photos = root.find("photos_used")) {
        camera.photos_used = photos->whole(1, 10000);
    }
    if (const auto residual = root.find("residual_px")) {
        camera.residual_px = residual->number(0, 1000);
    }
    if (const auto identity = root.find("identity")) {
        camera.identity = read_identity(*identity);
    }
    if (const auto date = root.find("date")) {
        camera.date = date->date();
    }
    if (const auto jitter = root.find("pointing_jitter")) {
        camera.pointing_jitter_deg = jitter->angle_deg(0, 5);
    }
    if (const auto sag = root.find("lens_sag")) {
        camera.lens_sag_deg = sag->angle_deg(0, 5);
    }
    if (const auto warming = root.find("warming")) {
        camera.warming_deg = warming->angle_deg(0, 5);
    }
    if (const auto field = root.find("corner_field_px")) {
        camera.corner_field_px = field->number(0, 10);
    }
    if (const auto focus = root.find("focus")) {
        camera.focus = read_focus(*focus);
    }
}

std::string identity_yaml(const CameraIdentity& identity) {
    std::string text;
    const auto add = [&](std::string_view key, const std::string& value) {
        if (!value.empty()) {
            text += fmt::format("  {}: {}\n", key, yaml_text(value));
        }
    };
    add("make", identity.make);
    add("model", identity.model);
    add("lens", identity.lens);
    if (identity.focal_length_mm) {
        text += fmt::format("  focal_length: {} mm\n", yaml_number(*identity.focal_length_mm));
    }
    if (identity.focal_length_35mm_mm) {
        text += fmt::format("  focal_length_35mm: {} mm\n",
                            yaml_number(*identity.focal_length_35mm_mm));
    }
    return text.empty() ? text : "identity:\n" + text;
}

}  // namespace

Camera load_camera(const std::filesystem::path& file) {
    const Entry root = Entry::load(file, schema);
    root.expect_keys({"schema", "name", "image", "model", "fx", "fy", "cx", "cy", "distortion",
                      "covariance", "photos_used", "residual_px", "identity", "date",
                      "pointing_jitter", "lens_sag", "warming", "corner_field_px", "focus"});
    Camera camera;
    camera.name = root.at("name").text();
    read_image(root.at("image"), camera);
    read_lens(root, camera);
    read_what_calibration_knows(root, camera);
    return camera;
}

std::string camera_yaml(const Camera& camera) {
    const Lens& lens = camera.lens;
    std::string text = fmt::format(
        "schema: {}\nname: {}\nimage: {{width: {}, height: {}}}\nmodel: brown-conrady\n", schema,
        yaml_text(camera.name), camera.width_px, camera.height_px);
    text += fmt::format("fx: {}\nfy: {}\ncx: {}\ncy: {}\n", lens.fx, lens.fy, lens.cx, lens.cy);
    text += fmt::format("distortion: {{k1: {}, k2: {}, p1: {}, p2: {}, k3: {}", lens.k1, lens.k2,
                        lens.p1, lens.p2, lens.k3);
    if (lens.k4 != 0 || lens.k5 != 0 || lens.k6 != 0) {
        text += fmt::format(", k4: {}, k5: {}, k6: {}", lens.k4, lens.k5, lens.k6);
    }
    text += "}\n";
    if (camera.covariance_given) {
        text += "covariance:  # fx fy cx cy k1 k2 p1 p2 k3\n" + covariance_yaml(camera.covariance);
    }
    if (camera.photos_used) {
        text += fmt::format("photos_used: {}\n", *camera.photos_used);
    }
    if (camera.residual_px) {
        text += fmt::format("residual_px: {}\n", *camera.residual_px);
    }
    text += identity_yaml(camera.identity);
    if (!camera.date.empty()) {
        text += fmt::format("date: {}\n", camera.date);
    }
    text += fmt::format("pointing_jitter: {} deg\nlens_sag: {} deg\n", camera.pointing_jitter_deg,
                        camera.lens_sag_deg);
    if (camera.warming_deg != usual_warming_deg) {
        text += fmt::format("warming: {} deg\n", camera.warming_deg);
    }
    if (camera.corner_field_px != usual_corner_field_px) {
        text += fmt::format("corner_field_px: {}\n", camera.corner_field_px);
    }
    if (camera.focus) {
        text +=
            fmt::format("focus: {{distance: {} mm, lens: {} mm, standard_uncertainty: {} mm}}\n",
                        camera.focus->distance_mm, camera.focus->lens_mm,
                        camera.focus->standard_uncertainty_mm);
    }
    return text;
}

}  // namespace squaresight
