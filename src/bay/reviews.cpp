#include "bay/reviews.h"

#include "photo/photo.h"

namespace squaresight::bay {
namespace {

std::string sheet_of(const RecordEntry& entry) {
    for (const auto& file : entry.content.at("files")) {
        if (file.at("role") == role_text(InputRole::sheet)) {
            return file.at("sha256");
        }
    }
    return "";
}

}  // namespace

Reviews::Reviews(const std::filesystem::path& records) {
    if (!std::filesystem::exists(records)) {
        return;
    }
    StoreAddress address = parse_store_address(records.string());
    address.wait_s = longest_wait_s;
    try {
        store_ = std::make_unique<Store>(address, usual_shop, Access::read);
    } catch (const NoRecords&) {  // another process is just making it
    }
}

JobReview Reviews::of(const std::string& order, const std::string& sheet_version) {
    JobReview review;
    if (!store_ || !store_->holds(order)) {
        return review;
    }
    const RecordEntry entry = store_->job_entry(order);
    review.state = review_state(store_->signatures(order), entry.revision);
    review.revision = entry.revision;
    review.hash = sha256_hex(entry_text(entry));
    review.identity = entry.content.at("identity").get<std::string>();
    review.changed = sheet_of(entry) != sheet_version;
    return review;
}

std::optional<JobReview> Reviews::returned(const std::string& order,
                                           const std::string& sheet_version) {
    if (!store_ || store_->signatures(order).empty()) {
        return std::nullopt;
    }
    const JobReview review = of(order, sheet_version);
    return review.is_returned() ? std::optional(review) : std::nullopt;
}

}  // namespace squaresight::bay
