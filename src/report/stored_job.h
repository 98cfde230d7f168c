#pragma once
#include <string>

#include "records/store.h"

namespace squaresight {

/// The reviewer's page of a stored job (its newest revision): where its review stands, who signed
/// what, what was edited between revisions, and the report. Photos are not stored: their corners
/// are. InputError where there is no such job, or what is stored of it cannot be read.
std::string stored_job_html(Store& store, const std::string& job);

}  // namespace squaresight
