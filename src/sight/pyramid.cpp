#include "sight/pyramid.h"

#include <algorithm>
#include <opencv2/imgproc.hpp>

namespace squaresight {
namespace {

constexpr std::size_t few_pixels = 1500000;

}  // namespace

Pyramid::Pyramid(const cv::Mat& grey, int shortest_px) {
    if (grey.total() <= few_pixels) {
        largest_ = -1;
        cv::resize(grey, images_.emplace_back(), grey.size() * 2, 0, 0, cv::INTER_CUBIC);
    }
    images_.push_back(grey);
    while (std::min(images_.back().cols, images_.back().rows) / 2 >= shortest_px) {
        const cv::Mat& last = images_.back();
        const cv::Size half(last.cols / 2, last.rows / 2);
        const cv::Mat even = last(cv::Rect(0, 0, half.width * 2, half.height * 2));
        cv::Mat next;
        cv::resize(even, next, half, 0, 0, cv::INTER_AREA);
        images_.push_back(next);
    }
}

}  // namespace squaresight
