#pragma once
#include <gtest/gtest.h>
#include <stdlib.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <string>

namespace squaresight {

/// A new empty folder for one test, gone with it.
class Scratch {
  public:
    Scratch() {
        std::string test = testing::UnitTest::GetInstance()->current_test_info()->name();
        std::replace(test.begin(), test.end(), '/', '-');  // one of many: "Name/0"
        std::string name =
            (std::filesystem::path(testing::TempDir()) / ("squaresight-" + test + "-XXXXXX"))
                .string();
        folder_ = ::mkdtemp(name.data());
    }
    ~Scratch() {
        std::error_code ignored;
        std::filesystem::remove_all(folder_, ignored);
    }
    Scratch(const Scratch&) = delete;
    Scratch& operator=(const Scratch&) = delete;

    const std::filesystem::path& folder() const { return folder_; }

    /// Writes a file into the folder and returns its path.
    std::filesystem::path write(const std::string& name, const std::string& bytes) const {
        const auto file = folder_ / name;
        std::ofstream(file, std::ios::binary) << bytes;
        return file;
    }

  private:
    std::filesystem::path folder_;
};

}  // namespace squaresight
