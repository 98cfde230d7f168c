#pragma once
#include <utility>
#include <vector>

/// Templates (Mustache) of the bay page. `t` holds the catalogue in the page's language. Internal
/// to `bay`.
namespace squaresight::bay::templates {

/// What several templates show alike, by the names that they call it by ({{>name}}).
const std::vector<std::pair<const char*, const char*>>& parts();

extern const char* const frame;
extern const char* const pair;
extern const char* const jobs;
extern const char* const question;
extern const char* const entries;
extern const char* const job;
extern const char* const stage;
extern const char* const notes;
extern const char* const photos;
extern const char* const answer;
extern const char* const handover;
extern const char* const review_list;
extern const char* const review;
extern const char* const shop;
extern const char* const notice;
extern const char* const stale;

}  // namespace squaresight::bay::templates
