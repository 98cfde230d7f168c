#include "sight/spots.h"

#include <algorithm>
#include <cmath>
#include <iterator>
#include <opencv2/imgproc.hpp>

#include "sight/median.h"

namespace squaresight {
namespace {

constexpr double sigmas_off = 3.5;            // of a pixel that noise alone does not explain
constexpr double sigma_over_median = 1.4826;  // of the absolute values of a normal variate
constexpr int rim = 3;                        // pixels across: a spot's blurred rim goes with it

double noise_of(std::span<const float> misfits) {
    std::vector<double> sizes;
    sizes.reserve(misfits.size());
    for (const double misfit : misfits) {
        sizes.push_back(std::abs(misfit));
    }
    return std::max(sigma_over_median * median(sizes), rounding_noise);
}

/// Something for each sample, as an image.
class SampleMap {
  public:
    explicit SampleMap(const std::vector<Sample>& samples) {
        Eigen::Vector2i high = low_ = samples.front().pixel;
        for (const auto& sample : samples) {
            low_ = low_.cwiseMin(sample.pixel);
            high = high.cwiseMax(sample.pixel);
        }
        const Eigen::Vector2i size = (high - low_).array() + 1;
        misfits = cv::Mat::zeros(size.y(), size.x(), CV_64F);
    }
    cv::Point at(const Sample& sample) const {
        const Eigen::Vector2i place = sample.pixel - low_;
        return {place.x(), place.y()};
    }

    cv::Mat misfits;

  private:
    Eigen::Vector2i low_;
};

}  // namespace

std::vector<Sample> samples_beside_spots(const std::vector<Sample>& samples,
                                         std::span<const float> misfits, const SpotLimits& limits) {
    SampleMap map(samples);
    for (std::size_t n = 0; n < samples.size(); ++n) {
        map.misfits.at<double>(map.at(samples[n])) = std::abs(misfits[n]);
    }
    const double limit = std::max(sigmas_off * noise_of(misfits), limits.least_misfit);
    cv::Mat spots = map.misfits > limit;
    cv::Mat labels, boxes, middles;
    const int count = cv::connectedComponentsWithStats(spots, labels, boxes, middles);
    for (int spot = 1; spot < count; ++spot) {  // 0 is what lies between them
        if (std::max(boxes.at<int>(spot, cv::CC_STAT_WIDTH),
                     boxes.at<int>(spot, cv::CC_STAT_HEIGHT)) > limits.most_across_px) {
            return samples;
        }
    }
    cv::dilate(spots, spots, cv::Mat::ones(rim, rim, CV_8U));
    std::vector<Sample> beside;
    std::copy_if(samples.begin(), samples.end(), std::back_inserter(beside),
                 [&](const Sample& s) { return spots.at<unsigned char>(map.at(s)) == 0; });
    return beside;
}

}  // namespace squaresight
