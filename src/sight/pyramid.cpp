#include "sight/pyramid.h"

#include <algorithm>
#include <opencv2/imgproc.hpp>

namespace squaresight {

Pyramid halved_photo(const cv::Mat& grey, int shortest_px) {
    Pyramid levels{grey};
    while (std::min(levels.back().cols, levels.back().rows) / 2 >= shortest_px) {
        const cv::Mat& last = levels.back();
        const cv::Size half(last.cols / 2, last.rows / 2);
        const cv::Mat even = last(cv::Rect(0, 0, half.width * 2, half.height * 2));
        cv::Mat next;
        cv::resize(even, next, half, 0, 0, cv::INTER_AREA);
        levels.push_back(next);
    }
    return levels;
}

}  // namespace squaresight
