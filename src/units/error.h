#pragma once
#include <stdexcept>
#include <string>

namespace squaresight {

/// Input that cannot be used: a file, a key, a flag, a photo. `what()` is one line for the person
/// who gave it: where it is, what is wrong, what to do next. The command line ends with exit 3.
class InputError : public std::runtime_error {
  public:
    /// `where` is a file, "file:line: key" or a flag; `next` says what to do ("give a unit, ...").
    InputError(const std::string& where, const std::string& wrong, const std::string& next)
        : std::runtime_error(where + ": " + wrong + "; " + next) {}
    using std::runtime_error::runtime_error;
};

}  // namespace squaresight
