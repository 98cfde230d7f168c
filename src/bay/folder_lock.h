#pragma once
#include <filesystem>

namespace squaresight::bay {

/// That one server works on a folder of jobs, as long as this lives; ends with its process however
/// that ends.
class FolderLock {
  public:
    /// InputError where another server holds it.
    explicit FolderLock(const std::filesystem::path& jobs);
    ~FolderLock();
    FolderLock(const FolderLock&) = delete;
    FolderLock& operator=(const FolderLock&) = delete;

  private:
    int file_ = -1;
};

}  // namespace squaresight::bay
