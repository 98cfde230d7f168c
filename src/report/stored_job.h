#pragma once
#include <filesystem>
#include <string>

#include "records/store.h"

namespace squaresight {

/// The reviewer's page of a stored job (its newest revision): where its review stands, who signed
/// what, what was edited between revisions and why, and the report, solved again. Photos are not
/// stored, their corners are, and are drawn on a plain ground; where the photos still lie in
/// `photos`, by the names on the sheet and with the stored SHA-256, on these. InputError where
/// there is no such job, or what is stored of it cannot be read.
std::string stored_job_html(Store& store, const std::string& job,
                            const std::filesystem::path& photos = {});

}  // namespace squaresight
