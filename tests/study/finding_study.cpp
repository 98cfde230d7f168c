#include <unistd.h>

#include <CLI/CLI.hpp>
#include <chrono>
#include <cstdio>
#include <iostream>

#include "study/finding_accuracy.h"
#include "study/finding_axes.h"
#include "study/finding_figure.h"
#include "study/finding_safety.h"
#include "units/files.h"

/// The studies of docs/finding.md, as tables:
///   finding_study axes [--axis NAME] [--figure SVG]  how far each finder goes
///   finding_study pairs                              the same with two axes at once
///   finding_study safety                             wrong corners, honest covariances
///   finding_study accuracy                           against cornerSubPix and the least scatter
namespace squaresight::study {
namespace {

struct Options {
    std::string what, axis, figure;
    int photos = 0;
    std::size_t every = 1;
    unsigned threads = 0;
    unsigned seed = 1;
};

void tell(const std::string& words) {
    if (isatty(STDERR_FILENO) != 0) {
        fmt::print(stderr, "\r\033[K{}", words);
        std::fflush(stderr);
    }
}

StudyPlan plan_of(const Options& options, int usual_photos) {
    return {options.seed, options.photos > 0 ? options.photos : usual_photos, options.threads,
            tell};
}

std::string counts(const AxisOutcome& outcome, Finder finder) {
    std::string text;
    for (const auto& level : outcome.levels) {
        text +=
            fmt::format(" {}/{}/{}", level.good[finder], level.posed[finder], level.asked[finder]);
    }
    return text;
}

void print_counts(const AxisOutcome& outcome) {
    tell("");
    for (const Finder finder : {ours, opencv, ours_36h11, apriltag}) {
        fmt::print(stderr, "{}, {}, good/any pose/asked:{}\n", outcome.name, finder_names[finder],
                   counts(outcome, finder));
    }
}

std::string ratio_text(const degraded::Axis& axis, const AxisOutcome& outcome, Finder one,
                       Finder other) {
    const bool at_the_end = outcome.last[one] == axis.levels.size() - 1;
    return fmt::format("{:.2f}{}", further(axis, outcome, one, other),
                       at_the_end ? " (last level)" : "");
}

void study_axes(const Options& options) {
    const StudyPlan plan = plan_of(options, 40);
    std::vector<degraded::Axis> axes;
    std::vector<AxisOutcome> outcomes;
    fmt::print("Seeds {}-{}, {} photos a level\n\n", plan.seed,
               plan.seed + static_cast<unsigned>(plan.photos) - 1, plan.photos);
    fmt::print(
        "| axis | ours | OpenCV | ours / OpenCV | ours, 36h11 | libapriltag, 36h11 | ours / "
        "libapriltag |\n| --- | --- | --- | --- | --- | --- | --- |\n");
    for (const auto& axis : degraded::axes()) {
        if (!options.axis.empty() && axis.name != options.axis) {
            continue;
        }
        const AxisOutcome outcome = study_axis(axis, plan);
        print_counts(outcome);
        fmt::print("| {} | {} | {} | {} | {} | {} | {} |\n", axis.name,
                   level_words(axis, outcome.last[ours]), level_words(axis, outcome.last[opencv]),
                   ratio_text(axis, outcome, ours, opencv),
                   level_words(axis, outcome.last[ours_36h11]),
                   level_words(axis, outcome.last[apriltag]),
                   ratio_text(axis, outcome, ours_36h11, apriltag));
        std::cout.flush();
        axes.push_back(axis);
        outcomes.push_back(outcome);
        if (!options.figure.empty()) {
            write_file(options.figure, finding_figure(axes, outcomes));
        }
    }
}

void study_pairs(const Options& options) {
    const StudyPlan plan = plan_of(options, 20);
    fmt::print("Seeds {}-{}, {} photos a level, levels passed of 12\n\n", plan.seed,
               plan.seed + static_cast<unsigned>(plan.photos) - 1, plan.photos);
    fmt::print(
        "| pair | ours | OpenCV | ours, 36h11 | libapriltag, 36h11 |\n| --- | --- | --- | --- | "
        "--- "
        "|\n");
    const auto passed = [](const AxisOutcome& outcome, Finder finder) {
        return outcome.last[finder] ? static_cast<int>(*outcome.last[finder]) + 1 : 0;
    };
    int pairs = 0, further_than_opencv = 0, further_than_apriltag = 0;
    int behind_opencv = 0, behind_apriltag = 0;
    const auto all = axis_pairs();
    for (std::size_t n = 0; n < all.size(); n += options.every) {
        const AxisPair& pair = all[n];
        if (!options.axis.empty() && pair.first.name != options.axis &&
            pair.second.name != options.axis) {
            continue;
        }
        const AxisOutcome o = go_along(pair.name(), pair.levels(), false, plan);
        tell("");
        fmt::print("| {} | {} | {} | {} | {} |\n", o.name, passed(o, ours), passed(o, opencv),
                   passed(o, ours_36h11), passed(o, apriltag));
        std::cout.flush();
        ++pairs;
        further_than_opencv += passed(o, ours) > passed(o, opencv);
        behind_opencv += passed(o, ours) < passed(o, opencv);
        further_than_apriltag += passed(o, ours_36h11) > passed(o, apriltag);
        behind_apriltag += passed(o, ours_36h11) < passed(o, apriltag);
    }
    fmt::print(
        "\nOf {} pairs ours goes further than OpenCV in {} and less far in {}; further than "
        "libapriltag in {} and less far in {}.\n",
        pairs, further_than_opencv, behind_opencv, further_than_apriltag, behind_apriltag);
}

void study_safety(const Options& options) {
    const int photos = options.photos > 0 ? options.photos : 10000;
    int done = 0;
    const auto begin = std::chrono::steady_clock::now();
    const SafetyCount count = count_safety(options.seed, photos, options.threads, [&] {
        if (++done % 50 == 0) {
            tell(fmt::format("{} of {} photos", done, photos));
        }
    });
    const std::chrono::duration<double> took = std::chrono::steady_clock::now() - begin;
    tell("");
    fmt::print("Seeds {}-{}, {:.0f} s\n\n", options.seed,
               options.seed + static_cast<unsigned>(photos) - 1, took.count());
    fmt::print(
        "| photos | number | found | corners | wrong | beyond 5 sigma | rms(error / sigma) |\n| "
        "--- "
        "| --- | --- | --- | --- | --- | --- |\n");
    const auto row = [](const std::string& name, const Tally& t) {
        fmt::print("| {} | {} | {} | {} | {} | {} | {} |\n", name, t.photos, t.found, t.corners,
                   t.wrong, t.beyond_5_sigma,
                   t.corners == 0 ? std::string("-") : fmt::format("{:.3f}", t.rms_sigmas()));
    };
    for (const auto& [name, tally] : count.of) {
        row(name, tally);
    }
    row("all", count.all());
    for (const auto& failure : count.failures) {
        fmt::print(stderr, "{}\n", failure);
    }
}

void print_accuracy(const std::string& name, const Accuracy& a) {
    const int window = a.best_window();
    const double peer_px = a.corner_sub_pix.at(window).rms_px();
    const double ours_px = a.ours.rms_px();
    fmt::print(
        "| {} | {:.4f} | {:.4f} (half window {}) | {:.2f} | {:.4f} | {:.2f} | {:.4f} | {:.2f} | "
        "{:.2f} |\n",
        name, ours_px, peer_px, window, peer_px / ours_px, a.least_of_edges_px(),
        ours_px / a.least_of_edges_px(), a.least_px(), ours_px / a.least_px(), a.noise);
}

void print_bias(const std::string& name, const Bias& bias) {
    fmt::print("| {} | {} | {:.4f} | {:.4f} | {:.4f} | {:.4f} |\n", name, bias.all.corners,
               bias.all.rms_px(), bias.all.mean_px().cwiseAbs().maxCoeff(),
               bias.all.mean_uncertainty_px(), bias.largest_by_place_px());
}

void study_accuracy(const Options& options) {
    const int photos = options.photos > 0 ? options.photos : 60;
    fmt::print("Seeds {}-{}\n\n", options.seed, options.seed + static_cast<unsigned>(photos) - 1);
    fmt::print(
        "| photos | ours, rms px | cornerSubPix, rms px | times ours | least from the squares, px "
        "| ours / it | least from all print, px | ours / it | noise with JPEG |\n| --- | --- | --- "
        "| --- | --- | --- | --- | --- | --- |\n");
    const degraded::Conditions common = common_photo();
    degraded::Conditions without_jpeg = common;
    without_jpeg.jpeg_quality = 100;
    for (const auto& [name, conditions] :
         {std::pair{"blur 1 px, noise 3", without_jpeg},
          {"the same, JPEG 85", common},
          {"the same, tone curve and sharpening before it", as_a_phone_makes_it(common)}}) {
        print_accuracy(name, measure_accuracy(conditions, options.seed, photos, options.threads));
        std::cout.flush();
    }
    fmt::print(
        "\n| tilt, blur | corners | rms px | mean px | its uncertainty | largest mean by place in "
        "a "
        "pixel |\n| --- | --- | --- | --- | --- | --- |\n");
    for (const double tilt_deg : {0.0, 30.0, 55.0}) {
        for (const double blur_px : {0.6, 1.0, 2.0}) {
            for (const bool phone : {false, true}) {
                degraded::Conditions c = common;
                c.tilt_deg = tilt_deg;
                c.blur_px = blur_px;
                c = phone ? as_a_phone_makes_it(c) : c;
                print_bias(fmt::format("{:.0f} deg, {:.1f} px{}", tilt_deg, blur_px,
                                       phone ? ", processed" : ""),
                           measure_bias(c, options.seed, photos, options.threads));
                std::cout.flush();
            }
        }
    }
}

}  // namespace
}  // namespace squaresight::study

int main(int argc, char** argv) {
    using namespace squaresight::study;
    CLI::App app{"The studies of docs/finding.md"};
    Options options;
    app.add_option("study", options.what)
        ->required()
        ->check(CLI::IsMember({"axes", "pairs", "safety", "accuracy"}));
    app.add_option("--axis", options.axis, "only this one, by its name in the table");
    app.add_option("--photos", options.photos, "a level (axes, pairs), a row or in all");
    app.add_option("--every", options.every, "of pairs, take each n-th")->check(CLI::Range(1, 200));
    app.add_option("--threads", options.threads, "all cores unless given");
    app.add_option("--seed", options.seed, "of the first photo");
    app.add_option("--figure", options.figure, "an SVG of the axes");
    CLI11_PARSE(app, argc, argv);
    cv::setNumThreads(1);
    if (options.what == "axes") {
        study_axes(options);
    } else if (options.what == "pairs") {
        study_pairs(options);
    } else if (options.what == "safety") {
        study_safety(options);
    } else {
        study_accuracy(options);
    }
    return 0;
}
